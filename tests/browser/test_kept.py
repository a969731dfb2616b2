"""Nothing typed is lost: refusals, units, connections; and what a step came to is in sight."""

import re
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from tests.browser.test_floor import class_of
from tests.factories.attendance import SafetyEventFactory
from tests.factories.patients import BodyWeightFactory, MedicineFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SIZES = [(1366, 768), (768, 1024)]
IN_SIGHT = """e => {
  const box = e.getBoundingClientRect(), x = box.left + Math.min(box.width, 40) / 2;
  const y = box.top + Math.min(box.height, 20) / 2;
  if (y < 0 || y > innerHeight || x < 0 || x > innerWidth) return false;
  const top = document.elementFromPoint(x, y);
  return e.contains(top) || top.contains(e);
}"""
CUT = ("ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION", "htmx:")


def in_sight(locator):
    expect(locator).to_be_visible()
    return locator.evaluate(IN_SIGHT)


@pytest.fixture(params=SIZES, ids=["1366", "768"])
def sheet(request, desk, clinic):
    """The sheet of the tenth of twelve people, opened; whoever it is lost weight."""
    width, height = request.param
    desk.page.set_viewport_size({"width": width, "height": height})
    planned = class_of(clinic, 12)[9]
    weighed_on = clinic.today() - timedelta(days=3)
    BodyWeightFactory(patient=planned.enrolment.patient, kg=80, on=weighed_on)
    desk.sign_in("floor")
    desk.check_in(planned.pk)
    desk.sent = []
    desk.page.on("request", lambda r: desk.sent.append((r.method, r.url)))
    desk.visit = planned.enrolment.visits.get()
    return desk


def fill(page, **values):
    for name, value in values.items():
        page.locator(f"#sheet [name={name}]").fill(value)


def save(page):
    """Press Save and wait for the page that answers."""
    with page.expect_navigation():
        page.get_by_role("button", name="Save", exact=True).click()


def merged(visit):
    """What the readings of a visit come to, the later ones first."""
    rows = list(visit.readings.order_by("-pk"))
    names = ["heart_rate_bpm", "pressure", "spo2_percent"]
    return tuple(next((v for r in rows if (v := getattr(r, n))), None) for n in names)


def test_refused_corrected_saved_changed_and_saved_is_all_there(sheet):
    """After a refusal the page repeated the refused request, and later saves were dropped."""
    page = sheet.page
    fill(page, before_heart_rate_bpm="720", before_pressure="186/92")
    save(page)
    expect(page.locator("[name=before_heart_rate_bpm]")).to_be_focused()
    assert in_sight(page.locator("[name=before_heart_rate_bpm]"))
    fill(page, before_heart_rate_bpm="72")
    save(page)  # a hold: the page stays at this person
    page.get_by_text("saved, checked in").wait_for()
    assert merged(sheet.visit) == (72, "186/92", None)
    assert page.locator("[name=before_heart_rate_bpm]").input_value() == "72"
    expect(page.locator("[aria-invalid=true]")).to_have_count(0)
    fill(page, before_spo2_percent="97")
    save(page)
    expect(page.locator("[name=before_spo2_percent]")).to_have_value("97")
    page.get_by_text("saved, checked in").wait_for()
    fill(page, because="typing error", before_heart_rate_bpm="74")
    save(page)
    page.get_by_text("saved, checked in").wait_for()
    assert merged(sheet.visit) == (74, "186/92", 97)
    assert not page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:'))")


def test_reading_a_refused_page_again_sends_nothing_and_offers_what_was_typed(sheet):
    page = sheet.page
    fill(page, before_heart_rate_bpm="720", before_pressure="128/74")
    save(page)
    page.locator("[aria-invalid=true]").first.wait_for()
    sheet.sent.clear()
    page.reload()
    page.get_by_role("button", name="Put them back").click()
    posts = [url for method, url in sheet.sent if method == "POST" and not url.endswith("/live/")]
    assert posts == []
    assert page.locator("[name=before_pressure]").input_value() == "128/74"


def test_what_one_person_typed_is_not_offered_to_the_next(sheet):
    """An expired login on a shared tablet: the next person signs in at the same window."""
    page = sheet.page
    fill(page, before_heart_rate_bpm="71")
    page.wait_for_function("Object.keys(sessionStorage).some(k => k.startsWith('draft:'))")
    page.context.clear_cookies()
    sheet.sign_in("clinician")
    page.goto(f"{sheet.address}/visits/{sheet.visit.pk}/")
    page.locator("#sheet").wait_for()
    expect(page.get_by_role("button", name="Put them back")).to_have_count(0)
    assert page.locator("[name=before_heart_rate_bpm]").input_value() == ""
    assert not page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:'))")


def test_question_keeps_every_finding_and_takes_the_focus_to_its_box(sheet):
    page = sheet.page
    fill(page, before_heart_rate_bpm="72", before_pressure="190/112", before_weight_kg="95")
    save(page)
    weight = page.locator("[name=before_weight_kg]")
    expect(weight).to_be_focused()
    assert in_sight(weight)
    live = page.locator("#live")
    assert in_sight(live.locator(".finding.hold").first)
    assert "190" in live.inner_text()
    assert weight.get_attribute("aria-invalid") == "true"
    described = weight.get_attribute("aria-describedby").split()[-1]
    assert in_sight(page.locator(f"#{described}"))
    assert page.evaluate("document.activeElement.tagName") == "INPUT"
    page.keyboard.press("Enter")  # a habit confirms nothing before the eye was led there
    page.get_by_text(re.compile("saved, checked in")).wait_for()
    assert in_sight(page.get_by_text(re.compile("saved, checked in")))
    assert in_sight(page.locator(".finding.hold").first)


