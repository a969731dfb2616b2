"""What a measure is. Adding one is adding one object of this kind to the catalogue.

Forms, storage, charts, comparisons and exports read nothing but these objects. What is refused and
which change has a direction are a project choice, the clinical values are each measure's own.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum
from typing import TypeVar

from patients.calc.limits import Limit, NotScorable
from patients.calc.person import Person

Inputs = Mapping[str, float | bool | None]
T = TypeVar("T")
EQUATION = "equation"  # the input that chooses among reference equations


class Direction(IntEnum):
    """Which way is better."""

    HIGHER = 1
    LOWER = -1
    NEITHER = 0


@dataclass(frozen=True)
class Input:
    """One raw value typed by staff. ``options`` makes it a choice, ``is_yes_no`` a question."""

    key: str
    label: str
    limit: Limit | None = None
    is_whole: bool = False
    is_needed: bool = True
    is_yes_no: bool = False
    options: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True)
class Derived:
    """A number computed beside the main one, such as the predicted distance.

    Whoever looks it up does so by ``key``, which never changes; ``label`` is for people.
    """

    key: str
    label: str
    value: float
    unit: str
    digits: int = 0


@dataclass(frozen=True)
class Result:
    """The scored value with what it means and how far to trust it.

    ``value`` is None only for "tried, not able"; ``remarks`` say what could not be computed and
    why; ``is_in_range`` is false outside the population the equation was derived in.
    """

    value: float | None
    unit: str
    derived: tuple[Derived, ...] = ()
    interpretation: str = ""
    reference: str = ""
    remarks: tuple[str, ...] = ()
    is_in_range: bool = True


@dataclass(frozen=True)
class MeaningfulChange:
    """A change that matters to patients; an equal change counts as reaching it."""

    amount: float
    population: str
    source: str


@dataclass(frozen=True)
class Measure:
    key: str
    name: str
    unit: str
    inputs: tuple[Input, ...]
    score: Callable[[Inputs, Person, date], Result]
    direction: Direction
    version: str
    citation: str
    digits: int = 0
    meaningful_change: MeaningfulChange | None = None
    # Below this a change of one person cannot be told from the error of measuring.
    detectable_change: MeaningfulChange | None = None
    # From here on a change is large as well, where one population was asked about both.
    substantial_change: MeaningfulChange | None = None
    loinc: str = ""
    plain: str = ""  # what is measured, to the patient; empty where a number tells a person nothing
    # From the first on, and not below the second, a change is better or worse, else up or down.
    judged_from: float | None = None
    judged_down_to: float | None = None
    # An input that, once given, says that the test was not done to its end.
    cut_short: str = ""
    # Values that are kinds, not amounts, with their words: they have no number and no difference.
    categories: tuple[tuple[int, str], ...] = ()
    # Inputs that define the variant of the test: results compare only where these agree.
    variant_inputs: tuple[str, ...] = ()
    # What may be, and is so rare that the person typing is asked about it.
    odd: Callable[[Inputs], tuple[str, ...]] = field(default=lambda inputs: ())
    # A safety sentence raised at once, whatever the score and even on a partial form.
    alert: Callable[[Inputs], str] = field(default=lambda inputs: "")

    @property
    def is_questionnaire(self) -> bool:
        """Every input is an item to answer."""
        return len(self.inputs) > 3 and all(e.options or e.is_yes_no for e in self.inputs)

    @property
    def equations(self) -> tuple[tuple[int, str], ...]:
        """The reference equations to choose from, the usual one first; empty where there is one."""
        return next((entry.options for entry in self.inputs if entry.key == EQUATION), ())

    @property
    def error_population(self) -> str:
        """In whom the error was found, where the meaningful change was found in other people."""
        meaning, error = self.meaningful_change, self.detectable_change
        if meaning is None or error is None or meaning.population == error.population:
            return ""
        return error.population

    def shown(self, value: float | None, digits: int | None = None) -> str:
        """A value of this measure for people.

        Parameters
        ----------
        value : a result. [unit of the measure], None when not able
        digits : decimals; None for the usual ones of the measure.

        Returns
        -------
        The number, the word of a category, or "not able".

        Raises
        ------
        KeyError : a category that is not offered.
        """
        if value is None:
            return "not able"
        if self.categories:
            return dict(self.categories)[int(value)]
        return f"{value:.{self.digits if digits is None else digits}f}"

    def variant_of(self, inputs: Inputs) -> tuple[float | bool | None, ...]:
        """How a test was done and scored; no equation chosen is the usual one.

        Parameters
        ----------
        inputs : what was typed, by key.

        Returns
        -------
        One entry for each of ``variant_inputs``, None where it was left empty.
        """
        usual = {EQUATION: self.equations[0][0]} if self.equations else {}
        return tuple(
            usual.get(key) if inputs.get(key) is None else inputs[key]
            for key in self.variant_inputs
        )

    def _is_judged(self, before: float | None, after: float | None) -> bool:
        if self.judged_from is None or before is None or after is None:
            return True
        low = self.judged_down_to if self.judged_down_to is not None else after
        return max(before, after) >= self.judged_from and after >= low

    def change(self, before: float, after: float) -> float:
        """After minus before, to three decimals: in binary 1.00 - 0.90 falls short of 0.10.

        Parameters
        ----------
        before, after : values of this measure. [its unit]

        Returns
        -------
        Change. [unit of the measure]
        """
        return round(after - before, 3)

    def is_meaningful(self, change: float) -> bool | None:
        """Does the change reach the meaningful one, either way?

        Parameters
        ----------
        change : after minus before. [unit of the measure]

        Returns
        -------
        True when it is reached or passed; None when no meaningful change is known.
        """
        if self.meaningful_change is None:
            return None
        return abs(change) >= self.meaningful_change.amount

    def is_substantial(self, change: float) -> bool:
        """Does the change reach one that is called substantial, either way?

        Parameters
        ----------
        change : after minus before. [unit of the measure]

        Returns
        -------
        True when it is reached or passed; False also where none is known.
        """
        large = self.substantial_change
        return large is not None and abs(change) >= large.amount

    def exceeds_error(self, change: float) -> bool | None:
        """Can the change be told from the error of measuring?

        Parameters
        ----------
        change : after minus before. [unit of the measure]

        Returns
        -------
        True when the detectable change is reached or passed; None when none is known.
        """
        if self.detectable_change is None:
            return None
        return abs(change) >= self.detectable_change.amount

    def word_for(
        self, change: float, before: float | None = None, after: float | None = None
    ) -> str:
        """Better, worse or no direction.

        The values decide where only a part of the scale has a direction: a pressure that was never
        high does not get better by falling.

        Parameters
        ----------
        change : after minus before. [unit of the measure]
        before, after : the values, None where unknown: then the change alone decides. [same unit]

        Returns
        -------
        "same", "better", "worse", or where neither end is better "up" and "down", of a category
        "changed".
        """
        if change == 0:
            return "same"
        if self.direction is Direction.NEITHER or not self._is_judged(before, after):
            return "changed" if self.categories else "up" if change > 0 else "down"
        return "better" if change * self.direction > 0 else "worse"


def number(inputs: Inputs, key: str, limit: Limit) -> float | None:
    """One typed number within its limits.

    Parameters
    ----------
    inputs : what was typed, by key.
    key : which input.
    limit : hard limits of the quantity. [its unit]

    Returns
    -------
    The number [unit of the limit], or None when it was left empty.

    Raises
    ------
    OutOfRange : it is impossible.
    """
    value = inputs.get(key)
    return None if value is None else limit.check(float(value))


def needed(inputs: Inputs, key: str, limit: Limit) -> float:
    """One typed number without which nothing can be scored.

    Parameters
    ----------
    inputs : what was typed, by key.
    key : which input.
    limit : hard limits of the quantity. [its unit]

    Returns
    -------
    The number. [unit of the limit]

    Raises
    ------
    NotScorable : it was left empty.
    OutOfRange : it is impossible.
    """
    value = number(inputs, key, limit)
    if value is None:
        raise NotScorable(f"{limit.name} is missing.")
    return value


def by_sex(sex: str, men: T, women: T, source: str) -> T:
    """The value for men or for women, never guessed.

    Parameters
    ----------
    sex : "female" or "male".
    men, women : the two values.
    source : what needs the sex, for the message.

    Returns
    -------
    ``men`` or ``women``.

    Raises
    ------
    NotScorable : the sex is not recorded.
    """
    if sex == "male":
        return men
    if sex == "female":
        return women
    raise NotScorable(f"{source} needs the sex for reference equations.")


def at_age(table: Iterable[tuple[int, int, T]], age: int, source: str) -> T:
    """The row of a table for an age.

    Parameters
    ----------
    table : at least one row of (from, to, value), both ends included. [years]
    age : [years], within the table
    source : whose table it is, for the message.

    Returns
    -------
    The value of the first row that holds the age.

    Raises
    ------
    NotScorable : no row holds the age.
    """
    rows = list(table)
    for low, high, value in rows:
        if low <= age <= high:
            return value
    raise NotScorable(f"{source} covers {rows[0][0]} to {rows[-1][1]} years, not {age}.")


def check_age(age: int, low: int, high: int, source: str) -> None:
    """Refuse an age the equation was not derived for.

    Parameters
    ----------
    age : [years], from ``low`` to ``high``
    low, high : ends of the range, both included. [years]
    source : whose equation it is, for the message.

    Raises
    ------
    NotScorable : the age lies outside.
    """
    if not low <= age <= high:
        raise NotScorable(f"{source} was derived for {low} to {high} years, not {age}.")


def sensible(value: float, limit: Limit, source: str) -> float:
    """A predicted value, unless the equation was led outside the bodies it was derived for.

    Parameters
    ----------
    value : what the equation gives. [unit of the limit]
    limit : what a prediction for healthy people can be. [its unit]
    source : whose equation it is, for the message.

    Returns
    -------
    The value unchanged. [unit of the limit]

    Raises
    ------
    NotScorable : the value lies outside.
    """
    if not limit.low <= value <= limit.high:
        raise NotScorable(f"{source} gives no sensible value for this height and weight.")
    return value


def attempt(remarks: list[str], what: str, compute: Callable[[], T]) -> T | None:
    """A reference that may not apply; only NotScorable is caught.

    Parameters
    ----------
    remarks : takes the reason when there is no value.
    what : begins the remark, such as "No norm".
    compute : gives the value or raises.

    Returns
    -------
    The value, or None with the reason among the remarks.
    """
    try:
        return compute()
    except NotScorable as error:
        remarks.append(f"{what}: {error}")
        return None
