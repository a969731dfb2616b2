"""Reads about one visit: the record the rules need, the limits in force, the last session."""

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef, Prefetch, Q, QuerySet, prefetch_related_objects
from django.utils import timezone

from patients.models import BodyWeight, Condition, Device, Medicine, Patient
from programs.attendance.calc.catalogue import Setting, in_force
from programs.attendance.calc.effort import BoutEntry
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.rules import Rule
from programs.attendance.calc.sheet import Background, Sheet, Vitals
from programs.attendance.models import (
    Bout,
    Interruption,
    PersonLimit,
    Reading,
    SiteLimit,
    Visit,
)
from programs.enrolment.models import EntryScreen
from programs.prescription.models import Prescription

NEEDS_GLUCOSE = [Medicine.DrugClass.INSULIN, Medicine.DrugClass.SECRETAGOGUE]
EVENTS = ["mi", "pci", "cabg", "valve", "transplant"]
DAY = timedelta(hours=24)


def rules_for(patient: Patient) -> tuple[Rule, ...]:
    """The rules with the limits of the person's site, and the person's own tighter ones."""
    return in_force(site_settings(patient.site_id), _settings(patient.limits.in_force()))


def site_settings(site: int) -> dict[str, Setting]:
    return _settings(SiteLimit.objects.filter(site=site, limit__isnull=False))


def _settings(rows: QuerySet[SiteLimit] | QuerySet[PersonLimit]) -> dict[str, Setting]:
    return {row.rule_key: Setting(row.limit or 0, row.set_on) for row in rows}


def background_of(visit: Visit) -> Background:
    """What the records say that the rules need, for one visit."""
    patient = visit.enrolment.patient_id
    latest = BodyWeight.objects.before(patient, visit.on)
    since = visit.on - timedelta(days=3)
    facts = _person_facts(visit)
    lows, helped = _lows_of_24h(visit)
    screen = EntryScreen.objects.filter(patient=patient).first()
    dose = Prescription.objects.in_force().filter(enrolment=visit.enrolment_id).first()
    return Background(
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


def glucose_of(reading: Reading) -> Glucose:
    """The glucose of a reading that has one."""
    return Glucose(reading.glucose_mgdl or 0, is_mmoll=reading.glucose_is_mmoll)


def groups_of(background: Background) -> frozenset[str]:
    """Who somebody is, for questions asked of some only."""
    marks = {
        "insulin": background.uses_insulin,
        "heart failure": background.has_heart_failure,
        "icd": background.has_icd,
    }
    return frozenset(name for name, is_so in marks.items() if is_so)


def merged_vitals(readings: Sequence[Reading]) -> Vitals:
    """The last known value of each vital sign over readings in order; a pressure stays a pair."""
    known: dict[str, Any] = {}
    for reading in readings:
        for name in Vitals.__dataclass_fields__:
            value = getattr(reading, name)
            if name == "glucose_is_mmoll" and reading.glucose_mgdl is None:
                continue
            if value is not None:
                known[name] = value
    return Vitals(**known)


def stored_sheet(visit: Visit) -> Sheet:
    """A visit as it is stored, for the rules to judge."""
    readings = list(visit.readings.all())
    rhythm = getattr(visit, "rhythm", None)
    return Sheet(
        before=merged_vitals([r for r in readings if r.phase == "before"]),
        after=merged_vitals([r for r in readings if r.phase in {"during", "after"}]),
        recovery=merged_vitals([r for r in readings if r.phase == "recovery"]),
        bouts=entries_of(visit),
        rhythm=Rhythm(**{name: getattr(rhythm, name) for name in Rhythm.__dataclass_fields__})
        if rhythm
        else Rhythm(),
        minutes=visit.minutes,
        answers=visit.answers,
        symptoms=visit.symptoms,
        ketones=visit.ketones,
        has_ecg=visit.has_ecg,
        rechecks=tuple(
            (r.taken_at, glucose_of(r))
            for r in readings
            if r.glucose_mgdl is not None and r.phase != "before"
        ),
    )


def entries_of(visit: Visit) -> tuple[BoutEntry, ...]:
    """The bouts of a visit in their places, an empty one where none stands."""
    kept = {bout.place: bout for bout in visit.bouts.all() if not bout.is_withdrawn}
    names = list(BoutEntry.__dataclass_fields__)
    return tuple(
        BoutEntry(**{name: getattr(kept[place], name) for name in names})
        if place in kept
        else BoutEntry()
        for place in range(1, max(kept, default=0) + 1)
    )


def last_visit_before(visit: Visit) -> Visit | None:
    """The person's last visit with exercise."""
    return (
        Visit.objects.filter(enrolment__patient=visit.enrolment.patient_id, on__lt=visit.on)
        .filter(state__in=[Visit.State.FINISHED, Visit.State.STOPPED])
        .order_by("-on", "-pk")
        .first()
    )


def with_detail(visit: Visit) -> tuple[Visit, Visit | None]:
    """The visit and the one before it, with everything the sheet shows at hand."""
    last = last_visit_before(visit)
    prefetch_related_objects(
        [visit, last] if last else [visit],
        "readings",
        Prefetch("bouts", queryset=Bout.objects.filter(is_withdrawn=False)),
    )
    prefetch_related_objects([visit], "findings__by", "interruptions__by", "carbohydrates")
    return visit, last
