"""Walks run on a tablet: lengths, time, a reload, no network, and the timing of the tones."""

import pytest
from playwright.sync_api import expect

from tests.factories.assessments import AssessmentFactory
from tests.factories.enrolment import EnrolmentFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MINUTES_LATER = "const now = Date.now; Date.now = () => now() + {} * 60000;"


@pytest.fixture
def baseline(clinic):
    course = EnrolmentFactory(patient__site=clinic)
    return AssessmentFactory(enrolment=course, kind="baseline", performed_on=None)


def test_six_minutes_are_counted_through_a_reload_and_without_network(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/six_minute_walk/")
    page.get_by_role("button", name="Start").click()
    for _ in range(3):
        page.get_by_role("button", name="Length done").click()
    page.get_by_label("Course, one way").fill("20")
    page.goto(page.url)  # a tab thrown away: what was typed comes back with the count
    assert page.locator("[data-part=count]").inner_text() == "3"
    assert page.locator("[data-part=distance]").inner_text() == "60 m"
    page.get_by_label("Course, one way").fill("30")
    page.context.set_offline(True)
    for _ in range(12):
        page.get_by_role("button", name="Length done").click()
    page.get_by_role("button", name="Rest", exact=True).click()
    page.get_by_role("button", name="Resume walking").click()
    page.evaluate(MINUTES_LATER.format(6))
    page.get_by_label("Metres of the last length").fill("12")
    assert page.locator("[data-part=time]").inner_text() == "0:00"
    page.get_by_role("button", name="One fewer").click()  # counted once too often
    assert page.locator("[data-part=distance]").inner_text() == "432 m"
    page.context.set_offline(False)
    page.get_by_label("Lowest SpO").fill("93")
    page.get_by_role("button", name="Take into the assessment").click()
    page.locator("[name=six_minute_walk-distance_m]").wait_for()
    assert page.locator("[name=six_minute_walk-distance_m]").input_value() == "432"
    assert page.locator("[name=six_minute_walk-rests]").input_value() == "1"
    assert not baseline.measurements.exists()  # nothing is stored before saving
    page.get_by_role("button", name="Save and score").click()
    page.get_by_text("saved").first.wait_for()
    assert baseline.measurements.get().value == 432


def test_shuttle_tones_come_at_the_times_of_the_level_table(desk, baseline):
    """Singh 1992: level n has n + 2 shuttles in its minute; the first comes after 20 s."""
    page = desk.page
    desk.sign_in("clinician")
    page.add_init_script(
        """
        window.tones = [];
        const start = OscillatorNode.prototype.start;
        OscillatorNode.prototype.start = function (at) {
          window.tones.push(at - this.context.currentTime);
          window.context = this.context;
          return start.call(this, at);
        };
        """
    )
    desk.go(f"/assessments/{baseline.pk}/run/incremental_shuttle_walk/")
    page.get_by_role("button", name="Start").click()
    begun = page.evaluate("[context.currentTime, performance.now() / 1000]")
    tones = page.evaluate("window.tones")
    expected = [
        60 * (level - 1) + 60 * shuttle / (level + 2)
        for level in range(1, 13)
        for shuttle in range(1, level + 3)
    ]
    # Single tones, and the first of each three at the end of a level; three more began the test.
    firsts = [t for t in tones[3:] if any(abs(t - e) < 0.1 for e in expected)]
    assert len(firsts) == len(expected) == 102
    assert max(abs(t - e) for t, e in zip(firsts, expected, strict=True)) < 0.05
    page.wait_for_timeout(6000)
    now = page.evaluate("[context.currentTime, performance.now() / 1000]")
    drift = (now[0] - begun[0]) - (now[1] - begun[1])
    print(f"sound clock against the page's clock over 6 s: {drift * 1000:.1f} ms")
    assert abs(drift) < 0.05


def test_shuttles_are_counted_by_level_and_corrected(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/incremental_shuttle_walk/")
    page.get_by_role("button", name="Start").click()
    page.evaluate("const now = Date.now; Date.now = () => now() + 185000;")
    page.get_by_role("button", name="End test").click()
    assert (
        page.locator("[data-part=count]").inner_text() == "3.5"
    )  # 3 + 4 + 5 shuttles in 3 minutes
    page.get_by_role("button", name="One fewer").click()
    assert page.locator("[data-part=count]").inner_text() == "3.4"
    assert page.locator("[data-part=distance]").inner_text() == "110 m"
    page.get_by_role("button", name="Take into the assessment").click()
    assert page.locator("[name=incremental_shuttle_walk-level]").input_value() == "3"
    assert page.locator("[name=incremental_shuttle_walk-shuttles]").input_value() == "4"


LATER = "const now = Date.now; Date.now = () => now() + {};"


def test_stands_are_counted_until_the_time_is_over_and_corrected(desk, baseline):
    """CDC STEADI: half a minute."""
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/chair_stand_30s/")
    page.get_by_role("button", name="Start").click()
    for _ in range(3):
        page.get_by_role("button", name="Full stand").click()
    page.reload()
    page.context.set_offline(True)
    page.get_by_role("button", name="Full stand").click()
    assert page.locator("[data-part=count]").inner_text() == "4"
    page.evaluate(LATER.format(30000))
    page.get_by_role("button", name="Full stand").wait_for(state="hidden")
    assert page.locator("[data-part=time]").inner_text() == "0:00"
    box = page.get_by_label("Full stands")
    assert box.input_value() == "4"
    box.fill("5")  # a stand that was missed
    page.context.set_offline(False)
    page.reload()
    assert page.get_by_label("Full stands").input_value() == "5"
    page.get_by_role("button", name="Take into the assessment").click()
    assert page.locator("[name=chair_stand_30s-stands]").input_value() == "5"
    assert not baseline.measurements.exists()


def test_stances_stop_by_themselves_and_a_shorter_one_is_never_rounded_up(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/four_stances/")
    page.evaluate("window.offset = 0; const now = Date.now; Date.now = () => now() + offset;")
    page.get_by_role("button", name="Start").click()
    page.evaluate("offset = 12000")
    page.get_by_role("button", name="Next").click()
    page.evaluate("Date.now = () => 1000000")
    page.get_by_role("button", name="Start").click()
    page.evaluate("Date.now = () => 1009970")
    page.get_by_role("button", name="Stop").click()
    boxes = [box.input_value() for box in page.locator("[data-trial] input").all()]
    assert boxes == ["10.0", "9.9", "", ""]
    page.get_by_role("button", name="Take into the assessment").click()
    page.locator("[name^=four_stances-]").first.wait_for()
    taken = [box.input_value() for box in page.locator("[name^=four_stances-]").all()]
    assert taken == ["10", "9.9", "", ""] or taken == ["10.0", "9.9", "", ""]


def test_two_walks_are_timed_to_hundredths(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/gait_speed/")
    for begin, took in ((1000000, 3870), (2000000, 3925)):
        page.evaluate(f"Date.now = () => {begin}")
        page.get_by_role("button", name="Start").click()
        page.evaluate(f"Date.now = () => {begin + took}")
        page.get_by_role("button", name="Stop").click()
        if page.get_by_role("button", name="Next").is_visible():
            page.get_by_role("button", name="Next").click()
    page.get_by_label("Timed course").fill("4")
    page.get_by_role("button", name="Take into the assessment").click()
    assert page.locator("[name=gait_speed-first_s]").input_value() == "3.87"
    assert page.locator("[name=gait_speed-second_s]").input_value() in {"3.92", "3.93"}


def test_questionnaire_is_answered_by_digits_and_item_nine_is_raised_at_once(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/?test=phq9")
    page.locator("[name=phq9-item1]").focus()
    for answer in "112211101":
        page.keyboard.press(answer)
        page.keyboard.press("Tab")
    assert page.locator("[name=phq9-item4]").input_value() == "2"
    page.get_by_role("button", name="Save and score").click()
    page.get_by_text("somebody must speak with this person today").first.wait_for()
    stored = baseline.measurements.get()
    # 1,1,2,2,1,1,1,0,1: the worked example of Kroenke's scoring, 10, moderate
    assert (stored.value, stored.interpretation) == (10, "moderate, positive screen")
    assert baseline.concerns.get().closed_at is None


def test_ticked_tests_stay_when_another_limit_is_asked_for(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/tests/")
    page.get_by_label("Six-minute walk").uncheck()
    page.get_by_label("Balance").first.check()
    page.locator("input[name=test][value=four_stances]").wait_for()
    expect(page.locator("input[name=test][value=six_minute_walk]")).to_have_count(0)
    page.locator("input[name=test][value=four_stances]").check()
    page.get_by_label("Mood").first.check()
    page.locator("input[name=test][value=phq9]").first.wait_for()
    expect(page.locator("input[name=test][value=four_stances]")).to_be_checked()


def test_tests_run_one_after_another_lose_nothing_typed_or_taken(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/?test=two_minute_step")
    page.locator("[name=resting_heart_rate-heart_rate_bpm]").fill("66")
    page.get_by_role("link", name="Two-minute step test").click()
    page.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Right knee up").click()
    # While it runs nothing can be taken, and nothing is wiped.
    expect(page.get_by_role("button", name="Take into the assessment")).not_to_be_visible()
    page.get_by_role("button", name="End test early").click()
    page.get_by_label("Right-knee lifts").fill("80")
    page.get_by_role("button", name="Take into the assessment").click()
    assert page.locator("[name=two_minute_step-steps]").input_value() == "80"
    assert page.locator("[name=resting_heart_rate-heart_rate_bpm]").input_value() == "66"
    page.get_by_role("link", name="30-second chair stand").click()
    page.get_by_label("Full stands").fill("9")
    page.get_by_role("button", name="Take into the assessment").click()
    page.locator("[name=two_minute_step-steps]").wait_for()  # it was added by hand
    assert page.locator("[name=two_minute_step-steps]").input_value() == "80"
    assert page.locator("[name=chair_stand_30s-stands]").input_value() == "9"
    assert page.locator("[name=resting_heart_rate-heart_rate_bpm]").input_value() == "66"
    page.get_by_role("button", name="Save and score").click()
    page.get_by_text("saved").first.wait_for()
    stored = {m.key: m.value for m in baseline.measurements.all()}
    assert stored == {"resting_heart_rate": 66, "two_minute_step": 80, "chair_stand_30s": 9}


def test_a_walk_ended_early_says_when(desk, baseline):
    page = desk.page
    desk.sign_in("clinician")
    desk.go(f"/assessments/{baseline.pk}/run/six_minute_walk/")
    page.get_by_role("button", name="Start").click()
    page.get_by_role("button", name="Length done").click()
    page.evaluate(LATER.format(130000))
    page.get_by_role("button", name="End test", exact=True).click()
    page.get_by_role("button", name="Take into the assessment").click()
    assert page.locator("[name=six_minute_walk-ended_after_s]").input_value() == "130"
