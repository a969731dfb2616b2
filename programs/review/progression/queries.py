"""What a step of a dose is proposed from, for a whole class in a constant number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Max

from assessments.models import Measurement
from patients.models import BodyWeight
from programs.attendance.paper.known import records_of
from programs.enrolment.models import Enrolment
from programs.prescription.calc.basis import why_review
from programs.prescription.calc.dose import Signed
from programs.prescription.calc.from_results import CAPACITIES
from programs.prescription.calc.lifts import Lift, key_of
from programs.prescription.calc.strength import BY_KEY
from programs.prescription.models import Prescription, StepAnswer
from programs.prescription.queries_known import basis_from, written_of
from programs.prescription.queries_signed import signed_of
from programs.review.calc.lifting import Training
from programs.review.calc.next_step import RAISES, next_step, without_raise
from programs.review.calc.progression import WEEK_DAYS, Dose, Most, Proposal, Step
from programs.review.progression.happened import (
    days_of,
    maxima_of,
    precautions_of,
    sets_of,
    visits_of,
)


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
    def signed_stage(self) -> str:
        """How heavy resistance may become under the signature; "" for none."""
        stage = BY_KEY.get(self.signed.strength) if self.signed is not None else None
        return stage.name if stage else ""

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
        before = {key_of(lift.exercise): lift for lift in self.dose.lift_rows}
        pairs = [(before.get(key_of(lift.exercise)), lift) for lift in self.proposal.lifts]
        return [(old, new) for old, new in pairs if old != new]


def lines_of(courses: Sequence[Enrolment], today: date) -> list[Line]:
    """The lines of these courses, in their order. Patient and site must be at hand."""
    keys = [course.pk for course in courses]
    doses = {d.enrolment_id: d for d in Prescription.objects.in_force(today).filter(
        enrolment__in=keys)}  # fmt: skip
    signed = _signed(keys)
    visits = visits_of(keys)
    days, sets = days_of(visits), sets_of(visits)
    precautions = precautions_of([course.patient_id for course in courses])
    maxima, raised = maxima_of(keys), _raised_last(keys)
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
        training = training_of(dose, limits, today, precautions.get(course.patient_id, ()))
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
        if training is None:  # not yet, or none: a step leaves what is prescribed for later
            proposal = replace(proposal, strength=dose.strength, lifts=dose.lift_rows)
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


def training_of(
    dose: Prescription, signed: Signed | None, today: date, precautions: Sequence[str] = ()
) -> Training | None:
    """The resistance in force; None where none is prescribed, or only from a later day on."""
    if not dose.lifts_on(today):
        return None
    most = signed.strength if signed is not None else ""
    return Training(dose.strength, most, dose.lift_rows, tuple(precautions))


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
