"""Each result whole, as pages print it: value, unit, words, everything derived, source, remarks.

``equations.csv`` and ``measures.csv`` hold each number and cut-off against its source. Here nothing
may go missing, change its unit or lose its remark. Beneath, the numbers of the sheets themselves
are recomputed in decimal arithmetic from definitions that need nothing of this program.
"""

import re
from decimal import Decimal
from itertools import product

import pytest

from assessments.calc.catalogue import BY_KEY, MEASURES
from patients.calc.limits import NotScorable, OutOfRange
from tests.calc.test_measures import ON, inputs, person
from tests.reference import rows

SHEETS = rows("result_sheets")


def sheet(measure, result):
    value = measure.shown(result.value)
    derived = [f"{d.label} {d.value:.{d.digits}f} {d.unit}".strip() for d in result.derived]
    parts = [
        f"{value} {result.unit}".strip(),
        result.interpretation,
        "; ".join(derived),
        result.reference,
        " / ".join(result.remarks),
    ]
    return " | ".join(parts) + ("" if result.is_in_range else " | marked")


@pytest.mark.parametrize("row", SHEETS, ids=lambda r: f"{r['measure']} {r['given']} {r['who']}")
def test_sheet_is_whole(row):
    measure = BY_KEY[row["measure"]]
    typed = inputs(measure, row["given"])
    try:
        said = sheet(measure, measure.score(typed, person(row["who"]), ON))
    except (NotScorable, OutOfRange) as error:
        said = f"refused: {error}"
    assert said == row["sheet"]


def test_every_measure_has_a_sheet_and_a_refusal():
    keys = {measure.key for measure in MEASURES}
    assert {row["measure"] for row in SHEETS} == keys
    assert {r["measure"] for r in SHEETS if r["sheet"].startswith("refused: ")} == keys


def of(text, label):
    """The number after a label of a sheet."""
    found = re.search(rf"(?:^|[|;] ){re.escape(label)} (-?[\d.]+)", text)
    return None if found is None else Decimal(found[1])


def span(number):
    """Every number that is printed as this one."""
    half = Decimal(5).scaleb(number.as_tuple().exponent - 1)
    return number - half, number + half


# How a printed number follows from others. A MET is 3.5 mL/kg/min; NGSP = 0.09148 IFCC + 2.152
# (master equation); average glucose after Nathan 2008; 38.67 mg/dL of cholesterol to a mmol/L.
DEFINITIONS = [
    ("METs", (), lambda value: value / Decimal("3.5")),
    ("of predicted", ("predicted",), lambda value, predicted: 100 * value / predicted),
    ("IFCC", (), lambda value: (value - Decimal("2.152")) / Decimal("0.09148")),
    ("estimated average glucose", (), lambda value: Decimal("28.7") * value - Decimal("46.7")),
    ("LDL in SI", ("LDL",), lambda _, ldl: ldl / Decimal("38.67")),
]


@pytest.mark.parametrize("row", [r for r in SHEETS if not r["sheet"].startswith("refused")])
def test_derived_numbers_follow_from_their_definitions(row):
    text = row["sheet"]
    head = re.match(r"-?[\d.]+", text)
    if head is None or row["measure"] == "activity_status":
        return  # tried, not able; or METs of an estimate, worked by hand below
    for label, origins, follows in DEFINITIONS:
        shown, others = of(text, label), [of(text, origin) for origin in origins]
        if shown is None or None in others:
            continue
        corners = product(*[span(n) for n in [Decimal(head[0]), *others]])
        found = [follows(*corner) for corner in corners]
        low, high = span(shown)
        assert min(found) <= high, label
        assert max(found) >= low, label


@pytest.mark.parametrize(
    ("measure", "label", "expected"),
    [
        ("activity_status", "peak oxygen uptake, estimate", "23.1"),  # 0.43 x 31.45 + 9.6
        ("activity_status", "METs", "6.6"),
        ("filtration_rate", "in SI", "106"),  # 1.2 x 88.4
        ("non_hdl_cholesterol", "in SI", "4.01"),  # 155 / 38.67
        ("hba1c", "in SI", "8.6"),  # 154.2 / 18.0156
        ("stair_climb", "power going up", "172"),  # 75 x 9.81 x 11 x 0.17 / 8
        ("tobacco", "pack-years", "30.0"),  # 1.5 x 20
        ("cycle_stages", "power at 220 - age", "116"),  # 75 + (160 - 134) / (16 / 25)
        ("incremental_shuttle_walk", "peak oxygen uptake, estimate", "11.4"),  # 4.19 + 0.025 x 290
    ],
)
def test_hand_worked_numbers_stand_on_the_first_sheet(measure, label, expected):
    found = [n for r in SHEETS if r["measure"] == measure if (n := of(r["sheet"], label))]
    assert f"{found[0]}" == expected
