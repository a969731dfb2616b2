"""Figures from rows: each function takes rows and returns what plotly draws in the browser, as
plain structures. Colours come from the style sheet there, so that light and dark follow the
person's choice. Plotly's own classes say the same in twenty times the time; the tests hold these
to them."""

from collections.abc import Sequence
from typing import Any

from reports.calc.completion import CompletionRow

FRAME: dict[str, Any] = {
    "template": "none",
    "margin": {"l": 48, "r": 12, "t": 12, "b": 40},
    "showlegend": False,
}

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
