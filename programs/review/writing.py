"""What the program writes into a plan by itself: from the record alone, and what the record lacks.

Nothing is made up. A goal starts from the site's target or from the person's own first result; a
box nothing is known for stays empty and is named as missing.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from assessments.calc.catalogue import BY_KEY as MEASURE
from assessments.calc.lipids import LDL, LIPIDS
from assessments.calc.vitals import BLOOD_PRESSURE
from assessments.models import Assessment, Measurement, SiteTarget
from patients.calc.days import in_words
from patients.models import BodyWeight, Condition, Medicine
from programs.attendance.models import Teaching
from programs.enrolment.models import Enrolment
from programs.prescription.models import TreatmentPlan
from programs.review.calc.components import COMPONENTS, component_taught
from programs.review.calc.goals import (
    BODY_WEIGHT,
    GOAL_OF,
    Found,
    goals_of,
    proposed,
    standing_of,
)
from programs.review.calc.parts import NOTHING_FOUND, Part, stored
from programs.review.document import parts_of

# What is told of each component, the first of it named when it is not on record.
TELLS: dict[str, tuple[str, ...]] = {
    "exercise": ("six_minute_walk", "peak_oxygen_uptake", "chair_stand_30s", "gait_speed"),
    "nutrition": ("mediterranean_diet",),
    "weight": (BODY_WEIGHT, "body_mass_index", "waist"),
    "blood_pressure": (BLOOD_PRESSURE.key,),
    "lipids": (LIPIDS.key,),
    "diabetes": ("hba1c",),
    "tobacco": ("tobacco",),
    "psychosocial": ("phq9", "gad7", "physical_functioning"),
    "activity": ("activity_minutes",),
    "medicines": ("medicine_adherence",),
}
PRESSURE = {"beta_blocker", "ace_arb", "calcium", "diuretic"}
GLUCOSE = {"insulin", "secretagogue", "glucose_lowering"}
CLASSES = {"blood_pressure": PRESSURE, "lipids": {"statin"}, "diabetes": GLUCOSE}


@dataclass(frozen=True)
class OnRecord:
    """What a plan is written from: six queries."""

    enrolment: Enrolment
    results: Mapping[str, list[tuple[str, Found]]]  # by measure: kind of assessment, result
    medicines: Sequence[Medicine]
    has_diabetes: bool
    taught: Mapping[str, list[str]]
    own_targets: Mapping[str, float]

    def of(self, measure: str) -> list[Found]:
        return [found for _, found in self.results.get(measure, [])]

    def until(self, day: date) -> "OnRecord":
        """What was on record of results at the end of a day."""
        known = {
            measure: [(kind, found) for kind, found in results if found.on <= day]
            for measure, results in self.results.items()
        }
        return replace(self, results=known)


def record_of(enrolment: Enrolment) -> OnRecord:
    """Everything on record of a course that a plan tells."""
    patient = enrolment.patient
    results: dict[str, list[tuple[str, Found]]] = defaultdict(list)
    for m in (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "pk")
    ):
        on = m.assessment.performed_on
        found = Found(on, m.value, m.inputs, m.derived_values)
        results[m.key].append((m.assessment.kind, found))
    for weight in BodyWeight.objects.standing().filter(patient=patient).order_by("on", "pk"):
        results[BODY_WEIGHT].append(("", Found(weight.on, weight.kg, {}, {})))
    taught: dict[str, list[str]] = defaultdict(list)
    for row in Teaching.objects.filter(enrolment=enrolment, is_withdrawn=False).order_by("on"):
        key = component_taught(row.component, row.topic)
        if key:
            taught[key].append(str(row))
    return OnRecord(
        enrolment,
        results,
        list(Medicine.objects.filter(patient=patient, stopped_on=None)),
        Condition.objects.filter(patient=patient, kind="diabetes").exists(),
        taught,
        dict(SiteTarget.objects.filter(site=patient.site_id).values_list("key", "amount")),
    )


def told(measure: str, found: Found, name: str | None = None) -> str:
    """One result in words, without its day; ``name`` in place of the measure's own."""
    if measure == BODY_WEIGHT:
        return f"{'Body weight' if name is None else name} {found.value:g} kg".strip()
    known = MEASURE[measure]
    title = known.name if name is None else name
    if measure == BLOOD_PRESSURE.key:
        lower = found.inputs.get("diastolic_mmhg")
        title = title.replace("systolic", "blood")
        return f"{title} {found.value:g}/{lower} mmHg".strip()
    words = f"{title} {known.shown(found.value)} {known.unit}".strip()
    ldl = found.derived.get(LDL) if measure == LIPIDS.key else None
    return f"{words}, LDL {ldl:.0f} mg/dL" if ldl is not None else words


