"""Where the treatment of a low glucose stands at one visit."""

from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from programs.attendance.calc.low_glucose import (
    AFTERWARDS,
    RECHECK_MINUTES,
    Care,
    Checked,
    care_of,
)
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.situation import Known
from programs.attendance.models import Visit


@dataclass(frozen=True)
class CarePanel:
    """What the sheet shows while a low is treated."""

    care: Care
    log: list[tuple[Any, str]]  # time and words, in order
    has_beta_blocker: bool
    afterwards: str = AFTERWARDS
    minutes: int = RECHECK_MINUTES


def care_panel(visit: Visit, record: Known) -> CarePanel | None:
    """The panel, or None when nothing was low and nothing was given."""
    checks = [
        Checked(r.taken_at, Glucose(r.glucose_mgdl, is_mmoll=r.glucose_is_mmoll))
        for r in visit.readings.all()
        if r.glucose_mgdl is not None
    ]
    given = [c for c in visit.carbohydrates.all() if not c.is_withdrawn]
    doses = [(c.given_at, c.grams) for c in given]
    helped = bool(visit.answers.get("needed_help"))
    care = care_of(checks, doses, timezone.now(), needed_help=helped)
    if care is None:
        return None
    log = [(check.at, f"glucose {check.glucose}") for check in checks]
    log += [(c.given_at, f"{c.grams} g {c.what or 'fast carbohydrate'}") for c in given]
    return CarePanel(
        care=care,
        log=sorted(log, key=lambda line: line[0]),
        has_beta_blocker=record.has_beta_blocker,
    )
