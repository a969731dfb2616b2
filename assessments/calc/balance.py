"""Balance: four stances of rising difficulty, and standing on one leg."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    Measure,
    Result,
    at_age,
    attempt,
    number,
)
from patients.calc.limits import SINGLE_LEG_S, STANCE_STAGE_S, NotScorable
from patients.calc.person import Person

HOLD_S = 10
STAGES = ("side_by_side_s", "semi_tandem_s", "tandem_s", "one_leg_s")
NAMES = ("feet side by side", "semi-tandem", "tandem", "one leg")
# Mean times, eyes open. Bohannon 2006, Top Geriatr Rehabil 22:70-77. [s]
ONE_LEG_MEANS = ((60, 69, 27.0), (70, 79, 17.2), (80, 99, 8.5))
HIGH_RISK_BELOW_S = 5  # commonly used, seen in later publications only
CAP_S = 45  # Springer 2007, J Geriatr Phys Ther 30:8-15


def stages_held(times: list[float | None]) -> int:
    """How many stances were held for ten seconds, up to the first that was not.

    Parameters
    ----------
    times : one a stance in the order of ``STAGES``. [s], 0 to 10, not checked; None or 0 when not
        tried

    Returns
    -------
    Stances held, 0 to 4.

    Raises
    ------
    NotScorable : a stance is missing before the first failure, or timed after it.

    References
    ----------
    Citation of ``FOUR_STANCES``.
    """
    held = 0
    for place, seconds in enumerate(times):
        if seconds is None:
            raise NotScorable(f"The time of {NAMES[place]} is missing.")
        if seconds < HOLD_S:
            if any(times[place + 1 :]):
                raise NotScorable(f"The test ends at {NAMES[place]}; later times do not belong.")
            return held
        held += 1
    return held


def score_stances(inputs: Inputs, person: Person, on: date) -> Result:
    """Stances held, with the flag for falls where tandem was not.

    Parameters
    ----------
    inputs : ``side_by_side_s``, ``semi_tandem_s``, ``tandem_s``, ``one_leg_s`` [s], 0 to 10; empty
        or 0 after the first that was not held for 10.
    person, on : not used.

    Returns
    -------
    Stances held, 0 to 4; the time of each beside it [s].

    Raises
    ------
    NotScorable : a stance is missing before the first failure, or timed after it.
    OutOfRange : a time is impossible.

    References
    ----------
    Citation of ``FOUR_STANCES``.
    """
    times = [number(inputs, key, STANCE_STAGE_S) for key in STAGES]
    held = stages_held(times)
    tandem_held = held >= 3
    words = "tandem held for 10 s" if tandem_held else "fall risk: tandem not held for 10 s"
    if held == 3:
        words += "; one leg not held, a note but no positive screen"
    derived = tuple(
        Derived(key, name, seconds, "s", 1)
        for key, name, seconds in list(zip(STAGES, NAMES, times, strict=True))[: held + 1]
        if seconds is not None
    )
    return Result(held, "of 4", derived, words, "CDC STEADI: tandem under 10 s")


def score_one_leg(inputs: Inputs, person: Person, on: date) -> Result:
    """Best time on one leg, capped at 45 s, beside the mean of the age.

    Parameters
    ----------
    inputs : ``first_s``, ``second_s``, ``third_s`` [s], 0 to 60; at least one.
    person : birth date.
    on : day of the test.

    Returns
    -------
    Best time [s], 0 to 45; the mean beside it at 60 to 99 years, else a remark.

    Raises
    ------
    NotScorable : no time was given.
    OutOfRange : a time is impossible, or the test lies before the birth.

    References
    ----------
    With the constants above.
    """
    tries = [number(inputs, key, SINGLE_LEG_S) for key in ("first_s", "second_s", "third_s")]
    given = [min(seconds, CAP_S) for seconds in tries if seconds is not None]
    if not given:
        raise NotScorable("At least one time is needed.")
    best = max(given)
    remarks: list[str] = []
    words = ["high fall risk (under 5 s)"] if best < HIGH_RISK_BELOW_S else []
    mean = attempt(
        remarks, "No norm", lambda: at_age(ONE_LEG_MEANS, person.age_on(on), "Bohannon 2006")
    )
    derived = []
    if mean is not None:
        words.append("below the mean of this age" if best < mean else "at or above the mean")
        derived.append(Derived("mean", "mean of this age", mean, "s", 1))
    reference = "Bohannon 2006, eyes open; best of three, capped at 45 s"
    return Result(best, "s", tuple(derived), "; ".join(words), reference, tuple(remarks))


FOUR_STANCES = Measure(
    key="four_stances",
    name="Four-stage balance",
    plain="How many of four ways to stand you can hold",
    unit="of 4",
    inputs=tuple(
        Input(key, name.capitalize(), STANCE_STAGE_S, is_needed=key == STAGES[0])
        for key, name in zip(STAGES, NAMES, strict=True)
    ),
    score=score_stances,
    direction=Direction.HIGHER,
    version="steadi-1",
    citation="CDC STEADI four-stage balance, 10 s each",
)
ONE_LEG = Measure(
    key="single_leg_stance",
    name="Single-leg stance",
    plain="How long you stand on one leg",
    unit="s",
    inputs=(
        Input("first_s", "First", SINGLE_LEG_S, is_needed=False),
        Input("second_s", "Second", SINGLE_LEG_S, is_needed=False),
        Input("third_s", "Third", SINGLE_LEG_S, is_needed=False),
        Input("leg", "Leg", options=((1, "left"), (2, "right")), is_needed=False),
    ),
    score=score_one_leg,
    direction=Direction.HIGHER,
    version="bohannon06-1",
    citation="Bohannon 2006, Top Geriatr Rehabil 22:70; Springer 2007",
    digits=1,
    variant_inputs=("leg",),
)
