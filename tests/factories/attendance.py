import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from programs.attendance.models import (
    Bout,
    Carbohydrate,
    ClassMeeting,
    EventEntry,
    Finding,
    HomeReport,
    Interruption,
    PersonLimit,
    Reading,
    RhythmFinding,
    SafetyEvent,
    SiteLimit,
    Teaching,
    Visit,
)
from programs.attendance.visit.counting import tell_totals
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.factories.patients import BodyWeightFactory, PatientFactory
from tests.factories.staff import SiteFactory, UserFactory


class ClassMeetingFactory(DjangoModelFactory):
    class Meta:
        model = ClassMeeting

    slot = factory.SubFactory(ClassSlotFactory)
    on = factory.LazyAttribute(lambda m: m.slot.site.today())


class VisitFactory(DjangoModelFactory):
    class Meta:
        model = Visit
        skip_postgeneration_save = True

    enrolment = factory.SubFactory(EnrolmentFactory)
    meeting = factory.SubFactory(
        ClassMeetingFactory, slot__site=factory.SelfAttribute("...enrolment.patient.site")
    )
    on = factory.SelfAttribute("meeting.on")
    state = "arrived"
    arrived_at = factory.LazyFunction(timezone.now)

    @factory.post_generation
    def totals(self, create, extracted, **kwargs):
        """What counts is told, as by the service that counts."""
        if create and self.sessions_counted:
            tell_totals(self.enrolment)

    class Params:
        finished = factory.Trait(
            state="finished",
            minutes=41,
            counts_first=True,
            ended_at=factory.LazyFunction(timezone.now),
        )


class ReadingFactory(DjangoModelFactory):
    class Meta:
        model = Reading

    visit = factory.SubFactory(VisitFactory)
    phase = "before"
    taken_at = factory.LazyFunction(timezone.now)
    heart_rate_bpm = 68
    systolic_mmhg = 126
    diastolic_mmhg = 74
    spo2_percent = 97
    weight_kg = None
    body_weight = factory.Maybe(
        "weight_kg",
        factory.SubFactory(
            BodyWeightFactory,
            patient=factory.SelfAttribute("..visit.enrolment.patient"),
            on=factory.SelfAttribute("..visit.on"),
            at=factory.SelfAttribute("..taken_at"),
            kg=factory.SelfAttribute("..weight_kg"),
        ),
        None,
    )


class BoutFactory(DjangoModelFactory):
    class Meta:
        model = Bout

    visit = factory.SubFactory(VisitFactory)
    place = 1
    activity = "treadmill"
    minutes = 15
    speed_kmh = 4.2
    mets = 3.0


class FindingFactory(DjangoModelFactory):
    class Meta:
        model = Finding

    visit = factory.SubFactory(VisitFactory)
    rule_id = "E-01"
    level = 3
    value = 186
    limit = 180
    sentence = "Systolic 186 is above 180."
    source = "test"


class InterruptionFactory(DjangoModelFactory):
    class Meta:
        model = Interruption

    visit = factory.SubFactory(VisitFactory, state="held")
    kind = "hold"
    by = factory.SubFactory(UserFactory)
    seen = "Systolic 186, twice."


class CarbohydrateFactory(DjangoModelFactory):
    class Meta:
        model = Carbohydrate

    visit = factory.SubFactory(VisitFactory)
    grams = 15
    given_at = factory.LazyFunction(timezone.now)


class RhythmFactory(DjangoModelFactory):
    class Meta:
        model = RhythmFinding

    visit = factory.SubFactory(VisitFactory)
    pvc_per_minute = 0


class TeachingFactory(DjangoModelFactory):
    class Meta:
        model = Teaching

    enrolment = factory.SubFactory(EnrolmentFactory)
    on = factory.LazyAttribute(lambda t: t.enrolment.starts_on)
    component = "nutrition"
    topic = "Salt and fluids"


class HomeReportFactory(DjangoModelFactory):
    class Meta:
        model = HomeReport

    enrolment = factory.SubFactory(EnrolmentFactory)
    week_of = factory.LazyAttribute(lambda r: r.enrolment.starts_on)
    minutes = 90


class SafetyEventFactory(DjangoModelFactory):
    class Meta:
        model = SafetyEvent

    site = factory.SubFactory(SiteFactory)
    patient = factory.SubFactory(PatientFactory, site=factory.SelfAttribute("..site"))
    kind = "symptom"
    happened_at = factory.LazyFunction(timezone.now)


class EventEntryFactory(DjangoModelFactory):
    class Meta:
        model = EventEntry

    event = factory.SubFactory(SafetyEventFactory)
    at = factory.LazyFunction(timezone.now)
    words = "Sat down."
    by = factory.SubFactory(UserFactory)


class SiteLimitFactory(DjangoModelFactory):
    class Meta:
        model = SiteLimit

    site = factory.SubFactory(SiteFactory)
    rule_key = "E-01-hold"
    limit = 170
    reason = "local protocol"
    set_on = factory.LazyAttribute(lambda row: row.site.today())


class PersonLimitFactory(DjangoModelFactory):
    class Meta:
        model = PersonLimit

    patient = factory.SubFactory(PatientFactory)
    rule_key = "E-01-hold"
    limit = 150
    reason = "cardiologist"
    set_on = factory.LazyAttribute(lambda row: row.patient.site.today())
