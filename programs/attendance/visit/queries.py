"""Reads about one visit: as it is stored, and the last session before it."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from patients.prepared import Prepared, attach
from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.models import (
    Bout,
    Carbohydrate,
    Finding,
    Interruption,
    Reading,
    Visit,
)

MOMENTS = [str(phase) for phase in Reading.Phase]  # in the order of a visit


def glucose_of(reading: Reading) -> Glucose:
    """The glucose of a reading that has one."""
    return Glucose(reading.glucose_mgdl or 0, is_mmoll=reading.glucose_is_mmoll)


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
        during=merged_vitals([r for r in readings if r.phase == "during"]),
        after=merged_vitals([r for r in readings if r.phase == "after"]),
        recovery=merged_vitals([r for r in readings if r.phase == "recovery"]),
        bouts=loads_of(visit),
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
            for r in sorted(readings, key=lambda r: MOMENTS.index(r.phase))
            if r.glucose_mgdl is not None and r.phase != "before"
        ),
    )


def loads_of(visit: Visit) -> tuple[Load, ...]:
    """The bouts of a visit in their places, an empty one where none stands."""
    kept = {bout.place: bout for bout in visit.bouts.all() if not bout.is_withdrawn}
    names = list(Load.__dataclass_fields__)
    return tuple(
        Load(**{name: getattr(kept[place], name) for name in names}) if place in kept else Load()
        for place in range(1, max(kept, default=0) + 1)
    )


def of_visits(rows: Any) -> Prepared:
    """The rows of some visits, in one statement that is compiled once."""
    return Prepared(lambda visits: rows.filter(visit__pk__listed=visits), visits=list)


def _last(patient: int, on: date) -> Any:
    mine = Visit.objects.filter(enrolment__patient=patient, on__lt=on, state__in=Visit.EXERCISED)
    return mine.order_by("-on", "-pk")[:1]


_LAST = Prepared(_last, patient=int, on=date)
# What the sheet shows of a visit, by the name under which the visit has it.
_OF_BOTH = {
    "readings": (Reading, of_visits(Reading.objects)),
    "bouts": (Bout, of_visits(Bout.objects.filter(is_withdrawn=False))),
}
_OF_THIS = {
    "findings": (Finding, of_visits(Finding.objects.select_related("by"))),
    "interruptions": (Interruption, of_visits(Interruption.objects.select_related("by"))),
    "carbohydrates": (Carbohydrate, of_visits(Carbohydrate.objects)),
}


def last_visit_before(visit: Visit) -> Visit | None:
    """The person's last visit with exercise."""
    return next(iter(_LAST(patient=visit.enrolment.patient_id, on=visit.on)), None)


def with_detail(visit: Visit) -> tuple[Visit, Visit | None]:
    """The visit and the one before it, with everything the sheet shows at hand."""
    last = last_visit_before(visit)
    _bring([visit, last] if last else [visit], _OF_BOTH)
    _bring([visit], _OF_THIS)
    return visit, last


def _bring(visits: Iterable[Visit], what: dict[str, tuple[Any, Prepared]]) -> None:
    """Give each visit its rows, and each row its visit."""
    by_key = {visit.pk: visit for visit in visits}
    for name, (model, rows_of) in what.items():
        found = rows_of(visits=list(by_key))
        for row in found:
            row.visit = by_key[row.visit_id]
        attach(by_key.values(), name, found, "visit_id", model=model)
