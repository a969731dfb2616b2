"""Take in a hospital's referral list from the command line."""

from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from programs.enrolment.calc.file_text import UnreadableFile, refuse_size
from programs.enrolment.lists import services as lists
from programs.enrolment.models import ReferralList
from programs.staff.models import Site, User


class Command(BaseCommand):
    help = "Import referrals from a CSV file: good rows in, bad rows listed with reasons."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--site", required=True, help="code of the site, see Settings")
        parser.add_argument("--by", required=True, help="user name of whoever answers for it")
        parser.add_argument("--dry-run", action="store_true", help="preview only, store nothing")
        parser.add_argument("--date-order", choices=["day-first", "month-first"])
        parser.add_argument("--rejected", type=Path, help="write the bad rows to this CSV file")

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
        listed.date_order = options["date_order"] or listed.date_order
        if options["dry_run"]:
            self._preview(listed)
            return
        lists.refuse_unmapped(listed)
        listed.save()
        listed = lists.take_in(listed, by=by)
        for bad in listed.rejected:
            self.stdout.write(f"line {bad['line']}: {'; '.join(bad['reasons'])}")
        if options["rejected"]:
            options["rejected"].write_text(lists.rejected_csv(listed), encoding="utf-8-sig")
        self.stdout.write(
            f"Added {listed.n_added}, already known {listed.n_known}, "
            f"refused {len(listed.rejected)}."
        )

    def _preview(self, listed: ReferralList) -> None:
        seen = lists.preview(listed)
        for row in seen.rows:
            for problem in row.row.problems:
                self.stdout.write(f"line {row.row.line}: {problem}")
        new, known, bad = (seen.count(fate) for fate in ("new", "known", "bad"))
        self.stdout.write(f"Would add {new}, already known {known}, refused {bad}.")
