"""One person's outcomes, gathered: what page, print, PDF and letter show alike."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import QuerySet

from assessments.models import Assessment, Measurement
from patients.calc.days import in_words
from patients.prepared import Prepared
from programs.attendance.models import Bout, Visit
from programs.enrolment.models import Enrolment
from programs.prescription.models import Prescription
from reports import queries
from reports.calc.attended import Done, Dose, Session, done_in, dose_on, in_range, tally, within
from reports.calc.change import STAGE_NAMES, STAGES
from reports.calc.headline import Part, headline, lacking
from reports.calc.plain_words import sentence
from reports.calc.scale import Axis, axis_of
from reports.calc.summary import Held, OutcomeLine, grouped, line_of, reached
from reports.drawing import Weeks

MOST_WEEKS = 36  # drawn


@dataclass(frozen=True)
class StageHead:
    """The head of a stage's column: its name and day, or when it is planned."""

    name: str
    day: str


@dataclass(frozen=True)
class Outcomes:
    """Everything one page about outcomes shows."""

    enrolment: Enrolment
    stage: str
    headline: list[Part]
    heads: list[StageHead]
    on_scale: list[tuple[str, list[OutcomeLine]]]
    off_scale: list[tuple[str, list[OutcomeLine]]]
    axis: Axis
    weeks: Weeks
    came: list[tuple[int, str]]
    in_range: str
    sentences: list[str]
    not_recorded: list[str]  # chosen for an assessment that was performed, never recorded

    @property
    def lines(self) -> list[OutcomeLine]:
        """Every line, those on the scale first."""
        return [line for _, group in (*self.on_scale, *self.off_scale) for line in group]

    @property
    def weeks_words(self) -> str:
        """The sessions in words."""
        counts = ", ".join(f"{n} {words}" for n, words in self.came)
        return f"{self.weeks.n} weeks: {counts}; {self.in_range}"


def _of_course(rows: Any, *names: str) -> Prepared:
    return Prepared(
        lambda enrolment: rows.filter(enrolment=enrolment).order_by().values_list(*names),
        enrolment=int,
    )


def _bouts(visits: Any) -> QuerySet[Any, Any]:
    rows = Bout.objects.filter(visit__pk__listed=visits, is_withdrawn=False).order_by()
    return rows.values_list("visit", "activity", "minutes", "mets", "heart_rate_bpm", "rpe")


_HELD = _of_course(
    Assessment.objects,
    *["kind", "performed_on", "planned_on", "not_obtained_because", "tests"],
)
_IN_ERROR = Prepared(
    lambda enrolment: (
        Measurement.objects.exclude(error_reason="")
        .filter(assessment__enrolment=enrolment)
        .order_by()
        .values_list("assessment__kind", "key")
    ),
    enrolment=int,
)
_VISITS = _of_course(Visit.objects, "pk", "on", "state", "absence", "counts_first", "counts_second")
_BOUTS = Prepared(_bouts, visits=list)
_DOSES = _of_course(
    Prescription.objects,
    *["valid_from", "replaced_on", "low_bpm", "high_bpm", "rpe_low", "rpe_high"],
    *["minutes", "target_mets"],
)
STATES = {
    Visit.State.FINISHED: "attended",
    Visit.State.HELD: "held",
    Visit.State.STOPPED: "stopped",
    Visit.State.ABSENT: "missed",
}


def doses_of(enrolment: Enrolment) -> list[Dose]:
    """Every prescription of a course, as far as sessions are held beside it: one query."""
    return [Dose(*row) for row in _DOSES(enrolment=enrolment.pk)]


def outcomes_of(enrolment: Enrolment, stage: str = "") -> Outcomes:
    """Eight queries, whatever the length of the course; about the stage reached, or another."""
    rows = queries.comparison(enrolment)
    held = _held(enrolment)
    is_open = enrolment.is_open
    stage = stage or reached(rows, held, is_open=is_open)
    lines = [line_of(row, held, stage, is_open=is_open) for row in rows]
    on_scale = [line for line in lines if line.placed is not None]
    sessions, n_counted = _sessions(enrolment, doses := doses_of(enrolment))
    return Outcomes(
        enrolment=enrolment,
        stage=stage,
        headline=headline(
            lines,
            stage,
            n_counted=n_counted,
            n_planned=enrolment.sessions_planned,
            lacking=", ".join(lacking(lines, held, stage, is_open=is_open)),
        ),
        heads=[_head(one, held.get(one), is_open=is_open) for one in STAGES],
        on_scale=grouped(on_scale),
        off_scale=grouped([line for line in lines if line.placed is None]),
        axis=axis_of([line.placed for line in on_scale if line.placed is not None]),
        weeks=Weeks(enrolment.starts_on, _n_weeks(enrolment, sessions), sessions, doses),
        came=tally(sessions),
        in_range=within(sessions),
        sentences=[words for row in rows if (words := sentence(row))],
        not_recorded=_not_recorded(rows, held),
    )


def _held(enrolment: Enrolment) -> dict[str, Held]:
    wrong: dict[str, set[str]] = defaultdict(set)
    for kind, key in _IN_ERROR(enrolment=enrolment.pk):
        wrong[kind].add(key)
    return {
        kind: Held(performed_on, planned_on, because, tuple(tests), frozenset(wrong[kind]))
        for kind, performed_on, planned_on, because, tests in _HELD(enrolment=enrolment.pk)
        if kind in STAGES
    }


def _head(stage: str, held: Held | None, *, is_open: bool) -> StageHead:
    name = STAGE_NAMES[stage]
    if held is None:
        return StageHead(name, "not yet" if is_open else "none")
    if held.performed_on is not None:
        return StageHead(name, in_words(held.performed_on))
    if held.because:
        return StageHead(name, f"not obtained: {held.because}")
    planned = f"planned {in_words(held.planned_on)}" if held.planned_on else "not yet"
    return StageHead(name, planned if is_open else "none")


def _not_recorded(rows: Sequence[Any], held: dict[str, Held]) -> list[str]:
    """What was chosen for a performed assessment and has no result at any stage."""
    there = {row.measure.key for row in rows}
    chosen = [key for one in held.values() if one.performed_on for key in one.tests]
    names = queries.MEASURE_NAMES
    return [names[key] for key in dict.fromkeys(chosen) if key not in there and key in names]


def _sessions(enrolment: Enrolment, doses: list[Dose]) -> tuple[list[Session], int]:
    """The visits of a course by day, and how many sessions counted."""
    visits = _VISITS(enrolment=enrolment.pk)
    done: dict[int, list[Done]] = defaultdict(list)
    exercised = [pk for pk, _, state, *_ in visits if state in Visit.EXERCISED]
    for visit, *bout in _BOUTS(visits=exercised):
        done[visit].append(Done(*bout))
    reasons = dict(Visit.Absence.choices)
    sessions = [
        Session(
            on,
            STATES[state],
            str(reasons.get(absence, "")),
            done_in(done[pk]),
            in_range(done[pk], dose_on(doses, on)),
        )
        for pk, on, state, absence, _, _ in visits
        if state in STATES
    ]
    n_counted = sum(bool(first) + bool(second) for *_, first, second in visits)
    return sorted(sessions, key=lambda one: one.on), n_counted


def _n_weeks(enrolment: Enrolment, sessions: Sequence[Session]) -> int:
    last = max([one.on for one in sessions], default=enrolment.starts_on)
    seen = (last - enrolment.starts_on) // timedelta(days=7) + 1
    return min(max(enrolment.weeks, seen), MOST_WEEKS)