def written(plan: TreatmentPlan, record: OnRecord) -> dict[str, Any]:
    """The content of a draft: the team's boxes as they are, the program's own written anew."""
    parts = {key: _renewed(key, part, record) for key, part in parts_of(plan).items()}
    return {
        "components": {key: stored(part) for key, part in parts.items()},
        "outcomes": {
            "start": _outcomes(record, Assessment.Kind.BASELINE),
            "end": _outcomes(record, Assessment.Kind.EXIT),
        },
    }


def begin(plan: TreatmentPlan, record: OnRecord) -> None:
    """Goals of a plan's components that have none, from targets and first results."""
    parts = parts_of(plan)
    for one in COMPONENTS:
        part = parts[one.key]
        if part.has_goal or not part.applies:
            continue
        amounts = {
            goal.key: amount
            for goal in goals_of(one.key, record.enrolment.patient.sex)
            if (amount := proposed(goal, record.own_targets, record.of(goal.measure))) is not None
        }
        if one.key == "diabetes" and not record.has_diabetes:
            amounts = {}  # a target of people with diabetes
        by_on = record.enrolment.planned_end_on if amounts else None
        parts[one.key] = replace(part, amounts=amounts, by_on=by_on)
    plan.content = {**plan.content, "components": {k: stored(p) for k, p in parts.items()}}


def _renewed(key: str, part: Part, record: OnRecord) -> Part:
    standing = [
        standing_of(GOAL_OF[goal], amount, record.of(GOAL_OF[goal].measure)).words
        for goal, amount in part.amounts.items()
    ]
    return replace(
        part,
        found=_found(key, record),
        taught="; ".join(record.taught.get(key, [])),
        standing="; ".join(standing),
    )


def _found(key: str, record: OnRecord) -> str:
    """What is on record of a component, and the result it cannot do without when it is not."""
    lines = []
    for measure in TELLS[key]:
        known = record.of(measure)
        if known:
            lines.append(f"{told(measure, known[-1])} on {in_words(known[-1].on)}")
    lines += _background(key, record)
    lacks = [] if record.of(TELLS[key][0]) else [_name(TELLS[key][0])]
    found = ". ".join(lines) + ("." if lines else "")
    missing = f"{NOTHING_FOUND}: {', '.join(lacks)}." if lacks else ""
    return f"{found} {missing}".strip()


def _name(measure: str) -> str:
    return "body weight" if measure == BODY_WEIGHT else MEASURE[measure].name


def _background(key: str, record: OnRecord) -> list[str]:
    patient = record.enrolment.patient
    if key == "medicines":
        names = [medicine.name for medicine in record.medicines]
        return [f"Takes {', '.join(names)}"] if names else []
    lines = []
    if key == "diabetes" and record.has_diabetes:
        lines.append("Diabetes")
    if key == "tobacco" and patient.tobacco:
        quit_on = patient.tobacco_quit_on
        since = f", stopped {in_words(quit_on)}" if quit_on else ""
        lines.append(f"Tobacco: {patient.get_tobacco_display()}{since}")
    takes = [m.name for m in record.medicines if m.drug_class in CLASSES.get(key, set())]
    return lines + ([f"Takes {', '.join(takes)}"] if takes else [])


def _outcomes(record: OnRecord, kind: str) -> str:
    """Results of one assessment in words; "" while it has none."""
    lines = [
        f"{told(measure, found)} ({in_words(found.on)})"
        for measure, results in record.results.items()
        for at, found in results
        if at == kind
    ]
    return "; ".join(lines)


def goals_met(plan: TreatmentPlan, record: OnRecord, since: date | None) -> list[str]:
    """Measured goals that results have met, newly where a day is given."""
    found = []
    for part in parts_of(plan).values():
        for key, amount in part.amounts.items():
            one = standing_of(GOAL_OF[key], amount, record.of(GOAL_OF[key].measure))
            if one.met_since is not None and (since is None or one.met_since > since):
                found.append(one.words)
    return found
