"""Templates stay readable, and their boxes come from forms."""

import re
from pathlib import Path

TEMPLATES = Path(__file__).parent.parent / "templates"
WIDTH = 100
# Boxes written by hand, each for a reason; everything else is the field of a form.
BY_HAND = {
    "assessments/book_many.html": "a tick and a day stand in each row of the table",
    "assessments/choose.html": "a tick stands in each row of the table of tests",
    "assessments/run.html": "the runner's script counts into them",
    "assessments/time.html": "the runner's script counts into them",
    "attendance/_cell.html": "a box stands in each cell of the class table that waits for a value",
    "enrolment/_papers.html": "a tick stands where a paper's state stands else",
}
# A day without its year; hours alone and names of weekdays are none.
NO_YEAR = re.compile(r"""date:(["'])(?!c\1|l\1|[GH]:i\1)(?:(?!\1|Y).)*\1""")
CODE_NO_YEAR = re.compile(r"%-?d %[bB](?! %Y|<br>%Y)")
# An hour is told as G:i; forms and links write what browsers read.
OTHER_CLOCK = re.compile(r"""(?:date|time):(["'])(?:(?!\1).)*(?:H:i|h:i|g:i|P|Y-m-d H)""")
CODE_OTHER_CLOCK = re.compile(r"\{[^{}\"]*:%(?:H:%M|Y-%m-%d[ T])")
DAYS = "patients/calc/days.py"  # says the year of every day outside the current one
BOX = re.compile(r"<(?:input|select|textarea)\b")


def sources():
    found = sorted(TEMPLATES.rglob("*.html"))
    return {path.relative_to(TEMPLATES).as_posix(): path.read_text() for path in found}


def test_no_line_is_wider_than_the_page():
    wide = {
        name: sum(len(line) > WIDTH for line in source.splitlines())
        for name, source in sources().items()
    }
    assert not {name: n for name, n in wide.items() if n}


def test_no_tag_runs_over_two_lines():
    """One that does is printed as it stands."""
    split = re.compile(r"\{\{[^}]*\n|\{%[^%]*\n")
    assert [name for name, source in sources().items() if split.search(source)] == []


def test_boxes_are_fields_of_forms():
    assert {name for name, source in sources().items() if BOX.search(source)} == set(BY_HAND)


def test_every_day_is_told_by_one_function_that_knows_the_year():
    """ "tested 20 Nov" was seven years old."""
    assert not {name for name, source in sources().items() if NO_YEAR.search(source)}
    root = TEMPLATES.parent
    rooms = ("patients", "assessments", "programs", "reports", "config")
    code = [path for room in rooms for path in (root / room).rglob("*.py")]
    bare = {p.relative_to(root).as_posix() for p in code if CODE_NO_YEAR.search(p.read_text())}
    assert bare == {DAYS}


def test_every_hour_is_told_by_one_clock():
    assert not {name for name, source in sources().items() if OTHER_CLOCK.search(source)}
    root = TEMPLATES.parent
    rooms = ("patients", "assessments", "programs", "reports", "config")
    code = [path for room in rooms for path in (root / room).rglob("*.py")]
    assert not {f"{p}" for p in code if CODE_OTHER_CLOCK.search(p.read_text())}
