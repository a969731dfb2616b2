"""A course's totals: told by the services that write, equal to what the record says."""

import os
import random
from datetime import date, time, timedelta
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command

from assessments import services as assessing
from assessments.services_schedule import open_assessment
from patients.history import save_as
from patients.models import FindKey, Patient
from programs.attendance.calc.sheet import Sheet
from programs.attendance.findings.interruptions import take_back
from programs.attendance.sheet.services import save_sheet
from programs.attendance.visit.counting import recount, tell_totals
from programs.enrolment.courses import changes
from programs.enrolment.courses import services as courses
from programs.enrolment.models import (
    ContactAttempt,
    CourseTotals,
    Enrolment,
    PlannedSession,
    ReferralTotals,
)
from programs.enrolment.referrals import services as referrals
from programs.enrolment.timetable import services as timetable
from programs.staff.models import Site
from reports import referral_totals, totals
from reports.calc.completion import BY_KEY, DEFINITIONS, by_month, completion_row, tally
from tests.factories.assessments import AssessmentFactory
from tests.factories.attendance import BoutFactory, ClassMeetingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
SEEDS = int(os.environ.get("SEARCH_TOTALS", "8"))  # 400 by hand
STEPS = 30
LONG = (date(1900, 1, 1), date(2200, 1, 1))


def attend(course, day, **flags):
    on = course.starts_on + timedelta(days=day)
    meeting = ClassMeetingFactory(slot__site=course.patient.site, on=on)
    given = {"state": "finished", "minutes": 60, "counts_first": True, "arrived_at": None}
    return VisitFactory(enrolment=course, meeting=meeting, **(given | flags))


def told(course):
    """The totals as they are stored, which must be what the record says."""
    assert not list(totals.differences())
    assert not list(referral_totals.differences())
    return CourseTotals.objects.get(enrolment=course)


def test_sessions_are_counted_from_both_flags(course):
    attend(course, 0)
    attend(course, 2, counts_second=True, minutes=95)
    attend(course, 4)
    attend(course, 4, counts_first=False, counts_second=True)
    attend(course, 5, counts_first=False, minutes=20)
    assert told(course).sessions == 5


def test_sessions_after_36_weeks_are_told_apart(course):
    for day in (0, 251, 252, 260):  # the course's last day is its 252nd
        attend(course, day)
    found = told(course)
    assert (found.sessions, found.sessions_in_36_weeks) == (4, 2)


def test_start_is_the_first_counted_session(course):
    attend(course, 3)
    expected = course.starts_on + timedelta(days=3) - course.referral.discharged_on
    assert told(course).days_to_start == expected.days


def test_who_holds_an_older_course_takes_no_ending_back(course, clinician):
    attend(course, 0)
    older = Enrolment.objects.get(pk=course.pk)
    courses.close(course, course.starts_on, "moved", by=clinician)
    tell_totals(older)
    told(course)
    assessing.tell_totals(AssessmentFactory(enrolment=older, kind="exit", performed_on=None))
    told(course)
    assert ReferralTotals.objects.get(pk=course.referral_id).left_on == course.starts_on


def test_nothing_counted_has_no_start(course):
    found = told(course)
    assert (found.first_on, found.days_to_start, found.has_ended) == (None, None, False)


def test_only_a_performed_exit_assessment_counts(course):
    AssessmentFactory(enrolment=course, kind="exit", performed_on=None)
    assert not told(course).has_exit
    row = course.assessments.get()
    row.performed_on = course.starts_on
    row.save()
    assessing.tell_totals(row)
    assert told(course).has_exit


# --- any sequence of changes, corrections and undo ----------------------------------------------


