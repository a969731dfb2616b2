"""What is known of a person that the rules need, from wherever it was recorded.

The rows come from ``enrolment``'s record and from what happened on the floor; what they tell is
worked out in ``programs/enrolment/calc/record.py``.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, Subquery
from django.utils import timezone

from assessments.models import Measurement
from patients.models import BodyWeight, Patient
from patients.prepared import Prepared
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.situation import Known
from programs.attendance.models import Interruption, Reading, SafetyEvent, Visit
from programs.attendance.visit.queries import glucose_of
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.risk.queries import record_of

DAY = timedelta(hours=24)


def known_of(visit: Visit) -> Known:
    """What the records say that the rules need, for one visit."""
    patient, on = visit.enrolment.patient_id, visit.on
    upto = visit.ended_at or timezone.now()
    is_interrupted, was_helped, hba1c = _facts(visit, upto)
    record = floor_record(visit, hba1c)
    before = replace(
        record, events=tuple(e for e in record.events if e.at < (visit.started_at or upto))
    )
    weights = BodyWeight.objects.before(patient, on)
    since = on - timedelta(days=3)
    replaced, others, helped = _glucose_of_24h(visit, upto)
    screen = told.in_force(record.screen, record, on)
    insulin, icd = told.insulin_or_secretagogue(record, on), told.defibrillator(record, on)
    diabetes, failing = told.diabetes(record, on), told.heart_failure(record)
    blocker = told.beta_blocker(record, on)
    return Known(
        uses_insulin=bool(insulin),
        has_diabetes=bool(diabetes),
        has_beta_blocker=bool(blocker),
        has_heart_failure=bool(failing),
        nyha=told.nyha_class(record),
        has_pacemaker=told.has_pacemaker(record, on),
        has_icd=bool(icd),
        detection_bpm=told.detection_bpm(record, on),
        weights_last_3_days_kg=tuple(kg for day, kg in weights if day >= since),
        last_weight_kg=weights[0][1] if weights else None,
        replaced_glucose=replaced,
        other_glucose_24h=others,
        needed_help_24h=helped or was_helped or told.low_as_event(record, upto),
        days_since_event=_days(told.last_event_on(before, on), on),
        days_since_mi=_days(told.last_mi_on(record, on), on),
        entry_answers=None if screen is None else screen.answers,
        entry_says_start=None if screen is None else screen.says_start,
        was_interrupted=is_interrupted,
        events_to_review=told.unreviewed(before),
        other_events_to_review=told.unreviewed(before, {SafetyEvent.Kind.OTHER}),
        upper_limit_bpm=visit.dose.upper_limit_bpm if visit.dose else None,
        where={
            "uses_insulin": insulin.words,
            "has_diabetes": diabetes.words,
            "has_heart_failure": failing.words,
            "has_icd": icd.words,
            "entry_answers": _screen_words(record, screen, on),
        },
    )


def _events(patient: int) -> Any:
    standing = SafetyEvent.objects.filter(is_withdrawn=False).order_by()
    named = standing.filter(patient=patient)
    unnamed = standing.filter(visit__enrolment__patient=patient)
    # Apart, each is read along an index; as one condition it reads every event there ever was.
    return (
        named.values_list("pk", "kind", "happened_at", "reviewed_at")
        .union(unnamed.values_list("pk", "kind", "happened_at", "reviewed_at"))
        .order_by("-happened_at", "-pk")
    )


_EVENTS = Prepared(_events, patient=int)


def floor_record(visit: Visit, hba1c_percent: float | None) -> Record:
    """The person's record, with events on the floor and HbA1c."""
    patient = visit.enrolment.patient_id
    zone = visit.enrolment.patient.site.now().tzinfo
    labels = dict(SafetyEvent.Kind.choices)
    return replace(
        record_of(patient, zone),
        events=tuple(
            told.Event(kind, at.astimezone(zone), str(labels[kind]), reviewed is not None)
            for _, kind, at, reviewed in _EVENTS(patient=patient)
        ),
        hba1c_percent=hba1c_percent,
    )


