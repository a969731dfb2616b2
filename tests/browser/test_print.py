"""Printed sheets at letter and A4: whose they are, nothing cut off, nothing overlapping."""

from datetime import timedelta

import pytest

from tests.cohort import cohort_of
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.attendance import FindingFactory, VisitFactory
from tests.factories.enrolment import EnrolmentFactory, PlannedSessionFactory
from tests.factories.patients import PatientFactory
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import SiteFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# ISO 216 and ANSI A, less a margin of 1 cm on both sides, at 96 CSS pixels an inch.
PAPERS = {"A4": 718, "letter": 740}
BESIDE = """() => [...document.querySelectorAll("main *")].filter(e => {
  const box = e.getBoundingClientRect();
  return box.width && !e.closest(".unseen") && box.right > innerWidth + 1;
}).map(e => e.tagName + "." + e.getAttribute("class"))"""
OVERLAPS = """() => [...document.querySelectorAll(".visits li")]
  .filter(e => e.scrollWidth > e.clientWidth + 1 || e.getBoundingClientRect().height > 30).length"""


@pytest.fixture
def course(clinic):
    course = EnrolmentFactory(patient__site=clinic, patient__family_name="Featherstone")
    slot = clinic.classes.get(weekday=clinic.today().weekday())
    for week in range(12):
        on = clinic.today() + timedelta(days=7 * week)
        PlannedSessionFactory(enrolment=course, slot=slot, on=on)
    PrescriptionFactory(enrolment=course)
    TreatmentPlanFactory(enrolment=course)
    for kind, metres in (("baseline", 400.0), ("six_weeks", 460.0)):
        assessment = AssessmentFactory(enrolment=course, kind=kind)
        MeasurementFactory(assessment=assessment, value=metres)
    meeting = slot.meetings.get(on=clinic.today())
    VisitFactory(enrolment=course, finished=True, meeting=meeting)
    PatientFactory(site=clinic, family_name="Somebody-Else")
    return course


@pytest.mark.parametrize("paper", PAPERS)
def test_a_printed_sheet_names_person_clinic_and_day_and_fits(desk, course, paper):
    desk.sign_in("clinician")
    today = f"{course.patient.site.today():%-d %b %Y}"
    patient = course.patient_id
    for path in (
        f"/patients/{patient}/",
        f"/patients/{patient}/outcomes/",
        f"/enrolments/{course.pk}/calendar/",
        f"/enrolments/{course.pk}/plan/",
        f"/enrolments/{course.pk}/letter/",
        f"/patients/{patient}/emergency-card/",
        f"/visits/{course.visits.get().pk}/record/",
    ):
        desk.page.set_viewport_size({"width": PAPERS[paper], "height": 1000})
        desk.go(path)
        desk.page.emulate_media(media="print")
        head = desk.page.evaluate(
            "() => { const s = getComputedStyle(document.querySelector('main'), '::before');"
            " return [s.display, s.content]; }"
        )
        # a table's head stands on each page of paper
        assert head[0] == "table-header-group", path
        for words in ("Featherstone", "date of birth", "Saltmarsh Lane", f"printed {today}"):
            assert words in head[1], path
        assert "Somebody-Else" not in desk.page.content(), path
        assert desk.page.evaluate(BESIDE) == [], path
        assert desk.page.evaluate(OVERLAPS) == 0, path
        desk.page.emulate_media(media="screen")


def test_an_emergency_card_fills_half_a_page_at_most(desk, course):
    desk.page.set_viewport_size({"width": PAPERS["A4"], "height": 1000})
    desk.sign_in("clinician")
    desk.go(f"/patients/{course.patient_id}/emergency-card/")
    desk.page.emulate_media(media="print")
    height = desk.page.evaluate("() => document.querySelector('main').scrollHeight")
    assert height < 1046 / 2  # A4 less a margin of 1 cm, at 96 CSS pixels an inch


def test_a_plan_of_the_day_fits_the_paper(desk, course):
    slot = course.planned.first().slot_id
    desk.page.set_viewport_size({"width": PAPERS["A4"], "height": 1000})
    desk.sign_in("floor")
    desk.go(f"/classes/{slot}/plan-of-day/")
    desk.page.emulate_media(media="print")
    assert desk.page.get_by_text("Featherstone").first.is_visible()
    assert desk.page.evaluate(BESIDE) == []


def test_a_chart_is_drawn_anew_for_the_paper(desk, clinic):
    cohort_of(clinic, SiteFactory())
    desk.page.set_viewport_size({"width": 1366, "height": 768})
    desk.sign_in("physician")  # who sees names is told a month of few people
    desk.go("/program/running/?since=2024-01-01&until=2024-12-31")
    chart = desk.page.locator(".chart .main-svg").first
    chart.wait_for()
    style = chart.evaluate("e => getComputedStyle(e).position")
    assert style == "absolute"  # plotly's own rules took hold under the strict policy
    width = "e => e.getBoundingClientRect().width"
    assert chart.evaluate(width) > PAPERS["letter"]
    desk.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
    desk.page.wait_for_timeout(300)
    assert desk.page.locator(".chart .main-svg").first.evaluate(width) < PAPERS["A4"]
    desk.page.evaluate("() => dispatchEvent(new Event('afterprint'))")
    desk.page.wait_for_timeout(300)
    assert desk.page.locator(".chart .main-svg").first.evaluate(width) > PAPERS["letter"]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_outcomes_print_on_one_page_in_grey(desk, course, paper):
    desk.sign_in("clinician")
    desk.go(f"/patients/{course.patient_id}/outcomes/")
    edge = dict.fromkeys(["top", "right", "bottom", "left"], "10mm")
    sheet = desk.page.pdf(format=paper, margin=edge)
    assert sheet.count(b"/Type /Page\n") == 1
    desk.page.emulate_media(media="print")
    accent = "e => getComputedStyle(e).getPropertyValue('--accent')"
    assert desk.page.locator("main").evaluate(accent) == "#111"


CLOSED_SOURCES = """() => [...document.querySelectorAll("details.why")].filter(
  e => getComputedStyle(e, "::details-content").contentVisibility !== "visible").length"""


@pytest.mark.parametrize("opens_by", ["style", "script"])
def test_sources_behind_why_are_printed_though_nobody_opened_them(desk, course, opens_by):
    visit = course.visits.get(on=course.patient.site.today())
    FindingFactory(visit=visit)
    desk.sign_in("clinician")
    page = desk.page
    desk.go(f"/visits/{visit.pk}/")
    page.locator("details.why").first.wait_for()
    assert page.evaluate(CLOSED_SOURCES)
    if opens_by == "style":
        page.emulate_media(media="print")
        assert not page.evaluate(CLOSED_SOURCES)
    else:
        page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert page.locator("details.why:not([open])").count() == 0
        page.evaluate("dispatchEvent(new Event('afterprint'))")
        assert page.locator("details.why[open]").count() == 0
