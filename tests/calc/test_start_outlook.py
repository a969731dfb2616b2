"""The start outlook against queueing theory, and what it must answer whatever the numbers."""

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from reports.calc.start_outlook import (
    Clinic,
    SimClass,
    draw,
    play,
    resampled,
    simulate,
    with_class,
    with_seats,
)


def erlang_c(arrivals: float, service: float, servers: int) -> tuple[float, float]:
    """Probability of waiting and mean wait in an M/M/c queue.

    Erlang 1917; as in any textbook of queueing theory, e.g. D. Gross et al., Fundamentals of
    Queueing Theory, section on M/M/c.
    """
    load = arrivals / service
    below = sum(load**n / math.factorial(n) for n in range(servers))
    at_all_busy = load**servers / math.factorial(servers) / (1 - load / servers)
    waits = at_all_busy / (below + at_all_busy)
    return waits, waits / (servers * service - arrivals)


# The published value of C(2, 1) is 1/3: both formulas by hand (from memory).
def test_erlang_formula_itself():
    assert erlang_c(1, 1, 2) == (pytest.approx(1 / 3), pytest.approx(1 / 3))


@pytest.mark.parametrize(
    ("servers", "arrivals", "service"), [(1, 0.5, 1.0), (2, 1.2, 1.0), (3, 2.4, 1.0), (8, 0.6, 0.1)]
)
def test_one_class_is_the_erlang_queue(servers, arrivals, service):
    rng = np.random.default_rng(7)
    clinic = Clinic(
        classes=(SimClass(0, (0.0,) * servers),),
        arrivals_per_day=arrivals,
        stays_days=tuple(rng.exponential(1 / service, 200_000)),
        per_week=(1,),
    )
    people = draw(clinic, 2500 / arrivals, 80, rng)
    _, waits = play(clinic, people, on_class_days=False)
    settled = waits[:, 500:2200]  # after the empty beginning, before the last arrivals
    share, mean = erlang_c(arrivals, service, servers)
    assert np.nanmean(settled > 1e-9) == pytest.approx(share, rel=0.06)
    assert np.nanmean(settled) == pytest.approx(mean, rel=0.12)


BUSY = Clinic(
    classes=tuple(SimClass(day, (20.0, 40.0, 60.0)) for day in (0, 2, 4)),
    arrivals_per_day=0.2,
    stays_days=(84.0,),
    per_week=(3,),
    today_weekday=0,
)


def test_full_clinic_starts_on_the_first_class_day_after_a_seat_is_free():
    """Seats free on day 20, a Sunday; the next Monday is day 21."""
    found = simulate(BUSY)
    assert (found.median_days, found.p90_days, found.share_today) == (21, 21, 1)


def test_people_ahead_are_served_first():
    found = simulate(replace(BUSY, ahead=(0.0,)))
    assert found.median_days == 42  # the seat of day 40, a Saturday


def test_closed_day_moves_the_start():
    found = simulate(replace(BUSY, closed_days=frozenset({21})))
    assert found.median_days == 23


def test_one_more_class_does_no_harm_and_the_seed_repeats():
    now, wider = simulate(BUSY), simulate(with_class(BUSY, 1, 8))
    assert wider.share_in_time >= now.share_in_time
    assert simulate(BUSY) == now


def test_unused_seats_are_given_away():
    nobody_comes = replace(BUSY, ahead=(0.0,) * 3, no_show_share=1.0, no_show_days=1.0)
    assert (
        simulate(nobody_comes).median_days < simulate(replace(BUSY, ahead=(0.0,) * 3)).median_days
    )


def test_more_sessions_a_week_than_weekdays_takes_what_there_is():
    clinic = Clinic((SimClass(0, (0.0,)),), 0.1, (84.0,), (3,))
    assert simulate(clinic).median_days == 0


def test_no_class_is_refused():
    with pytest.raises(ValueError, match="timetable"):
        simulate(Clinic((), 0.1, (84.0,), (3,)))


@pytest.mark.parametrize("missing", [{"stays_days": ()}, {"per_week": ()}])
def test_nothing_to_draw_from_is_refused(missing):
    with pytest.raises(ValueError, match="Stays and sessions"):
        simulate(replace(BUSY, **missing))


