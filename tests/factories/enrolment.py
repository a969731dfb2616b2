from datetime import time, timedelta

import factory
from factory.django import DjangoModelFactory

from programs.enrolment.models import (
    ClassSlot,
    EligibilityAnswer,
    Enrolment,
    PlannedSession,
    Referral,
)
from tests.factories.patients import ConditionFactory, PatientFactory
from tests.factories.staff import SiteFactory, UserFactory


class ClassSlotFactory(DjangoModelFactory):
    class Meta:
        model = ClassSlot

    site = factory.SubFactory(SiteFactory)
    weekday = factory.LazyAttribute(lambda slot: slot.site.today().weekday())
    starts_at = factory.Sequence(lambda n: time(6 + n // 60 % 16, n % 60))
    seats = 8


class ReferralFactory(DjangoModelFactory):
    class Meta:
        model = Referral
        skip_postgeneration_save = True

    patient = factory.SubFactory(PatientFactory)
    condition = factory.SubFactory(ConditionFactory, patient=factory.SelfAttribute("..patient"))
    referred_on = factory.LazyAttribute(lambda r: r.patient.site.today() - timedelta(days=20))
    discharged_on = factory.LazyAttribute(lambda r: r.patient.site.today() - timedelta(days=22))

    class Params:
        confirmed = factory.Trait(
            answer=factory.RelatedFactory(
                "tests.factories.enrolment.EligibilityAnswerFactory",
                factory_related_name="referral",
            )
        )


class EligibilityAnswerFactory(DjangoModelFactory):
    class Meta:
        model = EligibilityAnswer

    referral = factory.SubFactory(ReferralFactory)
    decision = "eligible"
    rule_said = "eligible"
    limb = "A-05"
    rule_set = "test"
    for_start_on = factory.LazyAttribute(lambda a: a.referral.patient.site.today())
    by = factory.SubFactory(UserFactory)


class EnrolmentFactory(DjangoModelFactory):
    class Meta:
        model = Enrolment
        skip_postgeneration_save = True

    patient = factory.SubFactory(PatientFactory)
    referral = factory.SubFactory(
        ReferralFactory, patient=factory.SelfAttribute("..patient"), state="enrolled"
    )
    starts_on = factory.LazyAttribute(lambda e: e.patient.site.today() - timedelta(days=14))
    planned_end_on = factory.LazyAttribute(lambda e: e.starts_on + timedelta(days=83))


class PlannedSessionFactory(DjangoModelFactory):
    class Meta:
        model = PlannedSession

    enrolment = factory.SubFactory(EnrolmentFactory)
    slot = factory.SubFactory(
        ClassSlotFactory, site=factory.SelfAttribute("..enrolment.patient.site")
    )
    on = factory.LazyAttribute(lambda p: p.enrolment.patient.site.today())
