from datetime import date, time, timedelta

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    Closure,
    EligibilityAnswer,
    Enrolment,
    EntryScreen,
    Payer,
    PlannedSession,
    Referral,
    ReferralDocument,
    RiskStratification,
    SiteRuleSet,
    SupervisionPolicy,
)
from tests.factories.patients import ConditionFactory, PatientFactory
from tests.factories.staff import SiteFactory, UserFactory


class ClassSlotFactory(DjangoModelFactory):
    class Meta:
        model = ClassSlot

    site = factory.SubFactory(SiteFactory)
    weekday = factory.LazyAttribute(lambda slot: slot.site.today().weekday())
    starts_at = factory.Sequence(lambda n: time(6 + n // 60 % 12, n % 60))
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
        skip_postgeneration_save = True

    enrolment = factory.SubFactory(EnrolmentFactory)
    slot = factory.SubFactory(
        ClassSlotFactory, site=factory.SelfAttribute("..enrolment.patient.site")
    )
    on = factory.LazyAttribute(lambda p: p.enrolment.patient.site.today())

    @factory.post_generation
    def is_open(self, create, extracted, **kwargs):
        """Its class is open, unless a test says otherwise: nobody starts before that."""
        from programs.attendance.models import ClassMeeting

        if create and extracted is not False:
            opened = {"opened_at": timezone.now()}
            ClassMeeting.objects.get_or_create(slot=self.slot, on=self.on, defaults=opened)


class SiteRuleSetFactory(DjangoModelFactory):
    class Meta:
        model = SiteRuleSet

    site = factory.SubFactory(SiteFactory)
    name = factory.Sequence(lambda n: f"Own rules {n}")
    based_on = "medicare"
    mi_months = 12
    max_lvef_percent = 35
    therapy_weeks = 6
    stable_weeks = 6
    planned_months = 6
    source = "contract of the site"


class PayerFactory(DjangoModelFactory):
    class Meta:
        model = Payer

    site = factory.SubFactory(SiteFactory)
    name = factory.Sequence(lambda n: f"Payer {n}")
    shipped = "medicare"


class ReferralDocumentFactory(DjangoModelFactory):
    class Meta:
        model = ReferralDocument

    referral = factory.SubFactory(ReferralFactory)
    kind = "order"
    asked_on = factory.LazyAttribute(lambda d: d.referral.patient.site.today())


class ClassChangeFactory(DjangoModelFactory):
    class Meta:
        model = ClassChange

    slot = factory.SubFactory(ClassSlotFactory)
    on = factory.LazyAttribute(lambda c: c.slot.site.today())
    is_cancelled = True
    reason = "staff away"


class ClosureFactory(DjangoModelFactory):
    class Meta:
        model = Closure

    site = factory.SubFactory(SiteFactory)
    on = factory.Sequence(lambda n: date(2031, 1, 1) + timedelta(days=n))
    reason = "holiday"


class EntryScreenFactory(DjangoModelFactory):
    class Meta:
        model = EntryScreen

    patient = factory.SubFactory(PatientFactory)
    found = "open"
    decision = "not_yet"
    by = factory.SubFactory(UserFactory)


class RiskStratificationFactory(DjangoModelFactory):
    class Meta:
        model = RiskStratification

    patient = factory.SubFactory(PatientFactory)
    computed = "moderate"
    decided = "moderate"
    by = factory.SubFactory(UserFactory)


class SupervisionPolicyFactory(DjangoModelFactory):
    class Meta:
        model = SupervisionPolicy

    site = factory.SubFactory(SiteFactory)
    risk_class = "high"
    supervised_low = 18
    supervised_high = 36
    supervised_days = 90
    ecg_low = 18
    ecg_high = 30
    source = "site"