class Clinic:
    """Two courses of one person after another, and whatever staff do to them."""

    def __init__(self, seed):
        self.rng = random.Random(seed)
        self.sites = [SiteFactory(), SiteFactory()]
        self.by = UserFactory(role="clinician", sites=self.sites)
        self.course = EnrolmentFactory(patient__site=self.sites[0])
        self.slots = [
            ClassSlotFactory(site=site, starts_at=time(hour))
            for site in self.sites
            for hour in (8, 10, 13)
        ]
        self.course.slots.set(self.slots[:1])

    def step(self):
        """One thing somebody does; what the program refuses changes nothing."""
        act = self.rng.choice(self.acts())
        self.course.refresh_from_db()
        try:
            act()
        except ValidationError:
            return f"{act.__name__} refused"
        return act.__name__

    def acts(self):
        return (
            [self.attend] * 6
            + [self.take_back, self.other_minutes, self.close, self.reopen, self.pause]
            + [self.exit, self.exit_in_error, self.other_dates, self.transfer, self.more_sessions]
            + [self.answer, self.contact, self.other_person]
        )

    def attend(self):
        """Somebody comes on some day of the course and stays for some minutes."""
        on = self.course.starts_on + timedelta(days=self.rng.choice([0, 0, 1, 3, 251, 252, 300]))
        slot = self.rng.choice(self.slots)
        row = VisitFactory.build(
            enrolment=self.course,
            meeting=ClassMeetingFactory._meta.model.objects.get_or_create(slot=slot, on=on)[0],
            state=self.rng.choice(["finished", "stopped", "held"]),
            minutes=self.rng.choice([20, 35, 60, 95]),
            arrived_at=None,
        )
        if self.course.visits.filter(meeting=row.meeting).exists():
            return
        save_as(row, by=self.by)
        if self.rng.random() < 0.9:
            BoutFactory(visit=row)
        recount(self.course, on, by=self.by)

    def some_visit(self):
        rows = list(self.course.visits.order_by("pk"))
        if not rows:
            raise ValidationError("nobody came yet")
        return self.rng.choice(rows)

    def take_back(self):
        row = self.some_visit()
        take_back(row, "wrong person", seen=row.version, by=self.by)

    def other_minutes(self):
        row = self.some_visit()
        sheet = Sheet(minutes=self.rng.choice([25, 40, 100]))
        save_sheet(
            row, sheet, "save", seen=row.version, key=None, because="typed wrong", by=self.by
        )

    def close(self):
        last = self.course.starts_on + timedelta(days=self.rng.choice([5, 90]))
        courses.close(self.course, last, self.rng.choice(["completed", "moved"]), by=self.by)

    def reopen(self):
        courses.reopen(self.course, by=self.by, reason="ended by mistake")

    def pause(self):
        courses.pause(self.course, self.course.starts_on, "away", by=self.by)

    def exit(self):
        row = open_assessment(self.course, "exit", 1, by=self.by)
        walked = {"six_minute_walk": {"distance_m": 420.0, "course_m": 30.0}}
        assessing.record(
            row, self.course.starts_on, walked, "", seen=row.version, key=None, by=self.by
        )

    def exit_in_error(self):
        row = self.course.assessments.filter(kind="exit", performed_on__isnull=False).first()
        if row is None:
            raise ValidationError("not performed")
        for measurement in row.measurements.standing():
            assessing.mark_in_error(measurement, "another person", by=self.by)

    def other_dates(self):
        referral = self.course.referral
        referral.discharged_on = self.rng.choice(
            [None, referral.referred_on, referral.referred_on - timedelta(days=4)]
        )
        condition = referral.condition
        condition.happened_on = self.rng.choice([None, referral.referred_on - timedelta(days=9)])
        referrals.change_referral(referral, condition, seen=referral.version, by=self.by)

    def transfer(self):
        there = next(s for s in self.sites if s.pk != self.course.patient.site_id)
        slots = [slot for slot in self.slots if slot.site_id == there.pk][:1]
        ahead = there.today() + timedelta(days=1)
        changes.transfer(self.course, there, slots, ahead, by=self.by)

    def more_sessions(self):
        self.course.sessions_planned = self.rng.choice([12, 24, 36])
        save_as(self.course, by=self.by, reason="other number")

    def answer(self):
        decision = self.rng.choice(["eligible", "not_eligible"])
        referrals.confirm_eligibility(
            self.course.referral, decision, self.course.starts_on, "seen today", by=self.by
        )

    def contact(self):
        outcome = self.rng.choice(["reached", "no_answer"])
        tried = ContactAttempt(referral=self.course.referral, how="phone", outcome=outcome)
        referrals.log_contact(tried, by=self.by)

    def other_person(self):
        person = Patient.objects.get(pk=self.course.patient_id)
        person.sex = self.rng.choice(["female", "male", ""])
        person.born_on = date(self.rng.choice([1950, 1971]), 3, 1)
        save_as(person, by=self.by, reason="typed wrong")


