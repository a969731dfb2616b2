from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from patients.history import StaleVersion
from patients.models import Condition, Patient
from programs.enrolment.calc.calendar import plan_sessions
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import Closure, Enrolment, PlannedSession, Referral
from programs.enrolment.referrals import services as referrals
from programs.enrolment.referrals.identity import PersonQuestion
from tests.due import due_on
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory, ReferralFactory
from tests.factories.patients import PatientFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def referral(site):
    return ReferralFactory(patient__site=site, confirmed=True)


@pytest.fixture
def slots(site):
    return [ClassSlotFactory(site=site, weekday=day) for day in (0, 2, 4)]


@pytest.fixture
def start(site):
    return site.today() + timedelta(days=1)


def test_enrolling_books_every_session(referral, slots, start, clinician):
    course = enrolments.enrol(referral, slots, start, 36, by=clinician)
    assert course.planned.count() == 36
    assert course.starts_on == course.planned.first().on
    assert course.planned_end_on == course.planned.last().on
    referral.refresh_from_db()
    assert referral.state == Referral.State.ENROLLED
    assert due_on(course, course.starts_on).name == "Baseline assessment"


def test_enrolling_leaves_a_version_with_who(referral, slots, start, clinician):
    course = enrolments.enrol(referral, slots, start, 36, by=clinician)
    version = course.history.first()
    assert (version.history_user, version.history_change_reason) == (clinician, "enrolled")


def test_enrolling_skips_closures(referral, slots, start, clinician, site):
    first = plan_sessions(start, [s.weekly for s in slots], [])[0][0]
    Closure.objects.create(site=site, on=first, reason="holiday")
    course = enrolments.enrol(referral, slots, start, 36, by=clinician)
    assert not course.planned.filter(on=first).exists()


def test_enrolling_needs_confirmed_eligibility(site, slots, start, clinician):
    with pytest.raises(ValidationError, match="confirm eligibility"):
        enrolments.enrol(ReferralFactory(patient__site=site), slots, start, 36, by=clinician)


def test_enrolling_twice_is_refused(referral, slots, start, clinician):
    enrolments.enrol(referral, slots, start, 36, by=clinician)
    with pytest.raises(ValidationError, match="not waiting"):
        enrolments.enrol(referral, slots, start, 36, by=clinician)
    assert Enrolment.objects.count() == 1


def test_last_seat_goes_once(site, slots, start, clinician):
    for slot in slots:
        slot.seats = 1
        slot.save()
    first, second = [ReferralFactory(patient__site=site, confirmed=True) for _ in range(2)]
    enrolments.enrol(first, slots, start, 36, by=clinician)
    with pytest.raises(ValidationError, match="full"):
        enrolments.enrol(second, slots, start, 36, by=clinician)
    second.refresh_from_db()
    assert second.state == Referral.State.NEW


def test_pause_and_resume_keep_the_past(course, slots, clinician, site):
    today = site.today()
    course.slots.set(slots)
    past = [today - timedelta(days=n) for n in (9, 7, 5)]
    for day in past:
        PlannedSession.objects.create(enrolment=course, slot=slots[0], on=day)
    PlannedSession.objects.create(enrolment=course, slot=slots[0], on=today + timedelta(days=3))
    enrolments.pause(course, today, "chest infection", by=clinician)
    assert sorted(course.planned.values_list("on", flat=True)) == sorted(past)
    enrolments.resume(course, today + timedelta(days=14), by=clinician)
    days = list(course.planned.values_list("on", flat=True))
    assert len(days) == 36
    assert days[:3] == sorted(past)
    assert min(days[3:]) >= today + timedelta(days=14)


def test_resuming_without_a_pause_is_refused(course, clinician, site):
    with pytest.raises(ValidationError, match="not paused"):
        enrolments.resume(course, site.today(), by=clinician)


def test_pausing_twice_is_refused(course, clinician, site):
    enrolments.pause(course, site.today(), "ill", by=clinician)
    with pytest.raises(ValidationError, match="already paused"):
        enrolments.pause(course, site.today(), "ill", by=clinician)


def test_leaving_gives_up_what_is_planned_ahead(course, slots, clinician, site):
    today = site.today()
    for n in (-7, 7):
        PlannedSession.objects.create(enrolment=course, slot=slots[0], on=today + timedelta(days=n))
    enrolments.close(course, today, "choice", by=clinician)
    course.refresh_from_db()
    assert (course.outcome, course.closed_on) == ("choice", today)
    assert due_on(course, today) is None
    assert course.planned.count() == 1


