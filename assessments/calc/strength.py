"""Grip strength, and the one-repetition maximum from a set short of it."""

from datetime import date

from assessments.calc.measure import (
    Derived,
    Direction,
    Input,
    Inputs,
    MeaningfulChange,
    Measure,
    Result,
    attempt,
    by_sex,
    needed,
    number,
)
from patients.calc.limits import GRIP_KG, LOAD_KG, REPETITIONS, NotScorable
from patients.calc.person import Person

TRIALS = ("left_first_kg", "left_second_kg", "right_first_kg", "right_second_kg")
# Low below these, men and women. EWGSOP2, Cruz-Jentoft 2019, doi:10.1093/ageing/afy169. [kg]
LOW_BELOW = (27.0, 16.0)
# Another cut in use, from the German NAKO cohort 2023; surfaced, not merged. [kg]
NAKO_LOW_BELOW = (29.0, 18.0)
MOST_REPETITIONS = 10  # both equations drift beyond
REFUSED_FROM = 16  # and say nothing from here on (project choice)
BRZYCKI_UNDEFINED_AT = 37
EPLEY, BRZYCKI = 1, 2


def score_grip(inputs: Inputs, person: Person, on: date) -> Result:
    """Best grip of all trials against the cut for low strength.

    Parameters
    ----------
    inputs : ``left_first_kg``, ``left_second_kg``, ``right_first_kg``, ``right_second_kg`` [kg],
        0 to 120; at least one.
    person : sex.
    on : not used.

    Returns
    -------
    Best grip [kg]; a remark where the sex is not recorded or another cut says otherwise.

    Raises
    ------
    NotScorable : no trial.
    OutOfRange : a trial is impossible.

    References
    ----------
    With the constants above.
    """
    given = [kg for key in TRIALS if (kg := number(inputs, key, GRIP_KG)) is not None]
    if not given:
        raise NotScorable("At least one trial is needed.")
    best = max(given)
    remarks: list[str] = []
    low = attempt(remarks, "No cut", lambda: by_sex(person.sex, *LOW_BELOW, "EWGSOP2"))
    if low is None:
        return Result(best, "kg", remarks=tuple(remarks))
    words = f"low (under {low:g} kg)" if best < low else f"not low ({low:g} kg or more)"
    other = by_sex(person.sex, *NAKO_LOW_BELOW, "NAKO")
    if low <= best < other:
        remarks.append(f"Low by another cut: under {other:g} kg (NAKO 2023).")
    derived = (Derived("n_trials", "trials", len(given), ""),)
    return Result(best, "kg", derived, words, "EWGSOP2 2019, best of all trials", tuple(remarks))


def epley(load_kg: float, repetitions: int) -> float:
    """One-repetition maximum: load x (1 + reps/30); the load itself at one.

    Parameters
    ----------
    load_kg : load lifted. [kg], 0 to 500, not checked
    repetitions : [times], 1 to 60, not checked; drifts beyond 10

    Returns
    -------
    Estimated maximum. [kg]

    References
    ----------
    Epley 1985.
    """
    return load_kg if repetitions == 1 else load_kg * (1 + repetitions / 30)


def brzycki(load_kg: float, repetitions: int) -> float:
    """One-repetition maximum: load x 36/(37 - reps).

    Parameters
    ----------
    load_kg : load lifted. [kg], 0 to 500, not checked
    repetitions : [times], 1 to 36; drifts beyond 10

    Returns
    -------
    Estimated maximum. [kg]

    Raises
    ------
    NotScorable : 37 repetitions or more.

    References
    ----------
    Brzycki 1993, JOPERD 64(1):88-90.
    """
    if repetitions >= BRZYCKI_UNDEFINED_AT:
        raise NotScorable("Brzycki’s equation has no value from 37 repetitions on.")
    return load_kg * 36 / (BRZYCKI_UNDEFINED_AT - repetitions)


def odd_repetitions(inputs: Inputs) -> tuple[str, ...]:
    """More repetitions than the equations hold for.

    Parameters
    ----------
    inputs : as ``score_one_rm``.

    Returns
    -------
    The question; empty up to ten repetitions.

    References
    ----------
    With ``MOST_REPETITIONS``.
    """
    reps = inputs.get("reps")
    if reps is None or reps <= MOST_REPETITIONS:
        return ()
    return (f"{reps:g} repetitions, though the equations hold for {MOST_REPETITIONS}",)


def score_one_rm(inputs: Inputs, person: Person, on: date) -> Result:
    """One-repetition maximum estimated from one set.

    Parameters
    ----------
    inputs : ``load_kg`` [kg], 0 to 500; ``reps`` [times], 1 to 15; ``equation`` 1 Epley (also when
        empty), 2 Brzycki.
    person, on : not used.

    Returns
    -------
    Estimated maximum [kg]; out of range and with a remark beyond ten repetitions.

    Raises
    ------
    NotScorable : load or repetitions are missing, or more than 15 of them.
    OutOfRange : a value is impossible.

    References
    ----------
    As ``epley`` and ``brzycki``.
    """
    load = needed(inputs, "load_kg", LOAD_KG)
    reps = int(needed(inputs, "reps", REPETITIONS))
    if reps >= REFUSED_FROM:
        raise NotScorable(
            f"{reps} repetitions say too little of one; take a load that can be lifted at most "
            f"{MOST_REPETITIONS} times."
        )
    by_brzycki = inputs.get("equation") == BRZYCKI
    value = brzycki(load, reps) if by_brzycki else epley(load, reps)
    is_in_range = reps <= MOST_REPETITIONS
    remarks = () if is_in_range else ("More than ten repetitions: the estimate drifts.",)
    name = "Brzycki 1993" if by_brzycki else "Epley 1985"
    return Result(value, "kg", (), f"estimated from {reps} repetitions", name, remarks, is_in_range)


EXERCISES = (
    (1, "leg press"),
    (2, "knee extension"),
    (3, "chest press"),
    (4, "row"),
    (5, "other"),
)
GRIP = Measure(
    key="grip_strength",
    name="Grip strength",
    plain="The strength of your grip",
    unit="kg",
    inputs=tuple(
        Input(key, label, GRIP_KG, is_needed=False)
        for key, label in zip(
            TRIALS, ("Left, first", "Left, second", "Right, first", "Right, second"), strict=True
        )
    ),
    score=score_grip,
    direction=Direction.HIGHER,
    version="ewgsop2-1",
    citation="EWGSOP2, Cruz-Jentoft 2019; Dodds 2014, doi:10.1371/journal.pone.0113637",
    digits=1,
    meaningful_change=MeaningfulChange(
        5.0, "adults; 5.0 to 6.5 kg", "Bohannon 2019, doi:10.1589/jpts.31.75"
    ),
)
ONE_REPETITION = Measure(
    key="one_repetition_maximum",
    name="One-repetition maximum",
    plain="The most you can lift once, estimated",
    unit="kg",
    inputs=(
        Input("load_kg", "Load", LOAD_KG),
        Input("reps", "Repetitions", REPETITIONS, is_whole=True),
        Input("equation", "Equation", options=((EPLEY, "Epley"), (BRZYCKI, "Brzycki")),
              is_needed=False),
        Input("exercise", "Exercise", options=EXERCISES, is_needed=False),
    ),
    score=score_one_rm,
    odd=odd_repetitions,
    direction=Direction.HIGHER,
    version="epley85-1",
    citation="Epley 1985; Brzycki 1993, JOPERD 64(1):88",
    digits=1,
    variant_inputs=("equation", "exercise"),
)  # fmt: skip
