"""What happened in a course since a day: for who reviews its plan. Nothing is judged here."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

from django.utils import timezone

from patients.calc.days import in_words, short_day
from patients.models import Medicine
from programs.attendance.calc.effort import Fit, fit
from programs.attendance.calc.levels import Level
from programs.attendance.models import Finding, SafetyEvent, Visit
from programs.enrolment.models import Enrolment
from programs.prescription.models import Prescription
from programs.review.calc.bars import Session
from programs.review.writing import OnRecord, told

State = Visit.State
NAMED = 4  # days named in a sentence; the table below the figure has all


@dataclass(frozen=True)
class Since:
    """What happened, in words, and each session for the figure."""

    on: date
    days: int
    sessions: str
    held_range: str
    holds: list[str]
    results: list[str]
    medicines: list[str]
    goals: list[str]
    bars: list[Session] = field(default_factory=list)


def happened_since(
    enrolment: Enrolment,
    on: date,
    record: OnRecord,
    dose: Prescription | None,
    goals: Sequence[str],
) -> Since:
    """Everything from the day of the last signature on; ``dose`` has the range it was signed with.

    Eight queries, whatever the length of the course.
    """
    visits = list(
        enrolment.visits.filter(on__gte=on)
        .exclude(state=State.EXPECTED)
        .prefetch_related("bouts", "readings")
        .order_by("on", "pk")
    )
    bars = [_session(visit) for visit in visits]
    in_all = enrolment.visits.counted().n_sessions()
    today = enrolment.patient.site.today()
    return Since(
        on,
        (today - on).days,
        _attendance(visits, in_all, enrolment.sessions_planned),
        range_words(bars, dose, today),
        _holds(enrolment, on),
        _results(record, on, today),
        _medicines(enrolment, on),
        list(goals),
        bars,
    )


def _session(visit: Visit) -> Session:
    """Heart rates of the training part, and the highest RPE told under it."""
    bouts = [bout for bout in visit.bouts.all() if not bout.is_withdrawn]
    during = [reading for reading in visit.readings.all() if reading.phase == "during"]
    signs = [(row.heart_rate_bpm, row.rpe) for row in bouts]
    signs += [(row.heart_rate_bpm, row.rpe) for row in during]
    rates = [rate for rate, _ in signs if rate is not None]
    efforts = [rpe for _, rpe in signs if rpe is not None]
    return Session(
        visit.on,
        visit.state,
        min(rates, default=None),
        max(rates, default=None),
        max(efforts, default=None),
    )


def _attendance(visits: Sequence[Visit], in_all: int, planned: int) -> str:
    n = {state: [v for v in visits if v.state == state] for state in State}
    counted = sum(visit.sessions_counted for visit in visits)
    parts = [f"{counted} counted, {in_all} of {planned} in all"]
    for state, words in ((State.HELD, "held"), (State.STOPPED, "stopped")):
        parts += [f"{len(n[state])} {words}"] if n[state] else []
    absent = [visit.get_absence_display() for visit in n[State.ABSENT]]
    why = ", ".join(sorted(set(absent)))
    parts += [f"{len(absent)} missed ({why})"] if absent else ["none missed"]
    return " · ".join(parts)


def range_words(bars: Sequence[Session], dose: Prescription | None, today: date) -> str:
    """In how many sessions the highest rate stayed in the range, and where it did not."""
    if dose is None or dose.low_bpm is None:
        return "no heart-rate range was prescribed"
    fits = [(one, fit(one.high, dose.low_bpm, dose.high_bpm)) for one in bars]
    known = [(one, how) for one, how in fits if how is not None]
    if not known:
        return "no heart rate recorded under exercise"
    inside = sum(how is Fit.WITHIN for _, how in known)
    parts = [f"highest rate within {dose.heart_rate_words} in {inside} of {len(known)} sessions"]
    for how, words in ((Fit.ABOVE, f"over {dose.high_bpm}"), (Fit.BELOW, f"under {dose.low_bpm}")):
        days = [_day_and_rate(one, today) for one, found in known if found is how]
        more = f" and {len(days) - NAMED} more" if len(days) > NAMED else ""
        parts += [f"{words} on {', '.join(days[:NAMED])}{more}"] if days else []
    return "; ".join(parts)


def _day_and_rate(one: Session, today: date) -> str:
    effort = f", RPE {one.rpe}" if one.rpe else ""
    return f"{short_day(one.on, today)} ({one.high}{effort})"


def _holds(enrolment: Enrolment, on: date) -> list[str]:
    """Holds and stops with what was decided, and what went wrong."""
    found = Finding.objects.filter(
        visit__enrolment=enrolment, visit__on__gte=on, level__gte=Level.HOLD
    ).select_related("visit", "by")
    lines = []
    for one in found.order_by("visit__on", "pk"):
        answer = f"{one.get_decision_display()}, {one.reason}; {one.by}" if one.decision else (
            "a later reading was fine" if one.cleared_at else "not answered")  # fmt: skip
        lines.append(f"{in_words(one.visit.on)}, {one.level_word}: {one.sentence} ({answer})")
    begin = timezone.make_aware(datetime.combine(on, time()), enrolment.patient.site.now().tzinfo)
    events = SafetyEvent.objects.filter(
        patient=enrolment.patient_id, happened_at__gte=begin, is_withdrawn=False
    ).order_by("happened_at")
    zone = enrolment.patient.site.now().tzinfo
    for event in events:
        day = in_words(event.happened_at.astimezone(zone).date())
        lines.append(f"{day}, event: {event.get_kind_display()}. {event.what}".strip())
    return lines


def _results(record: OnRecord, on: date, today: date) -> list[str]:
    """By day, each measure with a result since, beside its last one before."""
    lines: dict[date, list[str]] = {}
    for measure, results in record.results.items():
        new = [found for _, found in results if found.on >= on]
        old = [found for _, found in results if found.on < on]
        if new:
            day = f" ({short_day(old[-1].on, today)}: {told(measure, old[-1], '')})" if old else ""
            lines.setdefault(new[-1].on, []).append(f"{told(measure, new[-1])}{day}")
    return [f"{short_day(day, today)}: {'; '.join(lines[day])}" for day in sorted(lines)]


def _medicines(enrolment: Enrolment, on: date) -> list[str]:
    """What changed in the list of medicines, from its versions: one query."""
    zone = enrolment.patient.site.now().tzinfo
    before: dict[int, Any] = {}
    now: dict[int, Any] = {}
    versions = Medicine.history.filter(patient=enrolment.patient_id)  # type: ignore[attr-defined]
    for version in versions.order_by("history_date", "history_id"):
        if version.history_date.astimezone(zone).date() < on:
            before[version.id] = version
        now[version.id] = version
    lines = []
    for key, new in now.items():
        old = before.get(key)
        if old is None:
            taken = f", taken since {in_words(new.started_on)}" if new.started_on else ""
            lines.append(f"{new.name} recorded{taken}")
        elif old.name != new.name:
            lines.append(f"{old.name} is now {new.name}")
        if new.stopped_on and not (old and old.stopped_on):
            lines.append(f"{new.name} stopped {in_words(new.stopped_on)}")
    return lines
