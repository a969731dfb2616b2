"""Every list of ``fixtures/lists`` from bytes to fate, row by row."""

from collections import Counter

import pytest

from programs.enrolment.lists import services
from programs.enrolment.models import ReferralList
from tests.list_corpus import TODAY, VALUES, as_written, every_file

pytestmark = pytest.mark.django_db
FATES = {"in": "new", "ask": "asked", "no": "bad", "same": "known"}
FILES = list(every_file())
AT_MOST_NEEDLESS = 1 / 20  # rows asked that a person would not have asked


@pytest.fixture(autouse=True)
def _on_that_day(site, monkeypatch):
    monkeypatch.setattr(type(site), "today", lambda self: TODAY)


def outcome(sent, site, clinician):
    """right, asked and needed, asked needlessly, or wrong: a verdict for each line."""
    listed = ReferralList(site=site, by=clinician, name=sent.name, data=sent.data)
    first = {question.key for question in services.preview(listed).of_file}
    listed.answers = sent.answers
    seen = services.preview(listed)
    asked = first | {key for key in seen.asked if not services.is_of_rows(key)}
    rows = {judged.row.line: judged for judged in seen.rows}
    verdicts = {} if asked == sent.asks and not seen.of_file else {0: f"file asks {asked}"}
    for line in rows.keys() ^ sent.rows.keys():
        verdicts[line] = "a line too much or too little"
    for line in rows.keys() & sent.rows.keys():
        verdicts[line] = verdict(rows[line], sent.rows[line])
    return verdicts


def verdict(judged, wanted):
    subjects = {question.subject for question in judged.questions}
    if judged.fate == "asked" and wanted["outcome"] in {"in", "same"}:
        return "needless"
    if judged.fate != FATES[wanted["outcome"]]:
        return f"{judged.fate} {judged.row.problems} {subjects}"
    if judged.fate == "asked":
        return "asked" if subjects == set(wanted["asks"].split()) else f"asks {subjects}"
    if judged.fate == "new":
        differs = {n: v for n, v in as_written(judged.row).items() if v != wanted[n]}
        return f"{differs}" if differs else "right"
    return "right"


def test_nothing_is_stored_wrongly_and_little_is_asked_needlessly(site, clinician):
    total, wrong = Counter(), []
    print(f"\n{'file':28}{'rows':>6}{'right':>7}{'asked':>7}{'needless':>10}{'wrong':>7}")
    for sent in FILES:
        verdicts = outcome(sent, site, clinician)
        bad = {n: v for n, v in verdicts.items() if v not in {"right", "asked", "needless"}}
        wrong += [f"{sent.name} line {n}: {v}" for n, v in bad.items()]
        count = Counter(v if v in {"right", "asked", "needless"} else "wrong"
                        for v in verdicts.values())  # fmt: skip
        total += count + Counter(rows=len(sent.rows))
        print(f"{sent.name:28}{len(sent.rows):6}{_figures(count)}")
    print(f"{len(FILES):3} files{'':20}{total['rows']:6}{_figures(total)}")
    assert wrong == []
    assert total["needless"] <= AT_MOST_NEEDLESS * total["rows"]
    assert total["rows"] >= 600


def _figures(count):
    return f"{count['right']:7}{count['asked']:7}{count['needless']:10}{count['wrong']:7}"


@pytest.mark.parametrize("sent", FILES, ids=str)
def test_the_same_file_twice_adds_nothing(sent, site, clinician):
    first = services.receive(site, sent.name, sent.data, by=clinician)
    first.answers = sent.answers
    first.save()
    first = services.take_in(first, by=clinician)
    n_in = sum(row["outcome"] == "in" for row in sent.rows.values())
    n_asked = sum(row["outcome"] == "ask" for row in sent.rows.values())
    assert first.n_added == n_in
    assert first.state == ("preview" if n_asked else "done")
    again = services.receive(site, sent.name, sent.data, by=clinician)
    again.answers = sent.answers
    again.save()
    again = services.take_in(again, by=clinician)
    assert (again.n_added, again.n_changed) == (0, 0)
    assert again.n_known >= n_in


def test_every_value_is_one_of_the_expected_file():
    for sent in FILES:
        for row in sent.rows.values():
            assert {*VALUES, "line", "outcome", "asks"} == set(row)
