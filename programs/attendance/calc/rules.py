"""Who should not start today, who must stop now: rules as data, judged by a pure function.

A rule reads one fact, compares it with a limit and has a level and a plain sentence. Its operator
is stored with the number, since published lists disagree at the exact boundary. A finding supports
the clinician in the room and decides nothing. What could not be checked is reported as missing,
never as normal. The rules themselves stand in ``rules_before.py``, ``rules_glucose.py``,
``rules_during.py`` and ``rules_after.py``; ``catalogue.py`` holds them all. Each names its source;
how they are judged, ranked and worded is a project choice.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from patients.calc.limits import Limit
from programs.attendance.calc.levels import OPERATORS, Level, Phase
from programs.attendance.calc.quantities import Glucose, Mass
from programs.attendance.calc.situation import Situation

PROGRAM_DEFAULT = "program default"


class Settled(StrEnum):
    """Who may take a hold for settled when its rule no longer triggers."""

    FLOOR = "floor"  # floor staff: a value measured again inside the limit
    RECORD = "record"  # nobody: the record says otherwise now
    CLINICIAN = "clinician"


def everybody(s: Situation) -> bool:
    """A condition that always holds, for rules that apply to everybody.

    Parameters
    ----------
    s : the visit as it is judged.

    Returns
    -------
    True.
    """
    return True


@dataclass(frozen=True)
class Rule:
    """One limit.

    ``sentence`` may use {value} and {limit}. ``applies`` says for whom, None when that is not
    known: the rule is then neither raised nor settled. ``asks_when`` says whether a missing
    reading is asked for (what is there is judged all the same), ``wants`` which reading is asked
    for where another may be judged in its place. ``bounds`` within which a site may set the
    limit, None for a yes-or-no rule. ``of`` tells rules of one id apart: of each id and ``of``
    only the worst finding stands. A rule of every load (``is_each_load``) reads the last load
    and is judged once for each, so that a later danger never hides behind an earlier one.
    ``mmoll`` is the limit as published for meters that show mmol/L. ``asks_whether`` names what
    decides whether it applies, asked for when the reading is beyond the limit. ``vital`` is the
    vital sign it reads: measured again inside the limit, it settles a hold. ``detail`` puts words
    of the record into the sentence, as {detail}. What a clinician has to pass by is marked with
    ``needs_clinician``.
    """

    id: str
    phase: Phase
    level: Level
    reads: Callable[[Situation], float | None]
    compare: str
    limit: float
    sentence: str
    source: str
    asks_for: str  # what is missing when there is nothing to read
    applies: Callable[[Situation], bool | None] = field(default=everybody)
    asks_when: Callable[[Situation], bool] = field(default=everybody)
    wants: Callable[[Situation], object | None] | None = None
    of: str = ""
    is_each_load: bool = False
    bounds: Limit | None = None
    mmoll: float | None = None
    is_local: bool = False
    is_emergency: bool = False
    origin: str = PROGRAM_DEFAULT
    asks_whether: str = ""
    vital: str = ""
    is_of_record: bool = False
    detail: Callable[[Situation], str] | None = None
    needs_clinician: bool = False
    site_says: Settled | None = None  # who may take a hold for settled here

    @property
    def settled_by(self) -> Settled:
        """Who may take a hold of this rule for settled: the site's own word, else the usual."""
        if self.is_of_record:
            return Settled.RECORD
        if self.site_says:
            return self.site_says
        return Settled.FLOOR if self.vital else Settled.CLINICIAN

    @property
    def key(self) -> str:
        """What a site's or a person's own limit refers to."""
        return "-".join(part for part in (self.id, self.of, self.level.word) if part)

    @property
    def subject(self) -> tuple[str, str]:
        """What it judges, its id and ``of``; only the worst finding of a subject stands."""
        return self.id, self.of

    def moments(self, situation: Situation) -> list[tuple[int, Situation]]:
        """What to judge: the visit as it was under each load, or as a whole.

        Parameters
        ----------
        situation : the visit as it is judged.

        Returns
        -------
        Place and situation: from 1 for each measured load, 0 for the whole visit. Empty when a rule
        of every load finds none measured.
        """
        return situation.at_each_load() if self.is_each_load else [(0, situation)]

    def triggers(self, value: float) -> bool:
        """Whether a reading is beyond the limit, by the rule's own operator.

        Parameters
        ----------
        value : what the rule read. [unit of the rule]

        Returns
        -------
        True when it is. Glucose of a meter in mmol/L is compared with the rule's limit in mmol/L,
        where there is one.
        """
        if isinstance(value, Glucose) and value.is_mmoll and self.mmoll is not None:
            return OPERATORS[self.compare](value.mmoll, self.mmoll)
        return OPERATORS[self.compare](value, self.limit)

    def is_tighter(self, limit: float) -> bool:
        """Whether a limit catches more than this rule's own.

        Parameters
        ----------
        limit : another limit. [unit of the rule]

        Returns
        -------
        True when it is higher and the rule looks for less, or lower and it looks for more; never
        when equal.
        """
        return limit > self.limit if self.compare == "<" else limit < self.limit

    def words(self, value: float, detail: str = "") -> str:
        """The finding in one sentence, with the reading and the limit in it.

        Parameters
        ----------
        value : what the rule read. [unit of the rule]
        detail : what the record says, for a sentence that has a place for it.

        Returns
        -------
        The sentence; glucose and mass in both of their units, the meter's own first.
        """
        limit: float = self.limit
        if self.mmoll is not None:
            limit = Glucose(self.limit, is_mmoll=isinstance(value, Glucose) and value.is_mmoll)
        elif isinstance(value, Mass):
            limit = Mass(self.limit)
        return self.sentence.format(value=value, limit=limit, detail=detail)


