"""The curve, its interval and the test of groups, held to lifelines (waltons and other samples)."""

import random
import warnings

import pytest
from lifelines import AalenJohansenFitter, KaplanMeierFitter
from lifelines.datasets import load_waltons
from lifelines.statistics import multivariate_logrank_test

from patients.calc.limits import NotScorable, OutOfRange
from reports.calc.retention import (
    Level,
    Stay,
    followed,
    incidence,
    kaplan_meier,
    level_on,
    log_rank,
)


def sample(seed, n, longest):
    rng = random.Random(seed)
    return [Stay(rng.randrange(longest), rng.choice(["", "work", "cost"])) for _ in range(n)]


def test_the_curve_agrees_with_lifelines():
    for seed, n, longest in [(1, 40, 30), (2, 7, 100), (3, 300, 84), (4, 25, 4)]:
        stays = sample(seed, n, longest)
        theirs = KaplanMeierFitter().fit([s.days for s in stays], [bool(s.reason) for s in stays])
        curve, band = theirs.survival_function_, theirs.confidence_interval_
        for level in {one.day: one for one in kaplan_meier(stays)}.values():
            assert level.share == pytest.approx(curve.loc[level.day].iloc[0], abs=1e-12)
            if level.day and level.low is not None:
                low, high = band.loc[level.day]
                assert (level.low, level.high) == pytest.approx((low, high), abs=1e-9)
            if level.lost:
                row = theirs.event_table.loc[level.day]
                assert (level.at_risk, level.lost) == (row["at_risk"], row["observed"])


def test_people_counted_together_are_people_one_by_one():
    together = [Stay(18, "choice", 2), Stay(30, "work"), Stay(84, "", 3)]
    alone = [Stay(18, "choice"), Stay(18, "choice"), Stay(30, "work"), *[Stay(84)] * 3]
    assert kaplan_meier(together) == kaplan_meier(alone)


def test_nobody_has_no_curve_and_everybody_lost_has_no_interval():
    assert kaplan_meier([]) == []
    assert level_on([], 3) is None
    assert kaplan_meier([Stay(5, "work")]) == [
        Level(0, 1, 0, 1.0, 1.0, 1.0), Level(5, 1, 1, 0.0, None, None)
    ]  # fmt: skip


def test_hand_worked_curve():
    # Two of 14 on day 18, then one each of 12, 11, 10, 9, 8: 7 of 14 are left.
    lost = [Stay(18, "cost", 2), *[Stay(day, "work") for day in (30, 39, 56, 65, 66)]]
    levels = kaplan_meier([*lost, Stay(200, "", 7)])
    assert level_on(levels, 17).share == 1
    assert level_on(levels, 42).share == pytest.approx(10 / 14)
    assert level_on(levels, 84).share == pytest.approx(7 / 14)
    assert sum(incidence(lost, 999).values()) == pytest.approx(1)  # nobody is left
    assert (followed([*lost, Stay(200, "", 7)], 57), followed(lost, 57)) == (9, 2)


@pytest.mark.parametrize("seed", [5, 6])
def test_competing_reasons_agree_with_lifelines(seed):
    # Its fitter moves tied times by chance: none are tied here.
    rng = random.Random(seed)
    days = rng.sample(range(1, 200), 60)
    stays = [Stay(day, rng.choice(["", "work", "cost"])) for day in days]
    codes = {"": 0, "work": 1, "cost": 2}
    for reason in ("work", "cost"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            theirs = AalenJohansenFitter(calculate_variance=False).fit(
                days, [codes[s.reason] for s in stays], event_of_interest=codes[reason]
            )
        found = incidence(stays, 100)[reason]
        assert found == pytest.approx(theirs.cumulative_density_.loc[:100].iloc[-1, 0], abs=1e-9)
    shares = sum(incidence(stays, 100).values())
    assert shares == pytest.approx(1 - level_on(kaplan_meier(stays), 100).share)


def test_log_rank_agrees_with_lifelines():
    waltons = load_waltons()
    groups = {
        name: [Stay(int(t), "x" if e else "") for t, e in zip(g["T"], g["E"], strict=True)]
        for name, g in waltons.groupby("group")
    }
    theirs = multivariate_logrank_test(waltons["T"].astype(int), waltons["group"], waltons["E"])
    found = log_rank(groups)
    assert found.chi_square == pytest.approx(theirs.test_statistic, rel=1e-9)
    assert found.p == pytest.approx(theirs.p_value, rel=1e-6)


@pytest.mark.parametrize("n_groups", [2, 3, 5])
def test_log_rank_of_several_groups_agrees_with_lifelines(n_groups):
    groups = {str(n): sample(20 + n, 30, 20 + 10 * n) for n in range(n_groups)}
    flat = [(name, s) for name, stays in groups.items() for s in stays]
    theirs = multivariate_logrank_test(
        [s.days for _, s in flat], [g for g, _ in flat], [bool(s.reason) for _, s in flat]
    )
    found = log_rank(groups | {"nobody": []})
    assert found.degrees == n_groups - 1
    assert found.chi_square == pytest.approx(theirs.test_statistic, rel=1e-9)
    assert found.p == pytest.approx(theirs.p_value, rel=1e-9)


def test_what_cannot_be_compared_is_refused():
    with pytest.raises(NotScorable, match="two groups"):
        log_rank({"a": [Stay(3, "work")], "b": []})
    with pytest.raises(NotScorable, match="Nobody was lost"):
        log_rank({"a": [Stay(3)], "b": [Stay(4)]})
    with pytest.raises(NotScorable, match="Nobody was lost"):  # the last of all, alone
        log_rank({"a": [Stay(3)], "b": [Stay(4, "work")]})
    with pytest.raises(OutOfRange):
        Stay(-1)
