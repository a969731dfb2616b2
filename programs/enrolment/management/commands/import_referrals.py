"""Take in a hospital's referral list from the command line."""

import json
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from programs.enrolment.calc.lists.asking import Question
from programs.enrolment.calc.lists.letters import UnreadableFile, refuse_size
from programs.enrolment.lists import services as lists
from programs.enrolment.lists.judging import ASKED, BAD, CHANGED, NEW, SAME_AS_BEFORE
from programs.enrolment.lists.previewing import Preview
from programs.enrolment.models import ListLayout, ReferralList
from programs.staff.models import Site, User

FATES = (NEW, CHANGED, SAME_AS_BEFORE, ASKED, BAD)


class Command(BaseCommand):
    help = (
        "Import referrals from a list (CSV, xlsx, FHIR R4): good rows in, bad rows with reasons, "
        "open questions listed with the answers they accept."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, help="code of the site, see Settings")
        parser.add_argument("--by", required=True, help="user name of whoever answers for it")
        parser.add_argument(
            "--answer",
            action="append",
            default=[],
            metavar="KEY=VALUE",
            help="an answer to a question; column.N=FIELD says what a column holds",
        )
        parser.add_argument("--layout", help="read the list as this layout of the site says")
        parser.add_argument("--dry-run", action="store_true", help="preview only, store nothing")
        parser.add_argument("--rejected", type=Path, help="write the bad rows to this CSV file")
        parser.add_argument("--json", action="store_true", help="everything as one JSON object")

    def handle(self, *args: Any, **options: Any) -> None:
        site = Site.objects.filter(code=options["site"]).first()
        by = User.objects.filter(username=options["by"], is_active=True).first()
        if site is None or by is None:
            raise CommandError("Unknown site code or user name.")
        if not by.has_perm("enrolment.add_referral") or site.pk not in by.site_ids():
            raise CommandError(f"{by} may not add referrals at {site}.")
        if options["rejected"] and options["dry_run"]:
            raise CommandError("--rejected needs a real run, not --dry-run.")
        try:
            refuse_size(options["file"].stat().st_size)
            self._run(site, by, options)
        except OSError as error:
            raise CommandError(f"Cannot read {options['file']}: {error.strerror}.") from error
        except UnreadableFile as error:
            raise CommandError(str(error)) from error
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error

    def _run(self, site: Site, by: User, options: dict[str, Any]) -> None:
        path: Path = options["file"]
        listed = lists.draft(site, path.name, path.read_bytes(), by=by)
        if options["layout"]:
            listed.layout = ListLayout.objects.filter(site=site, name=options["layout"]).first()
            if listed.layout is None:
                raise CommandError(f"{site} keeps no layout {options['layout']!r}.")
            listed.answers = dict(listed.layout.answers)
        given = _answers(options["answer"])
        listed.answers = listed.answers | given
        seen = lists.preview(listed)
        lists.refuse_answers(seen.asked, given)
        if options["dry_run"] or seen.of_file:
            self._tell(_told(seen, None, listed.layout), options)
            if seen.of_file and not options["dry_run"]:
                raise CommandError("Nothing is stored; answer what is asked of the whole file.")
            return
        listed.save()
        listed = lists.take_in(listed, by=by, tell=self._tell_progress)
        if options["rejected"]:
            options["rejected"].write_text(lists.rejected_csv(listed), encoding="utf-8-sig")
        self._tell(_told(seen, listed, listed.layout), options)

    def _tell_progress(self, done: int, of: int) -> None:
        """Beside the output, which may be read by a program."""
        if self.stderr.isatty():
            self.stderr.write(f"{done} of {of} rows", ending="\r" if done < of else "\n")

    def _tell(self, told: dict[str, Any], options: dict[str, Any]) -> None:
        if options["json"]:
            self.stdout.write(json.dumps(told, ensure_ascii=False, indent=1))
            return
        if told["layout"]:
            self.stdout.write(f"Read as the layout {told['layout']} says.")
        for bad in told["refused"]:
            self.stdout.write(f"line {bad['line']}: {'; '.join(bad['reasons'])}")
        for asked in told["questions"]:
            lines = f" (lines {', '.join(map(str, asked['lines']))})" if asked["lines"] else ""
            self.stdout.write(f"? {asked['key']}{lines}: {asked['words']}")
            for example in asked["examples"]:
                self.stdout.write(f"    {example}")
            self.stdout.write(f"    accepted: {asked['accepted']}")
        n = told["counts"]
        self.stdout.write(
            f"{'Added' if told['stored'] else 'Would add'} {n[NEW]}, changed {n[CHANGED]}, "
            f"already known {n[SAME_AS_BEFORE]}, refused {n[BAD]}, waiting for answers {n[ASKED]}."
        )
        if told["list"]:
            self.stdout.write(f"What waits is list {told['list']} on the page Import a list.")


def _answers(given: list[str]) -> dict[str, str]:
    found = {}
    for text in given:
        key, sign, value = text.partition("=")
        if not sign:
            raise CommandError(f"--answer {text}: give KEY=VALUE.")
        while "=" in value and ":" in key:  # the text a question is of may hold the sign itself
            more, _, value = value.partition("=")
            key = f"{key}={more}"
        found[key.strip()] = value.strip()
    return found


def _told(seen: Preview, listed: ReferralList | None, layout: ListLayout | None) -> dict[str, Any]:
    """Everything the command has to say; ``listed`` once it is taken in."""
    counts = {fate: seen.count(fate) for fate in FATES}
    refused = [{"line": r.row.line, "reasons": r.row.problems} for r in seen.rows if r.fate == BAD]
    if listed is not None:
        counts[NEW], counts[CHANGED] = listed.n_added, listed.n_changed
        counts[SAME_AS_BEFORE], counts[BAD] = listed.n_known, len(listed.rejected)
        refused = [{"line": b["line"], "reasons": b["reasons"]} for b in listed.rejected]
    waits = listed is not None and listed.state != ReferralList.State.DONE
    questions = [_question(q, []) for q in seen.of_file] + [
        _question(one.question, [row.row.line for row in one.rows])
        for group in ([] if seen.of_file else seen.groups)
        for one in group.asked
    ]
    return {
        "stored": listed is not None,
        "layout": layout.name if layout is not None else "",
        "list": listed.pk if listed is not None and waits else None,
        "counts": counts,
        "refused": refused,
        "questions": questions,
        "aside": seen.table.asides if seen.table is not None else [],
        "not_read": seen.unread,
    }


def _question(question: Question, lines: list[int]) -> dict[str, Any]:
    return {
        "key": question.key,
        "subject": question.subject,
        "words": question.words,
        "lines": lines,
        "examples": list(question.examples),
        "accepted": question.accepted,
    }
