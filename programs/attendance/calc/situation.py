"""What the safety rules judge: the sheet of one visit beside what is known of the person.

A rule reads the two directly, or a value derived here. A derived value that cannot be known is
None: not checked, never normal. Limits and their sources stand with the rules; how a value is
derived is a project choice.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from programs.attendance.calc.effort import Load, cost_of
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import (
    SIGNS,
    SYMPTOMS,
    SYMPTOMS_IN_HEART_FAILURE,
    Answers,
    any_of,
)
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals


@dataclass(frozen=True)
class Known:
    """What is known of the person that the rules need, from wherever it was recorded.

    ``where`` names the places that tell a fact, by the name of its field.
    """

    uses_insulin: bool = False  # or a secretagogue
    has_diabetes: bool = False  # whatever is taken for it
    has_beta_blocker: bool = False
    has_heart_failure: bool = False
    nyha: int | None = None
    has_pacemaker: bool = False
    has_icd: bool = False
    detection_bpm: int | None = None  # lowest rate at which a device would treat
    weights_last_3_days_kg: tuple[float, ...] = ()
    last_weight_kg: float | None = None  # for workloads, when none was taken today
    replaced_glucose: tuple[Glucose, ...] = ()  # before exercise, beside what the sheet shows
    other_glucose_24h: tuple[Glucose, ...] = ()  # of this visit's later moments and other visits
    needed_help_24h: bool = False  # at an earlier visit, or as an event
    days_since_event: int | None = None
    days_since_mi: int | None = None
    entry_answers: Mapping[str, bool] | None = None  # None: no entry screen since the last event
    entry_says_start: bool | None = None
    was_interrupted: bool = False  # an earlier hold or stop whose return is not confirmed
    events_to_review: tuple[str, ...] = ()  # on the floor, before this exercise
    other_events_to_review: tuple[str, ...] = ()
    upper_limit_bpm: float | None = None
    where: Mapping[str, str] = field(default_factory=dict)

    @property
    def groups(self) -> frozenset[str]:
        """Who somebody is, for questions asked of some only."""
        marks = {
            "heart failure": self.has_heart_failure,
            "insulin": self.uses_insulin,
            "diabetes": self.has_diabetes or self.uses_insulin,
            "icd": self.has_icd,
        }
        return frozenset(name for name, is_so in marks.items() if is_so)


@dataclass(frozen=True)
class Situation:
    """One visit at the moment it is judged; None means not measured or not asked."""

    sheet: Sheet = field(default_factory=Sheet)
    known: Known = field(default_factory=Known)
    has_exercised: bool = False
    is_over: bool = False
    minutes_running: int = 0  # by the clock since exercise began, to its end or to now
    minutes_since_glucose: int | None = None  # by the clock; None: not measured since it began

    @property
    def before(self) -> Vitals:
        """Vital signs before exercise."""
        return self.sheet.before

    @property
    def during(self) -> Vitals:
        """Vital signs in exercise that belong to no bout: glucose."""
        return self.sheet.during

    @property
    def after(self) -> Vitals:
        """Vital signs straight after exercise."""
        return self.sheet.after

    @property
    def recovery(self) -> Vitals:
        """Vital signs before leaving."""
        return self.sheet.recovery

    @property
    def rhythm(self) -> Rhythm:
        """What staff saw on the monitor."""
        return self.sheet.rhythm

    @property
    def answers(self) -> Answers:
        """Question and answer; what is not in it was not asked."""
        return self.sheet.answers

    @property
    def has_symptoms(self) -> bool | None:
        """Any symptom among the questions before exercise; None while one is not answered."""
        asked = SYMPTOMS_IN_HEART_FAILURE if self.known.has_heart_failure else SYMPTOMS
        return any_of(self.answers, asked)

    @property
    def has_signs(self) -> bool | None:
        """Any sign or symptom in exercise under the load that is judged.

        Angina or breathlessness above grade 0, unsteady, pale or wheeze. None while one of them is
        open and none is a yes.
        """
        load = self.last_load
        grades = [None if g is None else g > 0 for g in (load.angina, load.dyspnoea)]
        seen = [*grades, *[self.answers.get(key) for key in SIGNS]]
        return True if any(seen) else None if None in seen else False

    @property
    def lowest_glucose_before(self) -> Glucose | None:
        """The lowest before exercise, values that a recheck replaced included. [mg/dL]"""
        known = [g for g in (self.before.glucose, *self.known.replaced_glucose) if g is not None]
        return min(known, default=None)

    @property
    def lowest_glucose_since_start(self) -> Glucose | None:
        """The lowest since exercise began, values that a recheck replaced included. [mg/dL]"""
        known = [vitals.glucose for vitals in (self.during, self.after, self.recovery)]
        known += [glucose for _, glucose in self.sheet.rechecks]
        return min((glucose for glucose in known if glucose is not None), default=None)

    @property
    def lowest_glucose_24h(self) -> Glucose | None:
        """The lowest of 24 hours, at whichever visit. [mg/dL]"""
        here = (self.lowest_glucose_before, self.lowest_glucose_since_start)
        known = [*here, *self.known.other_glucose_24h]
        return min((glucose for glucose in known if glucose is not None), default=None)

    @property
    def minutes_exercised(self) -> int:
        """What was done so far. [min]"""
        return sum(load.minutes or 0 for load in self.sheet.done)

    @property
    def loads(self) -> list[Load]:
        """Loads under which something was measured, in order."""
        return [load for load in self.sheet.bouts if load.is_measured]

    @property
    def last_load(self) -> Load:
        """The load that is judged; an empty one before any."""
        return self.loads[-1] if self.loads else Load()

    def mets_of(self, load: Load) -> float | None:
        """What a load costs this person.

        Parameters
        ----------
        load : one of the visit, its workload set.

        Returns
        -------
        Multiples of rest. [METs]; None when the workload cannot be computed.

        Raises
        ------
        OutOfRange : the workload or the body mass lies outside its limits.
        """
        weight = self.before.weight_kg
        cost = cost_of(load, self.known.last_weight_kg if weight is None else weight)
        return cost.mets if cost else None

    def at_each_load(self) -> list[tuple[int, "Situation"]]:
        """The visit as it was under each load, with the place of its bout from 1.

        Returns
        -------
        Situations of which ``last_load`` is the one to judge.
        """
        bouts = self.sheet.bouts
        return [
            (place, replace(self, sheet=replace(self.sheet, bouts=bouts[:place])))
            for place, load in enumerate(bouts, start=1)
            if load.is_measured
        ]
