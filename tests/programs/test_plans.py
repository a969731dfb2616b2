"""Treatment plans: written from the record, signed, sent back, kept as they were signed."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.urls import reverse
from django.utils import timezone

from patients.history import StaleVersion
from patients.models import AuditEvent
from programs.prescription.models import TreatmentPlan
from programs.prescription.services import prescribe
from programs.review import services
from programs.review.calc.canonical import text_of
from programs.review.document import is_intact, parts_of, rows_of_plan
from programs.review.queries import draft_of, last_signed_of
from programs.review.queue import Group, waiting_at
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.attendance import TeachingFactory
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.patients import MedicineFactory
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def dose(course):
    return PrescriptionFactory(enrolment=course, low_bpm=96, high_bpm=108)


def drafted(course, by):
    return services.write_draft(course, by=by)


def signed(course, by, plan=None):
    plan = plan or drafted(course, by)
    dose = course.prescriptions.in_force().first()
    services.sign_plan(plan, seen=plan.version, seen_dose=dose.pk if dose else 0, by=by)
    return TreatmentPlan.objects.get(pk=plan.pk)


def measured(course, key, value, on, **more):
    assessment = course.assessments.filter(performed_on=on).first() or AssessmentFactory(
        enrolment=course, performed_on=on, by=UserFactory(), kind=more.pop("kind", "baseline")
    )
    return MeasurementFactory(assessment=assessment, key=key, value=value, **more)


# --- what the program writes ------------------------------------------------------------------


def test_a_first_draft_tells_the_record_and_makes_nothing_up(course, dose, people):
    start = course.starts_on
    measured(course, "six_minute_walk", 388, start)
    MedicineFactory(patient=course.patient, name="atorvastatin 40 mg", drug_class="statin")
    TeachingFactory(enrolment=course, component="risk", topic="Cholesterol")
    parts = parts_of(drafted(course, people["clinician"]))
    assert "Six-minute walk 388 m" in parts["exercise"].found
    assert parts["exercise"].amounts == {"walk": 413}  # 25 m more: Gremeaux 2011
    assert parts["exercise"].by_on == course.planned_end_on
    assert "Takes atorvastatin 40 mg" in parts["lipids"].found
    assert "Not on record: Non-HDL" in parts["lipids"].found
    assert "Cholesterol" in parts["lipids"].taught
    assert parts["lipids"].standing == "no result yet: LDL under 70 mg/dL"
    assert parts["diabetes"].amounts == {}  # nothing says that there is any
    assert {part.intervention + part.assessment + part.family for part in parts.values()} == {""}


def test_missing_parts_are_named_on_the_page(client, course, dose, people):
    drafted(course, people["clinician"])
    client.force_login(people["clinician"])
    page = client.get(reverse("review:plan", args=[course.pk])).content.decode()
    assert "the outcomes assessment at the start" in page
    assert "Psychosocial, family and home: assessment, family and home, what is done" in page


def test_a_result_meets_a_goal_by_itself(client, course, dose, people):
    start = course.starts_on
    measured(course, "six_minute_walk", 388, start)
    signed(course, people["physician"])
    later = course.patient.site.today()
    measured(course, "six_minute_walk", 431, later, kind="six_weeks")
    drafted(course, people["clinician"])
    client.force_login(people["physician"])
    page = " ".join(client.get(reverse("review:queue")).content.decode().split())
    address = client.get(reverse("review:queue"), {"plan": course.pk})
    assert "six-minute walk at least 413 m: 431 m" in page + address.content.decode()


def test_four_old_texts_stay_readable_and_go_on_in_the_next_version(client, course, people):
    today = course.patient.site.today()
    old = TreatmentPlanFactory(
        enrolment=course, psychosocial="PHQ-9 at entry", risk_factors="Diet reviewed",
        signed_by=people["physician"], signed_on=today - timedelta(days=30),
    )  # fmt: skip
    plan = drafted(course, people["clinician"])
    parts = parts_of(plan)
    assert plan.goals == "Walk to the market."
    assert parts["exercise"].intervention == "Treadmill, three times a week."
    assert parts["psychosocial"].intervention == "PHQ-9 at entry"
    assert plan.risk_factors == "Diet reviewed"
    client.force_login(people["clinician"])
    page = client.get(reverse("review:version", args=[old.pk])).content.decode()
    assert "PHQ-9 at entry" in page
    assert "Signed before digests were kept" in page


def test_what_the_team_wrote_goes_on_and_progress_is_told_anew(client, course, people):
    client.force_login(people["clinician"])
    to = reverse("review:plan", args=[course.pk])
    typed = {
        "lipids_intervention": "Statin", "lipids_progress": "fewer eggs", "tobacco_not": "on",
        "tobacco_assessment": "never smoked", "goal_ldl": "55", "lipids_by_on": "2030-01-08",
        "goal_tobacco": "on",
    }  # fmt: skip
    assert client.post(to, typed).status_code == 302
    plan = signed(course, people["physician"], course.plans.get())
    assert parts_of(plan)["lipids"].progress == "fewer eggs"
    new = parts_of(draft_of(course))
    assert (new["lipids"].intervention, new["lipids"].progress) == ("Statin", "")
    assert (new["lipids"].amounts, new["lipids"].by_on.year) == ({"ldl": 55}, 2030)
    assert not new["tobacco"].applies
    shown = client.get(to).context["form"].initial
    assert shown["goal_ldl"] == 55
    assert shown["tobacco_not"] is True


# --- signing ----------------------------------------------------------------------------------


def test_a_signed_version_keeps_its_lines_whatever_changes_later(course, dose, people):
    plan = signed(course, people["physician"])
    rows = rows_of_plan(plan, None)
    texts = {row.key: row.text for row in rows}
    assert "heart rate 96–108 /min" in texts["dose.amount"]
    assert texts["dose.frequency"] == "3 times a week"
    assert texts["signature.by"].startswith(str(people["physician"]))
    course.patient.family_name = "Renamed"
    course.patient.save()
    assert rows_of_plan(TreatmentPlan.objects.get(pk=plan.pk), None) == rows
    assert "person.name: " + texts["person.name"] in text_of(rows)
    assert is_intact(plan) is True


@pytest.mark.parametrize("what", ["text", "day"])
def test_a_version_that_was_tampered_with_says_so(client, course, dose, people, what):
    plan = signed(course, people["physician"])
    if what == "text":
        content = {**plan.content, "signed": [*plan.content["signed"]]}
        content["signed"][4] = ["diagnosis", "Diagnosis", "another"]
        TreatmentPlan.objects.filter(pk=plan.pk).update(content=content)
    else:
        TreatmentPlan.objects.filter(pk=plan.pk).update(signed_on="2030-01-01")
    client.force_login(people["clinician"])
    page = client.get(reverse("review:version", args=[plan.pk])).content.decode()
    assert "Not as signed" in page


def test_any_two_versions_are_compared(client, course, dose, people):
    first = signed(course, people["physician"])
    again = drafted(course, people["clinician"])
    content = again.content
    content["components"]["lipids"]["intervention"] = "Statin doubled"
    again.content = content
    services.prepare_plan(again, seen=again.version, by=people["clinician"])
    second = signed(course, people["physician"], again)
    client.force_login(people["floor"])
    for one, other, words in [(second, first, "<ins>"), (first, second, "<del>")]:
        to = reverse("review:version", args=[one.pk])
        page = client.get(to, {"against": other.pk})
        assert page.context["n_changes"] == 1
        assert words in page.content.decode()
    assert "<ins>" not in client.get(to).content.decode()  # clean unless asked for


def test_the_wrong_role_is_refused_and_that_is_noted(client, course, dose, people):
    plan = drafted(course, people["clinician"])
    for role in ("clinician", "floor"):
        client.force_login(people[role])
        data = {"seen_version": plan.version, "dose": dose.pk}
        assert client.post(reverse("review:sign-plan", args=[plan.pk]), data).status_code == 403
        with pytest.raises(PermissionDenied):
            services.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=people[role])
    refused = AuditEvent.objects.filter(kind="refusal", patient=course.patient)
    assert {row.user for row in refused} == {people["clinician"], people["floor"]}
    plan.refresh_from_db()
    assert plan.signed_on is None


def test_clinicians_sign_only_where_the_site_says_the_law_allows_it(course, dose, people, site):
    plan = drafted(course, people["clinician"])
    with pytest.raises(PermissionDenied):
        services.send_back(plan, "dose", seen=plan.version, by=people["clinician"])
    site.clinicians_sign = True
    site.save()
    plan = TreatmentPlan.objects.get(pk=plan.pk)
    with pytest.raises(PermissionDenied):
        services.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=people["floor"])
    elsewhere = UserFactory(role="physician")
    with pytest.raises(PermissionDenied):
        services.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=elsewhere)
    assert signed(course, people["clinician"], plan).signed_by == people["clinician"]
    dose.refresh_from_db()
    assert dose.signed_by == people["clinician"]


def test_a_dose_changed_after_the_plan_was_read_is_not_signed_with_it(course, dose, people):
    plan = drafted(course, people["clinician"])
    read = dose.pk
    dose.pk, dose._state.adding, dose.minutes = None, True, 40
    prescribe(dose, None, by=people["clinician"])
    with pytest.raises(StaleVersion):
        services.sign_plan(plan, seen=plan.version, seen_dose=read, by=people["physician"])


def test_the_second_signer_is_told_who_was_first(course, dose, people):
    plan = drafted(course, people["clinician"])
    signed(course, people["physician"], plan)
    other = UserFactory(role="physician", sites=[course.patient.site])
    with pytest.raises(ValidationError, match=f"by {people['physician']}"):
        services.sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=other)


# --- on paper, and back -----------------------------------------------------------------------


def test_a_signature_on_paper_names_signer_day_and_scan(course, dose, people):
    plan, today = drafted(course, people["clinician"]), course.patient.site.today()
    physician, how = people["physician"], {"seen": plan.version, "seen_dose": dose.pk}

    def note(signer=physician, on=today, scan="binder 3", by=people["clinician"]):
        services.sign_on_paper(plan, signer, on, scan, by=by, **how)

    refused = [
        {"signer": people["clinician"]}, {"on": today + timedelta(days=1)}, {"scan": " "},
        {"on": today - timedelta(days=1)},  # that version was not written yet
    ]  # fmt: skip
    for wrong in refused:
        with pytest.raises(ValidationError):
            note(**wrong)
    with pytest.raises(PermissionDenied):
        note(by=people["floor"])
    note()
    row = TreatmentPlan.objects.get(pk=plan.pk)
    assert (row.signed_by, row.signed_on, row.signed_how) == (physician, today, "paper")
    assert "on paper, scan binder 3" in text_of(rows_of_plan(row, None))
    assert is_intact(row)
    dose.refresh_from_db()
    assert dose.signed_by == physician
    assert dose.history.first().history_user == people["clinician"]


def test_sent_back_says_why_and_waits_until_it_is_saved_again(client, course, dose, people):
    plan, physician = drafted(course, people["clinician"]), people["physician"]
    with pytest.raises(ValidationError, match="why"):
        services.send_back(plan, "other", " ", seen=plan.version, by=physician)
    services.send_back(plan, "goal", "name a day", seen=plan.version, by=physician)
    (line,) = waiting_at([course.patient.site])
    assert line.group is Group.BACK
    client.force_login(people["clinician"])
    page = client.get(reverse("review:plan", args=[course.pk])).content.decode()
    assert "name a day" in page
    assert "draft sent back" in client.get(reverse("reports:due")).content.decode()
    plan.refresh_from_db()
    services.prepare_plan(plan, seen=plan.version, by=people["clinician"])
    assert [w.group for w in waiting_at([course.patient.site])] != [Group.BACK]


# --- the queue --------------------------------------------------------------------------------


def test_why_a_plan_is_in_the_queue(site, people):
    today, physician = site.today(), people["physician"]

    def course_signed(days_ago):
        course = EnrolmentFactory(patient__site=site, starts_on=today - timedelta(days=80))
        on = today - timedelta(days=days_ago)
        TreatmentPlanFactory(enrolment=course, signed_by=physician, signed_on=on)
        return course

    late, due, fresh, changed, ready, away = map(course_signed, [31, 30, 5, 6, 7, 40])
    PrescriptionFactory(enrolment=changed)
    PrescriptionFactory(enrolment=due, signed_by=physician, signed_at=timezone.now())
    TreatmentPlanFactory(enrolment=ready)
    away.pauses.create(from_on=today - timedelta(days=20), reason="flu")
    found = {w.unsigned.enrolment: w.group for w in waiting_at([site])}
    assert found == {
        late.pk: Group.OVERDUE, changed.pk: Group.DOSE, due.pk: Group.DUE, ready.pk: Group.READY,
        away.pk: Group.PAUSED,
    }  # fmt: skip
    assert fresh.pk not in found
    order = [w.group for w in waiting_at([site])]
    assert order == [Group.OVERDUE, Group.DOSE, Group.DUE, Group.READY, Group.PAUSED]


def test_several_are_signed_only_after_each_was_opened_as_it_stands(client, site, people):
    plans = []
    for _ in range(3):
        course = EnrolmentFactory(patient__site=site)
        dose = PrescriptionFactory(enrolment=course)
        plans.append((drafted(course, people["clinician"]), dose))
    client.force_login(people["physician"])
    for plan, _ in plans[:2]:
        client.get(reverse("review:queue"), {"plan": plan.enrolment_id})
    changed, _ = plans[1]
    services.prepare_plan(changed, seen=changed.version, by=people["clinician"])
    asked = [f"{plan.pk}:{plan.version}:{dose.pk}" for plan, dose in plans]
    page = client.post(reverse("review:sign-opened"), {"opened": [*asked, "x", "1:2"]}, follow=True)
    assert page.content.decode().count("not signed") == 2
    states = [TreatmentPlan.objects.get(pk=plan.pk).signed_on is not None for plan, _ in plans]
    assert states == [True, False, False]


def test_managers_and_physicians_see_sessions_without_a_plan(client, people, visit_uncovered):
    to, patient = reverse("review:without-plan"), visit_uncovered.enrolment.patient
    for role, home in (("physician", "reports:due"), ("manager", "reports:program")):
        client.force_login(people[role])
        assert to in client.get(reverse(home)).content.decode()
        page = client.get(to).content.decode()
        assert "no signed plan yet" in page
        assert (str(patient) in page) == (role == "physician")  # a manager opens no record


@pytest.fixture
def visit_uncovered(course):
    from tests.factories.attendance import VisitFactory

    return VisitFactory(enrolment=course, finished=True, counts_first=True)


def test_first_and_last_signed_are_found(course, dose, people):
    assert last_signed_of(course) is None
    plan = signed(course, people["physician"])
    assert last_signed_of(course) == plan


def test_a_dose_that_waits_is_signed_with_the_plan_whole(client, course, clinician, physician):
    """What a signature binds is on the page: limits, resistance, home, and the waiting dose."""
    PrescriptionFactory(enrolment=course, minutes=30)
    waiting = PrescriptionFactory(
        enrolment=course, minutes=40, is_waiting=True, strength="light", strength_sets=2,
        home_days=3, home_minutes=20, most_minutes=45, most_rpe=14, warm_up_minutes=8,
        stretch_days=2, balance_days=2, above_because="asked by the surgeon",
        loads=[
            {"kind": "cycle", "name": "leg cycle", "power_w": 40, "minutes": 20, "mets": 3},
            {"kind": "treadmill", "name": "treadmill", "speed_kmh": 4.8, "minutes": 20},
        ],
        lifts=[{"exercise": "Leg press", "repetitions": 12, "load_kg": 40.0}],
    )  # fmt: skip
    plan = services.write_draft(course, by=clinician)
    client.force_login(physician)
    assert (
        "awaiting signature"
        in client.get(reverse("review:plan", args=[course.pk])).content.decode()
    )
    page = client.get(reverse("review:version", args=[plan.pk])).content.decode()
    for words in [
        "40 minutes a session", "light, 2 sets", "20 minutes a day",
        "RPE 14, 45 minutes", "warm-up 8 minutes", "balance 2 days a week", "asked by the surgeon",
        "leg cycle 40 W for 20 minutes",
        # Factors of NIST SP 811, appendix B.8: 2.98 mph, 88.2 lb
        "treadmill 4.8 km/h (2.98 mph) for 20 minutes", "Leg press 12 × 40 kg (88.2 lb)",
    ]:  # fmt: skip
        assert words in page, words
    services.sign_plan(plan, seen=plan.version, seen_dose=waiting.pk, by=physician)
    waiting.refresh_from_db()
    assert waiting.signed_by == physician
    assert course.prescriptions.in_force(course.patient.site.today()).get() == waiting
