"""Versions of a plan: what changed, the text that is signed, the clock of the signature."""

import hashlib
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from programs.prescription.calc.signature import (
    Clock,
    clock_on,
    due_dates,
    is_late,
    next_signature_due,
)
from programs.review.calc.canonical import digest_of, text_of
from programs.review.calc.differences import (
    Kind,
    Row,
    changed_blocks,
    changes_between,
    runs_between,
)

GONE, NEW, SAME = Kind.GONE, Kind.NEW, Kind.SAME
PROSE = st.text(alphabet="ab 1–\n", max_size=40)


@given(PROSE, PROSE)
def test_both_texts_can_be_read_from_the_runs(old, new):
    runs = runs_between(old, new)
    assert "".join(run.text for run in runs if run.kind is not NEW) == old
    assert "".join(run.text for run in runs if run.kind is not GONE) == new
    assert (old == new) == all(run.kind is SAME for run in runs)


def test_a_range_changes_as_a_whole_and_a_sentence_is_not_cut_up():
    assert runs_between("heart rate 96–108 /min", "heart rate 100–114 /min") == (
        (SAME, "heart rate "), (GONE, "96–108"), (NEW, "100–114"), (SAME, " /min"),
    )  # fmt: skip
    assert runs_between("see own doctor", "call the clinic") == (
        (GONE, "see own doctor"), (NEW, "call the clinic"),
    )  # fmt: skip


def test_lines_of_both_versions_are_there():
    old = [Row("a", "A", "one"), Row("b", "B", "two"), Row("c", "C", "")]
    new = [Row("a", "A", "one"), Row("d", "D", "four"), Row("c", "C", "three")]
    found = changes_between(old, new)
    assert [one.key for one in found] == ["a", "b", "d", "c"]
    assert [one.is_changed for one in found] == [False, True, True, True]
    assert changed_blocks(found) == ["b", "d", "c"]
    first = changes_between([Row("x", "X", "gone")], [Row("a", "A", "")])
    assert [one.key for one in first] == ["x", "a"]
    assert first[1].is_empty


def test_a_first_version_has_no_changes():
    assert changed_blocks(changes_between([], [Row("a", "A", "one"), Row("b", "B", "")])) == []


def test_a_block_changes_once_and_the_dose_is_part_of_exercise():
    keys = ["dose.amount", "exercise.goal", "lipids.goal", "lipids.intervention", "tobacco.goal"]
    old = [Row(key, key, "tobacco" if key == "tobacco.goal" else "old") for key in keys]
    new = [row._replace(text=row.text.replace("old", "new")) for row in old]
    assert changed_blocks(changes_between(old, new)) == ["exercise", "lipids"]


def test_the_signed_text_is_as_documented():
    rows = [Row("goals", "Goals", "Walk \r\n\nto Zoe\u0308  \n"), Row("x.y", "anything", "")]
    text = "treatment plan, text 1\ngoals: Walk\n  \n  to Zo\u00eb\nx.y:\n"
    assert text_of(rows) == text
    assert digest_of(rows) == hashlib.sha256(text.encode()).hexdigest()
    # FIPS 180-4 example "abc", so that the digest is the standard's and not ours
    assert hashlib.sha256(b"abc").hexdigest().startswith("ba7816bf8f01cfea")


@given(st.lists(st.text(alphabet="ab:\n .", max_size=12), min_size=2, max_size=2), st.data())
def test_different_plans_have_different_texts(texts, data):
    keys = ["a", "b"]
    one = [Row(key, "", text) for key, text in zip(keys, texts, strict=True)]
    other = [Row(key, "", data.draw(st.text(alphabet="ab:\n .", max_size=12))) for key in keys]

    def told(rows):
        """A text as somebody reads it: without space at the ends of its lines and its end."""
        return ["\n".join(p.rstrip() for p in row.text.split("\n")).rstrip("\n") for row in rows]

    assert (text_of(one) == text_of(other)) == (told(one) == told(other))


@pytest.mark.parametrize("keys", [["a:b"], ["a\n"], [""], [" a"], ["a", "a"]])
def test_a_key_is_never_taken_for_a_text(keys):
    with pytest.raises(ValueError, match="plan"):
        text_of([Row(key, "", "x") for key in keys])


# 42 CFR 410.49(b)(2)(v): every 30 days. Calendar days, whatever the length of a month.
@pytest.mark.parametrize(
    ("signed", "due"),
    [
        (date(2027, 1, 31), date(2027, 3, 2)),
        (date(2027, 2, 28), date(2027, 3, 30)),
        (date(2028, 1, 30), date(2028, 2, 29)),  # a leap day is a day
        (date(2028, 2, 29), date(2028, 3, 30)),
        (date(2026, 12, 2), date(2027, 1, 1)),
        (date(2026, 10, 31), date(2026, 11, 30)),
    ],
)
def test_the_clock_runs_thirty_days_from_the_signature_itself(signed, due):
    for day in range(-40, 40):  # whatever the first session's day was
        assert next_signature_due(signed, signed + timedelta(days=day)) == due
    assert not is_late(due, due)
    assert is_late(due, due + timedelta(days=1))


def test_a_late_signature_starts_a_clock_of_its_own():
    start = date(2027, 1, 4)
    late = due_dates(start, start + timedelta(days=60))[1] + timedelta(days=5)
    assert next_signature_due(late, start) == late + timedelta(days=30)


def test_a_pause_stops_no_clock_and_calls_nobody_late():
    due, away, back = date(2028, 2, 29), date(2028, 2, 20), date(2028, 3, 10)
    pause = [(away, back)]
    assert clock_on(due, due, pause) is Clock.IN_TIME
    assert clock_on(due, date(2028, 3, 1), pause) is Clock.PAUSED
    assert clock_on(due, date(2028, 3, 9), pause) is Clock.PAUSED
    assert clock_on(due, back, pause) is Clock.LATE  # the day of the return is a day with sessions
    assert clock_on(due, date(2028, 3, 1), [(away, None)]) is Clock.PAUSED
    assert clock_on(due, date(2028, 3, 1), [(date(2028, 3, 2), None)]) is Clock.LATE
    assert clock_on(due, date(2028, 3, 1)) is Clock.LATE
