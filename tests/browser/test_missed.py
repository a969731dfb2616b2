"""An absence with its make-up, and taking both back: what it costs in clicks and in keys."""

import pytest
from playwright.sync_api import expect

from programs.attendance.models import Visit
from programs.enrolment.models import PlannedSession
from tests.browser.test_floor import class_of

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Hands:
    """Counts what is pressed, by mouse and by key."""

    def __init__(self, page):
        self.page, self.n = page, 0

    def click(self, part):
        self.n += 1
        part.click()

    def press(self, key, until=None):
        """A key once, or again and again until something has the focus."""
        for _ in range(20):
            if until is not None and until.evaluate("part => part === document.activeElement"):
                return
            self.n += 1
            self.page.keyboard.press(key)
            if until is None:
                return
        raise AssertionError(f"{key} does not lead there")


@pytest.fixture
def first(clinic):
    return class_of(clinic, 3)[0]


def line_of(page, planned):
    return page.locator(f"tbody[data-row='{planned.pk}']")


def made_up(planned):
    return PlannedSession.objects.filter(makes_up_on=planned.on, enrolment=planned.enrolment_id)


def test_three_clicks_make_an_absence_with_its_make_up_and_one_takes_both_back(desk, first):
    page, hands = desk.page, Hands(desk.page)
    desk.sign_in("floor")
    desk.go("/today/")
    line = line_of(page, first)
    hands.click(line.get_by_role("link", name="Absent"))
    hands.click(page.get_by_role("button", name="transport"))
    hands.click(page.locator("button[name=sitting]").first)
    expect(line.locator("b", has_text="Make-up")).to_be_visible()
    assert hands.n == 3
    assert made_up(first).count() == 1
    hands.n = 0
    hands.click(line.get_by_role("button", name="Undo"))
    expect(line.get_by_role("button", name="Check in")).to_be_visible()
    assert hands.n == 1
    assert not made_up(first).exists()
    assert Visit.objects.get(enrolment=first.enrolment_id).state == "expected"
    assert desk.trouble == []


def test_the_make_up_alone_is_given_up_with_two_clicks_and_none_of_these_with_one(desk, first):
    page, hands = desk.page, Hands(desk.page)
    desk.sign_in("floor")
    desk.go(f"/today/{first.pk}/absent/")
    page.get_by_role("button", name="weather").click()
    page.locator("button[name=sitting]").nth(1).click()
    line = line_of(page, first)
    hands.click(line.get_by_role("link", name="Make-up"))
    hands.click(page.get_by_role("button", name="Give up make-up"))
    expect(page.get_by_text("given up.")).to_be_visible()
    assert (hands.n, made_up(first).count()) == (2, 0)
    hands.click(page.get_by_role("link", name="None of these"))
    expect(line.get_by_role("link", name="Make-up")).to_be_visible()
    assert (hands.n, made_up(first).count()) == (3, 0)
    assert desk.trouble == []


def test_by_keys_alone(desk, first):
    """From the line: to Absent, the first reason that says nothing of illness, the first class."""
    page, hands = desk.page, Hands(desk.page)
    desk.sign_in("floor")
    desk.go("/today/")
    line = line_of(page, first)
    absent = line.get_by_role("link", name="Absent")
    line.locator("input:not([type=hidden])").first.focus()
    hands.press("Tab", until=absent)
    n_there = hands.n
    hands.press("Enter")
    reason = page.get_by_role("button", name="transport")
    expect(page.get_by_role("button", name="ill", exact=True)).to_be_focused()
    hands.press("Tab", until=reason)
    hands.press("Enter")
    expect(page.locator("button[name=sitting]").first).to_be_focused()
    hands.press("Enter")
    expect(line.locator("b", has_text="Make-up")).to_be_visible()
    assert made_up(first).count() == 1
    print(f"{n_there} keys to Absent, {hands.n - n_there} from there")
    assert hands.n - n_there == 6
    assert n_there <= 8
    hands.n = 0
    line.get_by_role("button", name="Undo").focus()
    hands.press("Enter")
    expect(line.get_by_role("button", name="Check in")).to_be_visible()
    assert (hands.n, made_up(first).count()) == (1, 0)
    assert desk.trouble == []


def test_nobody_who_is_ill_is_booked_by_a_key_too_many(desk, first):
    page = desk.page
    desk.sign_in("floor")
    desk.go(f"/today/{first.pk}/absent/")
    page.keyboard.press("Enter")  # ill, the first reason
    expect(page.get_by_text("Ill: ask how they are")).to_be_visible()
    page.keyboard.press("Enter")
    assert made_up(first).count() == 0
