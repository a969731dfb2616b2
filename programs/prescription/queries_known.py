"""What is known of a person when a dose is written, and what has changed since one was."""

from datetime import date, tzinfo

from assessments.models import Measurement
from patients.calc.medicines import BETA_BLOCKER, classes_in
from patients.models import BodyWeight, Medicine, Precaution
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.models import Enrolment
from programs.enrolment.risk.queries import record_of
from programs.prescription.calc.basis import Basis, Written, read_basis, why_review
from programs.prescription.calc.from_results import CAPACITIES, Offer
from programs.prescription.calc.person import Known, Present, SiteLimits, Test, Walk
from programs.prescription.calc.strength import Limitation, Start, start_of
from programs.prescription.calc.tested import why_asked
from programs.prescription.models import Prescription
from programs.prescription.queries import event_on

# Classes of medicines that act on the heart rate in exercise; common practice, no source.
ACTS_ON_RATE = frozenset({BETA_BLOCKER, "calcium", "antiarrhythmic"})


def record_for(enrolment: Enrolment) -> Record:
    """The person's record, for the pages about one person."""
    return record_of(enrolment.patient_id, enrolment.patient.site.now().tzinfo)


def known_for(enrolment: Enrolment, found: Offer, record: Record, site: SiteLimits) -> Known:
    """All that a first prescription is drafted from."""
    on = enrolment.patient.site.today()
    work, walk = found.work, None
    if work is not None and not work.is_capacity:
        walk = Walk(work.on, work.mets, work.named_above)
    return Known(
        on=on,
        resting_bpm=found.resting.bpm if found.resting is not None else None,
        test=_test_of(enrolment, found, on),
        walk=walk,
        present=present_of(record, on, found.ischaemia_bpm),
        site=site,
    )


def present_of(record: Record, on: date, ischaemia_bpm: float | None) -> Present:
    """What of the person changes how hard is told."""
    return Present(
        beta_blocker=bool(told.beta_blocker(record, on)),
        atrial_fibrillation=bool(told.atrial_fibrillation(record)),
        transplant=bool(told.transplant(record)),
        heart_failure=bool(told.heart_failure(record)),
        icd=bool(told.defibrillator(record, on)),
        detection_bpm=told.detection_bpm(record, on),
        ischaemia_bpm=ischaemia_bpm,
    )


def rate_changed_on(enrolment: Enrolment) -> date | None:
    """The last day on which a medicine that acts on the heart rate was started or stopped."""
    rows = Medicine.objects.filter(patient=enrolment.patient_id)
    days = [
        day
        for name, drug_class, started, stopped in rows.values_list(
            "name", "drug_class", "started_on", "stopped_on"
        )
        if ACTS_ON_RATE & {drug_class, *classes_in(name)}
        for day in (started, stopped)
        if day is not None
    ]
    return max(days, default=None)


def _test_of(enrolment: Enrolment, found: Offer, on: date) -> Test | None:
    tested, work = found.tested, found.work
    capacity = work if work is not None and work.is_capacity else None
    if tested is None and capacity is None:
        return None
    day = tested.on if tested is not None else capacity.on if capacity is not None else on
    return Test(
        on=day,
        resting_bpm=tested.resting_bpm if tested else None,
        peak_bpm=tested.peak_bpm if tested else None,
        peak_vo2=capacity.peak_vo2 if capacity else None,
        doubt=why_asked(day, event_on(enrolment), on, rate_changed_on(enrolment)),
        vo2_on=capacity.on if capacity else None,
    )


def basis_now(enrolment: Enrolment, record: Record, on: date) -> Basis:
    """What a dose is written on today."""
    return basis_from(
        record,
        on,
        BodyWeight.objects.latest_kg(enrolment.patient_id),
        Measurement.objects.standing()
        .filter(assessment__enrolment=enrolment, key__in=CAPACITIES)
        .order_by("-assessment__performed_on")
        .values_list("assessment__performed_on", flat=True)
        .first(),
    )


def basis_from(record: Record, on: date, weight_kg: float | None, tested_on: date | None) -> Basis:
    """The same, where weight and test were read together with others'."""
    taken = {m.name for m in record.medicines if m.stopped_on is None or m.stopped_on > on}
    devices = {
        f"{d.kind}, detects from {d.detection_bpm} /min" if d.detection_bpm else d.kind
        for d in told.in_place(record, on)
    }
    event = told.last_event_on(record, on)
    return Basis(frozenset(taken), frozenset(devices), event, weight_kg, tested_on)


def written_of(row: Prescription, zone: tzinfo | None) -> Written:
    """A stored dose and what it was written on."""
    return Written(row.at.astimezone(zone).date(), read_basis(row.basis))


def review_of(enrolment: Enrolment, row: Prescription | None, record: Record) -> tuple[str, ...]:
    """Why the dose in force wants to be looked at again."""
    if row is None:
        return ()
    site = enrolment.patient.site
    now = basis_now(enrolment, record, site.today())
    return why_review(written_of(row, site.now().tzinfo), now)


def strength_start(enrolment: Enrolment) -> Start:
    """When resistance may be considered, with every precaution nobody has lifted."""
    limits = Precaution.objects.filter(patient=enrolment.patient_id, lifted_on=None)
    condition = enrolment.referral.condition
    return start_of(
        condition.kind,
        condition.happened_on,
        enrolment.starts_on,
        [Limitation(str(row), row.review_on) for row in limits],
        on=enrolment.patient.site.today(),
    )