def test_reopening_plans_what_is_left(course, slots, clinician, site):
    course.slots.set(slots)
    enrolments.close(course, site.today(), "choice", by=clinician)
    enrolments.reopen(course, by=clinician, reason="came back")
    course.refresh_from_db()
    assert course.is_open
    assert course.planned.count() == 36


def test_closed_course_cannot_be_closed_again(course, clinician, site):
    enrolments.close(course, site.today(), "choice", by=clinician)
    with pytest.raises(ValidationError, match="ended"):
        enrolments.close(course, site.today(), "moved", by=clinician)


def test_somebody_is_added_to_a_class_of_that_weekday(course, clinician, site):
    slot = ClassSlotFactory(site=site, seats=1)
    enrolments.add_to_class(course, slot, site.today(), by=clinician)
    other = EnrolmentFactory(patient__site=site)
    with pytest.raises(ValidationError, match="full"):
        enrolments.add_to_class(other, slot, site.today(), by=clinician)
    with pytest.raises(ValidationError, match="not held"):
        enrolments.add_to_class(other, slot, site.today() + timedelta(days=1), by=clinician)


def test_pausing_keeps_todays_session(course, clinician, site):
    slot = ClassSlotFactory(site=site)
    PlannedSession.objects.create(enrolment=course, slot=slot, on=site.today())
    enrolments.pause(course, site.today(), "ill", by=clinician)
    assert course.planned.count() == 1


def test_closing_in_the_past_keeps_what_lies_behind(course, slots, clinician, site):
    day = site.today() - timedelta(days=2)
    PlannedSession.objects.create(enrolment=course, slot=slots[0], on=day)
    enrolments.close(course, site.today() - timedelta(days=5), "choice", by=clinician)
    assert course.planned.count() == 1


def test_resuming_counts_36_weeks_from_the_first_session(course, slots, clinician, site):
    course.slots.set(slots[:1])
    enrolments.pause(course, site.today(), "ill", by=clinician)
    with pytest.raises(ValidationError, match="36 weeks"):
        enrolments.resume(course, site.today() + timedelta(days=120), by=clinician)


def test_make_up_added_while_paused_does_not_break_resuming(course, slots, clinician, site):
    course.slots.set(slots)
    enrolments.pause(course, site.today(), "ill", by=clinician)
    back = site.today() + timedelta(days=7)
    first = plan_sessions(back, [s.weekly for s in slots], [], 1)[0]
    PlannedSession.objects.create(enrolment=course, slot_id=first[1], on=first[0])
    enrolments.resume(course, back, by=clinician)
    assert course.planned.count() == 36


def test_full_course_gets_no_extra_session_by_resuming(course, slots, clinician, site):
    course.slots.set(slots)
    course.sessions_planned = 1
    course.save()
    day = site.today() - timedelta(days=3)
    PlannedSession.objects.create(enrolment=course, slot=slots[0], on=day)
    enrolments.pause(course, site.today(), "ill", by=clinician)
    enrolments.resume(course, site.today(), by=clinician)
    assert course.planned.count() == 1


def test_reopening_respects_seats(course, slots, clinician, site):
    course.slots.set(slots)
    enrolments.close(course, site.today(), "choice", by=clinician)
    for slot in slots:
        slot.seats = 1
        slot.save()
    other = ReferralFactory(patient__site=site, confirmed=True)
    enrolments.enrol(other, slots, site.today(), 36, by=clinician)
    with pytest.raises(ValidationError, match="full"):
        enrolments.reopen(course, by=clinician, reason="came back")


def test_rule_is_read_again_for_the_real_start(site, slots, clinician):
    referral = ReferralFactory(
        patient__site=site,
        condition__kind="mi",
        condition__happened_on=site.today() - timedelta(days=360),
    )
    referrals.confirm_eligibility(referral, "eligible", site.today(), by=clinician)
    late = site.today() + timedelta(days=30)
    with pytest.raises(ValidationError, match="rule says otherwise"):
        enrolments.enrol(referral, slots, late, 36, by=clinician)
    referrals.confirm_eligibility(referral, "eligible", late, "payer agreed", by=clinician)
    enrolments.enrol(referral, slots, late, 36, by=clinician)


