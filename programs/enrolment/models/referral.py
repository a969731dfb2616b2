"""A referral: work to do until the person starts or a reason says why not."""

from collections.abc import Iterable
from typing import Any, ClassVar

from django.conf import settings
from django.db import models, transaction
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.days import in_words
from patients.calc.limits import HEIGHT_CM, LVEF_PERCENT, WEIGHT_KG
from patients.constraints import within
from patients.history import ClinicalQuerySet, VersionedModel
from programs.enrolment.calc import referral_states
from programs.enrolment.calc.eligibility import ConditionFacts
from programs.enrolment.calc.rule_sets import MEDICARE, RuleSet
from programs.enrolment.calc.start_clock import StartClock, start_clock
from programs.enrolment.models.payer import Payer


class ReferralQuerySet(ClinicalQuerySet):
    def waiting(self) -> "ReferralQuerySet":
        """Neither enrolled nor closed with a reason."""
        return self.filter(state__among=referral_states.WAITING)

    def with_facts(self) -> "ReferralQuerySet":
        """Everything the clock and the eligibility rule read, in a constant number of queries."""
        return self.select_related(*Referral.FACTS).prefetch_related("others")

    def bulk_create(self, objs: Any, *args: Any, **kwargs: Any) -> Any:
        made = super().bulk_create(objs, *args, **kwargs)
        tell(row.pk for row in made)
        return made

    def bulk_update(self, objs: Any, fields: Any, *args: Any, **kwargs: Any) -> Any:
        n = super().bulk_update(objs, fields, *args, **kwargs)
        tell(row.pk for row in objs)
        return n


def tell(keys: Iterable[int]) -> None:
    """What referrals came to may be different now."""
    from programs.enrolment.models.referral_totals import ReferralTotals  # it names Referral

    ReferralTotals.objects.tell_referrals(keys)


