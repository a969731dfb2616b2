import factory
from factory.django import DjangoModelFactory

from programs.prescription.models import Prescription, TreatmentPlan
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.staff import UserFactory


class PrescriptionFactory(DjangoModelFactory):
    class Meta:
        model = Prescription

    enrolment = factory.SubFactory(EnrolmentFactory)
    method = "exertion"
    valid_from = factory.SelfAttribute("enrolment.starts_on")
    rpe_low = 12
    rpe_high = 13
    minutes = 30
    formula_version = "test"
    by = factory.SubFactory(UserFactory)


class TreatmentPlanFactory(DjangoModelFactory):
    class Meta:
        model = TreatmentPlan

    enrolment = factory.SubFactory(EnrolmentFactory)
    goals = "Walk to the market."
    exercise = "Treadmill, three times a week."
    prepared_by = factory.SubFactory(UserFactory)
