"""From a letter on the desk to a booked first session, in a real browser."""

import re
import time
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from programs.enrolment.calc.screen import QUESTIONS
from programs.enrolment.models import Enrolment, PlannedSession, Referral
from tests.factories.enrolment import ReferralFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Counting:
    """Counts what the hand does."""

    def __init__(self, page):
        self.page, self.clicks, self.began = page, 0, time.perf_counter()

    def click(self, locator):
        self.clicks += 1
        locator.click()

    @property
    def seconds(self):
        return time.perf_counter() - self.began


def test_from_waiting_referral_to_booked_first_session(desk, clinic):
    """Open, confirm, book: three clicks; the letter is on the screen afterwards."""
    row = ReferralFactory(patient__site=clinic, patient__family_name="Thistledown")
    desk.sign_in("clinician")
    desk.go("/referrals/")
    page = desk.page
    hand = Counting(page)
    hand.click(page.get_by_role("row", name=re.compile("Thistledown")).get_by_role("link").last)
    hand.click(page.get_by_role("button", name="Confirm"))
    hand.click(page.get_by_role("button", name=re.compile("Book 36 sessions")).first)
    page.get_by_role("heading", name="Appointment letter").wait_for()
    seconds = hand.seconds
    print(f"referral to booked: {hand.clicks} clicks, {seconds:.1f} s in the browser")
    assert (hand.clicks, seconds < 15) == (3, True)
    course = Enrolment.objects.get(referral=row)
    assert course.planned.count() == 36
    assert (course.starts_on - clinic.today()).days <= 7
    with page.expect_download() as download:
        page.get_by_role("link", name="Calendar file").click()
    assert download.value.suggested_filename.endswith(".ics")


def test_a_new_letter_is_typed_called_and_booked(desk, clinic):
    """The whole intake by hand: add, papers, contact, confirm, book; measured in the output."""
    page = desk.page
    desk.sign_in("clinician")
    desk.go("/referrals/")
    hand = Counting(page)
    hand.click(page.get_by_role("link", name="Add referral"))
    out = clinic.today() - timedelta(days=3)
    for name, value in {
        "given_name": "Petra", "family_name": "Thistledown", "born_on": "1958-02-03",
        "record_number": "TV-1", "phone": "555-0188", "event_on": out.isoformat(),
        "icd10": "z95.5", "discharged_on": out.isoformat(), "referrer": "Dr Hale",
    }.items():  # fmt: skip
        page.locator(f"[name={name}]").fill(value)
    page.locator("[name=kind]").select_option("pci")
    page.locator("[name=source]").select_option("ward")
    page.keyboard.press("Enter")
    page.get_by_text("is on the list").wait_for()
    page.get_by_label("discharge summary").check()
    page.get_by_label("Requested from").fill("ward 4")
    hand.click(page.get_by_role("button", name="Request records"))
    page.get_by_text("Records requested").wait_for()
    hand.click(page.get_by_role("button", name=re.compile("Mark as received.*discharge summary")))
    page.locator("[name=outcome]").select_option("reached")
    hand.click(page.get_by_role("button", name="Log contact"))
    hand.click(page.get_by_role("button", name="Confirm"))
    hand.click(page.get_by_role("button", name=re.compile("Book 36 sessions")).first)
    page.get_by_role("heading", name="Appointment letter").wait_for()
    print(f"letter to booked: {hand.clicks} clicks, {hand.seconds:.1f} s in the browser")
    assert Referral.objects.get().state == "enrolled"


def test_two_people_after_the_last_seat(desk, clinic, new_context):
    """One gets it, the other is told and keeps the page."""
    clinic.classes.update(seats=1)
    first, second = [ReferralFactory(patient__site=clinic, confirmed=True) for _ in range(2)]
    desk.sign_in("clinician")
    desk.go(f"/referrals/{first.pk}/")
    other = new_context().new_page()
    other.context.add_cookies(desk.page.context.cookies())
    other.goto(f"{desk.address}/referrals/{second.pk}/")
    book = re.compile("Book 36 sessions")
    desk.page.get_by_role("button", name=book).first.click()
    desk.page.get_by_role("heading", name="Appointment letter").wait_for()
    other.get_by_role("button", name=book).first.click()
    other.get_by_text(re.compile("is full on")).wait_for()
    assert Enrolment.objects.count() == 1
    assert PlannedSession.objects.count() == 36