def test_recent_discharge_counts_as_the_last_stay(site):
    referral = ReferralFactory(
        patient__site=site,
        last_cv_stay_on=site.today() - timedelta(days=300),
        discharged_on=site.today() - timedelta(days=5),
    )
    assert referral.facts()[0].last_cv_stay_on == referral.discharged_on


# --- referrals -----------------------------------------------------------------------------


def newcomer(site, **changes):
    given = {
        "site": site,
        "given_name": "Ada",
        "family_name": "Marchbanks",
        "born_on": date(1960, 5, 4),
        "record_number": "M-1",
    }
    return Patient(**(given | changes))


def refer(site, by, patient=None, one_or_two="", **condition):
    return referrals.refer(
        patient or newcomer(site),
        Condition(**({"kind": "mi", "happened_on": date(2026, 1, 10)} | condition)),
        Referral(referred_on=date(2026, 1, 12)),
        one_or_two=one_or_two,
        by=by,
    )


def test_new_person_and_referral_are_stored(site, clinician):
    found = refer(site, clinician)
    assert found.patient.record_number == "M-1"
    assert found.condition.kind == "mi"


def test_same_event_twice_is_refused(site, clinician):
    refer(site, clinician)
    with pytest.raises(ValidationError, match="already has a referral"):
        refer(site, clinician)
    assert Patient.objects.count() == 1


def test_new_event_of_a_known_person_is_a_new_referral(site, clinician):
    refer(site, clinician)
    again = refer(site, clinician, happened_on=date(2026, 3, 1))
    assert again.patient.referrals.count() == 2


def test_known_person_without_number_is_found_by_name_and_birth(site, clinician):
    first = refer(site, clinician)
    again = newcomer(site, record_number="", family_name="MARCHBANKS")
    with pytest.raises(PersonQuestion, match="one person or two"):
        refer(site, clinician, again, kind="cabg")
    assert refer(site, clinician, again, "same", kind="cabg").patient == first.patient


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"born_on": date(1961, 5, 4)}, "belongs to"),
        ({"family_name": "Quillfeather"}, "belongs to"),
        ({"record_number": "M-2"}, "one person or two"),
    ],
)
def test_clash_of_identity_is_a_question(site, clinician, changes, words):
    refer(site, clinician)
    with pytest.raises(ValidationError, match=words):
        refer(site, clinician, newcomer(site, **changes), kind="cabg")


def test_same_number_at_another_site_is_another_person(site, clinician):
    refer(site, clinician)
    other = PatientFactory(record_number="M-1")
    assert other.site != site


def test_deciding_against_the_rule_needs_a_reason(site, clinician):
    referral = refer(site, clinician, happened_on=date(2020, 1, 1))
    with pytest.raises(ValidationError, match="reason"):
        referrals.confirm_eligibility(referral, "eligible", date(2026, 3, 1), by=clinician)
    answer = referrals.confirm_eligibility(
        referral, "eligible", date(2026, 3, 1), "second event in January", by=clinician
    )
    assert answer.rule_said == "not_eligible"


def test_closing_and_reopening(site, clinician):
    referral = refer(site, clinician)
    referrals.close_referral(referral, "declined", by=clinician)
    with pytest.raises(ValidationError):
        referrals.close_referral(referral, "declined", by=clinician)
    referrals.reopen_referral(referral, by=clinician)
    referral.refresh_from_db()
    assert referral.is_waiting


def test_stale_correction_is_refused(site, clinician):
    referral = refer(site, clinician)
    seen = referral.version
    referrals.change_referral(referral, referral.condition, seen=seen, by=clinician)
    with pytest.raises(StaleVersion):
        referrals.change_referral(referral, referral.condition, seen=seen, by=clinician)


def test_a_letter_in_the_middle_of_a_course_speaks_of_the_next_visit(client, clinician, planned):
    client.force_login(clinician)
    url = reverse("enrolment:letter", args=[planned.enrolment_id])
    assert "Your first visit is on" in " ".join(client.get(url).content.decode().split())
    before = planned.on - timedelta(days=7)
    PlannedSession.objects.create(enrolment=planned.enrolment, slot=planned.slot, on=before)
    page = " ".join(client.get(url).content.decode().split())
    assert "Your next visit is on" in page
    assert "first visit" not in page
