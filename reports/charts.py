"""Figures from rows: each function takes rows and returns what plotly draws in the browser, as
plain structures. Colours come from the style sheet there, so that light and dark follow the
person's choice. Plotly's own classes say the same in twenty times the time; the tests hold these
to them."""

from collections.abc import Sequence
from typing import Any

from reports.calc.change import ComparisonRow, Point
from reports.calc.completion import CompletionRow

FRAME: dict[str, Any] = {
    "template": "none",
    "margin": {"l": 48, "r": 12, "t": 12, "b": 40},
    "showlegend": False,
}

FEW_DAYS = 3
Figure = dict[str, Any]  # "data" and "layout"


def completion_by_month(rows: Sequence[CompletionRow]) -> Figure:
    """Share completed of each month's starters with its 95 % interval; empty months stay empty."""
    known = [(row, row.completed.share, row.completed.interval) for row in rows]
    shown = [(row, share, span) for row, share, span in known if share is not None and span]
    bars = {
        "type": "bar",
        "x": [row.label for row, _, _ in shown],
        "y": [100 * share for _, share, _ in shown],
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [100 * (span[1] - share) for _, share, span in shown],
            "arrayminus": [100 * (share - span[0]) for _, share, span in shown],
            "thickness": 1.2,
        },
        "customdata": [[row.completed.numerator, row.completed.denominator] for row, _, _ in shown],
        "hovertemplate": "%{x}: %{y:.0f} %, %{customdata[0]} of %{customdata[1]}<extra></extra>",
    }
    layout = {
        "height": 280,
        "yaxis": {"range": [0, 100], "title": {"text": "completed, %"}, "fixedrange": True},
        "xaxis": {
            "fixedrange": True, "automargin": True, "title": {"text": "month of first class"},
        },
    }  # fmt: skip
    return {"data": [bars], "layout": FRAME | layout}


def trend(row: ComparisonRow) -> Figure:
    """One measure on every day it was taken; the line joins only what compares."""
    known = [point for point in row.trend if point.value is not None]
    values = [point.value for point in known if point.value is not None]
    joined = [row.is_comparable(point) for point in known]
    stages = [point in row.points.values() for point in known]
    days = [f"{point.performed_on:%Y-%m-%d}" for point in known]
    line = {
        "type": "scatter",
        "x": days,
        "y": [value if same else None for value, same in zip(values, joined, strict=True)],
        "mode": "lines",
        "connectgaps": True,
        "hoverinfo": "skip",
    }
    marks = {
        "type": "scatter",
        "x": days,
        "y": values,
        "mode": "markers+text",
        "marker": {
            "size": [9 if is_stage else 6 for is_stage in stages],
            "symbol": ["circle" if same else "circle-open" for same in joined],
        },
        "text": [
            row.shown(point) if is_stage else ""
            for point, is_stage in zip(known, stages, strict=True)
        ],
        "textposition": "top center",
        "cliponaxis": False,
        "customdata": [point.name for point in known],
        "hovertemplate": "%{customdata}, %{x|%-d %b %Y}: %{y}<extra></extra>",
    }
    layout = {
        "height": 190,
        "yaxis": {
            "range": _span(values), "title": {"text": row.measure.unit}, "fixedrange": True,
        },
        "xaxis": {
            "type": "date", "tickformat": "%-d %b<br>%Y", "fixedrange": True, **_ticks(known),
        },
    }  # fmt: skip
    return {"data": [line, marks], "layout": FRAME | layout}


def _ticks(points: Sequence[Point]) -> dict[str, Any]:
    """Few results are marked on their own days; many on a handful of round ones."""
    days = sorted({f"{point.performed_on:%Y-%m-%d}" for point in points})
    return {"tickvals": days} if len(days) <= FEW_DAYS else {"nticks": 5}


def _span(values: Sequence[float]) -> list[float]:
    """An axis around the values, never below zero for what cannot be."""
    if not values:
        return [0, 1]
    low, high = min(values), max(values)
    pad = (high - low) or abs(high) * 0.1 or 1
    return [max(0, low - pad) if low >= 0 else low - pad, high + pad]