class Referral(VersionedModel):
    of_site = "patient__site"
    # Rows that the clock and the eligibility rule read beside it.
    FACTS = ("patient__site", "condition", "payer__own", "owner")

    class State(models.TextChoices):
        NEW = referral_states.NEW, "new"
        ASKING = referral_states.ASKING, "records requested"
        CONTACTED = referral_states.CONTACTED, "in contact"
        SEAT = referral_states.WAITING_FOR_SEAT, "on the waiting list"
        ENROLLED = referral_states.ENROLLED, "enrolled"
        NOT_ENROLLING = referral_states.NOT_ENROLLING, "not enrolling"

    class Source(models.TextChoices):
        WARD = "ward", "hospital ward"
        SURGEON = "surgeon", "surgeon"
        CLINIC = "clinic", "cardiology clinic"
        PRIMARY_CARE = "primary_care", "primary care"
        SELF = "self", "the person"
        OTHER = "other", "somebody else"

    class WhyNot(models.TextChoices):
        DECLINED = "declined", "declined"
        NOT_ELIGIBLE = "not_eligible", "not eligible"
        UNREACHABLE = "unreachable", "could not be reached"
        DISTANCE = "distance", "distance or transport"
        COST = "cost", "cost"
        WORK = "work", "work or family duties"
        MEDICAL = "medical", "medical reason"
        ELSEWHERE = "elsewhere", "goes elsewhere"
        DIED = "died", "died"

    class NyhaClass(models.IntegerChoices):
        I = 1, "I"  # noqa: E741 - the trade's own numeral
        II = 2, "II"
        III = 3, "III"
        IV = 4, "IV"

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="referrals"
    )
    condition = models.OneToOneField(
        "patients.Condition",
        on_delete=models.PROTECT,
        related_name="referral",
        verbose_name="main condition",
    )
    others = models.ManyToManyField(
        "patients.Condition",
        blank=True,
        related_name="further_referrals",
        verbose_name="further qualifying conditions",
    )
    state = models.CharField(max_length=16, choices=State, default=State.NEW)
    why_not = models.CharField("reason", max_length=16, choices=WhyNot, blank=True, default="")
    why_not_note = models.CharField("comments", max_length=200, blank=True)
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="referrals_held",
        verbose_name="assigned to",
    )
    source = models.CharField(
        "referral source", max_length=12, choices=Source, blank=True, default=""
    )
    payer = models.ForeignKey(
        Payer, on_delete=models.PROTECT, null=True, blank=True, related_name="referrals"
    )
    referred_on = models.DateField("referral date")
    admitted_on = models.DateField("admission date", null=True, blank=True)
    discharged_on = models.DateField(
        "discharge date", null=True, blank=True, help_text="Planned, if still in hospital."
    )
    referrer = models.CharField("name of the referrer", max_length=120, blank=True)
    lvef_percent = models.FloatField("LVEF, %", null=True, blank=True)
    lvef_reported = models.CharField("LVEF as reported", max_length=40, blank=True)
    nyha_class = models.PositiveSmallIntegerField(
        "NYHA class", choices=NyhaClass, null=True, blank=True
    )
    is_angina_stable = models.BooleanField(
        "angina is current and stable", null=True, blank=True, default=None
    )
    hf_therapy_since = models.DateField("optimal therapy since", null=True, blank=True)
    has_had_cv_stay = models.BooleanField(
        "has had a cardiovascular stay or procedure", null=True, blank=True, default=None
    )
    last_cv_stay_on = models.DateField("last cardiovascular stay ended", null=True, blank=True)
    is_procedure_planned = models.BooleanField(
        "cardiovascular procedure planned", null=True, blank=True, default=None
    )
    planned_procedure = models.CharField("which procedure", max_length=120, blank=True)
    planned_procedure_on = models.DateField("planned for", null=True, blank=True)
    wanted_per_week = models.PositiveSmallIntegerField("sessions a week wanted", default=3)
    wanted_weekdays = models.CharField(
        "days that suit", max_length=7, blank=True, help_text="Monday is 0; empty means any day."
    )
    reported_weight_kg = models.FloatField("weight as referred, kg", null=True, blank=True)
    reported_height_cm = models.FloatField("height as referred, cm", null=True, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords(m2m_fields=[others])

    objects: ClassVar[Any] = ReferralQuerySet.as_manager()

    class Meta:
        ordering = ["referred_on", "pk"]
        permissions = [("confirm_eligibility", "May confirm eligibility")]
        constraints = [
            within("lvef_percent", LVEF_PERCENT, table="referral"),
            within("reported_weight_kg", WEIGHT_KG, table="referral"),
            within("reported_height_cm", HEIGHT_CM, table="referral"),
            models.CheckConstraint(
                name="referral_nyha_possible",
                condition=Q(nyha_class=None) | Q(nyha_class__gte=1, nyha_class__lte=4),
            ),
            models.CheckConstraint(
                name="referral_state_known",
                condition=Q(
                    state__in=["new", "asking", "contacted", "seat", "enrolled", "not_enrolling"]
                ),
            ),
            models.CheckConstraint(
                name="referral_discharge_after_admission",
                condition=Q(admitted_on=None)
                | Q(discharged_on=None)
                | Q(discharged_on__gte=F("admitted_on")),
                violation_error_message="Discharge lies before admission.",
            ),
            models.CheckConstraint(
                name="referral_source_known",
                condition=Q(
                    source__in=["", "ward", "surgeon", "clinic", "primary_care", "self", "other"]
                ),
            ),
            models.CheckConstraint(
                name="referral_never_in_hospital_has_no_stay",
                condition=~Q(has_had_cv_stay=False) | Q(last_cv_stay_on=None),
                violation_error_message=(
                    "A last cardiovascular stay is given, and also that there was none."
                ),
            ),
            models.CheckConstraint(
                name="referral_per_week_possible",
                condition=Q(wanted_per_week__gte=1, wanted_per_week__lte=6),
                violation_error_message="Between 1 and 6 sessions a week can be wanted.",
            ),
            models.CheckConstraint(
                name="referral_not_enrolling_has_reason",
                condition=(Q(state="not_enrolling") & ~Q(why_not=""))
                | (~Q(state="not_enrolling") & Q(why_not="")),
                violation_error_message="Not enrolling needs a reason, and only that does.",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "referred_on"]),
            models.Index(
                name="referral_waiting_idx",
                fields=["patient"],
                condition=Q(state__among=sorted(referral_states.WAITING)),
            ),
        ]

    def __str__(self) -> str:
        return f"referral of {self.patient} on {in_words(self.referred_on)}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the referral, and what it came to, together or not at all."""
        with transaction.atomic():
            super().save(*args, **kwargs)
            tell([self.pk])

    @property
    def is_waiting(self) -> bool:
        return self.state in referral_states.WAITING

    @property
    def is_early(self) -> bool:
        """Received while the person was still in hospital."""
        return self.discharged_on is not None and self.referred_on < self.discharged_on

    @property
    def weekdays(self) -> list[int]:
        """Weekdays that suit the person; every day when none was named."""
        return [int(digit) for digit in self.wanted_weekdays] or list(range(7))

    def conditions(self) -> list[Any]:
        """Every qualifying condition, the main one first."""
        return [self.condition, *self.others.all()]

    def rule_set(self) -> RuleSet:
        """The payer's; the Medicare set while the payer is not recorded."""
        return self.payer.rule_set() if self.payer else MEDICARE

    def clock(self, today) -> StartClock:
        return start_clock(
            today,
            discharged_on=self.discharged_on,
            event_on=self.condition.happened_on,
            referred_on=self.referred_on,
        )

    def facts(self) -> list[ConditionFacts]:
        """What the eligibility rule may read. A discharge counts as a cardiovascular stay."""
        stays = [day for day in (self.last_cv_stay_on, self.discharged_on) if day is not None]
        return [
            ConditionFacts(
                kind=condition.kind,
                event_on=condition.happened_on,
                is_angina_stable=self.is_angina_stable,
                lvef_percent=self.lvef_percent,
                lvef_reported=self.lvef_reported,
                nyha_class=self.nyha_class,
                therapy_since=self.hf_therapy_since,
                last_cv_stay_on=max(stays, default=None),
                has_had_cv_stay=self.has_had_cv_stay,
                planned_procedure_on=self.planned_procedure_on,
                is_procedure_planned=self.is_procedure_planned,
            )
            for condition in self.conditions()
        ]
