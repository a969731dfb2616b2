"""One person's whole road in a real browser: from the hospital's file to the outcome page."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_from_referral_file_to_outcome(desk, clinic):
    page = desk.page
    import_and_enrol(desk)
    run_the_class(desk)
    assess(desk, "Baseline assessment", walk="402", stand="14.2")
    prescribe(desk)
    sign(desk)
    assess(desk, "Six-week reassessment", walk="431", stand="13.0")
    assess(desk, "Exit assessment", walk="462", stand="12.1")
    complete(desk)
    read_outcome(desk)
    desk.sign_in("manager")
    expect(page.get_by_role("heading", name="Program", exact=True)).to_be_visible()
    finished = page.locator(".answers > div", has_text="How many finished")
    expect(finished).to_contain_text("fewer than 11 people: not shown")
    desk.sign_in("physician")  # who may open the record anyway
    desk.go("/program/")
    expect(finished).to_contain_text("0 of 1 ended")  # one session only


def import_and_enrol(desk):
    page = desk.page
    desk.sign_in("clinician")
    page.get_by_role("link", name="Referrals", exact=True).click()
    page.get_by_role("link", name="Import a list").click()
    page.locator("input[type=file]").set_input_files("fixtures/demo/hospital_list_utf8.csv")
    page.get_by_role("button", name="Preview").click()
    page.get_by_label(re.compile("the last word:")).check()
    page.get_by_role("button", name="Save answers").click()
    page.get_by_role("button", name="Add 2 referrals").click()
    page.get_by_role("link", name="To the referrals").click()
    page.get_by_role("row", name=re.compile("Petra Thistledown")).get_by_role("link").click()
    expect(page.locator(".word", has_text="meets the rule")).to_be_visible()
    expect(page.locator("details.why").first).to_contain_text("A-05")
    page.get_by_role("button", name="Confirm").click()
    page.get_by_text("Choose classes by hand").click()
    page.get_by_label("First session on or after").fill(today(desk))
    for box in page.locator("input[name=slots][type=checkbox]").all():
        box.check()
    page.get_by_role("button", name="Enrol and book every session").click()
    page.get_by_role("heading", name="Appointment letter").wait_for()
    page.get_by_role("link", name="Overview").click()
    expect(page.get_by_role("heading", name="Petra Thistledown")).to_be_visible()
    expect(page.get_by_text("0 of 36 sessions counted")).to_be_visible()


def today(desk):
    from programs.staff.models import Site

    return Site.objects.get().today().isoformat()


def run_the_class(desk):
    """A hold first, then a repeat reading, then the session itself."""
    page = desk.page
    desk.sign_in("floor")
    open_the_class(desk)
    desk.check_in()
    assert page.evaluate("document.activeElement.name") == "before_heart_rate_bpm"
    keys = ["68", "Tab", "186/92", "Tab", "97", "Tab", "78.4"]
    type_keys(page, keys)
    why = page.locator("#live .finding.hold .why").first
    expect(why).to_contain_text("E-01")  # as typed, before saving
    page.keyboard.press("Enter")
    page.get_by_text("saved, checked in").wait_for()
    expect(page.get_by_text("Systolic 186 is above").first).to_be_visible()
    page.get_by_text("No changes").first.click()
    page.get_by_role("button", name="Start exercise").click()
    page.get_by_text("Record a decision before going on").wait_for()
    page.get_by_role("link", name="Repeat reading").click()
    page.locator("[name=before_heart_rate_bpm]").click()
    type_keys(page, ["70", "Tab", "138/84", "Tab", "97", "Tab", "78.4", "Enter"])
    page.get_by_text("No alerts from the readings taken").wait_for()  # back in the class
    page.get_by_role("button", name="Start all who are ready").click()
    page.get_by_text("not taken yet: rhythm before exercise").wait_for()
    page.get_by_role("link", name="Open").click()
    page.get_by_role("button", name="Start exercise").click()
    page.get_by_text("Not taken yet").first.wait_for()
    page.locator("#without input:visible").first.fill("the monitor is at the workshop")
    page.locator("[name=rest]").fill("the monitor is at the workshop")
    page.get_by_role("button", name="Start without it").click()
    page.get_by_text("Exercising").first.wait_for()
    page.get_by_role("link", name="Open").click()
    page.locator("[name=bout1_activity]").select_option("treadmill")
    for name, value in {"minutes": "20", "speed_kmh": "4.2", "heart_rate_bpm": "96"}.items():
        page.locator(f"[name=bout1_{name}]").fill(value)
    page.locator("[name=bout1_pressure]").fill("150/84")
    page.locator("[name=bout1_rpe]").fill("12")
    page.locator("[name=pvc_per_minute]").fill("0")
    page.locator("[name=after_pressure]").fill("132/80")
    page.locator("[name=recovery_pressure]").fill("130/80")
    page.locator("[name=minutes]").fill("41")
    page.get_by_role("button", name="Finish").click()
    page.locator("#without").wait_for()
    page.locator("[name=rest]").fill("first session, nobody was free to watch")
    page.get_by_role("button", name="Finish without it").click()
    page.get_by_text("Finished, 41 min").wait_for()


def open_the_class(desk):
    """Nothing is ready in a clinic made for a test: the class opens by a written exception."""
    page = desk.page
    page.get_by_role("link", name="Open class").click()
    page.get_by_role("button", name="Open the class").click()
    page.get_by_text("Something asked for is missing").wait_for()
    page.get_by_label("Open with exception").fill("first day of the clinic")
    page.get_by_role("button", name="Open the class").click()
    page.get_by_text("open with exception").wait_for()


def type_keys(page, keys):
    for key in keys:
        if key in {"Tab", "Enter"}:
            page.keyboard.press(key)
        else:
            page.keyboard.type(key)


def open_patient(desk):
    page = desk.page
    page.get_by_role("link", name="Patients", exact=True).click()
    page.get_by_role("link", name="Thistledown, Petra").click()


def assess(desk, kind, *, walk, stand):
    page = desk.page
    desk.sign_in("clinician")
    open_patient(desk)
    page.get_by_role("link", name="Assessments", exact=True).click()
    page.get_by_role("row", name=re.compile(kind)).get_by_role("button", name="Record").click()
    values = {
        "resting_heart_rate-heart_rate_bpm": "66",
        "resting_blood_pressure-systolic_mmhg": "132",
        "resting_blood_pressure-diastolic_mmhg": "80",
        "body_mass_index-weight_kg": "78.4",
        "body_mass_index-height_cm": "165",
        "six_minute_walk-distance_m": walk,
        "six_minute_walk-course_m": "30",
        "five_times_sit_to_stand-seconds": stand,
        "chair_stand_30s-stands": "11",
        "gait_speed-course_m": "4",
        "gait_speed-first_s": "4.2",
    }
    for name, value in values.items():
        page.locator(f"[name='{name}']").fill(value)
    for n in range(1, 10):
        page.locator(f"[name=phq9-item{n}]").select_option("1" if n < 4 else "0")
    page.get_by_role("button", name="Save and score").click()
    if kind != "Baseline assessment":  # the whole course on one day: measured twice is asked about
        page.get_by_text("a second time on the same day").first.wait_for()
        page.get_by_role("button", name="Save and score").click()
    page.get_by_text(f"{kind} saved").wait_for()
    expect(page.get_by_text("minimal").first).to_be_visible()  # PHQ-9 of 3


def prescribe(desk):
    page = desk.page
    page.get_by_role("link", name="Draft a prescription from these results").click()
    page.get_by_label("Based on").select_option("reserve")
    page.locator("[name=resting_bpm]").fill("62")
    page.locator("[name=peak_bpm]").fill("132")
    page.locator("[name=tested_on]").fill(today(desk))
    # Karvonen worked example: rest 62, peak 132, 40 to 59 % of the reserve is 90 to 103
    page.locator("#worked-out").get_by_text("90–103 /min").wait_for()
    page.get_by_role("button", name="Prescribe").click()
    page.get_by_text("Awaiting signature, not in force: no dose is signed yet").wait_for()
    page.get_by_role("link", name="Course", exact=True).click()
    page.get_by_role("link", name="Treatment plan").click()
    page.get_by_label("Goals").fill("Walk to the market and back.")
    with page.expect_navigation():
        page.get_by_role("button", name="Save draft").click()
    page.get_by_text("awaiting signature").first.wait_for()
    expect(page.get_by_role("button", name=re.compile("^Sign"))).to_have_count(0)


def sign(desk):
    from programs.enrolment.models import Enrolment

    page = desk.page
    desk.sign_in("physician")
    page.get_by_role("link", name=re.compile("^Open dose")).click()
    page.get_by_role("button", name="Sign prescription").click()
    page.get_by_text("Prescription signed.").wait_for()
    page.get_by_role("link", name=re.compile("^Due")).first.click()
    page.get_by_role("link", name="Review and sign").click()
    page.get_by_role("button", name=re.compile("^Sign(?! the)")).click()
    page.get_by_role("status").filter(has_text="Signed: ").wait_for()
    desk.go(f"/enrolments/{Enrolment.objects.get().pk}/plan/")
    expect(page.get_by_text(re.compile("next signature by"))).to_be_visible()


def complete(desk):
    page = desk.page
    page.get_by_role("link", name="Course", exact=True).click()
    page.get_by_label(re.compile("^Discharge")).select_option("completed")
    page.get_by_role("button", name="End course").click()
    page.get_by_text(re.compile("ended .*completed")).wait_for()


def read_outcome(desk):
    page = desk.page
    page.get_by_role("link", name="Outcomes", exact=True).click()
    walk = page.get_by_role("row", name=re.compile("^Six-minute walk")).first
    assert "+60" in walk.inner_text()
    assert "better, meaningful" in walk.inner_text()  # 25 m, Gremeaux 2011
    assert walk.locator("svg path.head").count() == 1  # a filled head: meaningful
