"""What people do: activity in a week, tobacco, medicine taken."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    needed,
    number,
)
from patients.calc.limits import MINUTES_A_WEEK, Limit, NotScorable
from patients.calc.person import Person

ENOUGH_MINUTES = 150  # WHO 2020, US Physical Activity Guidelines 2018
MOST_ADVISED_MINUTES = 300  # the span advised is 150 to 300: the same
STRENGTH_DAYS = 2
DAYS = Limit("Days a week", "days", 0, 7)
COVERED = Limit("Days covered by medicine", "%", 0, 100)
COVERED_DAYS = Limit("Days covered by medicine", "days", 0, 366)
PERIOD_DAYS = Limit("Days of the period", "days", 7, 366)
ADHERENT_FROM = 80  # from memory
PACKS = Limit("Packs a day", "packs", 0, 10, 0, 4)
YEARS_SMOKED = Limit("Years smoked", "years", 0, 90)
TOBACCO = (
    (0, "never (fewer than 100 cigarettes)"),
    (1, "former"),
    (2, "some days"),
    (3, "every day"),
)
NEVER = 0
SMOKES_FROM = 2  # below, former and never: neither is better than the other


def moderate_equivalent(moderate: float, vigorous: float) -> float:
    """Minutes a week in moderate activity, vigorous ones counted twice.

    Parameters
    ----------
    moderate, vigorous : minutes a week. [min], 0 to 5000 each

    Returns
    -------
    Minutes a week. [min]

    Raises
    ------
    OutOfRange : a value is impossible.

    References
    ----------
    Citation of ``ACTIVITY``.
    """
    return MINUTES_A_WEEK.check(moderate) + 2 * MINUTES_A_WEEK.check(vigorous)


def score_activity(inputs: Inputs, person: Person, on: date) -> Result:
    """Activity in a week against 150 minutes.

    Parameters
    ----------
    inputs : ``moderate_min`` and ``vigorous_min`` [min/week], 0 to 5000; ``strength_days`` [days a
        week], 0 to 7, may be empty.
    person, on : not used.

    Returns
    -------
    Moderate-equivalent minutes [min/week] with words on minutes and days of strength work.

    Raises
    ------
    NotScorable : moderate or vigorous minutes are empty.
    OutOfRange : a value is impossible.

    References
    ----------
    Citation of ``ACTIVITY``.
    """
    moderate = number(inputs, "moderate_min", MINUTES_A_WEEK)
    vigorous = number(inputs, "vigorous_min", MINUTES_A_WEEK)
    if moderate is None or vigorous is None:
        raise NotScorable("Both are asked for; type 0 where there is none.")
    minutes = moderate_equivalent(moderate, vigorous)
    words = "meets 150 min" if minutes >= ENOUGH_MINUTES else "below 150 min"
    if minutes > MOST_ADVISED_MINUTES:
        words = f"more than {MOST_ADVISED_MINUTES} min, beyond the span advised"
    days = number(inputs, "strength_days", DAYS)
    if days is not None:
        side = "enough" if days >= STRENGTH_DAYS else "under two"
        words += f"; {side} days of strength work"
    return Result(minutes, "min/week", (), words, "WHO 2020; US 2018; short bouts count")


def score_tobacco(inputs: Inputs, person: Person, on: date) -> Result:
    """Smoking status, and pack-years where both parts are known.

    Parameters
    ----------
    inputs : ``status`` 0 never, 1 former, 2 some days, 3 every day; ``packs`` [a day], 0 to 10, and
        ``years`` [years], 0 to 90, may be empty.
    person, on : not used.

    Returns
    -------
    The status as a number, 0 to 3; beside it pack-years [packs a day x years].

    Raises
    ------
    NotScorable : no status, or packs and years of somebody who never smoked.
    OutOfRange : packs or years are impossible.
    KeyError : a status that is not offered.

    References
    ----------
    Citation of ``TOBACCO_USE``.
    """
    status = inputs.get("status")
    if status is None:
        raise NotScorable("Unknown is no answer: ask, or leave the test empty.")
    packs, years = number(inputs, "packs", PACKS), number(inputs, "years", YEARS_SMOKED)
    if int(status) == NEVER and (packs or years):
        raise NotScorable("Never, with packs or years of smoking: one of them is wrong.")
    derived: tuple[Derived, ...] = ()
    if packs is not None and years is not None:
        derived = (Derived("pack_years", "pack-years", packs * years, "", 1),)
    words = dict(TOBACCO)[int(status)]
    return Result(float(status), "", derived, words, "a relapse is a new record")


def days_covered(covered: float, period: float) -> float:
    """Share of the days of a period that medicine was at hand for.

    Parameters
    ----------
    covered : days covered. [days], 0 to ``period``
    period : days of the period. [days], 7 to 366

    Returns
    -------
    Share. [%]

    Raises
    ------
    OutOfRange : a count is impossible.
    NotScorable : more days are covered than there were.

    References
    ----------
    Proportion of days covered: common practice, no source.
    """
    PERIOD_DAYS.check(period)
    COVERED_DAYS.check(covered)
    if covered > period:
        raise NotScorable(f"{covered:g} days covered of {period:g}: check the counts.")
    return 100 * covered / period


def _covered(inputs: Inputs) -> float:
    """The share as it was given, else from the days."""
    has_days = any(inputs.get(key) is not None for key in ("covered_days", "period_days"))
    if not has_days:
        return needed(inputs, "covered_percent", COVERED)
    if inputs.get("covered_percent") is not None:
        raise NotScorable("Give the share or the days, not both.")
    covered = needed(inputs, "covered_days", COVERED_DAYS)
    return days_covered(covered, needed(inputs, "period_days", PERIOD_DAYS))


def score_adherence(inputs: Inputs, person: Person, on: date) -> Result:
    """Share of days covered by medicine against 80 %.

    Parameters
    ----------
    inputs : ``covered_percent`` [%], 0 to 100, or ``covered_days`` and ``period_days`` [days], not
        both ways.
    person, on : not used.

    Returns
    -------
    Days covered [%] with "adherent" or "not adherent".

    Raises
    ------
    NotScorable : the share or one of the counts is missing, both are given, or more days are
        covered than there were.
    OutOfRange : it is impossible.

    References
    ----------
    Citation of ``ADHERENCE``.
    """
    percent = _covered(inputs)
    side = "adherent" if percent >= ADHERENT_FROM else "not adherent"
    words = f"{side} ({ADHERENT_FROM} % of days or more, from memory)"
    return Result(percent, "%", (), words, "proportion of days covered")


ACTIVITY = Measure(
    key="activity_minutes",
    name="Activity in a week",
    plain="Your activity in a week",
    unit="min/week",
    inputs=(
        Input("moderate_min", "Moderate", MINUTES_A_WEEK, is_whole=True),
        Input("vigorous_min", "Vigorous", MINUTES_A_WEEK, is_whole=True),
        Input("strength_days", "Strength work", DAYS, is_whole=True, is_needed=False),
    ),
    score=score_activity,
    direction=Direction.HIGHER,
    version="who20-1",
    citation="WHO 2020; US Physical Activity Guidelines 2018",
)
TOBACCO_USE = Measure(
    key="tobacco",
    name="Tobacco",
    unit="",
    inputs=(
        Input("status", "Smokes", options=TOBACCO),
        Input("packs", "Packs a day, when smoking", PACKS, is_needed=False),
        Input("years", "For years", YEARS_SMOKED, is_needed=False),
    ),
    score=score_tobacco,
    direction=Direction.LOWER,
    judged_from=SMOKES_FROM,
    categories=TOBACCO,
    version="status-1",
    citation="status as asked; pack-years from memory",
)
ADHERENCE = Measure(
    key="medicine_adherence",
    name="Medicine taken",
    plain="The days covered by your medicine",
    unit="%",
    inputs=(
        Input("covered_percent", "Days covered", COVERED, is_needed=False),
        Input("covered_days", "or days covered", COVERED_DAYS, True, is_needed=False),
        Input("period_days", "of days", PERIOD_DAYS, True, is_needed=False),
        Input("how", "Known from", options=((1, "pharmacy record"), (2, "the person"))),
    ),
    score=score_adherence,
    direction=Direction.HIGHER,
    version="pdc-2",
    citation="proportion of days covered; 80 % from memory",
    variant_inputs=("how",),
)