@pytest.mark.parametrize("seed", range(SEEDS))
def test_any_sequence_of_changes_leaves_the_totals_right(seed):
    clinic = Clinic(seed)
    done = []
    for _ in range(STEPS):
        done.append(clinic.step())
        assert not list(totals.differences()), done
        assert not list(referral_totals.differences()), done


def test_the_search_reaches_every_step_and_every_column():
    """A step that is always refused, or a column that never changes, would prove nothing."""
    done, rows, ways = set(), [], []
    for seed in range(12):
        clinic = Clinic(100 + seed)
        for _ in range(STEPS):
            done.add(clinic.step())
            rows.append(CourseTotals.objects.get(enrolment=clinic.course))
            ways.append(ReferralTotals.objects.get(pk=clinic.course.referral_id))
    wanted = {
        "attend", "take_back", "other_minutes", "close", "reopen", "pause", "exit",
        "exit_in_error", "other_dates", "transfer", "more_sessions", "answer", "contact",
        "other_person",
    }  # fmt: skip
    assert wanted <= done
    for name in set(totals.COLUMNS) - {"enrolment_id", "starts_on", "starts_in"}:
        assert len({getattr(row, name) for row in rows}) > 1, name
    assert any(row.sessions_in_36_weeks < row.sessions for row in rows)
    reached = [
        "site_id", "sex", "age", "event_on", "is_eligible", "is_reached", "planned", "outcome",
        "left_on", "sessions", "first_on", "second_on", "has_exit", "step", "is_over", "reason",
        "wait_days", "event_days", "stay_days", "days_to_2",
    ]  # fmt: skip
    for name in reached:
        assert len({getattr(row, name) for row in ways}) > 1, name


def test_courses_moved_together_tell_their_totals(clinician, site):
    """A closed day moves the first session of everybody who would have begun on it."""
    first = site.today() + timedelta(days=7)
    slot = ClassSlotFactory(site=site, weekday=first.weekday(), seats=8)
    moved = []
    for _ in range(4):
        course = EnrolmentFactory(
            patient__site=site, starts_on=first, planned_end_on=first + timedelta(days=77)
        )
        course.slots.set([slot])
        for week in range(12):
            day = first + timedelta(days=7 * week)
            PlannedSession.objects.create(enrolment=course, slot=slot, on=day)
        moved.append(course)
    timetable.close_day(site, first, "holiday", by=clinician)
    for course in moved:
        course.refresh_from_db()
        assert course.starts_on > first
        assert told(course).starts_on == course.starts_on


# --- the figures --------------------------------------------------------------------------------


def test_the_database_counts_cohorts_as_they_are_counted_one_by_one():
    """Beside ``tally``, whose rules tests/calc/test_reports.py holds to published definitions."""
    rng = random.Random(36)
    sites = {site.pk: site.name for site in [SiteFactory(name="North"), SiteFactory(name="South")]}
    for n in range(60):
        course = EnrolmentFactory(patient__site=Site.objects.get(pk=rng.choice(list(sites))))
        row = CourseTotals.objects.get(enrolment=course)
        row.starts_on = date(2024 + n % 3, rng.choice([1, 2, 12]), rng.choice([1, 28]))
        row.starts_in = row.starts_on.year * 12 + row.starts_on.month - 1
        row.planned = rng.choice([10, 24, 36])
        row.sessions = rng.choice([0, 0, 7, 18, 19, 26, 27, 28, 36, 40])
        row.sessions_in_36_weeks = max(0, row.sessions - rng.choice([0, 0, 2]))
        row.days_to_start = rng.choice([3, 21, 22, 90]) if row.sessions else None
        row.has_ended, row.has_exit = rng.random() < 0.8, rng.random() < 0.5
        row.outcome = rng.choice(["completed", "moved", "lost"]) if row.has_ended else ""
        row.save()
    since, until = date(2024, 1, 28), date(2026, 2, 28)
    within = CourseTotals.objects.filter(starts_on__range=(since, until))
    expected = tally((totals.facts_of(row, sites[row.site_id]) for row in within), 21)
    found = totals.cohorts(sites, since, until)
    key = lambda cohort: (cohort.site, cohort.month)  # noqa: E731
    assert sorted(found, key=key) == expected
    assert len(found) > 8
    for by in DEFINITIONS:
        assert completion_row("x", found, by) == completion_row("x", expected, by)
        assert by_month(found, by) == by_month(expected, by)
    ended = [row.outcome for row in within if row.sessions and row.has_ended]
    assert dict(totals.reasons(sites, since, until)) == {
        word: ended.count(key)
        for key, word in [
            ("completed", "completed"),
            ("moved", "moved away"),
            ("lost", "lost contact"),
        ]
        if key in ended
    }


