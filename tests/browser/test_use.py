"""Keyboard, small screens, lost pages, accessibility."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from programs.enrolment.lists import services
from programs.enrolment.models import ListLayout
from tests.factories.assessments import AssessmentFactory, ConcernFactory, MeasurementFactory
from tests.factories.attendance import (
    FindingFactory,
    ReadingFactory,
    SafetyEventFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    ClassChangeFactory,
    ClassSlotFactory,
    EnrolmentFactory,
    EntryScreenFactory,
    PlannedSessionFactory,
    ReferralFactory,
    RiskStratificationFactory,
)
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import UserFactory
from tests.list_corpus import FOLDER

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZES = [(1366, 768), (768, 1024), (360, 740)]


@pytest.fixture
def course(clinic):
    course = EnrolmentFactory(
        patient__site=clinic,
        patient__given_name="Wilhelmina-Evangeline",
        patient__family_name="Halvorsen-Galloway-Ruiz-Featherstonehaugh",
    )
    slot = clinic.classes.get(weekday=clinic.today().weekday())
    PlannedSessionFactory(enrolment=course, slot=slot)
    PrescriptionFactory(enrolment=course)
    TreatmentPlanFactory(enrolment=course)
    earlier = VisitFactory(
        enrolment=course,
        finished=True,
        meeting__slot=ClassSlotFactory(site=clinic, weekday=(slot.weekday + 1) % 7),
        meeting__on=course.starts_on,
    )
    ReadingFactory(visit=earlier)
    FindingFactory(visit=earlier)
    MeasurementFactory(assessment=AssessmentFactory(enrolment=course))
    return course


def pages_of(course):
    return {
        "floor": [
            "/today/",
            "/due/",
            "/referrals/",
            "/patients/",
            "/readiness/",
            "/mine/",
            "/events/",
            "/rules/",
            *floor_pages_of(course),
        ],
        "clinician": [
            f"/patients/{course.patient_id}/",
            f"/patients/{course.patient_id}/background/",
            f"/patients/{course.patient_id}/outcomes/",
            f"/patients/{course.patient_id}/sheets/",
            f"/patients/{course.patient_id}/changes/",
            f"/enrolments/{course.pk}/assessments/",
            f"/assessments/{course.assessments.get().pk}/",
            f"/assessments/{course.assessments.get().pk}/tests/?limit=endurance&limit=balance",
            f"/assessments/{course.assessments.get().pk}/run/six_minute_walk/",
            f"/assessments/{course.assessments.get().pk}/run/incremental_shuttle_walk/",
            f"/assessments/{course.assessments.get().pk}/run/chair_stand_30s/",
            f"/assessments/{course.assessments.get().pk}/run/gait_speed/",
            f"/concerns/{ConcernFactory(assessment=course.assessments.get()).pk}/",
            "/assessments/to-book/?ahead=84",
            "/test-sets/",
            f"/enrolments/{course.pk}/prescription/",
            f"/enrolments/{course.pk}/plan/",
            "/plans/to-sign/",
            f"/plans/{course.plans.get().pk}/?against=0",
            f"/plans/{course.plans.get().pk}/on-paper/",
            f"/enrolments/{course.pk}/course/",
            f"/referrals/{course.referral_id}/",
            "/referrals/add/",
            "/referrals/lists/",
            *list_pages_of(course),
            *intake_pages_of(course),
        ],
        "manager": [
            "/program/",
            "/program/running/",
            "/program/gains/",
            "/program/targets/",
            "/program/start-outlook/?first-weekday=1&preparing=5",
            "/classes/add/",
        ],
        "administrator": [
            "/settings/",
            "/settings/looks/",
            "/assessment-policy/",
            "/targets/ldl/",
            "/password/",
            "/policy/",
            "/policy/payers/add/",
            "/policy/rules/copy/medicare/",
            "/policy/supervision/high/",
            "/policy/precautions/add/",
            "/doses/policy/",
            "/doses/policy/limits/",
            "/doses/policy/machines/treadmill/",
            "/rules/E-01-hold/",
            "/readiness/cards/add/",
        ],
    }


def list_pages_of(course):
    """A list that leaves things of the whole file open, one with questions of rows, a layout."""
    site, by = course.patient.site, UserFactory(role="clinician", sites=[course.patient.site])
    whole = services.receive(site, "two.csv", corpus("two_dates.csv"), by=by)
    rows = services.receive(site, "odd.csv", corpus("odd_people.csv"), by=by)
    layout = ListLayout.objects.create(
        site=site, name="Ward 5", headers=["dob", "name"], answers={"dates": "day-first"}, by=by
    )
    lists = [f"/referrals/lists/{listed.pk}/" for listed in (whole, rows)]
    return [*lists, f"/referrals/lists/layouts/{layout.pk}/"]


def corpus(name):
    return (FOLDER / name).read_bytes()


def floor_pages_of(course):
    planned = course.planned.get()
    event = SafetyEventFactory(site=course.patient.site, patient=course.patient)
    visit = course.visits.get()
    return [
        f"/events/{event.pk}/",
        f"/visits/{visit.pk}/",
        f"/enrolments/{course.pk}/teaching/",
        f"/patients/{course.patient_id}/limits/",
        f"/today/{planned.pk}/absent/",
        f"/today/{planned.pk}/make-up/",
        f"/enrolments/{course.pk}/missed/call/",
        f"/classes/{planned.slot_id}/open/",
        f"/classes/{planned.slot_id}/close/",
        f"/classes/{planned.slot_id}/teach/",
        f"/classes/{planned.slot_id}/plan-of-day/",
        f"/visits/{visit.pk}/record/",
        f"/patients/{course.patient_id}/emergency-card/",
    ]


def intake_pages_of(course):
    patient = course.patient
    waiting = ReferralFactory(patient__site=patient.site, confirmed=True)
    ClassChangeFactory(slot=patient.site.classes.first())
    RiskStratificationFactory(patient=patient)
    EntryScreenFactory(patient=patient)
    return [
        f"/referrals/{waiting.pk}/",
        f"/referrals/{waiting.pk}/phone/",
        f"/referrals/{waiting.pk}/change/",
        "/referrals/waiting-list/",
        "/referrals/not-enrolling/",
        f"/patients/{patient.pk}/details/",
        f"/patients/{patient.pk}/risk/",
        f"/patients/{patient.pk}/risk/class/",
        f"/patients/{patient.pk}/risk/screen/",
        f"/enrolments/{course.pk}/letter/",
        f"/enrolments/{course.pk}/calendar/",
        "/classes/",
    ]


def test_no_page_runs_off_any_screen_and_all_are_accessible(desk, course):
    axe, found = Axe(), []
    for role, paths in pages_of(course).items():
        desk.sign_in(role)
        for path in paths:
            desk.go(path)
            for width, height in SIZES:
                desk.page.set_viewport_size({"width": width, "height": height})
                over = desk.page.evaluate(
                    "document.documentElement.scrollWidth - document.documentElement.clientWidth"
                )
                if over > 0:
                    found.append(f"{path} at {width}: {over} px too wide")
            for violation in axe.run(desk.page).response["violations"]:
                nodes = [node["html"][:90] for node in violation["nodes"][:2]]
                found.append(f"{path}: {violation['id']} {nodes}")
    assert not found, "\n".join(found)


def test_typed_readings_survive_an_expired_sign_in(desk, course):
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    page.locator("[name=before_pressure]").fill("128/74")
    page.context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_label("Username").fill("floor")
    page.get_by_label("Password").fill("correct horse battery")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name="Put them back").click()
    assert page.locator("[name=before_heart_rate_bpm]").input_value() == "71"
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("saved, checked in").wait_for()
    kept = page.evaluate("Object.keys(sessionStorage)")
    assert not [key for key in kept if key.startswith("draft:")]


def test_double_click_saves_once(desk, course):
    page = desk.page
    desk.sign_in("floor")
    page.locator("button[value=arrive]").dblclick()
    expect(page.locator("tbody[data-state=arrived]")).to_have_count(1)
    page.get_by_role("link", name="Open").click()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    page.get_by_role("button", name="Save", exact=True).dblclick()
    page.get_by_text("saved, checked in").wait_for()
    visit = course.visits.get(on=course.patient.site.today())
    assert visit.readings.count() == 1
    assert visit.history.count() == 2


def test_arrows_walk_the_roster(desk, course, clinic):
    other = EnrolmentFactory(patient__site=clinic, patient__family_name="Zzz")
    slot = clinic.classes.get(weekday=clinic.today().weekday())
    PlannedSessionFactory(enrolment=other, slot=slot)
    page = desk.page
    desk.sign_in("floor")
    first, second = page.locator("tbody[data-row]").all()
    expect(first.locator("[name=before_heart_rate_bpm]")).to_be_focused()
    page.keyboard.press("ArrowDown")
    expect(second.locator("[name=before_heart_rate_bpm]")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("tbody[data-state=arrived]")).to_contain_text("Zzz")


def test_dark_screens_keep_their_contrast(desk, course):
    desk.page.emulate_media(color_scheme="dark")
    desk.sign_in("clinician")
    desk.go(f"/patients/{course.patient_id}/")
    result = Axe().run(desk.page, options={"runOnly": ["color-contrast"]})
    assert result.response["violations"] == []


def test_saved_repeat_is_not_offered_back_and_loses_nothing(desk, course):
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    page.locator("[name=before_pressure]").fill("188/90")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("link", name="Repeat reading").click()
    page.wait_for_url("**repeat=1")
    page.locator("[name=before_pressure]").fill("150/80")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("saved, checked in").wait_for()
    page.get_by_role("link", name="Open:").click()
    page.locator("#sheet").wait_for()
    expect(page.get_by_role("button", name="Put them back")).to_have_count(0)
    assert page.locator("[name=before_heart_rate_bpm]").input_value() == "71"


def test_roster_is_not_cut_off_on_a_tablet(desk, course):
    desk.page.set_viewport_size({"width": 768, "height": 1024})
    desk.sign_in("floor")
    desk.go("/today/")
    cut = "e => e.scrollWidth - e.clientWidth"
    assert desk.page.locator("section.flush").first.evaluate(cut) <= 0
    desk.check_in()
    assert desk.page.locator("section.sheet").first.evaluate(cut) <= 0
