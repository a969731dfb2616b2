"""One step of a whole dose: aerobic exercise and resistance in turn, one of them at a time.

One variable at a time: as ``progression``. Who has the turn, and that nothing of the lifts is
raised in a week that was not as prescribed, are project choices.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import floor

from programs.prescription.calc.lifts import Lift
from programs.review.calc.lifting import Lifted, Lifting, Training, Turn, plate, propose_lifts
from programs.review.calc.progression import (
    BACK,
    Day,
    Dose,
    Most,
    Proposal,
    Step,
    Week,
    propose,
)

RAISES = (Step.LONGER, Step.HARDER, Step.RESISTANCE)
LOWERS_IN = frozenset([Week.UNKNOWN, Week.HARD, Week.SHORT, Week.WELL])  # weeks that are judged


def next_step(
    dose: Dose,
    most: Most | None,
    days: Sequence[Day],
    today: date,
    *,
    training: Training | None = None,
    sets: Sequence[Lifted] = (),
    maxima: Mapping[str, float] | None = None,
    raised_last: Step | None = None,
) -> Proposal:
    """The next step of a dose with its resistance.

    Parameters
    ----------
    dose, most, days, today : as ``propose``.
    training, sets, maxima : as ``propose_lifts``; ``training`` None where none is prescribed.
    raised_last : what was raised last.

    Returns
    -------
    At most one raise: of minutes, of work, or of lifts; those two in turn. Two weeks away lower
    all. What is lowered goes alone. Lifts are raised only in a week that was as prescribed.

    Raises
    ------
    NotScorable : as ``propose``.

    References
    ----------
    As the module.
    """
    aerobic = propose(dose, most, days, today)
    if training is None:
        return aerobic
    aerobic = replace(aerobic, strength=training.stage, lifts=training.lifts)
    if aerobic.week == Week.AWAY:
        return replace(aerobic, lifts=tuple(map(_lower, training.lifts)))
    if aerobic.week not in LOWERS_IN:
        return aerobic
    lifting = propose_lifts(training, sets, maxima or {}, today)
    if lifting.turn == Turn.LESS:
        told = aerobic.reasons if aerobic.step == Step.BACK else ()
        kept = aerobic if aerobic.step == Step.BACK else _kept(aerobic, dose)
        return _with(replace(kept, step=Step.BACK), lifting, (*told, *lifting.reasons))
    if lifting.turn == Turn.MORE and most is not None and aerobic.week == Week.WELL:
        if aerobic.step == Step.KEEP:
            return _with(
                replace(aerobic, step=Step.RESISTANCE),
                lifting,
                (*aerobic.reasons, *lifting.reasons),
            )
        if raised_last in {Step.LONGER, Step.HARDER}:
            turn = "Minutes or work were raised last: resistance has the turn."
            kept = replace(_kept(aerobic, dose), step=Step.RESISTANCE)
            return _with(kept, lifting, (aerobic.reasons[0], turn, *lifting.reasons))
        return aerobic
    told = lifting.reasons if lifting.turn == Turn.SAME else ()
    return replace(aerobic, reasons=tuple(dict.fromkeys([*aerobic.reasons, *told])))


def _kept(aerobic: Proposal, dose: Dose) -> Proposal:
    return replace(aerobic, minutes=dose.minutes, mets=dose.mets)


def _with(aerobic: Proposal, lifting: Lifting, reasons: tuple[str, ...]) -> Proposal:
    return replace(aerobic, strength=lifting.stage, lifts=lifting.lifts, reasons=reasons)


def _lower(lift: Lift) -> Lift:
    """A lift after two weeks away; one without a load by its repetitions."""
    if lift.kg is None:
        return lift._replace(repetitions=max(1, floor(lift.repetitions * BACK)))
    return lift._replace(kg=min(lift.kg, plate(lift.kg * BACK, floor)))


def without_raise(
    proposal: Proposal, dose: Dose, why: str, training: Training | None = None
) -> Proposal:
    """The same proposal where something else forbids a raise.

    Parameters
    ----------
    proposal : what sessions alone propose.
    dose : the dose in force.
    why : what forbids it, as a sentence.
    training : the resistance in force.

    Returns
    -------
    A raise becomes the dose as it is, with ``why`` as its reason; a step back stays.
    """
    if proposal.step in RAISES:
        kept = _kept(replace(proposal, step=Step.KEEP), dose)
        stage, lifts = (training.stage, training.lifts) if training else ("", ())
        return replace(kept, strength=stage, lifts=lifts, reasons=(why,))
    return replace(proposal, reasons=(*proposal.reasons, why))
