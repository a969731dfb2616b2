"""No hold and no stop is missed: visits at random against the published rules stated again.

``SEARCH_VISITS=50000 pytest -q -s tests/calc/test_no_stop_missed.py`` is the long search; a visit
that fails is named by its number, and ``random_visits.numbered`` gives it back.
"""

import os
import time
from collections import Counter
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from programs.attendance.calc.catalogue import RULES, is_lasting
from programs.attendance.calc.levels import Level, Phase
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import ASKED_BEFORE, SEEN_DURING, Question, applies_to
from programs.attendance.calc.rules import Evaluation, Rule, evaluate
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.calc.situation import Known, Situation
from tests.calc.published_stops import must_hold, must_stop, must_stop_at
from tests.calc.random_visits import NOON, calm_visits, numbered, visits

N_VISITS = int(os.environ.get("SEARCH_VISITS", "4000"))
SHAPED = settings(
    max_examples=max(300, N_VISITS // 20),
    derandomize=True,
    database=None,
    deadline=None,
    suppress_health_check=list(HealthCheck),
)
Needed = tuple[str, Level, int]  # id, level, place of the bout or 0


def needed(visit: Situation) -> set[Needed]:
    """What the published rules ask for: id, level, and the bout where it is one of a load."""
    places = range(1, len(visit.sheet.bouts) + 1)
    return (
        {(key, Level.HOLD, 0) for key in must_hold(visit)}
        | {(key, Level.STOP, 0) for key in must_stop(visit)}
        | {(key, Level.STOP, place) for place in places for key in must_stop_at(visit, place)}
    )


def raised(judged: Evaluation) -> dict[Needed, list[str]]:
    """What the rules raised, in the same words, each with the subjects that raised it."""
    said: dict[Needed, list[str]] = {}
    for found in judged.findings:
        subject, _, place = found.of.partition("@")
        is_stop = found.level is Level.STOP and found.phase is Phase.DURING
        levels = [Level.HOLD] if found.level >= Level.HOLD else []
        levels += [Level.STOP] if is_stop else []
        for level in levels:
            for at in {0, int(place or 0)}:
                said.setdefault((found.rule_id, level, at), []).append(subject)
    return said


def missed(visit: Situation) -> set[Needed]:
    return needed(visit) - raised(evaluate(RULES, visit)).keys()


def test_no_hold_or_stop_is_missed_in_many_visits():
    began, seen = time.monotonic(), Counter[str]()
    failing: list[str] = []
    for number in range(N_VISITS):
        visit = numbered(number)
        seen.update({key for key, _, _ in needed(visit)})
        if not_said := missed(visit):
            failing.append(f"numbered({number}): {sorted(not_said)}")
    print(f"\n{N_VISITS} visits in {time.monotonic() - began:.0f} s; visits that need each:")
    print(", ".join(f"{key} {n}" for key, n in sorted(seen.items())))
    assert not failing, "\n".join([f"{len(failing)} visits", *failing[:10]])
    assert not {key: n for key, n in seen.items() if n < N_VISITS / 100}, "hardly ever came up"


@SHAPED
@given(visits)
def test_no_hold_or_stop_is_missed(visit):
    assert not missed(visit)


@SHAPED
@given(calm_visits)
def test_a_calm_visit_raises_no_hold_and_no_stop(visit):
    assert not needed(visit)
    assert not [f for f in evaluate(RULES, visit).findings if f.level >= Level.HOLD]


@pytest.mark.parametrize("moment", ["during", "after", "recovery"])
def test_a_level_2_low_since_exercise_began_does_not_lapse_with_a_good_recheck(moment):
    # Level 2: ADA 2017, Table 6.3, < 54 mg/dL. The reference gives it no end; here no recheck ends
    # it, at whatever moment. 53 is not below the 52.2 of G-06, which would hold.
    low, good = Glucose(53), Glucose(120)
    later = NOON + timedelta(minutes=15)
    sheet = Sheet(rechecks=((NOON, low), (later, good)))
    shown: dict[str, Any] = {moment: Vitals(glucose_mgdl=120)}
    visit = Situation(
        replace(sheet, **shown),
        Known(other_glucose_24h=(low,)),
        has_exercised=True,
    )
    assert ("G-02", Level.HOLD, 0) in raised(evaluate(RULES, visit))


# --- the search itself can fail ---------------------------------------------------------------

# Raised beyond what the published rules ask for: a low that needed help stops (stated: holds), and
# a rate near the device's after exercise holds.
BEYOND = {"G-03-needed_help-stop", "H-08-after-hold"}
# The questions of each session and the decision at entry hold by the program's own choice.
NO_LEVEL_PUBLISHED = {"E-30", "E-entry"}
TENTHS = {"E-10", "E-13", "F-03", "F-04"}  # kg, °C, mm; the others are read in whole numbers


def _a_step_laxer(rule: Rule) -> list[Rule]:
    """The rule with its limit one step off, in each unit it has."""
    towards = -1 if rule.compare == "<" else 1
    laxer = [replace(rule, limit=rule.limit + towards * (0.1 if rule.id in TENTHS else 1))]
    if rule.mmoll is not None:
        laxer.append(replace(rule, mmoll=rule.mmoll + towards * 0.1))
    return laxer


def test_a_limit_one_step_off_would_be_noticed():
    sample = [(visit, needed(visit)) for visit in map(numbered, range(2500))]
    ids = {key for _, wanted in sample for key, _, _ in wanted}
    of_lists = {rule.id for rule in RULES if rule.level >= Level.HOLD and rule.id[0] in "EFG"}
    assert of_lists - ids == NO_LEVEL_PUBLISHED
    strict = [r for r in RULES if r.id in ids and r.level >= Level.HOLD and r.key not in BEYOND]
    assert len(strict) > 60
    for rule in strict:
        others = [r for r in RULES if r.id == rule.id and r is not rule]
        wanted_of = [(v, {w for w in wanted if w[0] == rule.id}) for v, wanted in sample]
        for laxer in _a_step_laxer(rule):
            assert any(
                wanted - raised(evaluate([laxer, *others], visit)).keys()
                for visit, wanted in wanted_of
                if wanted
            ), (laxer.key, laxer.limit, laxer.mmoll)


# --- what was not taken -----------------------------------------------------------------------

Blanked = tuple[Situation, set[str]]  # the visit without it, and the ids it must be named for


def _without(visit: Situation, part: str, *names: str) -> Situation:
    """The visit with these values of vital signs or rhythm not taken."""
    empty = {name: "" if isinstance(getattr(getattr(visit.sheet, part), name), str) else None
             for name in names}  # fmt: skip
    there = replace(getattr(visit.sheet, part), **empty)
    return replace(visit, sheet=replace(visit.sheet, **{part: there}))


def _without_load(visit: Situation, *names: str) -> Situation:
    none: dict[str, Any] = dict.fromkeys(names)
    bouts = tuple(replace(load, **none) for load in visit.sheet.bouts)
    return replace(visit, sheet=replace(visit.sheet, bouts=bouts))


def _not_asked(visit: Situation, question: Question) -> Situation:
    left = {key: a for key, a in visit.sheet.answers.items() if key != question.id}
    return replace(visit, sheet=replace(visit.sheet, answers=left))


def _not_screened(visit: Situation) -> Situation:
    return replace(visit, known=replace(visit.known, entry_answers=None, entry_says_start=None))


def not_taken(visit: Situation) -> dict[str, Blanked]:
    """The visit with each of its readings left out in turn."""
    known = visit.known
    out: dict[str, Blanked] = {
        "pressure": (_without(visit, "before", "systolic_mmhg", "diastolic_mmhg"),
                     {"E-01", "E-02"}),
        "rate": (_without(visit, "before", "heart_rate_bpm"), {"E-04"}),
        "saturation": (_without(visit, "before", "spo2_percent"), {"E-18"}),
        "weight": (_without(visit, "before", "weight_kg"),
                   {"E-10"} if known.has_heart_failure else set()),
        "glucose": (_without(visit, "before", "glucose_mgdl"),
                    {"G-05"} if known.uses_insulin else set()),
        "standing": (_without(visit, "before", "standing_systolic_mmhg"), set()),
        "temperature": (_without(visit, "before", "temperature_c"), set()),
        "screen": (_not_screened(visit), {"E-08", "E-11", "E-12", "E-21"}),
    }  # fmt: skip
    asked: list[Question] = [q for q in ASKED_BEFORE if applies_to(q, groups=known.groups)]
    asked += SEEN_DURING if visit.has_exercised else ()
    out |= {q.id: (_not_asked(visit, q), {q.rule_id}) for q in asked}
    if visit.has_exercised:
        out |= {
            "pressure under load": (_without_load(visit, "systolic_mmhg", "diastolic_mmhg"),
                                    {"F-01", "F-02"}),
            "saturation under load": (_without_load(visit, "spo2_percent"), {"F-12"}),
            "angina": (_without_load(visit, "angina"), {"F-09"}),
            "breathlessness": (_without_load(visit, "dyspnoea"), {"F-11"}),
            "rate under load": (_without_load(visit, "heart_rate_bpm"), set()),
        }  # fmt: skip
    if visit.has_exercised and visit.sheet.has_ecg:
        out |= {
            "rhythm": (_without(visit, "rhythm", "during"), {"F-05", "F-06"}),
            "PVCs": (_without(visit, "rhythm", "pvc_per_minute"), {"F-21"}),
            "pairs": (_without(visit, "rhythm", "has_couplets", "has_triplets"), {"F-22"}),
            "forms": (_without(visit, "rhythm", "is_multiform"), {"F-24"}),
            "QRS": (_without(visit, "rhythm", "qrs_during_ms"), {"F-20"}),
            "ST": (_without(visit, "rhythm", "st_change", "st_mm"), {"F-03", "F-04"}),
        }
    return out


@SHAPED
@given(visits, st.integers(0, 999))
def test_what_was_not_taken_is_named_and_neither_raises_nor_settles(visit, which):
    choices = sorted(not_taken(visit).items())
    what, (without, named_for) = choices[which % len(choices)]
    full, judged = evaluate(RULES, visit), evaluate(RULES, without)
    assert named_for <= {missing.rule_id for missing in judged.missing}
    assert not raised(judged).keys() - raised(full).keys() - needed(without)
    if what == "glucose":  # one of several: the others of the day still say what they said
        return
    still = {(f.rule_id, f.of, f.level) for f in judged.findings}
    gone = {(f.rule_id, f.of) for f in full.findings
            if f.level >= Level.HOLD and (f.rule_id, f.of, f.level) not in still}  # fmt: skip
    # What was found in exercise stays on record whatever is measured later.
    assert not {subject for subject in gone & judged.checked if not is_lasting(*subject)}


def test_each_reading_is_left_out_of_some_visit():
    left_out = Counter(what for n in range(200) for what in not_taken(numbered(n)))
    assert len(left_out) > 40
    assert min(left_out.values()) >= 10
