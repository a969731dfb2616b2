"""Somebody is found from anywhere: by the box of the header, by one key, on a narrow screen."""

import pytest
from playwright.sync_api import expect

from tests.factories.patients import PatientFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
FOCUS = "document.activeElement.id"


@pytest.fixture
def somebody(clinic):
    return PatientFactory(site=clinic, family_name="Thistledown")


@pytest.mark.parametrize("width", [1366, 768, 360])
def test_one_key_leads_to_the_box_and_enter_to_the_list(desk, somebody, width):
    page = desk.page
    page.set_viewport_size({"width": width, "height": 740})
    desk.sign_in("floor")
    desk.go("/events/")
    page.keyboard.press("/")
    assert page.evaluate(FOCUS) == "header_q"
    page.keyboard.type("thistle/")  # in a box it is a letter like any other
    assert page.locator("#header_q").input_value() == "thistle/"
    page.locator("#header_q").fill("thistle")
    page.keyboard.press("Enter")
    page.wait_for_url("**/patients/?q=thistle")
    page.get_by_role("link", name="Thistledown").wait_for()


def test_a_narrow_screen_has_a_press_that_opens_the_box(desk, somebody):
    page = desk.page
    page.set_viewport_size({"width": 360, "height": 740})
    desk.sign_in("floor")
    desk.go("/events/")
    assert not page.locator("#header_q").is_visible()
    page.get_by_role("button", name="Find a patient").click()
    expect(page.locator("#header_q")).to_be_focused()
    page.keyboard.press("Escape")
    assert not page.locator("#header_q").is_visible()
