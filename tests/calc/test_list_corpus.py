"""Every list but workbooks of ``fixtures/lists``, row by row, as far as no database is needed."""

import pytest

from programs.enrolment.calc.lists.delimited import read_lines
from programs.enrolment.calc.lists.fhir import looks_like_fhir, table_of_bundle
from programs.enrolment.calc.lists.grid import table_of
from programs.enrolment.calc.lists.letters import decode
from programs.enrolment.calc.lists.reading import read_list
from tests.list_corpus import TODAY, VALUES, as_written, every_file

OF_THE_RECORD = {"person", "number"}  # who somebody is: asked with the database
FILES = [sent for sent in every_file() if not sent.name.endswith(".xlsx")]


def table(sent):
    if looks_like_fhir(sent.data):
        return table_of_bundle(sent.data)
    return table_of(read_lines(decode(sent.data)))


@pytest.mark.parametrize("sent", FILES, ids=str)
def test_a_file_asks_once_what_it_leaves_open(sent):
    assert {q.key for q in read_list(table(sent), {}, TODAY, []).plan.open} == sent.asks
    assert read_list(table(sent), sent.answers, TODAY, []).plan.open == []


@pytest.mark.parametrize("sent", FILES, ids=str)
def test_each_row_is_read_as_written_down_before(sent):
    rows = {row.line: row for row in read_list(table(sent), sent.answers, TODAY).rows}
    assert rows.keys() == sent.rows.keys()
    for line, wanted in sent.rows.items():
        row, asks = rows[line], set(wanted["asks"].split()) - OF_THE_RECORD
        assert {q.subject for q in row.open} == asks, line
        assert bool(row.problems) == (wanted["outcome"] == "no"), line
        if wanted["outcome"] == "in":
            assert as_written(row) == {name: wanted[name] for name in VALUES}, line
