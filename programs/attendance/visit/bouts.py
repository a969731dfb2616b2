"""Bouts by the clock: the first begins with exercise, the next when somebody says so."""

from dataclasses import asdict, replace
from datetime import date, datetime

from django.utils import timezone

from patients.calc.limits import BOUT_MINUTES
from patients.history import save_as
from programs.attendance.calc.effort import Load
from programs.attendance.models import Bout, Visit
from programs.attendance.visit.queries import last_visit_before, loads_of
from programs.prescription.calc.loads import planned_loads
from programs.prescription.models import Prescription
from programs.staff.models import User

STRENGTH = Bout.Activity.STRENGTH.value
BY_CLOCK = "minutes by the clock"
BOUTS = 6  # places of a visit (project choice)
# What a bout is set to, as against what is measured under it.
SET = ("activity", "exercise", "speed_kmh", "grade_percent", "power_w", "steps_per_minute",
       "step_height_cm", "load_kg")  # fmt: skip


def planned_bouts(visit: Visit, last: Visit | None) -> list[Load]:
    """What to train today: the last session's workloads, else the prescription's; those of a
    prescription written since then come first."""
    dose = visit.dose
    is_older = last is not None and dose is not None and last.on < dose.valid_from
    done = [bout for bout in loads_of(last) if bout.is_done] if last and not is_older else []
    if done:
        return [
            replace(b, heart_rate_bpm=None, systolic_mmhg=None, diastolic_mmhg=None,
                    spo2_percent=None, rpe=None, angina=None, dyspnoea=None, in_reserve=None)
            for b in done
        ]  # fmt: skip
    return _prescribed(dose, visit.on) if dose is not None else []


def _prescribed(dose: Prescription, on: date) -> list[Load]:
    """The machines of a dose, as they are set, then its lifts once resistance has begun."""
    plan = []
    if dose.loads:
        for load in planned_loads(dose.loads, dose.minutes):
            set_to = {name: load[name] for name in SET if name in load}
            plan.append(Load(load["kind"], load["minutes"], **set_to))
    else:
        half = dose.minutes // 2
        if dose.treadmill_kmh is not None:
            plan.append(Load("treadmill", half, dose.treadmill_kmh, dose.treadmill_grade_percent))
        if dose.cycle_w is not None:
            plan.append(Load("cycle", half, power_w=dose.cycle_w))
    lifts = dose.lifts if dose.lifts_on(on) else []
    plan += [Load(STRENGTH, sets=dose.strength_sets, **lift) for lift in lifts]
    return plan[:BOUTS]


def begin_first(visit: Visit, *, by: User) -> None:
    """Exercise begins: what was planned first runs from now on, unless a bout stands already."""
    if visit.bouts.filter(is_withdrawn=False).exists():
        return
    planned = planned_bouts(visit, last_visit_before(visit))
    if planned:
        _begin(visit, 1, planned[0], visit.started_at or timezone.now(), by=by)


def begin_next(visit: Visit, *, by: User) -> None:
    """The bout that runs is over, by the clock; what was planned after it runs from now on.

    Where nothing more was planned the same machine goes on. Nothing begins beyond the last place.
    """
    now = timezone.now()
    end_running(visit, now, by=by)
    stored = list(visit.bouts.filter(is_withdrawn=False))
    place = max((bout.place for bout in stored), default=0) + 1
    if place > BOUTS:
        return
    planned = planned_bouts(visit, last_visit_before(visit))
    load = planned[place - 1] if place <= len(planned) else None
    if load is None and stored:
        load = Load(**{name: getattr(stored[-1], name) for name in SET})
    if load is not None:
        _begin(visit, place, load, now, by=by)


def end_running(visit: Visit, at: datetime, *, by: User) -> None:
    """Bouts that ran by the clock get the minutes they lasted until a moment [min], at least 1."""
    running = visit.bouts.filter(is_withdrawn=False, minutes=None, began_at__isnull=False)
    following = list(visit.bouts.filter(is_withdrawn=False, began_at__isnull=False))
    for bout in running:
        later = [b.began_at for b in following if b.place > bout.place and b.began_at]
        bout.minutes = minutes_of(bout.began_at, min([*later, at]))
        save_as(bout, by=by, reason=BY_CLOCK)


def run_on(visit: Visit, *, by: User) -> None:
    """The last bout runs again, where only the clock had ended it."""
    last = visit.bouts.filter(is_withdrawn=False, began_at__isnull=False).last()
    if last is not None and last.history.first().history_change_reason == BY_CLOCK:
        last.minutes = None
        save_as(last, by=by, reason="goes on")


def minutes_of(began_at: datetime | None, until: datetime) -> int | None:
    """Whole minutes a bout ran [min], from 1 to what a bout may last; None when nobody knows."""
    if began_at is None:
        return None
    ran = round((until - began_at).total_seconds() / 60)
    return int(min(max(ran, 1), BOUT_MINUTES.high))


def _begin(visit: Visit, place: int, load: Load, at: datetime, *, by: User) -> None:
    set_to = {name: value for name, value in asdict(load).items() if name in SET}
    row = Bout.objects.filter(visit=visit, place=place).first() or Bout(visit=visit, place=place)
    for name, value in {**asdict(Load()), **set_to}.items():
        setattr(row, name, value)
    row.began_at, row.is_withdrawn = at, False
    row.mets, row.is_mets_in_range = None, True
    save_as(row, by=by, reason="began")
