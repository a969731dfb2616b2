"""Plans are signed by keys alone, or with a press each."""

import pytest
from playwright.sync_api import expect

from programs.prescription.models import TreatmentPlan
from programs.review.services import write_draft
from programs.staff.models import User
from tests.factories.enrolment import EnrolmentFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_one_press_or_one_key_signs_one_plan_and_shows_the_next(desk, clinic):
    """So five take a press to the queue and one each, or no press at all."""
    by = User.objects.get(username="clinician")
    for n in range(5):
        course = EnrolmentFactory(patient__site=clinic, patient__family_name=f"Number{n}")
        PrescriptionFactory(enrolment=course)
        write_draft(course, by=by)
    desk.sign_in("physician")
    page = desk.page
    page.get_by_role("link", name="Review and sign").click()
    whom = page.locator(".bar-whom b").first
    for sign in [page.get_by_role("button", name="Sign and next").click] * 2:
        name = whom.inner_text()
        sign()
        page.get_by_role("status").filter(has_text=f"Signed: {name}").wait_for()
    assert TreatmentPlan.objects.filter(signed_on__isnull=False).count() == 2

    name = whom.inner_text()
    page.keyboard.press("Alt+ArrowDown")
    expect(whom).not_to_have_text(name)
    page.wait_for_load_state()
    page.keyboard.press("Alt+b")
    page.keyboard.press("Space")
    page.keyboard.press("Enter")  # among the reasons it sends back, and signs nothing
    page.get_by_role("status").filter(has_text="Sent back to").wait_for()
    for _ in range(2):
        name = whom.inner_text()
        page.keyboard.press("Control+Enter")
        page.get_by_role("status").filter(has_text=f"Signed: {name}").wait_for()
    left = TreatmentPlan.objects.get(signed_on=None)
    assert left.sent_back_because == "dose"
