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
    "enrolment/_papers.html": "a tick stands where a paper's state stands else",
}
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


def test_boxes_are_fields_of_forms():
    assert {name for name, source in sources().items() if BOX.search(source)} == set(BY_HAND)
