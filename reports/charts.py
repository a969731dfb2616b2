"""Figures from rows: each function takes rows and returns a plotly figure. Colours come from the
style sheet in the browser, so that light and dark follow the person's choice."""

from collections.abc import Sequence
from typing import Any

import plotly.graph_objects as go

from reports.calc.change import STAGE_NAMES, STAGES, ComparisonRow
from reports.calc.completion import CompletionRow

FRAME: dict[str, Any] = {
    "template": "none",
    "margin": {"l": 48, "r": 12, "t": 12, "b": 40},
    "showlegend": False,
}


def completion_by_month(rows: Sequence[CompletionRow]) -> go.Figure:
    """Share completed of each month's starters with its 95 % interval; empty months stay empty."""
    known = [(row, row.completed.share, row.completed.interval) for row in rows]
    shown = [(row, share, span) for row, share, span in known if share is not None and span]
    figure = go.Figure(
        go.Bar(
            x=[row.label for row, _, _ in shown],
            y=[100 * share for _, share, _ in shown],
            error_y={
                "type": "data",
                "symmetric": False,
                "array": [100 * (span[1] - share) for _, share, span in shown],
                "arrayminus": [100 * (share - span[0]) for _, share, span in shown],
                "thickness": 1.2,
            },
            customdata=[
                [row.completed.numerator, row.completed.denominator] for row, _, _ in shown
            ],
            hovertemplate="%{x}: %{y:.0f} %, %{customdata[0]} of %{customdata[1]}<extra></extra>",
        )
    )
    figure.update_layout(
        **FRAME,
        height=280,
        yaxis={"range": [0, 100], "title": {"text": "completed, %"}, "fixedrange": True},
        xaxis={"fixedrange": True, "title": {"text": "month of first class"}},
    )
    return figure


def stages(row: ComparisonRow) -> go.Figure:
    """One measure at baseline, six weeks and exit; a missing stage stays empty."""
    names = [STAGE_NAMES[stage] for stage in STAGES]
    values = [row.points[s].value if s in row.points else None for s in STAGES]
    figure = go.Figure(
        go.Scatter(
            x=names,
            y=values,
            mode="lines+markers+text",
            text=["" if v is None else f"{v:.{row.measure.digits}f}" for v in values],
            textposition="top center",
            connectgaps=False,
            cliponaxis=False,
            hovertemplate="%{x}: %{y}<extra></extra>",
        )
    )
    known = [v for v in values if v is not None]
    pad = (max(known) - min(known)) or abs(max(known)) * 0.1 or 1 if known else 1
    floor = min(known) - pad if known else 0
    if known and min(known) >= 0:
        floor = max(0, floor)  # no measure of ours goes below zero
    span = [floor, max(known) + pad] if known else [0, 1]
    figure.update_layout(
        **FRAME,
        height=190,
        yaxis={"range": span, "title": {"text": row.measure.unit}, "fixedrange": True},
        xaxis={
            "categoryorder": "array",
            "categoryarray": names,
            "range": [-0.4, 2.4],
            "fixedrange": True,
        },
    )
    return figure