def test_large_clinic_takes_less_than_a_second_of_work():
    """Of the processor's time, so that a busy machine does not matter."""
    seats = tuple(float(7 * n) for n in range(12))
    classes = tuple(SimClass(day, seats) for day in range(5) for _ in range(8))
    clinic = Clinic(classes, 2.8, tuple(range(40, 100)), (2, 3, 3), ahead=(0.0,) * 30)
    begun = time.process_time()
    simulate(clinic)
    assert time.process_time() - begun < 1


def test_another_timetable_is_asked_about_the_same_people():
    one, other = (
        draw(clinic, 84, 50, np.random.default_rng(36)) for clinic in (BUSY, with_class(BUSY, 1, 8))
    )
    for name in ("came", "ready", "per_week", "keeps"):
        assert np.array_equal(getattr(one, name), getattr(other, name))


def test_people_come_first_those_ahead_then_todays_then_in_order():
    clinic = replace(BUSY, ahead=(9.0, -3.0), preparing_days=5.0, arrivals_per_day=1.0)
    people = draw(clinic, 84, 200, np.random.default_rng(1))
    assert people.n_ahead == 2
    assert (people.ready[:3].T == [0, 9, 5]).all()
    assert not people.came[:3].any()
    later = people.came[3:]
    here = np.isfinite(later)
    assert (later[1:] >= later[:-1]).all()
    assert (people.per_week[3:][~here] == 0).all()
    assert (people.per_week[3:][here] == 3).all()
    assert (people.ready[3:][here] == later[here] + 5).all()
    assert here.sum(axis=0).mean() == pytest.approx(84, abs=4)  # Poisson: six standard errors
    assert later[here].mean() == pytest.approx(42, abs=1.2)  # uniform over the horizon


def test_share_of_people_who_never_come_keep_a_seat_for_less():
    clinic = replace(BUSY, no_show_share=0.25, no_show_days=14.0, stays_days=(84.0, 10.0))
    keeps = draw(clinic, 84, 2000, np.random.default_rng(1)).keeps
    shares = [(keeps == days).mean() for days in (10, 14, 84)]
    assert shares == pytest.approx([0.5, 0.125, 0.375], abs=0.02)


@pytest.mark.parametrize(("n", "share"), [(1, 0.5), (9, 0.5), (101, 0.5), (11, 0.9), (9, 1.0)])
def test_resampled_order_statistic_has_the_distribution_of_a_resample(n, share):
    """The j-th smallest of a resample is at most the i-th value if j of n draws are: binomial."""
    found = resampled(np.arange(n), share, 40_000, np.random.default_rng(5))
    j = round(share * (n - 1)) + 1
    for i in range(n):
        expected = stats.binom.sf(j - 1, n, (i + 1) / n)
        assert (found <= i).mean() == pytest.approx(expected, abs=0.012)


@pytest.mark.parametrize(("n", "share"), [(2, 0.5), (10, 0.5), (40, 0.9)])
def test_resampled_quantile_between_two_values_is_that_of_drawn_resamples(n, share):
    """40,000 resamples of each kind, compared by the largest difference (Kolmogorov, Smirnov)."""
    rng = np.random.default_rng(6)
    sample = np.sort(rng.integers(0, 30, n))
    drawn = np.quantile(rng.choice(sample, (40_000, n)), share, axis=1)
    found = resampled(sample, share, 40_000, rng)
    assert stats.ks_2samp(found.round(6), drawn.round(6)).statistic < 0.015


def test_no_referral_gives_no_share_rather_than_nought():
    assert simulate(replace(BUSY, arrivals_per_day=0.0)).share_in_time is None


def test_seats_are_added_to_the_class_that_is_named():
    two = (SimClass(0, (3.0,), key=7), SimClass(2, (5.0,), key=8))
    wider = with_seats(replace(BUSY, classes=two), 8, 2)
    assert [(one.key, one.free_from) for one in wider.classes] == [
        (7, (3.0,)),
        (8, (5.0, 0.0, 0.0)),
    ]
    with pytest.raises(ValueError, match="A class that is held"):
        with_seats(wider, 9, 1)
