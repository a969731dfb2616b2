"""A row of everything at a site."""

from programs.enrolment.lists import services as lists
from programs.enrolment.models import ListLayout
from tests.factories.assessments import AssessmentFactory, ConcernFactory, MeasurementFactory
from tests.factories.attendance import (
    EventEntryFactory,
    InterruptionFactory,
    PersonLimitFactory,
    SafetyEventFactory,
    TeachingFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    ClosureFactory,
    EnrolmentFactory,
    PayerFactory,
    PlannedSessionFactory,
    ReferralFactory,
    SiteRuleSetFactory,
)
from tests.factories.patients import (
    ConditionFactory,
    MedicineFactory,
    PatientFactory,
    ProtocolFactory,
)
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import CredentialFactory, DrillFactory, UserFactory


def rows_at(site):
    patient = PatientFactory(site=site)
    enrolment = EnrolmentFactory(patient=patient)
    planned = PlannedSessionFactory(enrolment=enrolment)
    visit = VisitFactory(enrolment=EnrolmentFactory(patient__site=site))
    assessment = AssessmentFactory(enrolment=enrolment)
    listed = lists.receive(
        site, "x.csv", b"Name;DOB;Referral date\nB, A;1960-01-01;2026-01-01", by=UserFactory()
    )
    medicine = MedicineFactory(patient=patient)
    event = SafetyEventFactory(site=site, patient=patient)
    return {
        "patient": patient,
        "medicine": medicine,
        "condition": ConditionFactory(patient=patient),
        "referral": ReferralFactory(patient__site=site),
        "list": listed,
        "layout": ListLayout.objects.create(
            site=site, name="Ward 5", headers=["dob"], answers={"dates": "day-first"}, by=listed.by
        ),
        "enrolment": enrolment,
        "planned": planned,
        "slot": planned.slot,
        "visit": visit,
        "interruption": InterruptionFactory(visit=visit),
        "teaching": TeachingFactory(enrolment=enrolment),
        "event": event,
        "entry": EventEntryFactory(event=event),
        "limit": PersonLimitFactory(patient=patient),
        "drill": DrillFactory(site=site),
        "card": CredentialFactory(user=UserFactory(sites=[site])),
        "closure": ClosureFactory(site=site),
        "payer": PayerFactory(site=site),
        "rule_set": SiteRuleSetFactory(site=site),
        "protocol": ProtocolFactory(site=site),
        "plan": TreatmentPlanFactory(enrolment=enrolment),
        "prescription": PrescriptionFactory(enrolment=enrolment),
        "assessment": assessment,
        "measurement": MeasurementFactory(assessment=assessment),
        "concern": ConcernFactory(assessment=assessment),
    }
