import factory
from django.utils import timezone
from factory.django import DjangoModelFactory

from programs.attendance.models import Bout, ClassMeeting, Finding, Reading, Visit
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory


class ClassMeetingFactory(DjangoModelFactory):
    class Meta:
        model = ClassMeeting

    slot = factory.SubFactory(ClassSlotFactory)
    on = factory.LazyAttribute(lambda m: m.slot.site.today())


class VisitFactory(DjangoModelFactory):
    class Meta:
        model = Visit

    enrolment = factory.SubFactory(EnrolmentFactory)
    meeting = factory.SubFactory(
        ClassMeetingFactory, slot__site=factory.SelfAttribute("...enrolment.patient.site")
    )
    on = factory.SelfAttribute("meeting.on")
    state = "arrived"
    arrived_at = factory.LazyFunction(timezone.now)

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
