"""What became of a referral, on one narrow row."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any, ClassVar

from django.db import models, transaction
from django.db.models import Q

from patients.calc.age import age_on
from patients.history import ScopedQuerySet
from programs.enrolment.calc.referral_states import NOT_ENROLLING, WAITING_FOR_SEAT
from programs.enrolment.calc.way import Way, step_of
from programs.enrolment.models.payer import Payer
from programs.enrolment.models.referral import Referral
from programs.enrolment.models.referral_work import ContactAttempt, EligibilityAnswer

NTH = {2: "second_on", 12: "twelfth_on", 24: "twenty_fourth_on", 36: "thirty_sixth_on"}
OF_REFERRAL = (
    "pk", "patient", "patient__site", "patient__sex", "patient__born_on", "referred_on",
    "discharged_on", "condition__happened_on", "condition__kind", "source", "payer", "state",
    "why_not",
)  # fmt: skip


class ReferralTotalsQuerySet(ScopedQuerySet):
    """How each writer tells what it wrote; nothing else sets these columns."""

    @transaction.atomic
    def tell_referrals(self, keys: Iterable[int]) -> None:
        """Referrals were saved, answered or somebody was reached: a constant number of queries."""
        keys = list(keys)
        stored: Any = self.select_for_update().filter(pk__in=keys).order_by("pk")
        rows: dict[int, Any] = {row.pk: row for row in stored}
        known = set(rows)
        for found in facts_of_referrals(keys):
            row = rows.setdefault(found["referral_id"], ReferralTotals())
            set_columns(row, **found)
        new = [row for pk, row in rows.items() if pk not in known]
        self.bulk_create(new)
        if known:
            self.bulk_update([rows[pk] for pk in known], COLUMNS)

    @transaction.atomic
    def tell_course(self, referral: int, totals: Any, **told: Any) -> None:
        """The course of a referral, its sessions or its exit assessment were saved.

        ``left_on`` is given by who saved the course, and ``days``, one for each counted session in
        order, by who counted them: whoever holds an older course knows neither.
        """
        self.tell_courses({referral: facts_of_course(totals, **told)})

    @transaction.atomic
    def tell_courses(self, facts: Mapping[int, dict[str, Any]]) -> None:
        """Many courses were saved together, by referral: a constant number of queries."""
        mine: Any = self.select_for_update().filter(pk__in=list(facts)).order_by("pk")
        rows = {row.pk: row for row in mine}
        if missing := facts.keys() - rows.keys():
            self.tell_referrals(missing)
            rows |= {row.pk: row for row in mine.all()}
        for pk, row in rows.items():
            set_columns(row, **facts[pk])
        if len(rows) == 1:  # what every visit writes; a third of the time
            row.save()
        else:
            self.bulk_update(list(rows.values()), COLUMNS)

    def forget(self, **courses: Any) -> None:
        """What is counted of some courses when somebody asks is to be counted again.

        Called in the transaction that writes, whether they are counted or not: the rows stay
        locked until it is stored, so that nobody counts what is about to change.
        """
        self.filter(**courses).update(is_counted=False)

    def tell_person(self, patient: Any) -> None:
        """Sex, birth date or site of somebody may be another now."""
        keys = self.filter(patient=patient).order_by().values_list("pk", flat=True)
        if found := list(keys):
            self.tell_referrals(found)


def facts_of_referrals(keys: Sequence[int]) -> Iterable[dict[str, Any]]:
    """The columns that come from referrals and from the work done on them: three queries."""
    answers: dict[int, str] = {}
    given = EligibilityAnswer.objects.filter(referral__in=keys).order_by("at", "pk")
    answers.update(given.values_list("referral", "decision"))
    reached = set(
        ContactAttempt.objects.filter(referral__in=keys, outcome=ContactAttempt.Outcome.REACHED)
        .order_by()
        .values_list("referral", flat=True)
    )
    for row in Referral.objects.filter(pk__in=keys).order_by().values(*OF_REFERRAL):
        yield columns_of_referral(
            row,
            answers.get(row["pk"]) == EligibilityAnswer.Decision.ELIGIBLE,
            row["pk"] in reached,
        )


def columns_of_referral(row: dict[str, Any], is_eligible: bool, is_spoken_to: bool) -> Any:
    """The columns of one referral, from its values named in OF_REFERRAL."""
    event_on = row["discharged_on"] or row["condition__happened_on"]
    referred_on, born_on = row["referred_on"], row["patient__born_on"]
    return {
        "referral_id": row["pk"],
        "patient_id": row["patient"],
        "site_id": row["patient__site"],
        "referred_on": referred_on,
        "referred_in": referred_on.year * 12 + referred_on.month - 1,
        "condition": row["condition__kind"],
        "source": row["source"],
        "payer_id": row["payer"],
        "sex": row["patient__sex"],
        "age": age_on(born_on, max(event_on or referred_on, born_on)),
        "event_on": event_on,
        "is_eligible": is_eligible,
        "is_reached": is_spoken_to or row["state"] == WAITING_FOR_SEAT,
        "is_closed": row["state"] == NOT_ENROLLING,
        "why_not": row["why_not"],
    }


def facts_of_course(totals: Any, **told: Any) -> Any:
    """The columns that come from a course's own totals, and what is told beside them."""
    found = {
        "planned": totals.planned,
        "outcome": totals.outcome,
        "sessions": totals.sessions,
        "sessions_in_36_weeks": totals.sessions_in_36_weeks,
        "first_on": totals.first_on,
        "has_exit": totals.has_exit,
    }
    if "left_on" in told:
        found["left_on"] = told["left_on"]
    if "days" in told:
        days = told["days"]
        found |= {name: days[n - 1] if len(days) >= n else None for n, name in NTH.items()}
    return found