@dataclass(frozen=True)
class Triggered:
    """A rule that triggered, before anybody stored or answered it."""

    rule_id: str
    level: Level
    phase: Phase
    value: float
    limit: float
    sentence: str
    source: str
    of: str = ""
    origin: str = PROGRAM_DEFAULT
    is_emergency: bool = False

    @property
    def subject(self) -> tuple[str, str]:
        """What it tells of; only the worst finding of a subject stands."""
        return self.rule_id, self.of


@dataclass(frozen=True)
class Missing:
    """A rule that could not be checked, and what it needs."""

    rule_id: str
    phase: Phase
    asks_for: str
    needs_clinician: bool = False  # to pass it by


@dataclass(frozen=True)
class Evaluation:
    findings: list[Triggered]  # worst first
    missing: list[Missing]
    checked: frozenset[tuple[str, str]] = frozenset()  # subjects that had something to read

    @property
    def worst(self) -> Level | None:
        """The level of the worst finding; None without findings, checked or not."""
        return self.findings[0].level if self.findings else None


def evaluate(rules: Sequence[Rule], situation: Situation) -> Evaluation:
    """Judge a visit by the rules: the worst finding of each subject, and what is missing.

    Rules of exercise are only missing once it has begun, those of recovery once it is over. A
    subject is checked when it had something to read and nobody left open whether a rule applies.

    Parameters
    ----------
    rules : the rules in force.
    situation : the visit as it is judged.

    Returns
    -------
    Findings, the worst first, emergencies first within a level; what is missing; what was checked.

    Raises
    ------
    OutOfRange : a workload or body mass lies outside its limits.
    """
    waits = {
        Phase.BEFORE: True,
        Phase.DURING: situation.has_exercised,
        Phase.AFTER: situation.is_over,
    }
    worst: dict[tuple[str, str], Triggered] = {}
    missing: dict[tuple[str, str], Missing] = {}
    checked: set[tuple[str, str]] = set()
    undecided: set[tuple[str, str]] = set()

    def ask(rule: Rule, words: str) -> None:
        if words and waits[rule.phase]:
            wanted = Missing(rule.id, rule.phase, words, rule.needs_clinician)
            missing.setdefault((rule.id, words), wanted)

    for rule in rules:
        moments = [(place, at, rule.applies(at)) for place, at in rule.moments(situation)]
        moments = [moment for moment in moments if moment[2] is not False]
        if not moments and rule.applies(situation) is False:
            continue
        values = [
            (place, at, applies, value)
            for place, at, applies in moments
            if (value := rule.reads(at)) is not None
        ]
        is_open = any(applies is None for _, _, applies in moments)
        is_there = bool(values) if rule.wants is None else rule.wants(situation) is not None
        if not is_there and not is_open and rule.asks_when(situation):
            ask(rule, rule.asks_for)
        for place, at, applies, value in values:
            found = _finding(rule, value, place, at)
            is_beyond = rule.triggers(value)
            if applies is None:
                if is_beyond:
                    undecided.add(found.subject)
                    ask(rule, rule.asks_whether)
                continue
            checked.add(found.subject)
            before = worst.get(found.subject)
            if is_beyond and (before is None or rule.level > before.level):
                worst[found.subject] = found
    ranked = sorted(worst.values(), key=lambda f: (-f.level, not f.is_emergency, f.rule_id, f.of))
    return Evaluation(ranked, list(missing.values()), frozenset(checked - undecided))


def about(of: str, place: int) -> str:
    """What a finding is about: the part of its rule, and at which load.

    Parameters
    ----------
    of : part of the rule, as ``Rule.of``; may be empty.
    place : place of the bout, from 1; 0 for the whole visit.

    Returns
    -------
    ``of``, followed by "@" and the place where there is one.
    """
    return f"{of}@{place}" if place else of


SENTENCE_LENGTH = 250  # of a stored finding


def _finding(rule: Rule, value: float, place: int, at: Situation) -> Triggered:
    words = rule.words(value, rule.detail(at) if rule.detail else "")
    return Triggered(
        rule.id,
        rule.level,
        rule.phase,
        float(value),
        rule.limit,
        (f"Bout {place}: {words}" if place else words)[:SENTENCE_LENGTH],
        rule.source,
        about(rule.of, place),
        rule.origin,
        rule.is_emergency,
    )


def in_words(missing: Iterable[Missing]) -> list[str]:
    """What to ask for, each once.

    Parameters
    ----------
    missing : what could not be checked.

    Returns
    -------
    One line for each thing to ask for, in the order first met.
    """
    return list(dict.fromkeys(m.asks_for for m in missing))


def with_rules(missing: Iterable[Missing]) -> list[str]:
    """What to ask for, each once, with the rules that wait for it.

    Parameters
    ----------
    missing : what could not be checked.

    Returns
    -------
    One line for each thing to ask for, in the order of ``in_words``.
    """
    waiting: dict[str, list[str]] = {}
    for m in missing:
        ids = waiting.setdefault(m.asks_for, [])
        if m.rule_id not in ids:
            ids.append(m.rule_id)
    return [f"{asks_for} ({', '.join(ids)})" for asks_for, ids in waiting.items()]
