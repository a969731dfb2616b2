"""Drawings as SVG, for the page and for the PDF: changes on one scale, every value, the sessions.

Places along a drawing are per cents, so that it fills any width. On a page the style sheet colours
it, by class; in a PDF it is black and grey, by attributes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from reports.calc.attended import Dose, Session
from reports.calc.scale import Axis, Mark, Placed
from reports.calc.summary import OutcomeLine

EDGE = 4.0  # per cent left free on both sides, for the heads of arrows
HEADS = {True: "M0 0L-11 -6L-11 6Z", False: "M0 0L11 -6L11 6Z"}  # to the right, to the left

LOOKS = "err one zero unit arm far head dot open base name dim"
ON_PAGE = {look: f'class="{look}"' for look in LOOKS.split()}
_INK, _PALE = "#111", "#c4c4c4"
ON_PAPER = {
    "err": f'fill="{_PALE}"',
    "one": 'stroke="#777" stroke-dasharray="4 3"',
    "zero": 'stroke="#444" stroke-width="1.2"',
    "unit": f'stroke="{_PALE}"',
    "arm": f'stroke="{_INK}" stroke-width="2.2"',
    "far": f'stroke="{_INK}" stroke-width="2.2" stroke-dasharray="5 3"',
    "head": f'fill="{_INK}" stroke="{_INK}" stroke-width="1.6" stroke-linejoin="round"',
    "dot": f'fill="{_INK}" stroke="#fff"',
    "open": f'fill="#fff" stroke="{_INK}" stroke-width="1.6" stroke-linejoin="round"',
    "base": f'stroke="{_INK}" stroke-width="2.8" fill="none"',
    "name": 'fill="#111" font-size="11"',
    "dim": 'fill="#444" font-size="11"',
}
Ink = Mapping[str, str]


def _across(axis: Axis, at: float) -> str:
    return f"{EDGE + axis.share(at) * (100 - 2 * EDGE) / 100:.2f}%"


def _upright(at: str, look: str) -> str:
    return f'<line {look} x1="{at}" x2="{at}" y1="0" y2="100%"/>'


def grid(axis: Axis, ink: Ink) -> str:
    """The upright lines: no change, one meaningful change either way, further ones."""
    looks = {0: "zero", 1: "one", -1: "one"}
    return "".join(_upright(_across(axis, n), ink[looks.get(n, "unit")]) for n in axis.ticks)


def scale_svg(axis: Axis, ink: Ink, size: str = "") -> str:
    """The head of the scale: its numbers, and which way is better."""
    zero = EDGE + axis.share(0) * (100 - 2 * EDGE) / 100
    numbers = "".join(
        f'<text {ink["dim"]} x="{_across(axis, n)}" y="34" text-anchor="middle">{_signed(n)}</text>'
        for n in axis.ticks
    )
    return (
        f'<svg {size} aria-hidden="true">'
        f'<text {ink["name"]} x="{zero - 2:.2f}%" y="14" text-anchor="end">← worse</text>'
        f'<text {ink["name"]} x="{zero + 2:.2f}%" y="14">better →</text>{numbers}</svg>'
    )


def _signed(n: int) -> str:
    return f"{n:+d}".replace("-", "−") if n else "0"


def change_svg(line: OutcomeLine, axis: Axis, ink: Ink, size: str = "") -> str:
    """One measure on the scale, with what it shows in words."""
    placed = line.placed
    if placed is None:
        return ""
    inside = _error(placed, axis, ink) + grid(axis, ink) + _arm(placed, axis, ink)
    if placed.six_weeks is not None:
        look = ink["dot" if placed.six_weeks.is_meaningful else "open"]
        at = _across(axis, placed.six_weeks.at)
        inside += f'<circle {look} cx="{at}" cy="50%" r="4.4"/>'
    if placed.exit is not None:
        inside += _head(placed.exit, axis, ink)
    return f'<svg {size} role="img" aria-label="{escape(told(line))}">{inside}</svg>'


def _error(placed: Placed, axis: Axis, ink: Ink) -> str:
    if placed.error is None:
        return ""
    left, right = (axis.share(side * placed.error) for side in (-1, 1))
    width = (right - left) * (100 - 2 * EDGE) / 100
    at = _across(axis, -placed.error)
    return f'<rect {ink["err"]} x="{at}" width="{width:.2f}%" y="16%" height="68%"/>'


def _arm(placed: Placed, axis: Axis, ink: Ink) -> str:
    """From the baseline to the exit, else to six weeks; dashed where it goes on beyond the axis."""
    last = placed.exit or placed.six_weeks
    if last is None:
        return ""
    zero, at = _across(axis, 0), _across(axis, last.at)
    look = ink["arm" if axis.holds(last.at) else "far"]
    return (
        f'<line {look} x1="{zero}" x2="{at}" y1="50%" y2="50%"/>'
        f'<svg x="{zero}" y="50%" overflow="visible"><path {ink["base"]} d="M0 -7V7"/></svg>'
    )


def _head(mark: Mark, axis: Axis, ink: Ink) -> str:
    look = ink["head" if mark.is_meaningful else "open"]
    return (
        f'<svg x="{_across(axis, mark.at)}" y="50%" overflow="visible">'
        f'<path {look} d="{HEADS[mark.at >= 0]}"/></svg>'
    )


def told(line: OutcomeLine) -> str:
    """What the drawing of a line shows, in words."""
    placed = line.placed
    if placed is None:
        return ""
    said = []
    for name, mark in (("six weeks", placed.six_weeks), ("exit", placed.exit)):
        if mark is not None:
            way = "better" if mark.at > 0 else "worse" if mark.at < 0 else "no change"
            said.append(f"{name} {abs(mark.at):.1f} meaningful changes {way}")
    if placed.error is not None:
        said.append(f"measurement error {placed.error:.1f}")
    return f"{line.measure.name}: {'; '.join(said) or 'nothing on the scale'}"


def values_svg(line: OutcomeLine, ink: Ink, size: str = 'width="100" height="24"') -> str:
    """Every value by day; what does not compare stands off the line, a target is dashed."""
    points = [(p, p.value) for p in line.row.trend if p.value is not None]
    if not points or line.measure.categories:
        return ""
    days = [p.performed_on for p, _ in points]
    levels = [goal.level for goal in line.goals if goal.level is not None]
    low, high = min([v for _, v in points] + levels), max([v for _, v in points] + levels)
    span, first = (high - low) or 1, min(days)
    length = (max(days) - first).days or 1

    def at(on: date, value: float) -> tuple[float, float]:
        return 5 + 90 * (on - first).days / length, 20 - 16 * (value - low) / span

    places = [(at(p.performed_on, v), line.row.is_comparable(p)) for p, v in points]
    joined = "L".join(f"{x:.0f} {y:.1f}" for (x, y), compares in places if compares)
    dots = "".join(
        f'<circle {ink["head" if compares else "open"]} cx="{x:.0f}" cy="{y:.1f}" r="1.8"/>'
        for (x, y), compares in places
    )
    goals = "".join(
        f'<line {ink["one"]} x1="0" x2="100" y1="{y:.1f}" y2="{y:.1f}"/>'
        for _, y in (at(first, level) for level in levels)
    )
    path = f'<path {ink["zero"]} fill="none" d="M{joined}"/>' if "L" in joined else ""
    return f'<svg {size} viewBox="0 0 100 24" aria-hidden="true">{goals}{path}{dots}</svg>'


@dataclass(frozen=True)
class Weeks:
    """The sessions of a course and the doses they are held beside."""

    starts_on: date
    n: int  # weeks drawn
    sessions: Sequence[Session]
    doses: Sequence[Dose]

    @property
    def most(self) -> float:
        """The largest dose of all. [MET-min], at least 1"""
        done = [one.met_minutes or 0 for one in self.sessions]
        return max([*done, *[dose.met_minutes or 0 for dose in self.doses], 1.0])


LEFT, TOP, FLOOR, TALL = 9.0, 27, 92, 42  # per cent; then heights in the unit of the drawing


def weeks_svg(weeks: Weeks, words: str, ink: Ink, size: str = "") -> str:
    """Attendance as signs and the dose as bars, over the weeks; dashed is the dose prescribed."""
    width = (100 - LEFT) / weeks.n

    def across(on: date) -> float:
        return LEFT + width * (on - weeks.starts_on).days / 7

    drawn = [
        f'<text {ink["dim"]} x="0" y="11">week</text><text {ink["name"]} x="0" y="{TOP + 4}">'
        f'sessions</text><text {ink["name"]} x="0" y="66">dose</text>'
        f'<text {ink["dim"]} x="0" y="79">MET-min</text>'
    ]
    for n in range(weeks.n):
        at = LEFT + width * (n + 0.5)
        drawn.append(f'<text {ink["dim"]} x="{at:.2f}%" y="11" text-anchor="middle">{n + 1}</text>')
    for one in weeks.sessions:
        at = across(one.on) + width / 14
        drawn.append(f'<svg x="{at:.2f}%" y="{TOP}" overflow="visible">{_sign(one, ink)}</svg>')
        if one.met_minutes:
            tall = TALL * one.met_minutes / weeks.most
            drawn.append(
                f'<rect {ink["name"]} x="{at - width / 11:.2f}%" width="{width / 5.5:.2f}%"'
                f' y="{FLOOR - tall:.1f}" height="{tall:.1f}"/>'
            )
    drawn += [_planned(dose, weeks, across, ink) for dose in weeks.doses]
    drawn.append(f'<line {ink["unit"]} x1="{LEFT}%" x2="100%" y1="{FLOOR}" y2="{FLOOR}"/>')
    return f'<svg {size} role="img" aria-label="{escape(words)}">{"".join(drawn)}</svg>'


def _sign(one: Session, ink: Ink) -> str:
    """Full: attended; half: held; square: stopped; empty and struck: missed."""
    if one.state == "attended":
        return f'<circle {ink["head"]} r="5.5"/>'
    if one.state == "held":
        half = f'<path {ink["head"]} d="M-5.5 0A5.5 5.5 0 0 1 5.5 0Z"/>'
        return f'<circle {ink["open"]} r="5.5"/>{half}'
    if one.state == "stopped":
        return f'<rect {ink["head"]} x="-5" y="-5" width="10" height="10"/>'
    return f'<circle {ink["open"]} r="5.5"/><path {ink["zero"]} d="M-6 6L6 -6"/>'


def _planned(dose: Dose, weeks: Weeks, across: object, ink: Ink) -> str:
    if dose.met_minutes is None or not callable(across):
        return ""
    ends = 100.0 if dose.until is None else min(across(dose.until), 100.0)
    begins = max(across(dose.since), LEFT)
    if ends <= begins:
        return ""
    y = FLOOR - TALL * dose.met_minutes / weeks.most
    return f'<line {ink["one"]} x1="{begins:.2f}%" x2="{ends:.2f}%" y1="{y:.1f}" y2="{y:.1f}"/>'
