"""Reads about one visit: the record the rules need, the last session, the sheet."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, prefetch_related_objects

from patients.models import Condition, Medicine, Patient
from programs.attendance.calc.sheet import Background, Vitals
from programs.attendance.models import Bout, Reading, Visit

NEEDS_GLUCOSE = [Medicine.DrugClass.INSULIN, Medicine.DrugClass.SECRETAGOGUE]


def background_of(visit: Visit) -> Background:
    """What the records say that the rules need, for one visit."""
    patient = visit.enrolment.patient_id
    weights = Reading.objects.filter(
        visit__enrolment__patient=patient, weight_kg__isnull=False, visit__on__lt=visit.on
    )
    latest = list(weights.order_by("-visit__on", "-pk").values_list("visit__on", "weight_kg")[:12])
    since = visit.on - timedelta(days=3)
    insulin = Medicine.objects.filter(
        patient=OuterRef("pk"), stopped_on=None, drug_class__in=NEEDS_GLUCOSE
    )
    failing = Condition.objects.filter(patient=OuterRef("pk"), kind=Condition.Kind.HEART_FAILURE)
    uses_insulin, has_heart_failure = Patient.objects.filter(pk=patient).values_list(
        Exists(insulin), Exists(failing)
    )[0]
    return Background(
        uses_insulin=uses_insulin,
        has_heart_failure=has_heart_failure,
        weights_last_3_days_kg=tuple(kg for on, kg in latest if on >= since and kg is not None),
        last_weight_kg=latest[0][1] if latest else None,
    )


def merged_vitals(readings: Sequence[Reading]) -> Vitals:
    """The last known value of each vital sign over readings in order; a pressure stays a pair."""
    known: dict[str, Any] = {}
    for reading in readings:
        for name in Vitals.__dataclass_fields__:
            value = getattr(reading, name)
            if value is not None:
                known[name] = value
    return Vitals(**known)


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
    prefetch_related_objects([visit], "findings__by")
    return visit, last
