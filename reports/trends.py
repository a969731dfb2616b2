"""Trend strips under the weeks: one value a visit on the journey's time axis."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from operator import attrgetter
from typing import NamedTuple

from programs.attendance.calc.effort import volume_of
from programs.attendance.models import Reading, Visit
from programs.enrolment.models import Enrolment
from reports.time_axis import LEFT, x_of

TREND_HEIGHT, TREND_GAP = 56.0, 80.0


@dataclass(frozen=True)
class Trend:
    label: str
    unit: str
    y: float  # baseline of the strip
    path: str
    last_x: float
    last_y: float
    last: str
    n: int
    band_y: float | None = None
    band_height: float = 0


class Worked(NamedTuple):
    """What the overview tells of a visit, read from its rows once."""

    on: date
    before: Reading | None  # the last reading before exercise
    dose: float | None  # MET-minutes
    rpe: float | None  # the highest

    @property
    def systolic(self) -> float | None:
        return self.before.systolic_mmhg if self.before else None


def worked_of(visit: Visit) -> Worked:
    """Reads ``readings`` and ``bouts``: prefetch for many."""
    before = [r for r in visit.readings.all() if r.phase == "before"]
    bouts = [b for b in visit.bouts.all() if not b.is_withdrawn]
    dose = volume_of([(b.activity, b.minutes, b.mets) for b in bouts])
    return Worked(
        visit.on,
        before[-1] if before else None,
        dose.met_minutes or None,
        max((b.rpe for b in bouts if b.rpe), default=None),
    )


@dataclass(frozen=True)
class Strip:
    label: str
    unit: str
    read: Callable[[Worked], float | None]
    low: float
    high: float
    band: tuple[float, float] | None = None


STRIPS = (
    # The band is the program goal below 130 mmHg (ACC/AHA).
    Strip("Systolic before", "mmHg", attrgetter("systolic"), 90, 180, (90, 130)),
    Strip("Session dose", "MET-min", attrgetter("dose"), 0, 240),
    Strip("Highest RPE", "6–20", attrgetter("rpe"), 6, 20),
)


def trends_of(enrolment: Enrolment, sessions: list[Worked], top: float) -> list[Trend]:
    trends = []
    for i, strip in enumerate(STRIPS):
        base = top + i * TREND_GAP + TREND_HEIGHT
        points = [
            (x_of(one.on, enrolment.starts_on), value)
            for one in sessions
            if (value := strip.read(one)) is not None
        ]
        trends.append(_trend(strip, points, base))
    return trends


def _trend(strip: Strip, points: list[tuple[float, float]], base: float) -> Trend:
    low = min([strip.low, *(v for _, v in points)])
    high = max([strip.high, *(v for _, v in points)])

    def y(value: float) -> float:
        return base - (value - low) / (high - low) * TREND_HEIGHT

    path = "".join(f"{'L' if i else 'M'}{x:.1f} {y(v):.1f}" for i, (x, v) in enumerate(points))
    band_y = y(strip.band[1]) if strip.band else None
    return Trend(
        strip.label,
        strip.unit,
        base,
        path,
        points[-1][0] if points else LEFT,
        y(points[-1][1]) if points else base,
        f"{points[-1][1]:.0f}" if points else "none yet",
        len(points),
        band_y,
        y(strip.band[0]) - y(strip.band[1]) if strip.band else 0,
    )