def test_what_a_step_came_to_is_in_sight(sheet):
    page = sheet.page
    fill(page, before_heart_rate_bpm="72", before_pressure="186/92")
    page.get_by_role("button", name="Start exercise").scroll_into_view_if_needed()
    page.get_by_role("button", name="Start exercise").click()
    said = page.get_by_text("Saved. Record a decision before going on.")
    said.wait_for()
    assert page.evaluate("document.activeElement.tagName") != "BUTTON"
    assert in_sight(said)
    assert in_sight(page.locator(".finding.hold").first)
    page.locator("#answer [name=decision]").select_option("hold")
    expect(page.locator("#answer [name=reason]")).to_be_hidden()
    page.locator("#answer [name=done]").fill("rested, clinician decides")
    page.get_by_role("button", name="Record decision").click()
    decided = page.get_by_text(re.compile("rested, clinician decides"))
    assert in_sight(decided.first)


def test_what_is_typed_comes_along_into_the_other_unit(sheet):
    page = sheet.page
    MedicineFactory(patient=sheet.visit.enrolment.patient, drug_class="insulin")
    page.reload()
    fill(page, before_heart_rate_bpm="71", before_weight_kg="80")
    page.get_by_role("button", name="Weight in lb").click()
    page.get_by_role("button", name="Weight in kg").wait_for()
    # its unit comes along, so that nothing is rounded
    expect(page.locator("[name=before_weight_kg]")).to_have_value("80 kg")
    assert page.locator("[name=before_heart_rate_bpm]").input_value() == "71"
    # typed by a meter in mmol/L into mg/dL: the number stays, the unit changes
    fill(page, before_glucose_mgdl="6.4")
    page.get_by_role("button", name="Glucose in mmol/L").click()
    page.get_by_role("button", name="Glucose in mg/dL").wait_for()
    expect(page.locator("[name=before_glucose_mgdl]")).to_have_value("6.4")
    expect(page.locator("[name=before_weight_kg]")).to_have_value("80 kg")
    save(page)
    page.get_by_text(re.compile("saved, checked in")).wait_for()
    reading = sheet.visit.readings.order_by("pk").last()
    assert reading.heart_rate_bpm == 71
    assert reading.glucose_is_mmoll
    assert reading.weight_kg == 80


def test_without_a_network_the_page_says_so_wherever_it_is_scrolled(sheet):
    page = sheet.page
    fill(page, before_pressure="128/74")
    page.get_by_text("No alerts from the readings taken. Not saved.").wait_for()
    page.context.set_offline(True)
    bar = page.locator("#connection")
    for place in (0, 400, 99999):
        page.evaluate(f"scrollTo(0, {place})")
        assert in_sight(bar)
    fill(page, before_pressure="190/112")
    page.get_by_text("Not checked: no connection").wait_for()
    expect(page.get_by_text("No alerts from the readings taken")).to_have_count(0)
    page.context.set_offline(False)
    expect(bar).to_be_hidden()
    expect(page.locator("#live .finding.hold").first).to_be_visible()
    expect(page.get_by_text("Not checked: no connection")).to_have_count(0)
    sheet.trouble[:] = [t for t in sheet.trouble if not any(words in t for words in CUT)]


def test_check_that_never_comes_back_is_said_too(sheet):
    page = sheet.page
    page.route("**/live/", lambda route: None)  # swallowed, as by a network without an answer
    fill(page, before_pressure="190/112")
    page.get_by_text("Not checked: no connection").wait_for()
    assert in_sight(page.locator("#connection"))
    page.unroute("**/live/")
    sheet.trouble[:] = [t for t in sheet.trouble if not any(words in t for words in CUT)]


def test_event_refused_corrected_saved_and_saved_again_is_all_there(desk, clinic):
    """The page of an event takes three forms; each is sent by script and keeps its draft."""
    event = SafetyEventFactory(site=clinic)
    page = desk.page
    desk.sign_in("floor")
    desk.go(f"/events/{event.pk}/")

    def press(name):
        with page.expect_navigation():
            page.get_by_role("button", name=name, exact=True).click()

    what = page.locator("textarea[name=what]")
    what.fill("Slipped on a wet floor")
    page.locator("[name=happened_at]").fill("2999-01-01T10:00")
    press("Save")
    expect(page.locator("[name=happened_at]")).to_have_value("2999-01-01T10:00")
    page.locator("[name=happened_at]").fill("2026-01-02T10:00")
    press("Save")
    page.get_by_text("Saved.", exact=True).wait_for()
    what.fill("Slipped on a wet floor, no injury")
    press("Save")
    expect(what).to_have_value("Slipped on a wet floor, no injury")
    event.refresh_from_db()
    assert event.what == "Slipped on a wet floor, no injury"
    adding = page.locator("form[action$='/entries/'][data-draft]")
    line, at = adding.locator("[name=words]"), adding.locator("[name=at]")
    line.fill("Nurse there")
    at.fill("2999-01-01T10:00")
    press("Add entry")
    assert page.evaluate("location.pathname") == f"/events/{event.pk}/"
    expect(line).to_have_value("Nurse there")
    at.fill("2026-01-02T10:01")
    press("Add entry")
    line.fill("Sat down")
    at.fill("2026-01-02T10:02")
    press("Add entry")
    assert list(event.entries.order_by("at").values_list("words", flat=True)) == [
        "Nurse there",
        "Sat down",
    ]
    assert not page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:'))")
