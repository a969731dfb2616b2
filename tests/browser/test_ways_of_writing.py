"""Single keys and units by hand; a day by the browser's own calendar; drafts in another unit."""

import re

import pytest
from playwright.sync_api import expect

from patients.models import BodyWeight
from programs.attendance.models import Visit
from programs.staff import services
from programs.staff.models import User
from tests.browser.test_floor import class_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_letters_are_keys_until_somebody_switches_them_off(desk, clinic):
    class_of(clinic, 2)
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    page.locator("tbody a.who").first.focus()
    page.keyboard.press("f")
    page.wait_for_url(lambda url: "stage=finish" in url)
    desk.go("/mine/")
    page.get_by_label("Off").check()
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Your settings are saved.").wait_for()
    desk.go("/today/?stage=checkin")
    page.locator("tbody a.who").first.focus()
    for key in "nbcef/":
        page.keyboard.press(key)
    page.wait_for_timeout(300)
    assert "stage=checkin" in page.url
    assert page.evaluate("document.activeElement.matches('a.who')")
    page.get_by_text("Single keys are off").wait_for()


def test_pounds_typed_into_a_line_press_no_key(desk, clinic):
    class_of(clinic, 1)
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    page.locator("[name=before_weight_kg]").click()
    page.keyboard.type("182 lbf")
    expect(page.locator("[name=before_weight_kg]")).to_have_value("182 lbf")
    assert "stage=checkin" in page.url
    page.keyboard.press("Backspace")
    page.keyboard.press("Enter")
    page.get_by_text("Checked in, saved").wait_for()
    assert BodyWeight.objects.get().kg == pytest.approx(182 * 0.45359237)  # NIST SP 811


@pytest.mark.parametrize(
    ("order", "typed", "opens_at", "written"),
    [
        ("mdy", "11/02/2026", "2026-11-02", "11/26/2026"),
        ("dmy", "02/11/2026", "2026-11-02", "26/11/2026"),
        ("iso", "2026-11-02", "2026-11-02", "2026-11-26"),
        ("mdy", "soon", "", "11/26/2026"),
    ],
)
def test_the_calendar_writes_in_the_sites_order(desk, clinic, order, typed, opens_at, written):
    clinic.dates = order
    clinic.save()
    page = desk.page
    desk.sign_in("manager")
    desk.go("/classes/")
    box = page.get_by_label("Closed on", exact=False).first
    box.fill(typed)
    page.evaluate("HTMLInputElement.prototype.showPicker = function () {}")
    calendar = box.locator("xpath=../button")
    expect(calendar).to_have_attribute("title", "Closed on")
    calendar.click()
    picker = box.locator("xpath=../input[@type='date']")
    assert picker.input_value() == opens_at
    picker.evaluate("box => { box.value = '2026-11-26'; box.dispatchEvent(new Event('change')); }")
    expect(box).to_have_value(written)


def test_a_draft_typed_in_other_units_comes_back_with_its_unit(desk, clinic):
    class_of(clinic, 1)
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("#sheet [name=before_weight_kg]").fill("80,5")
    visit = Visit.objects.get()
    nurse = User.objects.get(username="floor")
    services.choose_settings(nurse, {"shows_pounds": True})
    desk.go(f"/visits/{visit.pk}/")
    page.get_by_role("button", name="Put them back").click()
    expect(page.locator("#sheet [name=before_weight_kg]")).to_have_value("80,5 kg")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(re.compile("saved, checked in")).wait_for()
    assert visit.readings.get().weight_kg == 80.5
