"""Prove that what is kept beside the record is what the record says, and mend what is not."""

import time
from itertools import islice
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from patients.models import FindKey, Patient
from programs.enrolment.models import DayTotals, Enrolment, Referral, ReferralTotals
from programs.staff.models import Site
from reports import counting, day_totals, referral_totals, totals

SHOWN = 20
CHUNK = 2000


class Command(BaseCommand):
    help = (
        "Work out what every course, referral and day came to, and the words by which people are "
        "found, anew from the record. Says what differs; --mend stores what the record says, and "
        "counts what no figure has asked for yet."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--mend", action="store_true", help="store what the record says")

    def handle(self, *args: Any, **options: Any) -> None:
        start = time.monotonic()
        wrong = list(totals.differences())
        self._show([f"course {one.enrolment}: {', '.join(one.columns)}" for one in wrong])
        ways = list(referral_totals.differences())
        self._show([f"referral {one.referral}: {', '.join(one.columns)}" for one in ways])
        counts = list(counting.differences())
        self._show([f"course of referral {one.referral}: {', '.join(one.kept)}" for one in counts])
        days = list(day_totals.differences())
        self._show([f"{one.key[1]} at site {one.key[0]}: {', '.join(one.columns)}" for one in days])
        n_names = self._names(mend=options["mend"])
        self.stdout.write(
            f"{Enrolment.objects.count()} courses, {len(wrong)} with wrong totals; "
            f"{Referral.objects.count()} referrals, {len(ways)} with wrong totals; "
            f"{ReferralTotals.objects.filter(is_counted=True).count()} courses counted, "
            f"{len(counts)} of them wrong; "
            f"{DayTotals.objects.count()} days, {len(days)} with wrong totals; "
            f"{Patient.objects.count()} people, {n_names} with wrong words to be found by; "
            f"{time.monotonic() - start:.1f} s"
        )
        found = any([wrong, ways, counts, days, n_names])
        if options["mend"]:
            totals.mend(wrong)
            referral_totals.mend(ways)
            counting.mend(counts)
            day_totals.mend(days, {site.pk: site.today() for site in Site.objects.all()})
            self.stdout.write("Mended." if found else "Nothing to mend.")
        elif found:
            raise CommandError("What is kept differs from the record; --mend stores it anew.")

    def _show(self, lines: list[str]) -> None:
        for line in lines[:SHOWN]:
            self.stdout.write(line)
        if len(lines) > SHOWN:
            self.stdout.write(f"… and {len(lines) - SHOWN} more")

    def _names(self, *, mend: bool) -> int:
        """How many people have other words than their names and numbers say."""
        found = 0
        people = Patient.objects.order_by("pk").iterator(chunk_size=CHUNK)
        while some := list(islice(people, CHUNK)):
            found += FindKey.objects.renew(some, store=mend)
        return found