def _facts(visit: Visit, upto: datetime) -> tuple[bool, bool, float | None]:
    """Whether an earlier hold or stop waits for its return to be confirmed, whether a low of 24
    hours needed help without being measured, and the last HbA1c."""
    since = upto - DAY
    ((is_interrupted, was_helped, hba1c),) = _FACTS(
        patient=visit.enrolment.patient_id, visit=visit.pk, on=visit.on, since=since,
        since_on=since.date() - timedelta(days=1),
    )  # fmt: skip
    return is_interrupted, was_helped, hba1c


def _person(patient: int, visit: int, on: date, since: datetime, since_on: date) -> Any:
    standing = Interruption.objects.filter(
        visit__enrolment__patient=OuterRef("pk"),
        visit__on__lte=on,
        settled_at=None,
        is_taken_back=False,
    ).exclude(visit=visit)
    hba1c = (
        Measurement.objects.standing()
        .filter(assessment__enrolment__patient=OuterRef("pk"), key="hba1c", value__isnull=False)
        .order_by("-assessment__performed_on", "-pk")
        .values("value")[:1]
    )
    # Where nothing was measured, the hour of the visit stands for that of the low.
    helped = (
        Visit.objects.filter(
            Q(ended_at__gt=since) | Q(ended_at=None, arrived_at__gt=since),
            enrolment__patient=OuterRef("pk"),
            answers__needed_help=True,
            on__gte=since_on,
        )
        .exclude(pk=visit)
        .exclude(readings__glucose_mgdl__isnull=False)
    )
    person = Patient.objects.filter(pk=patient)
    return person.values_list(Exists(standing), Exists(helped), Subquery(hba1c))


_FACTS = Prepared(_person, patient=int, visit=int, on=date, since=datetime, since_on=date)


def _days(happened: date | None, on: date) -> int | None:
    return None if happened is None else (on - happened).days


def _screen_words(record: Record, in_force: told.Answered | None, on: date) -> str:
    """Why a screen on record counts for nothing; empty while it counts, or there is none."""
    event = told.qualifying_event_on(record, on)
    if record.screen is None or in_force is not None or event is None:
        return ""
    return (
        f"screened on {record.screen.on:%-d %b %Y}, before the event of {event:%-d %b %Y}: "
        "screen again"
    )


def _glucose(patient: int, since: datetime, until: datetime) -> Any:
    taken = Reading.objects.filter(
        visit__enrolment__patient=patient,
        glucose_mgdl__isnull=False,
        taken_at__gt=since,
        taken_at__lte=until,
    )
    return taken.select_related("visit").order_by("taken_at", "pk")


_GLUCOSE = Prepared(_glucose, patient=int, since=datetime, until=datetime)


def _glucose_of_24h(
    visit: Visit, upto: datetime
) -> tuple[tuple[Glucose, ...], tuple[Glucose, ...], bool]:
    """Glucose of 24 hours beside what the sheet shows, and whether a low needed help.

    First what was replaced before exercise at this visit, then its later moments and other visits.
    The help is of other visits, since this one's stands in its own answers.
    """
    rows: Sequence[Reading] = _GLUCOSE(
        patient=visit.enrolment.patient_id, since=upto - DAY, until=upto
    )
    shown = {r.phase: r.pk for r in rows if r.visit_id == visit.pk}
    hidden = [r for r in rows if r.pk not in shown.values()]
    at_rest = [r for r in hidden if r.visit_id == visit.pk and r.phase == Reading.Phase.BEFORE]
    others = [r for r in hidden if r not in at_rest]
    return (
        tuple(glucose_of(r) for r in at_rest),
        tuple(glucose_of(r) for r in others),
        any(r.visit.answers.get("needed_help") for r in rows if r.visit_id != visit.pk),
    )