def test_figures_are_of_the_sites_and_days_asked_for(course):
    attend(course, 0)
    site, today = course.patient.site, course.patient.site.today()
    assert totals.cohorts({site.pk: "x"}, course.starts_on, today)[0].n_in_program == 1
    assert not totals.cohorts({site.pk: "x"}, course.starts_on + timedelta(days=1), today)
    assert not totals.cohorts({SiteFactory().pk: "y"}, *LONG)
    assert BY_KEY["36"].least == 36  # Ritchey 2020, doi:10.1161/CIRCOUTCOMES.119.005902


# --- the proof ----------------------------------------------------------------------------------


def verify(*options):
    out = StringIO()
    call_command("verify_totals", *options, stdout=out)
    return out.getvalue()


def test_what_is_right_is_said_to_be_right(course):
    attend(course, 0)
    said = verify()
    assert "1 courses, 0 with wrong totals; 1 referrals, 0 with wrong totals; " in said
    assert "1 people, 0 with wrong words" in said


def test_every_planted_difference_is_found_and_mended():
    rows = []
    for _ in range(40):
        course = EnrolmentFactory()
        attend(course, 0)
        rows.append(CourseTotals.objects.get(enrolment=course))
    other = SiteFactory()
    wrong = {
        "site_id": other.pk, "starts_on": date(2001, 2, 3), "starts_in": 7, "planned": 1,
        "has_ended": True, "outcome": "lost", "waits_since": date(2001, 2, 3), "sessions": 9,
        "sessions_in_36_weeks": 9, "first_on": None, "days_to_start": -5, "has_exit": True,
    }  # fmt: skip
    assert set(wrong) == set(totals.COLUMNS) - {"enrolment_id"}
    planted = {}
    for row, (name, value) in zip(rows, wrong.items(), strict=False):
        CourseTotals.objects.filter(pk=row.pk).update(**{name: value})
        planted[row.pk] = (name,)
    missing = rows[-1].pk
    CourseTotals.objects.filter(pk=missing).delete()
    person = Patient.objects.first()
    FindKey.objects.filter(patient=person).first().delete()
    assert {one.enrolment: one.columns for one in totals.differences()} == planted | {
        missing: ("missing",)
    }
    with pytest.raises(CommandError, match="--mend"):
        verify()
    ReferralTotals.objects.filter(pk=row.enrolment.referral_id).update(step=8, sex="x")
    ReferralTotals.objects.order_by("pk").first().delete()
    assert [one.columns for one in referral_totals.differences()] == [("missing",), ("sex", "step")]
    assert "13 with wrong totals; 40 referrals, 2 with wrong totals" in verify("--mend")
    assert "0 with wrong totals; 40 people, 0 with wrong words" in verify()
    assert not list(referral_totals.differences())


def test_proving_takes_few_queries_however_many_courses(django_assert_max_num_queries):
    for _ in range(30):
        attend(EnrolmentFactory(), 0)
    with django_assert_max_num_queries(4):
        assert not list(totals.differences())
    with django_assert_max_num_queries(8):
        assert not list(referral_totals.differences())
