"""The twenty people of fixtures/reference/cohort.csv, stored."""

from datetime import date, timedelta

from assessments.services import tell_totals as tell_exit
from patients.history import save_as
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.visit.counting import tell_totals
from tests.factories.assessments import AssessmentFactory
from tests.factories.enrolment import (
    ClassSlotFactory,
    EligibilityAnswerFactory,
    EnrolmentFactory,
    ReferralFactory,
)
from tests.factories.patients import ConditionFactory, PatientFactory
from tests.factories.staff import UserFactory
from tests.reference import rows


def day(cell):
    return date.fromisoformat(cell) if cell else None


def days_of(cell):
    """36x2024-01-15+5: 36 sessions, every five days from that one."""
    for part in filter(None, cell.split(";")):
        n, _, rest = part.partition("x")
        first, _, step = rest.partition("+")
        yield from (day(first) + timedelta(days=int(step) * k) for k in range(int(n)))


def build(line, patient, slots, meetings, by):
    condition = ConditionFactory(
        patient=patient, kind=line["condition"], happened_on=day(line["event"])
    )
    referral = ReferralFactory(
        patient=patient, condition=condition, referred_on=day(line["referred"]),
        discharged_on=day(line["discharged"]), state=line["state"], why_not=line["why_not"],
    )  # fmt: skip
    if line["answer"]:
        EligibilityAnswerFactory(
            referral=referral, decision=line["answer"], rule_said=line["answer"], by=by
        )
    if line["spoken"] == "yes":
        referral.contacts.model(referral=referral, by=by, outcome="reached").save()
    if line["state"] != "enrolled":
        return referral
    days = sorted(days_of(line["sessions"]))
    course = EnrolmentFactory(
        patient=patient, referral=referral, sessions_planned=int(line["planned"]),
        starts_on=days[0] if days else day(line["left"]), closed_on=day(line["left"]),
        outcome=line["outcome"],
    )  # fmt: skip
    visits = []
    for place, on in enumerate(days):
        second = place > 0 and days[place - 1] == on
        meeting = meetings[slots[second].pk, on]
        visits.append(
            Visit(enrolment=course, meeting=meeting, on=on, state="finished", minutes=60,
                  counts_first=not second, counts_second=second)
        )  # fmt: skip
    Visit.objects.bulk_create(visits)
    if line["exit"] == "yes":
        AssessmentFactory(enrolment=course, kind="exit", performed_on=day(line["left"]), by=by)
    tell_totals(course)
    return referral


def cohort_of(here, before):
    """Store them at a site, one transferred from another; their names on paper by referral."""
    by = UserFactory(sites=[here, before])
    slots = [ClassSlotFactory(site=here), ClassSlotFactory(site=here)]
    every = {on for line in rows("cohort") for on in days_of(line["sessions"])}
    held = ClassMeeting.objects.bulk_create(
        ClassMeeting(slot=slot, on=on) for slot in slots for on in sorted(every)
    )
    meetings = {(meeting.slot_id, meeting.on): meeting for meeting in held}
    people, referrals = {}, {}
    for line in rows("cohort"):
        person = line["person"]
        patient = people.get("P19") if person == "P20" else None
        if patient is None:
            site = before if person == "P19" else here
            patient = PatientFactory(site=site, born_on=day(line["born"]), sex=line["sex"])
        people[person] = patient
        referrals[person] = build(line, patient, slots, meetings, by)
        if person == "P19":  # transferred: the course goes along
            patient.site = here
            save_as(patient, by=by, reason="transferred")
    for patient in people.values():  # exits were stored by factories, courses told before them
        for course in patient.enrolments.all():
            for assessment in course.assessments.all():
                tell_exit(assessment)
    return {row.pk: person for person, row in referrals.items()}
