import factory
from factory.django import DjangoModelFactory

from assessments.models import (
    Assessment,
    AssessmentPolicy,
    Concern,
    Measurement,
    SiteEquation,
    SiteTarget,
    UsualTests,
)
from assessments.services import tell_totals
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.staff import SiteFactory, UserFactory


class AssessmentFactory(DjangoModelFactory):
    class Meta:
        model = Assessment
        skip_postgeneration_save = True

    enrolment = factory.SubFactory(EnrolmentFactory)
    kind = "baseline"
    performed_on = factory.SelfAttribute("enrolment.starts_on")
    by = factory.SubFactory(UserFactory)

    @factory.post_generation
    def totals(self, create, extracted, **kwargs):
        """An exit assessment is told, as by the service that records it."""
        if create:
            tell_totals(self)


class MeasurementFactory(DjangoModelFactory):
    class Meta:
        model = Measurement

    assessment = factory.SubFactory(AssessmentFactory)
    key = "six_minute_walk"
    inputs = factory.LazyFunction(lambda: {"distance_m": 400.0, "course_m": 30.0})
    value = 400.0
    unit = "m"
    formula_version = "enright98-1"


class ConcernFactory(DjangoModelFactory):
    class Meta:
        model = Concern

    assessment = factory.SubFactory(AssessmentFactory)
    key = "phq9"
    sentence = "PHQ-9 item 9 was answered above zero."
    owner = factory.SubFactory(UserFactory)


class UsualTestsFactory(DjangoModelFactory):
    class Meta:
        model = UsualTests

    site = factory.SubFactory(SiteFactory)
    kind = "baseline"
    tests = factory.LazyFunction(lambda: ["six_minute_walk", "grip_strength"])
    reason = "what this site can do"


class SiteEquationFactory(DjangoModelFactory):
    class Meta:
        model = SiteEquation

    site = factory.SubFactory(SiteFactory)
    key = "six_minute_walk"
    equation = 2
    reason = "as the hospital does"


class AssessmentPolicyFactory(DjangoModelFactory):
    class Meta:
        model = AssessmentPolicy

    site = factory.SubFactory(SiteFactory)
    reason = "as this site works"


class SiteTargetFactory(DjangoModelFactory):
    class Meta:
        model = SiteTarget

    site = factory.SubFactory(SiteFactory)
    key = "ldl"
    amount = 55.0
    reason = "as the cardiologists ask"