def set_columns(row: Any, **columns: Any) -> None:
    """Set columns, and what follows from several of them."""
    for name, value in columns.items():
        setattr(row, name, value)
    has_course = row.planned is not None
    way = Way(row.is_eligible, row.is_reached, has_course, row.sessions, row.has_exit)
    row.step = int(step_of(way))
    row.is_over = row.left_on is not None if has_course else row.is_closed
    row.reason = row.outcome if has_course else row.why_not
    row.wait_days = days_between(row.referred_on, row.first_on)
    row.event_days = days_between(row.event_on, row.first_on)
    row.stay_days = days_between(row.first_on, row.left_on)
    for n, name in NTH.items():
        setattr(row, f"days_to_{n}", days_between(row.event_on, getattr(row, name)))


def days_between(since: date | None, until: date | None) -> int | None:
    return None if since is None or until is None else (until - since).days


class ReferralTotals(models.Model):
    """What the program's figures of people referred read, and nothing else.

    One row a referral, enrolled or not, so that a funnel over ten years is one pass over narrow
    rows. Whoever writes what a column is made of tells it in the same transaction: referrals,
    answers and contacts when they are saved, people when they are, courses through their own
    totals. ``manage.py verify_totals`` works every row out anew and says what differs.
    """

    of_site = "site"

    referral = models.OneToOneField(
        Referral, on_delete=models.PROTECT, primary_key=True, related_name="totals"
    )
    patient = models.ForeignKey("patients.Patient", on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(
        "staff.Site", on_delete=models.PROTECT, related_name="+", db_index=False
    )
    referred_on = models.DateField()
    referred_in = models.PositiveIntegerField()  # the month, as a number that groups cheaply
    condition = models.CharField(max_length=16)
    source = models.CharField(max_length=12, blank=True, default="")
    payer = models.ForeignKey(
        Payer, on_delete=models.PROTECT, null=True, related_name="+", db_index=False
    )
    sex = models.CharField(max_length=8, blank=True, default="")
    age = models.PositiveSmallIntegerField()  # on the day of the event, else of the referral
    event_on = models.DateField(null=True)  # discharge, else the event
    is_eligible = models.BooleanField(default=False)
    is_reached = models.BooleanField(default=False)
    is_closed = models.BooleanField(default=False)
    why_not = models.CharField(max_length=16, blank=True, default="")
    # What the course came to; all empty while there is none.
    planned = models.PositiveSmallIntegerField(null=True)
    outcome = models.CharField(max_length=12, blank=True, default="")
    left_on = models.DateField(null=True)
    sessions = models.PositiveSmallIntegerField(default=0)
    sessions_in_36_weeks = models.PositiveSmallIntegerField(default=0)
    first_on = models.DateField(null=True)
    second_on = models.DateField(null=True)
    twelfth_on = models.DateField(null=True)
    twenty_fourth_on = models.DateField(null=True)
    thirty_sixth_on = models.DateField(null=True)
    has_exit = models.BooleanField(default=False)
    # What follows from the above.
    step = models.PositiveSmallIntegerField()  # calc/way.py
    is_over = models.BooleanField()
    reason = models.CharField(max_length=16, blank=True, default="")
    wait_days = models.IntegerField(null=True)  # referral to first session
    event_days = models.IntegerField(null=True)  # event to first session
    stay_days = models.IntegerField(null=True)  # first session to leaving
    days_to_2 = models.IntegerField(null=True)  # event to the second session, and so on
    days_to_12 = models.IntegerField(null=True)
    days_to_24 = models.IntegerField(null=True)
    days_to_36 = models.IntegerField(null=True)
    # What is counted when somebody asks (models/course_counts.py), with these two columns.
    is_counted = models.BooleanField(default=False)
    six_weeks_on = models.DateField(null=True)  # last day of the window; None: none was due
    six_weeks_in_time = models.BooleanField(default=False)

    objects: ClassVar[Any] = ReferralTotalsQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(name="referraltotals_month_idx", fields=["site", "referred_in"]),
            models.Index(name="referraltotals_left_idx", fields=["site", "left_on"]),
            models.Index(name="referraltotals_six_weeks_idx", fields=["site", "six_weeks_on"]),
            models.Index(
                name="referraltotals_uncounted_idx",
                fields=["site", "referred_in"],
                condition=Q(is_counted=False, planned__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"step {self.step} of {self.referral}"


COUNTED = {"is_counted", "six_weeks_on", "six_weeks_in_time"}  # when somebody asks
COLUMNS = [
    f.name
    for f in ReferralTotals._meta.concrete_fields
    if not f.primary_key and f.name not in COUNTED
]
