"""What a step of a dose is proposed from, for a whole class in a constant number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Max, Q, Sum

from assessments.calc.strength import EXERCISES, ONE_REPETITION
from assessments.models import Measurement
from patients.models import BodyWeight
from programs.attendance.calc.effort import NEEDS_NO_METS
from programs.attendance.calc.levels import Level
from programs.attendance.models import Bout, Finding, Interruption, Visit
from programs.attendance.paper.known import records_of
from programs.enrolment.models import Enrolment
from programs.prescription.calc.basis import why_review
from programs.prescription.calc.dose import Signed
from programs.prescription.calc.from_results import CAPACITIES
from programs.prescription.calc.lifts import Lift, key_of, lifts_of
from programs.prescription.calc.strength import BY_KEY
from programs.prescription.models import Prescription, StepAnswer
from programs.prescription.queries_known import basis_from, written_of
from programs.prescription.queries_signed import signed_of
from programs.review.calc.lifting import Lifted, Training
from programs.review.calc.next_step import RAISES, next_step, without_raise
from programs.review.calc.progression import WEEK_DAYS, Day, Dose, Most, Proposal, Step

State = Visit.State


@dataclass(frozen=True)
class Line:
    """One person: the dose in force, what is proposed, and what was decided on it."""

    enrolment: Enrolment
    dose: Prescription | None
    signed: Signed | None = None
    proposal: Proposal | None = None
    answer: StepAnswer | None = None

    @property
    def is_open(self) -> bool:
        """Something is proposed and nobody has decided on it."""
        return self.proposal is not None and self.proposal.changes and self.answer is None

    @property
    def words(self) -> str:
        """What is proposed, in words: how long and how hard it was and would be."""
        if self.proposal is None or self.dose is None or not self.proposal.changes:
            return ""
        told = []
        if self.proposal.minutes != self.dose.minutes:
            told.append(f"{self.dose.minutes} → {self.proposal.minutes} min")
        if self.proposal.mets != self.dose.target_mets:
            told.append(f"{self.dose.target_mets:g} → {self.proposal.mets:g} METs")
        if self.proposal.strength != self.dose.strength:
            told.append(f"{BY_KEY[self.proposal.strength].name} resistance")
        return ", ".join(told)

    @property
    def changed_lifts(self) -> list[tuple[Lift | None, Lift]]:
        """Each lift that would change, with the one in force; None for one not prescribed yet."""
        if self.proposal is None or self.dose is None or not self.proposal.changes:
            return []
        before = {key_of(lift.exercise): lift for lift in lifts_of(self.dose.lifts)}
        pairs = [(before.get(key_of(lift.exercise)), lift) for lift in self.proposal.lifts]
        return [(old, new) for old, new in pairs if old != new]


def lines_of(courses: Sequence[Enrolment], today: date) -> list[Line]:
    """The lines of these courses, in their order. Patient and site must be at hand."""
    keys = [course.pk for course in courses]
    doses = {d.enrolment_id: d for d in Prescription.objects.in_force(today).filter(
        enrolment__in=keys)}  # fmt: skip
    signed = _signed(keys)
    visits = _visits(keys)
    days, sets = days_of(visits), sets_of(visits)
    maxima, raised = _maxima(keys), _raised_last(keys)
    answers = _answers(doses.values(), today)
    changed = _changed([course for course in courses if course.pk in doses], doses, today)
    found = []
    for course in courses:
        dose = doses.get(course.pk)
        if dose is None:
            found.append(Line(course, None))
            continue
        limits = signed.get(course.pk)
        numbers = numbers_of(dose)
        most = Most(limits.minutes, limits.mets) if limits is not None else None
        training = training_of(dose, limits)
        proposal = next_step(
            numbers,
            most,
            days.get(course.pk, []),
            today,
            training=training,
            sets=sets.get(course.pk, []),
            maxima=maxima.get(course.pk),
            raised_last=raised.get(course.pk),
        )
        for why in changed.get(course.pk, ()):
            words = f"Review the dose first: {why}."
            proposal = without_raise(proposal, numbers, words, training)
        found.append(Line(course, dose, limits, proposal, answers.get(dose.pk)))
    return found


def numbers_of(dose: Prescription) -> Dose:
    """A stored dose as far as it is raised or lowered."""
    return Dose(
        dose.valid_from,
        dose.minutes,
        dose.target_mets,
        dose.rpe_low,
        dose.rpe_high,
        dose.high_bpm,
    )


def training_of(dose: Prescription, signed: Signed | None) -> Training | None:
    """The resistance in force; None where none is prescribed."""
    if not dose.strength:
        return None
    most = signed.strength if signed is not None else ""
    return Training(dose.strength, most, lifts_of(dose.lifts))


def _signed(courses: Iterable[int]) -> dict[int, Signed]:
    """The limits a physician signed last, by course."""
    rows = Prescription.objects.signed().filter(enrolment__in=courses)
    latest: dict[int, Prescription] = {}
    for row in rows:  # the latest first
        latest.setdefault(row.enrolment_id, row)
    return {course: limits for course, row in latest.items() if (limits := signed_of(row))}


def _answers(doses: Iterable[Prescription], today: date) -> dict[int, StepAnswer]:
    """What was decided this week upon each dose; a step that was left comes again after a week."""
    since = today - timedelta(days=WEEK_DAYS)
    by_course = {dose.enrolment_id: dose for dose in doses}
    rows = StepAnswer.objects.filter(enrolment__pk__listed=by_course, on__gt=since)
    found: dict[int, StepAnswer] = {}
    for row in sorted(rows.prefetch_related("by").order_by(), key=lambda row: (row.at, row.pk)):
        dose = by_course[row.enrolment_id]
        if row.prescription_id == dose.pk or (row.prescription_id is None and row.at >= dose.at):
            found[dose.pk] = row
    return found


def _raised_last(courses: Iterable[int]) -> dict[int, Step]:
    """What was raised last in each course."""
    rows = StepAnswer.objects.filter(enrolment__in=courses, step__in=RAISES)
    taken = rows.exclude(answer=StepAnswer.Answer.LEFT).order_by("at", "pk")
    return {course: Step(step) for course, step in taken.values_list("enrolment", "step")}


def _maxima(courses: Iterable[int]) -> dict[int, dict[str, float]]:
    """The one-repetition maximum tested last, of each exercise by name. [kg]"""
    names = {value: words for value, words in EXERCISES if words != "other"}
    rows = (
        Measurement.objects.standing()
        .filter(assessment__enrolment__in=courses, key=ONE_REPETITION.key)
        .order_by("assessment__performed_on", "pk")
        .values_list("assessment__enrolment", "inputs", "value")
    )
    found: dict[int, dict[str, float]] = defaultdict(dict)
    for course, inputs, kg in rows:
        name = names.get(inputs.get("exercise"))
        if name is not None and kg is not None:
            found[course][key_of(name)] = kg
    return found


Came = Sequence[tuple[int, int, date, str]]  # visit, course, day, state


def _visits(courses: Iterable[int]) -> Came:
    """The visits at which somebody came."""
    came = [State.HELD, *Visit.EXERCISED]
    rows = Visit.objects.filter(enrolment__in=courses, state__in=came).order_by("on", "pk")
    return list(rows.values_list("pk", "enrolment", "on", "state"))


def sets_of(visits: Came) -> dict[int, list[Lifted]]:
    """What was lifted in each course."""
    when = {pk: (course, on) for pk, course, on, _ in visits}
    rows = Bout.objects.filter(
        visit__in=list(when), activity=Bout.Activity.STRENGTH, is_withdrawn=False
    ).exclude(exercise="")
    done: dict[int, list[Lifted]] = defaultdict(list)
    names = ("exercise", "repetitions", "load_kg", "in_reserve", "rpe")
    for visit, *values in rows.order_by("visit", "place").values_list("visit", *names):
        course, on = when[visit]
        done[course].append(Lifted(on, *values))
    return done


def days_of(visits: Came) -> dict[int, list[Day]]:
    """The days of each course on which somebody came: three queries.

    A hold counts as a day without exercise. Of what was measured the highest counts, of what was
    found the worst, also where a later reading was better.
    """
    keys = [pk for pk, *_ in visits]
    bouts = {row["visit"]: row for row in _bouts(keys)}
    worst = _worst(keys)
    days: dict[int, list[Day]] = defaultdict(list)
    for pk, course, on, state in visits:
        done = bouts.get(pk, {})
        level, sentence = worst.get(pk, ("", ""))
        days[course].append(
            Day(
                on,
                exercised=state != State.HELD,
                minutes=done.get("minutes"),
                rpe=done.get("rpe"),
                heart_rate_bpm=done.get("rate"),
                level=level,
                finding=sentence,
            )
        )
    return days


def _bouts(visits: list[int]) -> Any:
    """Of each visit the aerobic minutes, and the highest rate and exertion of them."""
    standing = Bout.objects.filter(visit__in=visits, is_withdrawn=False)
    aerobic = standing.exclude(activity__in=NEEDS_NO_METS).order_by()
    return aerobic.values("visit").annotate(
        minutes=Sum("minutes"), rpe=Max("rpe"), rate=Max("heart_rate_bpm")
    )


def _worst(visits: list[int]) -> dict[int, tuple[str, str]]:
    """Of each visit the worst that was found or decided, in words."""
    worst: dict[int, tuple[int, str]] = {}
    for visit, level, sentence in (
        Finding.objects.filter(visit__in=visits, level__gte=Level.CAUTION)
        .order_by("pk")
        .values_list("visit", "level", "sentence")
    ):
        worst[visit] = max(worst.get(visit, (0, "")), (level, sentence))
    decided: dict[str, Level] = {"hold": Level.HOLD, "stop": Level.STOP}
    for visit, kind, seen in (
        Interruption.objects.filter(visit__in=visits, is_taken_back=False)
        .order_by("pk")
        .values_list("visit", "kind", "seen")
    ):
        level = decided[kind]
        if level >= worst.get(visit, (0, ""))[0]:
            worst[visit] = (level, seen)
    held = Visit.objects.filter(Q(state=State.HELD) | Q(state=State.STOPPED), pk__in=visits)
    for visit, state in held.values_list("pk", "state"):
        level = Level.HOLD if state == State.HELD else Level.STOP
        if level > worst.get(visit, (0, ""))[0]:
            worst[visit] = (level, "not documented")
    return {pk: (Level(level).word, sentence) for pk, (level, sentence) in worst.items()}


def _changed(
    courses: Sequence[Enrolment], doses: dict[int, Prescription], today: date
) -> dict[int, tuple[str, ...]]:
    """Why a dose wants to be looked at again, by course: four queries for all of them."""
    people = [course.patient_id for course in courses]
    if not people:
        return {}
    zone = courses[0].patient.site.now().tzinfo
    records = records_of(dict.fromkeys(people), zone)
    weights: dict[int, float] = {}
    standing = BodyWeight.objects.standing().filter(patient__in=people).newest_first()
    for patient, kg in standing.values_list("patient", "kg"):
        weights.setdefault(patient, kg)
    tests = dict(
        Measurement.objects.standing()
        .filter(assessment__enrolment__in=doses, key__in=CAPACITIES)
        .order_by()
        .values_list("assessment__enrolment")
        .annotate(Max("assessment__performed_on"))
    )
    found = {}
    for course in courses:
        record, weight = records[course.patient_id], weights.get(course.patient_id)
        now = basis_from(record, today, weight, tests.get(course.pk))
        found[course.pk] = why_review(written_of(doses[course.pk], zone), now)
    return found


def counts_of(lines: Iterable[Line]) -> dict[Step, int]:
    """How many lines propose what."""
    found: dict[Step, int] = dict.fromkeys(Step, 0)
    for line in lines:
        if line.proposal is not None:
            found[line.proposal.step] += 1
    return found
