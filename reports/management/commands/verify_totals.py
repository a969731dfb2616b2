"""Prove that what is kept beside the record is what the record says, and mend what is not."""

import time
from itertools import islice
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from patients.models import FindKey, Patient
from programs.enrolment.models import Enrolment, Referral
from reports import referral_totals, totals

SHOWN = 20
CHUNK = 2000


class Command(BaseCommand):
    help = (
        "Work out what every course and referral came to, and the words by which people are "
        "found, anew from the record. Says what differs; --mend stores what the record says."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--mend", action="store_true", help="store what the record says")

    def handle(self, *args: Any, **options: Any) -> None:
        start = time.monotonic()
        wrong = list(totals.differences())
        for one in wrong[:SHOWN]:
            self.stdout.write(f"course {one.enrolment}: {', '.join(one.columns)}")
        if len(wrong) > SHOWN:
            self.stdout.write(f"… and {len(wrong) - SHOWN} more")
        ways = list(referral_totals.differences())
        for way in ways[:SHOWN]:
            self.stdout.write(f"referral {way.referral}: {', '.join(way.columns)}")
        n_names = self._names(mend=options["mend"])
        self.stdout.write(
            f"{Enrolment.objects.count()} courses, {len(wrong)} with wrong totals; "
            f"{Referral.objects.count()} referrals, {len(ways)} with wrong totals; "
            f"{Patient.objects.count()} people, {n_names} with wrong words to be found by; "
            f"{time.monotonic() - start:.1f} s"
        )
        if options["mend"]:
            totals.mend(wrong)
            referral_totals.mend(ways)
            self.stdout.write("Mended." if wrong or ways or n_names else "Nothing to mend.")
        elif wrong or ways or n_names:
            raise CommandError("What is kept differs from the record; --mend stores it anew.")

    def _names(self, *, mend: bool) -> int:
        """How many people have other words than their names and numbers say."""
        found = 0
        people = Patient.objects.order_by("pk").iterator(chunk_size=CHUNK)
        while some := list(islice(people, CHUNK)):
            found += FindKey.objects.renew(some, store=mend)
        return found
