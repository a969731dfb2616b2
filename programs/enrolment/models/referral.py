"""A referral: work to do until the person starts or a reason says why not."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from patients.calc.limits import HEIGHT_CM, LVEF_PERCENT, WEIGHT_KG
from patients.constraints import within
from patients.history import ClinicalModel, ClinicalQuerySet, VersionedModel
from programs.enrolment.calc.eligibility import ConditionFacts
from programs.enrolment.calc.start_clock import StartClock, start_clock


class ReferralQuerySet(ClinicalQuerySet):
    def visible_to(self, user) -> "ReferralQuerySet":
        return self.filter(patient__site__in=user.site_ids())

    def waiting(self) -> "ReferralQuerySet":
        """Neither enrolled nor closed with a reason."""
        return self.filter(state__in=[Referral.State.NEW, Referral.State.CONTACTED])


class Referral(VersionedModel):
    class State(models.TextChoices):
        NEW = "new", "new"
        CONTACTED = "contacted", "in contact"
        ENROLLED = "enrolled", "enrolled"
        NOT_ENROLLING = "not_enrolling", "not enrolling"

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
        "patients.Condition", on_delete=models.PROTECT, related_name="referral"
    )
    state = models.CharField(max_length=16, choices=State, default=State.NEW)
    why_not = models.CharField("reason", max_length=16, choices=WhyNot, blank=True, default="")
    referred_on = models.DateField("referral date")
    discharged_on = models.DateField("discharge date", null=True, blank=True)
    referrer = models.CharField(max_length=120, blank=True)
    lvef_percent = models.FloatField("LVEF, %", null=True, blank=True)
    nyha_class = models.PositiveSmallIntegerField(
        "NYHA class", choices=NyhaClass, null=True, blank=True
    )
    is_angina_stable = models.BooleanField(
        "angina is current and stable", null=True, blank=True, default=None
    )
    hf_therapy_since = models.DateField("optimal therapy since", null=True, blank=True)
    last_cv_stay_on = models.DateField("last cardiovascular stay ended", null=True, blank=True)
    is_procedure_planned = models.BooleanField(
        "cardiovascular procedure planned", null=True, blank=True, default=None
    )
    planned_procedure_on = models.DateField("planned for", null=True, blank=True)
    reported_weight_kg = models.FloatField("weight as referred, kg", null=True, blank=True)
    reported_height_cm = models.FloatField("height as referred, cm", null=True, blank=True)
    note = models.TextField(blank=True)
    history = HistoricalRecords()

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
                condition=Q(state__in=["new", "contacted", "enrolled", "not_enrolling"]),
            ),
            models.CheckConstraint(
                name="referral_not_enrolling_has_reason",
                condition=(Q(state="not_enrolling") & ~Q(why_not=""))
                | (~Q(state="not_enrolling") & Q(why_not="")),
                violation_error_message="Not enrolling needs a reason, and only that does.",
            ),
        ]
        indexes = [models.Index(fields=["state", "referred_on"])]

    def __str__(self) -> str:
        return f"referral of {self.patient} on {self.referred_on}"

    @property
    def is_waiting(self) -> bool:
        return self.state in {self.State.NEW, self.State.CONTACTED}

    def clock(self, today) -> StartClock:
        return start_clock(
            today,
            discharged_on=self.discharged_on,
            event_on=self.condition.happened_on,
            referred_on=self.referred_on,
        )

    def facts(self) -> ConditionFacts:
        """What the eligibility rule may read. A discharge counts as a cardiovascular stay."""
        stays = [day for day in (self.last_cv_stay_on, self.discharged_on) if day is not None]
        return ConditionFacts(
            kind=self.condition.kind,
            event_on=self.condition.happened_on,
            is_angina_stable=self.is_angina_stable,
            lvef_percent=self.lvef_percent,
            nyha_class=self.nyha_class,
            therapy_since=self.hf_therapy_since,
            last_cv_stay_on=max(stays, default=None),
            planned_procedure_on=self.planned_procedure_on,
            is_procedure_planned=self.is_procedure_planned,
        )


class ContactAttempt(ClinicalModel):
    class Outcome(models.TextChoices):
        REACHED = "reached", "reached"
        MESSAGE = "message", "left a message"
        NO_ANSWER = "no_answer", "no answer"
        WRONG_NUMBER = "wrong_number", "wrong number"

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="contacts")
    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    outcome = models.CharField(max_length=16, choices=Outcome)
    note = models.CharField(max_length=200, blank=True)
    next_try_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.get_outcome_display()} on {self.at:%Y-%m-%d}"


class EligibilityAnswer(ClinicalModel):
    """A clinician's decision, with what the rule said at that moment."""

    class Decision(models.TextChoices):
        ELIGIBLE = "eligible", "meets the rule"
        NOT_ELIGIBLE = "not_eligible", "does not meet the rule"

    referral = models.ForeignKey(Referral, on_delete=models.PROTECT, related_name="answers")
    decision = models.CharField(max_length=16, choices=Decision)
    rule_said = models.CharField(max_length=20)
    limb = models.CharField(max_length=12)
    rule_set = models.CharField(max_length=80)
    for_start_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="eligibilityanswer_override_has_reason",
                condition=Q(decision=F("rule_said")) | ~Q(reason=""),
                violation_error_message="Deciding otherwise than the rule needs a reason.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_decision_display()} ({self.limb})"
