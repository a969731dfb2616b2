"""The parts of the session sheet, and which of them stand open.

Boxes stand only where something is still to be entered; a part that is done is told in values, and
its boxes come back when somebody corrects it. What is not shown is kept as stored.
"""

from collections.abc import Collection, Iterable

from programs.attendance.models import Bout, Visit
from programs.attendance.visit.bouts import BOUTS

BEFORE, EXERCISE, AFTER = "before", "exercise", "after"
EVERY_BOUT = tuple(f"bout{place}" for place in range(1, BOUTS + 1))
SECTIONS = (BEFORE, EXERCISE, *EVERY_BOUT, AFTER)
WITH_EXERCISE = frozenset(SECTIONS) - {BEFORE}
ALL = "all"
# Beside the sections: how the form was shown, and what is said of a correction.
ALWAYS = frozenset(
    ["submission_key", "seen_version", "confirmed", "is_repeat", "shows", "glucose_unit",
     "weight_unit", "speed_unit", "temperature_unit", "because"]
)  # fmt: skip
IN_BEFORE = frozenset(
    ["ketones", "last_meal_at", "last_dose_at", "symptoms", "has_ecg", "rhythm_before",
     "qrs_before_ms"]
)  # fmt: skip
IN_AFTER = frozenset(["minutes", "left_early", "note"])
State = Visit.State


def section_of(name: str) -> str:
    """The section a box of the sheet stands in, "" for what belongs to the whole form."""
    if name in ALWAYS:
        return ""
    first = name.split("_")[0]
    if first in EVERY_BOUT:
        return first
    if first == "before" or name in IN_BEFORE:
        return BEFORE
    return AFTER if first in {"after", "recovery"} or name in IN_AFTER else EXERCISE


def read(text: str) -> frozenset[str]:
    """The sections a form says it shows; what is no section says nothing."""
    return frozenset(SECTIONS) if text == ALL else frozenset(text.split()) & frozenset(SECTIONS)


def written(sections: Collection[str]) -> str:
    """The same for the form that is sent."""
    if len(sections) == len(SECTIONS):
        return ALL
    return " ".join(one for one in SECTIONS if one in sections)


def open_sections(visit: Visit, n_planned: int, *, with_exercise: bool) -> frozenset[str]:
    """What is still to be entered of a visit, ``n_planned`` bouts having been planned."""
    if not with_exercise:
        return frozenset() if visit.state == State.HELD else frozenset([BEFORE])
    if visit.state == State.FINISHED:
        return frozenset()
    bouts = [bout for bout in visit.bouts.all() if not bout.is_withdrawn]
    going = {bout.place for bout in bouts if not _is_over(bout)}
    if visit.state == State.EXERCISING:
        last = max((bout.place for bout in bouts), default=0)
        going |= set(range(last + 1, min(max(n_planned, last + 1, 2), BOUTS) + 1))
    return frozenset([EXERCISE, AFTER, *(f"bout{place}" for place in going)])


def _is_over(bout: Bout) -> bool:
    """A bout has its time, or its repetitions, and what it was like."""
    has_time = bout.minutes is not None or bout.repetitions is not None
    return has_time and (bout.heart_rate_bpm is not None or bout.rpe is not None)


def asked_for(wanted: Iterable[str], visit: Visit, usual: frozenset[str]) -> frozenset[str]:
    """What stands open when somebody asks to correct a section.

    A bout comes back beside what is at hand; with the signs of exercise comes a bout for what was
    forgotten.
    """
    found = frozenset(wanted) & frozenset(SECTIONS)
    if not found:
        return usual
    if found & frozenset(EVERY_BOUT):
        return usual | found | {EXERCISE}
    if EXERCISE in found:
        last = max((bout.place for bout in visit.bouts.all()), default=0)
        return found | {f"bout{last + 1}"} if last < BOUTS else found
    return found