def test_screen_and_class_by_keyboard(desk, clinic):
    row = ReferralFactory(patient__site=clinic)
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/patients/{row.patient_id}/risk/class/")
    page.locator("[name=has_test]").focus()
    keys = ["y", "Tab", "n", "Tab", "n", "Tab", "0", "Tab", "n", "Tab", "8", "Tab", "55"]
    for key in [*keys, *["Tab", "n"] * 7]:
        page.keyboard.press(key) if len(key) == 1 or key == "Tab" else page.keyboard.type(key)
    page.get_by_role("button", name="Save risk class").press("Enter")
    page.get_by_text("Decided by: Every criterion of low risk holds.").wait_for()
    assert row.patient.stratifications.get().decided == "low"


def test_none_of_these_answers_what_is_open_and_can_be_undone(desk, clinic):
    row = ReferralFactory(patient__site=clinic)
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/patients/{row.patient_id}/risk/screen/")
    page.locator("[name=E_07][value=yes]").check()
    answers = "() => [...document.querySelectorAll('[data-none]:checked')].map(e => e.value)"
    press, undo = "None of these", re.compile("^Undo")
    expect(page.get_by_role("button", name=undo)).to_have_count(0)
    page.get_by_role("button", name=press).press("Enter")  # one key for all that is open
    given = page.evaluate(answers)
    assert (given.count("yes"), given.count("no")) == (1, len(QUESTIONS) - 1)
    page.locator("[name=E_11][value=yes]").check()
    page.get_by_role("button", name=undo).click()
    given = page.evaluate(answers)
    assert (given.count("yes"), given.count("no")) == (2, 0)  # what was pressed by hand stays
    page.get_by_role("button", name=press).click()
    page.locator("[name=decision]").select_option("not_yet")
    page.get_by_role("button", name="Record the screen").click()
    page.get_by_text("The screen is recorded").wait_for()
    stored = row.patient.entry_screens.get().answers
    assert stored == {q.id: q.id in {"E-07", "E-11"} for q in QUESTIONS}


def test_none_of_these_waits_for_a_test_to_be_done(desk, clinic):
    row = ReferralFactory(patient__site=clinic)
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/patients/{row.patient_id}/risk/class/")
    press = page.get_by_role("button", name="None of these")
    press.click()
    expect(page.locator("[name=arrest]")).to_have_value("no")
    expect(page.locator("[name=test_symptoms]")).to_have_value("")
    page.locator("[name=has_test]").select_option("yes")
    press.click()
    expect(page.locator("[name=test_symptoms]")).to_have_value("none")
    page.get_by_role("button", name=re.compile("^Undo")).click()
    for name in ("arrest", "test_symptoms"):
        expect(page.locator(f"[name={name}]")).to_have_value("")
    expect(page.locator("[name=has_test]")).to_have_value("yes")


def test_answers_of_the_screen_survive_a_reload(desk, clinic):
    row = ReferralFactory(patient__site=clinic)
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/patients/{row.patient_id}/risk/screen/")
    page.locator("[name=E_05][value=no]").check()
    page.locator("[name=E_07][value=yes]").check()
    page.locator("[name=E_01]").fill("128")
    page.reload()
    page.get_by_role("button", name="Put them back").click()
    expect(page.locator("[name=E_05][value=no]")).to_be_checked()
    expect(page.locator("[name=E_07][value=yes]")).to_be_checked()
    expect(page.locator("[name=E_06][value='']")).to_be_checked()
    assert page.locator("[name=E_01]").input_value() == "128"
