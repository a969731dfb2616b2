"""What is on record of a person: what may speak against a test, what was corrected."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from assessments.calc.choosing import OnRecord
from assessments.calc.targets import Judgement, judge
from assessments.calc.vitals import BODY_SIZE
from assessments.forms import Beforehand
from assessments.models import Assessment, AssessmentPolicy, Measurement, SiteTarget
from patients.models import BodyWeight, Condition, Device, Medicine, Patient, Precaution
from programs.enrolment.models import Enrolment
from programs.staff.models import User
from programs.staff.units import units_of

RESTING = {
    "resting_heart_rate": "resting_bpm",
    "resting_blood_pressure": "systolic_mmhg",
    "oxygen_saturation": "spo2_percent",
}


def on_record(enrolment: Enrolment, today: date) -> OnRecord:
    """Five queries, whatever the length of the record."""
    patient = enrolment.patient_id
    attacks = Condition.objects.filter(patient=patient, kind="mi", happened_on__lte=today)
    latest = attacks.order_by("-happened_on").values_list("happened_on", flat=True).first()
    icds = Device.objects.filter(patient=patient, removed_on=None, kind=Device.Kind.ICD)
    rates = list(icds.values_list("detection_bpm", flat=True))
    in_force = Precaution.objects.filter(patient=patient, lifted_on=None)
    return OnRecord(
        days_since_mi=(today - latest).days if latest else None,
        on_beta_blocker=Medicine.objects.has_beta_blocker(patient),
        has_icd=bool(rates),
        detection_bpm=min((rate for rate in rates if rate is not None), default=None),
        precautions=frozenset(in_force.values_list("kind", flat=True)),
        **_resting(enrolment),
    )


def _resting(enrolment: Enrolment) -> dict[str, Any]:
    """The latest resting vital signs of the course's assessments."""
    rows = (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, key__in=list(RESTING), value__isnull=False)
        .order_by("assessment__performed_on", "pk")
    )
    found: dict[str, Any] = {}
    for row in rows:
        found[RESTING[row.key]] = row.value
        if row.key == "resting_blood_pressure":
            found["diastolic_mmhg"] = row.inputs.get("diastolic_mmhg")
    return found


def known_of(assessment: Assessment, by: User) -> Beforehand:
    """What is known of a person before the tests of an assessment, in the units of who records it:
    a handful of queries."""
    enrolment = assessment.enrolment
    site = enrolment.patient.site
    others = (
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, assessment__performed_on__isnull=False)
        .select_related("assessment")
        .order_by("assessment__performed_on", "pk")
    )
    elsewhere, height = {}, None
    for m in others:
        if m.key == BODY_SIZE.key:  # spares typing; weight changes and is never filled in
            height = m.inputs.get("height_cm", height)
        if m.assessment_id != assessment.pk:
            words = f"{m.shown} {m.unit}".strip()
            elsewhere[m.key, m.assessment.performed_on] = f"{words} in the {m.assessment}".lower()
    return Beforehand(
        height_cm=height,
        on_beta_blocker=Medicine.objects.has_beta_blocker(enrolment.patient_id),
        units=units_of(by, site),
        weight_kg=BodyWeight.objects.latest_kg(enrolment.patient_id),
        longest_course_m=AssessmentPolicy.of(site).longest_course_m,
        elsewhere=elsewhere,
    )


def judged_results(
    measurements: list[Measurement], patient: Patient
) -> list[tuple[Measurement, tuple[str, ...], list[Judgement]]]:
    """Each result with what it was corrected from and beside the site's targets: two queries."""
    earlier = corrections(measurements)
    own = dict(SiteTarget.objects.filter(site=patient.site_id).values_list("key", "amount"))
    return [
        (
            m,
            earlier.get(m.pk, ()),
            judge(
                m.key,
                m.value,
                m.inputs,
                m.derived_values,
                patient.sex,
                own,
            ),
        )
        for m in measurements
    ]


def corrections(measurements: Iterable[Measurement]) -> dict[int, tuple[str, ...]]:
    """What stood there before each corrected result, oldest first, in words: one query."""
    now = {m.pk: m for m in measurements}
    versions = (
        Measurement.history.model.objects.filter(id__in=now)
        .order_by("history_date", "history_id")
        .values_list("id", "value")
    )
    found: dict[int, list[str]] = {}
    for pk, value in versions:
        words, seen = now[pk].in_words(value), found.setdefault(pk, [])
        if words != now[pk].shown and words not in seen:
            seen.append(words)
    return {pk: tuple(words) for pk, words in found.items() if words}
