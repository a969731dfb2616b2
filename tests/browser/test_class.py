"""The class in one table: who is in view, where Stop is, what a lost connection keeps."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import expect

from programs.attendance.models import Bout, Visit
from tests.browser.test_floor import class_of
from tests.factories.attendance import FindingFactory, ReadingFactory, VisitFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZES = [(1366, 768), (768, 1024), (360, 740)]
IN_VIEW = """part => { const box = part.getBoundingClientRect();
    const bar = document.querySelector('.floor-bar').getBoundingClientRect().top;
    return box.height > 0 && box.top >= 0 && box.bottom <= bar + 1
      && box.left >= 0 && box.right <= innerWidth; }"""
ON_SCREEN = """part => { const box = part.getBoundingClientRect();
    return box.height > 0 && box.top >= 0 && box.bottom <= innerHeight
      && box.left >= 0 && box.right <= innerWidth; }"""


@pytest.fixture
def eight(clinic):
    """Eight people of one class: four exercise, one of the others is held up by a reading."""
    planned, came = class_of(clinic, 8), timezone.now()
    for n, one in enumerate(planned):
        PrescriptionFactory(enrolment=one.enrolment)
        if n < 5:
            visit = VisitFactory(
                enrolment=one.enrolment, meeting=one.slot.meetings.get(), has_ecg=False,
                state="arrived" if n == 4 else "exercising",
                arrived_at=came, started_at=None if n == 4 else came,
            )  # fmt: skip
            ReadingFactory(visit=visit)
            if n == 4:
                FindingFactory(visit=visit, sentence="Systolic 186 is above 180.")
            else:
                Bout.objects.create(
                    visit=visit, place=1, activity="treadmill", began_at=timezone.now()
                )
    return planned


@pytest.mark.parametrize("stage", ["checkin", "exercise", "finish"])
def test_eight_people_stop_and_emergency_are_in_view(desk, eight, stage):
    page = desk.page
    desk.sign_in("floor")
    found = []
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        desk.go(f"/today/?stage={stage}")
        page.locator("tbody[data-state=exercising] a.who").first.evaluate(
            "a => a.closest('tbody').querySelector('input:not([type=hidden]), a').focus()"
        )
        for name in ["Emergency", "Stop exercise"]:
            button = page.locator(".floor-bar").get_by_role("button", name=name)
            if not button.evaluate(ON_SCREEN):
                found.append(f"{name} at {width}")
        if width == 1366:
            page.evaluate("scrollTo(0, 0)")
            lines = page.locator("tbody[data-row] > tr:first-child").all()
            seen = [line.evaluate(IN_VIEW) for line in lines]
            if seen.count(True) != 8:
                found.append(f"{seen.count(True)} of 8 people at {width}")
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if over > 0:
            found.append(f"{over} px too wide at {width}")
        found += [f"{v['id']} at {width}" for v in Axe().run(page).response["violations"]]
    assert not found


def test_the_bar_stops_the_person_it_names_and_nobody_else(desk, eight):
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=exercise")
    line = page.locator(f"tbody[data-row='{eight[2].pk}']")
    line.locator("[name=bout_heart_rate_bpm]").focus()
    expect(page.locator("#bar-person")).to_contain_text("Person02")
    page.locator("#bar-stop").click()
    expect(line).to_have_attribute("data-state", "stopped")
    expect(page.locator("tbody[data-state=exercising]")).to_have_count(3)
    states = {v.enrolment_id: v.state for v in Visit.objects.all()}
    assert states[eight[2].enrolment_id] == "stopped"
    line.get_by_role("button", name=re.compile("^Undo stop")).click()
    expect(line).to_have_attribute("data-state", "exercising")
    assert Visit.objects.filter(state="exercising").count() == 4


def test_a_line_typed_without_connection_is_kept_and_sent(desk, eight):
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    line = page.locator(f"tbody[data-row='{eight[6].pk}']")
    box = line.locator("[name=before_heart_rate_bpm]")
    box.fill("71")
    page.context.set_offline(True)
    box.press("Enter")
    expect(page.locator("#bar-said")).to_contain_text("Kept on this device")
    page.context.set_offline(False)
    expect(line).to_have_attribute("data-state", "arrived")
    visit = Visit.objects.get(enrolment=eight[6].enrolment)
    assert visit.readings.get().heart_rate_bpm == 71
    desk.trouble[:] = [t for t in desk.trouble if "ERR_INTERNET" not in t and "htmx:" not in t]


def test_what_was_refused_stays_while_others_are_typed_for(desk, eight):
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    wrong, other = (page.locator(f"tbody[data-row='{eight[n].pk}']") for n in (5, 6))
    wrong.locator("[name=before_heart_rate_bpm]").fill("720")
    wrong.locator("[name=before_heart_rate_bpm]").press("Enter")
    expect(page.locator("#bar-said")).to_contain_text("outside 20 to 250")
    other.locator("[name=before_heart_rate_bpm]").fill("66")
    other.locator("[name=before_heart_rate_bpm]").press("Enter")
    expect(other).to_have_attribute("data-state", "arrived")
    box = wrong.locator("[name=before_heart_rate_bpm]")
    expect(box).to_have_value("720")
    box.fill("72")
    box.press("Enter")
    expect(wrong.locator("td.n").first).to_have_text("72")


def test_typed_values_come_back_after_a_reload(desk, eight):
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    line = page.locator(f"tbody[data-row='{eight[7].pk}']")
    line.locator("[name=before_pressure]").fill("128/74")
    page.reload()
    expect(line.locator("[name=before_pressure]")).to_have_value("128/74")
    line.locator("[name=before_pressure]").press("Enter")
    expect(line).to_have_attribute("data-state", "arrived")
    kept = page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:line-'))")
    assert kept == []


def test_what_was_typed_is_saved_after_a_stop(desk, eight):
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=exercise")
    line = page.locator(f"tbody[data-row='{eight[1].pk}']")
    line.locator("[name=bout_heart_rate_bpm]").fill("117")
    line.get_by_role("button", name=re.compile("^Stop exercise")).click()
    expect(line).to_have_attribute("data-state", "stopped")
    expect(line.locator("td.n").first).to_have_text("117")
    visit = Visit.objects.get(enrolment=eight[1].enrolment)
    assert (visit.state, visit.bouts.get().heart_rate_bpm) == ("stopped", 117)


@pytest.mark.parametrize("place", [0, 4, 7])
def test_the_sheet_of_one_person_is_one_screen(desk, eight, place):
    """Exercising, held up by a reading, just checked in: every box that is open is in view."""
    page = desk.page
    desk.sign_in("floor")
    page.set_viewport_size({"width": 1366, "height": 768})
    desk.go("/today/?stage=checkin")
    line = page.locator(f"tbody[data-row='{eight[place].pk}']")
    if place == 7:
        line.locator("button[value=arrive]").click()
    line.get_by_role("link", name="Open").click()
    page.locator("#sheet").wait_for()
    page.evaluate("scrollTo(0, 0)")
    boxes = page.locator("#sheet :is(input, select, textarea):not([type=hidden])").all()
    shown = [box for box in boxes if box.is_visible()]
    outside = [
        box.get_attribute("name")
        for box in shown
        if box.get_attribute("type") not in {"radio", "checkbox"} and not box.evaluate(IN_VIEW)
    ]
    assert len(shown) > 5
    assert not outside


def test_the_other_part_of_a_sheet_tells_what_was_typed_there(desk, eight):
    """Typed over what is on record, then looked at the exercise: it waits, and is said to."""
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    page.locator(f"tbody[data-row='{eight[0].pk}']").get_by_role("link", name="Open").click()
    page.locator("#sheet").wait_for()
    page.locator(".stage.before").get_by_role("link", name="Correct").click()
    page.locator("[name=before_heart_rate_bpm]").fill("77")
    desk.go(page.url.split("?")[0].removeprefix(desk.address))
    expect(page.get_by_text("Typed under resting vitals and not saved.")).to_be_visible()
    page.get_by_role("link", name="Show resting vitals").click()
    page.get_by_role("button", name="Put them back").click()
    expect(page.locator("[name=before_heart_rate_bpm]")).to_have_value("77")


def test_a_class_of_eight_fits_a_tablet_and_begins_high_on_a_phone(desk, clinic):
    """With target heart rates, nobody held up; on a phone the first is in the upper third."""
    for one in class_of(clinic, 8):
        PrescriptionFactory(enrolment=one.enrolment)
    page = desk.page
    desk.sign_in("floor")
    page.set_viewport_size({"width": 768, "height": 1024})
    desk.go("/today/?stage=checkin")
    lines = page.locator("tbody[data-row]").all()
    assert [line.evaluate(IN_VIEW) for line in lines] == [True] * 8
    assert page.locator("tbody .target").first.inner_text().strip()
    page.set_viewport_size({"width": 360, "height": 740})
    page.evaluate("scrollTo(0, 0)")
    assert lines[0].evaluate("line => line.getBoundingClientRect().top") <= 740 / 3


NAMES = """() => [...document.querySelectorAll('.class-table td > input:not([type=hidden])')]
    .filter(box => box.offsetWidth).map(box => {
      const name = getComputedStyle(box.parentElement, '::before');
      return [name.content, name.visibility]; })"""


@pytest.mark.parametrize("stage", ["checkin", "exercise", "finish"])
def test_where_columns_have_no_heads_a_filled_box_keeps_its_name(desk, eight, stage):
    page, found = desk.page, {}
    desk.sign_in("floor")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        desk.go(f"/today/?stage={stage}")
        page.locator(".class-table .n input:visible").first.fill("71")
        found[width] = page.evaluate(NAMES)
    assert {name for name, _ in found[1366]} == {"none"}  # the heads of the columns name them
    for width in (768, 360):
        assert len(found[width]) >= 4
        assert all(len(name) > 3 and seen == "visible" for name, seen in found[width])
        assert "HR" in {name.strip('" ') for name, _ in found[width]}
