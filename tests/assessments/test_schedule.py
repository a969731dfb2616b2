"""Booking assessments, one or many; who does them; what was missed; exit data of early leavers."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assessments import services, services_policy, services_schedule
from assessments.calc.schedule import milestones_of
from assessments.models import Assessment, AssessmentPolicy, Concern
from assessments.queries_schedule import (
    course_of,
    lines_of,
    proposed_day,
    to_book,
    waiting_at,
    with_courses,
)
from assessments.services_schedule import Booking
from patients.submissions import AlreadyTaken, new_key
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import Enrolment
from reports.worklists import due_for
from tests.due import due_on
from tests.factories.assessments import (
    AssessmentFactory,
    AssessmentPolicyFactory,
    MeasurementFactory,
)
from tests.factories.enrolment import EnrolmentFactory, PlannedSessionFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
PHQ = {f"item{n}": 0 for n in range(1, 10)}


@pytest.fixture
def today(site):
    return site.today()


def due(site, ahead=7):
    return [(d.milestone.kind, str(d.standing)) for d in waiting(site, ahead)]


def waiting(site, ahead=7):
    return with_courses(waiting_at([site], ahead))


def began(site, days_ago, **given):
    starts = site.today() - timedelta(days=days_ago)
    return EnrolmentFactory(patient__site=site, starts_on=starts, **given)


def performed(course, kind="baseline", number=1, days=0):
    on = course.starts_on + timedelta(days=days)
    return AssessmentFactory(enrolment=course, kind=kind, number=number, performed_on=on)


# --- standing -----------------------------------------------------------------------------------


def test_due_names_what_is_next_and_what_was_missed(site):
    course = began(site, 38)
    assert due(site) == [("six_weeks", "may be done now"), ("baseline", "missed")]
    performed(course)
    assert due(site) == [("six_weeks", "may be done now")]


def test_somebody_says_why_and_it_is_asked_no_more(site, clinician, client):
    course = began(site, 38)
    client.force_login(clinician)
    url = reverse("assessments:not-obtained", args=[course.pk, "baseline", 1])
    client.post(url, {"reason": " "})
    assert ("baseline", "missed") in due(site)
    client.post(url, {"reason": "in hospital until week five"})
    assert due(site) == [("six_weeks", "may be done now")]
    page = client.get(reverse("assessments:course", args=[course.pk])).content.decode()
    assert "not obtained" in page
    assert "in hospital until week five" in page


def test_a_performed_one_was_obtained_and_recording_takes_the_reason_back(site, clinician):
    course = began(site, 3)
    row = services_schedule.open_assessment(course, "baseline", 1, by=clinician)
    services_schedule.not_obtained(row, "did not come", by=clinician)
    row.refresh_from_db()
    entries = {"resting_heart_rate": {"heart_rate_bpm": 66}}
    services.record(row, course.starts_on, entries, seen=row.version, key=None, by=clinician)
    row.refresh_from_db()
    assert (row.performed_on, row.not_obtained_because) == (course.starts_on, "")
    with pytest.raises(ValidationError, match="already performed"):
        services_schedule.not_obtained(row, "no", by=clinician)


def test_what_was_performed_beside_the_plan_stays_in_the_list(site, today):
    course = began(site, 60)
    performed(course, "informal", 3, 21)  # while the site checked weekly
    kinds = [(line.milestone.kind, line.milestone.number) for line in lines_of(course, today)]
    assert ("informal", 3) in kinds


def test_the_site_chooses_how_often_it_checks(site, today):
    since = f"{today - timedelta(days=400)}"
    AssessmentPolicyFactory(site=site, informal_every_days=7, rhythm=[[since, 7]])
    course = Enrolment.objects.select_related("patient__site").get(pk=began(site, 0).pk)
    found = [m.number for m in milestones_of(course_of(course), today) if not m.is_formal]
    assert found == [1, 2, 3, 4, 5, 7, 8, 9, 10, 11]


# --- exit data of those who left ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("outcome", "sought"), [("work", True), ("medical", True), ("died", False)]
)
def test_exit_results_are_sought_of_an_early_leaver(site, today, clinician, outcome, sought):
    course = began(site, 30)
    performed(course)
    enrolments.close(course, today, outcome, by=clinician)
    assert due(site) == ([("exit", "due")] if sought else [])


def test_a_last_value_is_no_exit_and_stops_no_asking(site, today, clinician, client):
    course = began(site, 40)
    MeasurementFactory(assessment=performed(course), value=400)
    MeasurementFactory(assessment=performed(course, "informal", 4, 28), value=430)
    enrolments.close(course, today, "transport", by=clinician)
    assert due(site) == [("exit", "due")]
    performed(course, "exit", 1, 40)
    assert due(site) == []


@pytest.mark.parametrize(("days_ago", "asked"), [(30, "due"), (31, "missed"), (90, "missed")])
def test_exit_is_sought_for_thirty_days(site, today, clinician, days_ago, asked):
    course = began(site, days_ago + 20)
    enrolments.close(course, today - timedelta(days=days_ago), "choice", by=clinician)
    assert due(site) == [("exit", asked)]


def test_after_three_months_nobody_is_asked_any_more(site, today, clinician):
    course = began(site, 120)
    enrolments.close(course, today - timedelta(days=91), "choice", by=clinician)
    assert due(site) == []


# --- booking ------------------------------------------------------------------------------------


def test_the_class_day_nearest_the_due_day_is_proposed(site, today):
    course = began(site, 36)
    performed(course)
    for days in (1, 4, 9):
        PlannedSessionFactory(enrolment=course, on=today + timedelta(days=days))
    (found,) = to_book(site, today + timedelta(days=14))
    assert found.milestone.kind == "six_weeks"
    assert found.milestone.due_on == today + timedelta(days=6)
    assert found.proposed_on == today + timedelta(days=4)


def test_without_a_class_day_inside_the_window_the_due_day_is_proposed(today):
    from assessments.calc.timing import Milestone

    late = Milestone("six_weeks", 1, today - timedelta(days=3))
    assert proposed_day(late, [], today) == today
    assert proposed_day(late, [today + timedelta(days=20)], today) == today
    assert proposed_day(late, [today + timedelta(days=4)], today) == today + timedelta(days=4)


def test_several_are_booked_at_once_or_none(site, today, clinician):
    first, second = began(site, 40), began(site, 40)
    good = Booking(first, "six_weeks", 1, today + timedelta(days=2))
    past = Booking(second, "six_weeks", 1, today - timedelta(days=1))
    with pytest.raises(ValidationError, match="gone by"):
        services_schedule.book_many([good, past], clinician, by=clinician)
    assert not Assessment.objects.exists()
    key = new_key()
    services_schedule.book_many([good], clinician, key=key, by=clinician)
    row = Assessment.objects.get()
    assert (row.planned_on, row.booked_with) == (good.on, clinician)
    with pytest.raises(AlreadyTaken):
        services_schedule.book_many([good], clinician, key=key, by=clinician)


def test_many_are_booked_in_as_few_queries_as_some(site, today, clinician):
    used = {}
    clinician.site_ids()  # read once a request
    for n in (2, 12):
        courses = [began(site, 40) for _ in range(n)]
        known = services_schedule.open_assessment(courses[0], "six_weeks", 1, by=clinician)
        bookings = [Booking(c, "six_weeks", 1, today + timedelta(days=2)) for c in courses]
        with CaptureQueriesContext(connection) as seen:
            services_schedule.book_many(bookings, clinician, by=clinician)
        used[n] = len(seen)
        for course in courses:
            row = course.assessments.get()
            kept = row.history.order_by("history_id")
            assert [(v.history_change_reason, v.planned_on, v.version) for v in kept] == [
                ("opened", None, 1),
                ("booked", today + timedelta(days=2), 2),
            ]
            assert {v.history_user for v in kept} == {clinician}
            assert (row.version, row.booked_with) == (2, clinician)
        assert known.history.count() == 2
    assert used[12] == used[2] <= 40


def test_bulk_booking_by_page(site, today, clinician, client):
    courses = [began(site, 40) for _ in range(3)]
    for course in courses:
        performed(course)
    client.force_login(clinician)
    url = reverse("assessments:book-many")
    page = client.get(url)
    keys = [line.key for line, _, _ in page.context["rows"] if line.milestone.kind == "six_weeks"]
    assert len(keys) == 3
    on = f"{today + timedelta(days=3):%Y-%m-%d}"
    post = {"take": keys[:2], "with_whom": clinician.pk} | {f"on-{key}": on for key in keys}
    wrong = client.post(url, post | {f"on-{keys[0]}": "soon"})
    assert "is no date; write it such as 2026-11-26" in wrong.content.decode()
    assert 'value="soon"' in wrong.content.decode()
    assert not Assessment.objects.filter(planned_on__isnull=False).exists()
    assert client.post(url, post).status_code == 302
    assert Assessment.objects.filter(planned_on=on, booked_with=clinician).count() == 2
    left = client.get(url).context["rows"]
    assert keys[2] in [line.key for line, _, _ in left]
    assert keys[0] not in [line.key for line, _, _ in left]


def test_a_day_long_after_the_course_is_no_appointment(site, today, clinician):
    course = began(site, 1)
    row = services_schedule.open_assessment(course, "baseline", 1, by=clinician)
    last = max(course.planned_end_on, today) + timedelta(days=90)
    with pytest.raises(ValidationError, match="check the year"):
        services_schedule.plan_assessment(row, last + timedelta(days=1), by=clinician)
    services_schedule.plan_assessment(row, last, by=clinician)


def test_nobody_of_another_site_is_booked(site, today, clinician):
    row = services_schedule.open_assessment(began(site, 1), "baseline", 1, by=clinician)
    stranger = UserFactory(role="clinician", sites=[SiteFactory()])
    with pytest.raises(ValidationError, match="does not work"):
        services_schedule.plan_assessment(row, today, stranger, by=clinician)


def test_a_booking_is_given_up_again(site, today, clinician, client):
    row = services_schedule.open_assessment(began(site, 1), "baseline", 1, by=clinician)
    services_schedule.plan_assessment(row, today, clinician, by=clinician)
    client.force_login(clinician)
    client.post(reverse("assessments:book", args=[row.pk]), {"planned_on": "", "with_whom": ""})
    row.refresh_from_db()
    assert (row.planned_on, row.booked_with) == (None, None)


def test_floor_staff_do_not_book(people, client):
    client.force_login(people["floor"])
    assert client.get(reverse("assessments:book-many")).status_code == 403


# --- whose --------------------------------------------------------------------------------------


def test_due_can_be_narrowed_to_one_clinician(site, clinician, client):
    other = UserFactory(role="clinician", sites=[site])
    mine, theirs, nobodys = (began(site, 3) for _ in range(3))
    enrolments.look_after(mine, clinician, by=clinician)
    enrolments.look_after(theirs, other, by=clinician)
    shares = {s.name: s.n for s in due_for(clinician).shares}
    assert shares["Mine"] == shares[str(other)] == shares["Unassigned"]

    def whose(key):
        return {line.enrolment for line in with_courses(due_for(clinician, key).assessments)}

    assert whose("all") == whose("nonsense") == {mine, theirs, nobodys}
    assert whose(str(clinician.pk)) == {mine}
    assert whose("none") == {nobodys}
    client.force_login(clinician)
    client.post(reverse("assessments:take", args=[nobodys.pk]))
    assert whose(str(clinician.pk)) == {mine, nobodys}


def test_a_booked_assessment_stands_with_whom_it_is_booked(site, today, clinician):
    other = UserFactory(role="clinician", sites=[site])
    course = began(site, 1)
    enrolments.look_after(course, clinician, by=clinician)
    row = services_schedule.open_assessment(course, "baseline", 1, by=clinician)
    services_schedule.plan_assessment(row, today, other, by=clinician)
    assert [d.clinician for d in waiting(site)] == [other]


def test_only_a_clinician_of_the_site_looks_after_a_course(site, clinician, nurse):
    course = began(site, 1)
    for wrong in (nurse, UserFactory(role="clinician", sites=[SiteFactory()])):
        with pytest.raises(ValidationError):
            enrolments.look_after(course, wrong, by=clinician)
    enrolments.look_after(course, None, by=clinician)


# --- concerns -----------------------------------------------------------------------------------


def concern_of(site, by):
    course = began(site, 1)
    row = services_schedule.open_assessment(course, "baseline", 1, by=by)
    services.raise_concerns(row, {"phq9": PHQ | {"item9": 1}}, by=by)
    return Concern.objects.get(assessment=row)


def test_a_concern_goes_to_the_person_the_site_named(site, clinician, physician):
    assert concern_of(site, clinician).owner == clinician
    AssessmentPolicyFactory(site=site, concern_owner=physician)
    assert concern_of(type(site).objects.get(pk=site.pk), clinician).owner == physician


def test_a_person_who_left_answers_for_nothing(site, clinician, physician):
    AssessmentPolicyFactory(site=site, concern_owner=physician)
    physician.is_active = False
    physician.save()
    assert concern_of(type(site).objects.get(pk=site.pk), clinician).owner == clinician


def test_a_concern_is_handed_over_to_somebody_who_may_close_it(
    site, clinician, physician, nurse, client
):
    concern = concern_of(site, clinician)
    with pytest.raises(ValidationError, match="cannot close"):
        services.hand_over(concern, nurse, by=clinician)
    client.force_login(clinician)
    client.post(reverse("assessments:hand-over", args=[concern.pk]), {"to": physician.pk})
    concern.refresh_from_db()
    assert concern.owner == physician
    url = reverse("assessments:concern", args=[concern.pk])
    assert "Say what was done" in client.post(url, {"outcome": "x"}).content.decode()
    services.close_concern(concern, "spoke with him", by=physician)
    page = client.get(url).content.decode()
    assert f"handed to {physician}" in page
    assert f"Closed by {physician}" in page
    assert "several days" in page  # what was answered
    main = page.partition("<main")[2].partition("</main>")[0]
    assert "■" not in main  # nothing of it is for today any more
    with pytest.raises(ValidationError, match="already closed"):
        services.hand_over(concern, clinician, by=clinician)


# --- what a cold read found ---------------------------------------------------------------------


def told(course, day):
    due = due_on(course, day)
    return None if due is None else (due.name, due.on)


def test_the_class_list_follows_time_with_nothing_written(site, today):
    course = began(site, 0)
    says = {n: told(course, course.starts_on + timedelta(days=n)) for n in (0, 34, 35, 76)}
    assert says[0] == ("Baseline assessment", course.starts_on)
    assert says[34] == ("Baseline assessment", course.starts_on)  # late, still worth doing
    assert says[35][0] == "Six-week reassessment"
    assert says[76][0] == "Exit assessment"


def test_a_change_of_policy_is_told_to_the_class_list(site, people, clinician):
    course = began(site, 8)
    performed(course)
    assert told(course, site.today())[1] == course.starts_on + timedelta(days=14)
    changed = AssessmentPolicy(site=site, informal_every_days=7, reason="weekly")
    services_policy.change_policy(changed, seen=0, by=people["administrator"])
    # Day 7 was due before the change and stays as it was: not asked for.
    assert told(course, site.today())[1] == course.starts_on + timedelta(days=14)
    fresh = Enrolment.objects.get(pk=course.pk)
    plan = milestones_of(course_of(fresh), site.today())
    assert [m.number for m in plan if not m.is_formal] == [2, 3, 4, 5, 7, 8, 9, 10, 11]


def test_a_booking_beside_a_new_rhythm_stays(site, today, clinician):
    course = began(site, 15)
    performed(course)
    row = services_schedule.open_assessment(course, "informal", 3, by=clinician)
    services_schedule.plan_assessment(row, today + timedelta(days=6), by=clinician)
    lines = [(x.milestone.kind, x.milestone.number) for x in lines_of(course, today)]
    assert ("informal", 3) in lines  # the site checks every 14 days


def test_on_the_day_of_its_booking_an_assessment_is_due(site, today, clinician):
    course = began(site, 19)  # the window of week two closed yesterday
    performed(course)
    row = services_schedule.open_assessment(course, "informal", 2, by=clinician)
    Assessment.objects.filter(pk=row.pk).update(planned_on=today)
    assert ("informal", "late") in due(site)
    (found,) = waiting(site)
    assert found.line.is_booked


def test_a_booking_not_kept_is_offered_again(site, today, clinician, client):
    course = began(site, 36)
    performed(course)
    row = services_schedule.open_assessment(course, "six_weeks", 1, by=clinician)
    Assessment.objects.filter(pk=row.pk).update(planned_on=today - timedelta(days=1))
    found = [d.milestone.kind for d in to_book(site, today + timedelta(days=14))]
    assert "six_weeks" in found
    client.force_login(clinician)
    page = client.get(reverse("assessments:course", args=[course.pk])).content.decode()
    assert "not kept" in page


def test_while_a_pause_lasts_nothing_comes_due(site, today, clinician):
    course = began(site, 40)
    performed(course)
    assert due(site) == [("six_weeks", "may be done now")]
    enrolments.pause(course, today - timedelta(days=1), "in hospital", by=clinician)
    assert due(site) == []
    assert to_book(site, today + timedelta(days=28)) == []
    late = began(site, 60)
    performed(late)
    enrolments.pause(late, today, "in hospital", by=clinician)
    assert [kind for kind, _ in due(site)] == ["six_weeks"]  # overdue before it began


def test_of_an_assessment_wholly_in_error_nothing_was_performed(site, clinician):
    course = began(site, 20)
    row = performed(course, "exit", 1, 15)
    first = MeasurementFactory(assessment=row)
    second = MeasurementFactory(assessment=row, key="phq9")
    services.mark_in_error(first, "another person", by=clinician)
    row.refresh_from_db()
    assert row.performed_on is not None
    services.mark_in_error(second, "another person", by=clinician)
    row.refresh_from_db()
    assert (row.performed_on, row.by) == (None, None)
    services_schedule.plan_assessment(row, site.today(), by=clinician)


def test_a_closed_concern_is_not_raised_by_another_correction(site, clinician, client):
    course = began(site, 1)
    row = services_schedule.open_assessment(course, "baseline", 1, by=clinician)
    entries = {"phq9": PHQ | {"item9": 1}, "resting_heart_rate": {"heart_rate_bpm": 66}}
    services.record(row, course.starts_on, entries, seen=row.version, key=None, by=clinician)
    services.close_concern(Concern.objects.get(), "spoke with her", by=clinician)
    client.force_login(clinician)
    row.refresh_from_db()
    typed = {f"phq9-{item}": "1" if item == "item9" else "0" for item in PHQ}
    typed |= {"resting_heart_rate-heart_rate_bpm": "210", "performed_on": course.starts_on}
    page = client.post(
        reverse("assessments:record", args=[row.pk]), typed | {"seen_version": row.version}
    )
    assert "Unusual" in page.content.decode()
    assert Concern.objects.count() == 1


def test_due_of_one_person_says_what_it_leaves_out(site, clinician, client):
    theirs = began(site, 3)
    enrolments.look_after(theirs, UserFactory(role="clinician", sites=[site]), by=clinician)
    client.force_login(clinician)
    page = client.get(reverse("reports:due"), {"whose": clinician.pk}).content.decode()
    assert "Nothing is due" not in page
    assert "of others are left out" in page
    unknown = due_for(clinician, "99999999")
    assert [share.name for share in unknown.shares if share.is_shown] == ["Everybody"]
    assert unknown.assessments


def test_work_of_somebody_who_has_gone_is_nobodys(site, clinician, client):
    gone = UserFactory(role="clinician", sites=[site])
    course = began(site, 3)
    enrolments.look_after(course, gone, by=clinician)
    gone.is_active = False
    gone.save()
    assert [d.clinician for d in waiting(site)] == [None]
    client.force_login(clinician)
    client.post(reverse("assessments:take", args=[course.pk]))
    course.refresh_from_db()
    assert course.clinician == clinician


def test_two_people_take_a_course(site, clinician, client):
    course, other = began(site, 3), UserFactory(role="clinician", sites=[site])
    enrolments.look_after(course, other, by=other)
    client.force_login(clinician)
    page = client.post(reverse("assessments:take", args=[course.pk]), follow=True)
    assert f"{other} took this course meanwhile" in page.content.decode()
    course.refresh_from_db()
    assert course.clinician == other


def test_a_bulk_booking_sent_twice_or_overtaken(site, today, clinician, client):
    course = began(site, 40)
    performed(course)
    client.force_login(clinician)
    url = reverse("assessments:book-many")
    page = client.get(url)
    (due_line,) = [x for x, _, _ in page.context["rows"] if x.milestone.kind == "six_weeks"]
    post = {
        "take": [due_line.key],
        f"on-{due_line.key}": f"{today + timedelta(days=2):%Y-%m-%d}",
        "submission_key": page.context["form"].initial["submission_key"],
    }
    assert client.post(url, post).status_code == 302
    assert client.post(url, post).status_code == 302  # the very same form again
    again = client.post(url, post | {"submission_key": new_key()}).content.decode()
    assert "booked or recorded meanwhile" in again


@pytest.mark.parametrize("number", ["2", "0", "-1", "9" * 5000, "x"])
def test_a_course_has_one_baseline(site, clinician, client, number):
    course = began(site, 3)
    client.force_login(clinician)
    url = reverse("assessments:open", args=[course.pk])
    assert client.post(url, {"kind": "baseline", "number": number}).status_code == 302
    assert not course.assessments.exists()


def test_a_transfer_gives_up_bookings_with_people_of_the_old_site(site, today, clinician):
    course, elsewhere = began(site, 3), SiteFactory()
    both = UserFactory(role="clinician", sites=[site, elsewhere])
    for kind, whom in (("baseline", clinician), ("six_weeks", both)):
        row = services_schedule.open_assessment(course, kind, 1, by=clinician)
        services_schedule.plan_assessment(row, today, whom, by=clinician)
    course.patient.site = elsewhere
    course.patient.save()
    services_schedule.give_up_bookings(course, by=clinician)
    kept = {a.kind: a.booked_with for a in course.assessments.all()}
    assert kept == {"baseline": None, "six_weeks": both}
