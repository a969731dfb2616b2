"""What is known of a person that the rules need, from wherever it was recorded."""

from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q
from django.utils import timezone

from patients.models import BodyWeight, Condition, Device, Medicine, Patient
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.situation import Known
from programs.attendance.models import Interruption, Reading, Visit
from programs.attendance.visit.queries import glucose_of
from programs.enrolment.models import EntryScreen
from programs.prescription.models import Prescription

NEEDS_GLUCOSE = [Medicine.DrugClass.INSULIN, Medicine.DrugClass.SECRETAGOGUE]
EVENTS = ["mi", "pci", "cabg", "valve", "transplant"]
DAY = timedelta(hours=24)


def known_of(visit: Visit) -> Known:
    """What the records say that the rules need, for one visit."""
    patient = visit.enrolment.patient_id
    latest = BodyWeight.objects.before(patient, visit.on)
    since = visit.on - timedelta(days=3)
    facts = _person_facts(visit)
    lows, helped = _lows_of_24h(visit)
    screen = EntryScreen.objects.filter(patient=patient).first()
    dose = Prescription.objects.in_force().filter(enrolment=visit.enrolment_id).first()
    return Known(
        uses_insulin=facts["insulin"],
        has_beta_blocker=facts["beta_blocker"],
        has_heart_failure=facts["failing"],
        nyha=visit.enrolment.referral.nyha_class,
        has_pacemaker=facts["pacemaker"],
        has_icd=facts["icd"],
        weights_last_3_days_kg=tuple(kg for on, kg in latest if on >= since),
        last_weight_kg=latest[0][1] if latest else None,
        other_glucose_24h=lows,
        needed_help_24h=helped,
        days_since_event=_days(facts["last_event"], visit.on),
        days_since_mi=_days(facts["last_mi"], visit.on),
        entry_answers=None if screen is None else screen.answers,
        entry_says_start=None
        if screen is None
        else screen.decision == EntryScreen.Decision.MAY_START,
        was_interrupted=facts["interrupted"],
        upper_limit_bpm=dose.upper_limit_bpm if dose else None,
    )


def _person_facts(visit: Visit) -> dict[str, Any]:
    """Yes-or-no facts and dates of the person in one query."""
    mine = {"patient": OuterRef("pk")}
    taken = Medicine.objects.filter(**mine, stopped_on=None)
    devices = Device.objects.filter(**mine, removed_on=None)
    stopped = Interruption.objects.filter(
        visit__enrolment__patient=OuterRef("pk"),
        visit__on__lte=visit.on,
        settled_at=None,
        is_taken_back=False,
    ).exclude(visit=visit.pk)
    happened = Q(conditions__happened_on__lte=visit.on)
    found = (
        Patient.objects.filter(pk=visit.enrolment.patient_id)
        .annotate(
            last_event=Max(
                "conditions__happened_on", filter=happened & Q(conditions__kind__in=EVENTS)
            ),
            last_mi=Max("conditions__happened_on", filter=happened & Q(conditions__kind="mi")),
            insulin=Exists(taken.filter(drug_class__in=NEEDS_GLUCOSE)),
            beta_blocker=Exists(taken.filter(drug_class=Medicine.DrugClass.BETA_BLOCKER)),
            failing=Exists(Condition.objects.filter(**mine, kind=Condition.Kind.HEART_FAILURE)),
            pacemaker=Exists(devices),  # an ICD paces as well
            icd=Exists(devices.filter(kind=Device.Kind.ICD)),
            interrupted=Exists(stopped),
        )
        .values()[0]
    )
    return dict(found)


def _days(happened: date | None, on: date) -> int | None:
    return None if happened is None else (on - happened).days


def _lows_of_24h(visit: Visit) -> tuple[tuple[Glucose, ...], bool]:
    """Glucose of the last 24 hours beside what the sheet shows, and whether a low needed help.

    The glucose is of earlier visits and of values replaced at this one; the help of earlier
    visits, since this one's stands in its own answers.
    """
    upto = visit.ended_at or timezone.now()
    rows = list(
        Reading.objects.filter(
            visit__enrolment__patient=visit.enrolment.patient_id,
            glucose_mgdl__isnull=False,
            taken_at__gt=upto - DAY,
            taken_at__lte=upto,
        )
        .select_related("visit")
        .order_by("taken_at", "pk")
    )
    shown = {r.phase: r.pk for r in rows if r.visit_id == visit.pk and r.phase != "during"}
    others = tuple(glucose_of(r) for r in rows if r.pk not in shown.values())
    helped = any(r.visit.answers.get("needed_help") for r in rows if r.visit_id != visit.pk)
    return others, helped
