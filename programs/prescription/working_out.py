"""From what was typed to ranges, workloads and what they pass. Stores nothing."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.core.exceptions import ValidationError

from assessments.calc import metabolic
from patients.calc.limits import NotScorable, OutOfRange
from programs.prescription.calc import intensity
from programs.prescription.calc.ceilings import Asked, passed
from programs.prescription.calc.machines import Machine, Setting, setting_for
from programs.prescription.calc.person import Known
from programs.prescription.calc.strength import Start
from programs.prescription.calc.tested import why_asked
from programs.prescription.models import Prescription
from programs.prescription.policy.queries import machines_in_use
from programs.prescription.queries import event_on
from programs.prescription.queries_known import rate_changed_on

Method = Prescription.Method
SET = ["speed_kmh", "grade_percent", "power_w", "steps_per_minute", "step_height_cm", "mets"]


def work_out(draft: Prescription, weight_kg: float | None) -> None:
    """Turn the typed inputs into ranges and workloads; raises ValidationError."""
    draft.formula_version = f"{intensity.VERSION}, {metabolic.VERSION}"
    draft.low_bpm = draft.high_bpm = None
    try:
        if draft.method == Method.RESERVE:
            _fill_heart_rates(draft)
        elif draft.method == Method.REST:
            _fill_above_rest(draft)
        elif draft.method == Method.UPTAKE:
            _fill_uptake(draft)
        machines = machines_in_use(draft.enrolment.patient.site)
        _fill_loads(draft, machines, weight_kg)
    except (NotScorable, OutOfRange) as error:
        raise ValidationError(str(error)) from error


def ask_why_above(draft: Prescription, known: Known, start: Start) -> None:
    """A known limit is passed only with a reason; a reason for nothing is not kept."""
    limits = limits_passed(draft, known, start)
    if limits and not draft.above_because:
        words = f"{'. '.join(one[0].upper() + one[1:] for one in limits)}. Give the reason."
        raise ValidationError({"above_because": words})
    if not limits:
        draft.above_because = ""


def limits_passed(draft: Prescription, known: Known, start: Start) -> tuple[str, ...]:
    """Every limit that a dose passes, in sentences."""
    limits = passed(known, asked_of(draft))
    if draft.strength:
        limits += start.asks(draft.strength_from or draft.valid_from)
    return limits


def asked_of(draft: Prescription) -> Asked:
    """The numbers that a known limit bears on."""
    is_share = draft.method in {Method.RESERVE, Method.UPTAKE}
    return Asked(
        draft.rpe_high,
        draft.high_bpm,
        draft.upper_limit_bpm,
        draft.target_mets,
        draft.high_share if is_share else None,
        draft.peak_bpm if draft.method == Method.RESERVE else None,
    )


def _limit(draft: Prescription) -> intensity.UpperLimit | None:
    if not draft.upper_limit_bpm:
        return None
    return intensity.UpperLimit(draft.upper_limit_bpm, draft.upper_limit_reason or "set by hand")


def _fill_heart_rates(draft: Prescription) -> None:
    rest, peak, low, high = draft.resting_bpm, draft.peak_bpm, draft.low_share, draft.high_share
    if rest is None or peak is None or low is None or high is None:
        raise ValidationError("Heart-rate reserve needs resting rate, peak rate and both shares.")
    _check_test(draft)
    found = intensity.heart_rate_range(rest, peak, (low, high), _limit(draft))
    draft.low_bpm, draft.high_bpm = intensity.whole_beats(found.low_bpm, found.high_bpm)


def _fill_above_rest(draft: Prescription) -> None:
    if draft.resting_bpm is None:
        raise ValidationError({"resting_bpm": "Rest +20 to +30 needs the resting rate."})
    low, high = (draft.resting_bpm + more for more in intensity.UNTESTED_ABOVE_REST_BPM)
    limit = _limit(draft)
    if limit is not None and low > limit.bpm:
        raise NotScorable(
            f"Rest +20 is {low} /min, above the upper limit of {limit.bpm:.0f}; go by RPE."
        )
    draft.low_bpm = low
    draft.high_bpm = high if limit is None else min(high, int(limit.bpm))


def _fill_uptake(draft: Prescription) -> None:
    peak, low, high = draft.peak_vo2, draft.low_share, draft.high_share
    if peak is None or low is None or high is None:
        raise ValidationError("The uptake reserve needs the peak uptake and both shares.")
    if low > high:
        raise NotScorable("The lower share must not exceed the upper share.")
    _check_test(draft)
    least, most = intensity.mets_between(peak, (low, high))
    if draft.target_mets is None:
        draft.target_mets = round(least, 1)
    elif draft.target_mets > round(most, 1):
        words = f"{draft.target_mets:g} METs lie above {100 * high:.0f} % of the reserve"
        raise ValidationError({"target_mets": f"{words}, {most:.1f} METs."})


def _check_test(draft: Prescription) -> None:
    """A test of before the event, of long ago or of other medicines counts only with a reason."""
    if draft.tested_on is None:
        raise ValidationError("When was the peak tested?")
    if draft.tested_on > draft.valid_from:
        raise ValidationError("The peak heart rate cannot have been tested in the future.")
    asked = _doubt(draft, draft.tested_on)
    if asked and not draft.tested_because:
        words = f"The peak heart rate was {asked}: say why it still counts, or prescribe by RPE."
        raise ValidationError({"tested_because": words})
    if not asked:
        draft.tested_because = ""


def _doubt(draft: Prescription, tested_on: date) -> str:
    course = draft.enrolment
    return why_asked(tested_on, event_on(course), draft.valid_from, rate_changed_on(course))


def _fill_loads(draft: Prescription, owned: Sequence[Machine], weight_kg: float | None) -> None:
    """What each machine is set to; minutes are those typed, by kind."""
    minutes = {load["kind"]: load["minutes"] for load in draft.loads if load.get("minutes")}
    total = sum(minutes.values())
    if minutes and total != draft.minutes:
        raise ValidationError(
            {"minutes": f"The machines add up to {total} min, the session to {draft.minutes} min."}
        )
    draft.treadmill_kmh = draft.cycle_w = None
    draft.outside_range, draft.loads = "", []
    if draft.target_mets is None:
        draft.loads = [_load(Setting(machine), minutes) for machine in owned if minutes]
        return
    if draft.target_mets <= 1:
        raise NotScorable("Exercise costs more than 1 MET.")
    settings = [
        setting_for(machine, draft.target_mets, weight_kg, draft.treadmill_grade_percent)
        for machine in owned
    ]
    draft.loads = [_load(one, minutes) for one in settings]
    by_kind = {one.machine.kind: one for one in settings}
    if "treadmill" in by_kind:
        draft.treadmill_kmh = by_kind["treadmill"].speed_kmh
        draft.treadmill_grade_percent = by_kind["treadmill"].grade_percent
    if "cycle" in by_kind:
        draft.cycle_w = by_kind["cycle"].power_w
    outside = [one.machine.name for one in settings if not one.is_in_range]
    draft.outside_range = ", ".join(outside)


def _load(setting: Setting, minutes: dict[str, int]) -> dict[str, Any]:
    machine = setting.machine
    numbers = {name: getattr(setting, name) for name in SET}
    return {
        "kind": machine.kind,
        "name": machine.name,
        "minutes": minutes.get(machine.kind),
        **numbers,
        "is_in_range": setting.is_in_range,
        "said": setting.said,
    }
