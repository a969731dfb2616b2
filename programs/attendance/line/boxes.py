"""What is typed in a line of the class table, as the session sheet would have sent it.

A line is the sheet with most of its boxes left as they are stored: the same form judges, asks
twice and refuses. It fills in what is empty and, while somebody exercises, writes over what it
showed; what somebody else stored meanwhile is never overwritten.
"""

from collections.abc import Mapping
from typing import Any

from django.http import QueryDict

from patients.calc.measuring import Units
from patients.forms import as_typed
from programs.attendance.calc.stages import Stage
from programs.attendance.calc.workload import IN_UNITS, read_workload
from programs.attendance.calc.workload import NAMES as WORKLOAD
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.parts import NONE
from programs.attendance.sheet.stored import fill_as_stored
from programs.attendance.today.columns import NO_ECG

BEFORE = [
    "before_heart_rate_bpm",
    "before_pressure",
    "before_spo2_percent",
    "before_weight_kg",
    "before_glucose_mgdl",
]
BOUT = ["heart_rate_bpm", "pressure", "rpe", "spo2_percent", "activity"]
ASKED = ["before_asked", "during_asked", "after_asked"]
RECOVERY = ["recovery_heart_rate_bpm", "recovery_pressure", "recovery_glucose_mgdl", "minutes"]
LINE_BOXES = frozenset(
    [*BEFORE, *RECOVERY, *ASKED, *[f"bout_{name}" for name in BOUT], "bout_load", "monitor"]
)


def as_sent(form: SheetForm) -> QueryDict:
    """What a browser would send back from this sheet if nobody touched it."""
    data = QueryDict(mutable=True)
    fill_as_stored(data, form, form.fields)
    return data


def typed_in(posted: Mapping[str, Any], stage: Stage, place: str) -> dict[str, str]:
    """The boxes of a line by the sheet's own names; a box left empty says nothing."""
    names: dict[str, str] = {}
    if stage is Stage.CHECK_IN:
        names = {name: name for name in BEFORE}
    elif stage is Stage.EXERCISE:
        names = {f"bout_{name}": f"bout{place}_{name}" for name in BOUT}
    else:
        names = {name: name for name in RECOVERY}
    given = {own: str(posted.get(name, "")).strip() for name, own in names.items()}
    return {name: value for name, value in given.items() if value}


def meanwhile(
    stored: Mapping[str, Any], typed: Mapping[str, str], was: Mapping[str, str]
) -> list[str]:
    """The typed boxes in which somebody stored another value since the line was shown."""
    found = []
    for name, value in typed.items():
        there = str(stored.get(name) or "")
        if there and there not in {value, was.get(name, "")}:
            found.append(name)
    return found


def fill_in(
    data: QueryDict, posted: Mapping[str, Any], stage: Stage, place: str, units: Units
) -> None:
    """Put a line's boxes and its one press for many answers into the sheet as sent.

    Raises
    ------
    NotAWorkload : what stands in the box of the load.
    """
    for name, value in typed_in(posted, stage, place).items():
        data[name] = value
    if stage is Stage.CHECK_IN:
        _fill_monitor(data, str(posted.get("monitor", "")))
    if stage is Stage.EXERCISE and "bout_load" in posted:
        _fill_load(data, posted, place, units)
    for name in ASKED:
        if posted.get(name) == NONE and not data.get(name):
            data[name] = NONE
    if posted.get("during_asked") == NONE:
        _fill_signs(data, place)


def _fill_load(data: QueryDict, posted: Mapping[str, Any], place: str, units: Units) -> None:
    """A load that was typed; another machine keeps nothing of what the one before was set to."""
    activity, load = data.get(f"bout{place}_activity", ""), str(posted["bout_load"])
    is_same = activity == posted.get("was_bout_activity", "")
    if is_same and load == posted.get("was_bout_load", ""):
        return
    values = read_workload(activity, load, units)
    if is_same:  # what is shown rounded and was not typed over stays to the last decimal
        was = read_workload(activity, str(posted.get("was_bout_load", "")), units)
        values = {name: value for name, value in values.items() if value != was[name]}
    for name in values if is_same else WORKLOAD:
        number = values.get(name)
        unit = IN_UNITS[name].first.name if name in IN_UNITS else ""
        data[f"bout{place}_{name}"] = "" if number is None else f"{as_typed(number)} {unit}".strip()


def _fill_monitor(data: QueryDict, choice: str) -> None:
    """No ECG, or the rhythm on it; nothing chosen says nothing."""
    if choice == NO_ECG:
        data["has_ecg"] = "no"
    elif choice:
        data["has_ecg"], data["rhythm_before"] = "yes", choice


def _fill_signs(data: QueryDict, place: str) -> None:
    """No symptoms: angina and dyspnea of grade 0, and with a monitor nothing seen on it."""
    for name in ["angina", "dyspnoea"]:
        if not data.get(f"bout{place}_{name}"):
            data[f"bout{place}_{name}"] = "0"
    if data.get("has_ecg") == "yes":
        for name, value in [
            ("monitor_asked", NONE),
            ("pvc_per_minute", "0"),
            ("rhythm_during", data.get("rhythm_before", "")),
        ]:
            if not data.get(name):
                data[name] = value
