"""The floor in a real browser: a whole class, two at once, lost connections, a killed server."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from tests.browser.conftest import PASSWORD, PATIENCE, Desk
from tests.factories.attendance import BoutFactory, InterruptionFactory, VisitFactory
from tests.factories.enrolment import (
    ClassSlotFactory,
    EnrolmentFactory,
    EntryScreenFactory,
    PlannedSessionFactory,
)
from tests.factories.patients import ConditionFactory, MedicineFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
KEPT = "What you typed is kept on this device"


def class_of(clinic, n):
    """A class of today, open, with n people."""
    slot = clinic.classes.get(weekday=clinic.today().weekday())
    slot.seats = max(slot.seats, n)
    slot.save()
    planned = [
        PlannedSessionFactory(
            enrolment=EnrolmentFactory(
                patient__site=clinic, patient__family_name=f"Person{place:02d}"
            ),
            slot=slot,
        )
        for place in range(n)
    ]
    for one in planned:
        EntryScreenFactory(
            patient=one.enrolment.patient,
            answers=dict.fromkeys(["E-08", "E-08b", "E-11", "E-12", "E-21"], False),
            found="nothing",
            decision="may_start",
        )
    return planned


class Hands:
    """Types and clicks, and counts what is not the numbers themselves."""

    def __init__(self, page):
        self.page, self.keys, self.clicks = page, 0, 0

    def number(self, text):
        self.page.keyboard.type(text)

    def press(self, *keys):
        for key in keys:
            self.page.keyboard.press(key)
            self.keys += 1

    def click(self, locator):
        locator.click()
        self.clicks += 1


def in_line(page, n):
    """The line of a person of ``class_of``, wherever it stands."""
    return page.locator(f"tbody[data-name$='Person{n:02d}']")


def all_of(clinic, n):
    """A class whose people exercised before, without a monitor, on the treadmill."""
    people = class_of(clinic, n)
    for planned in people:
        earlier = VisitFactory(
            enrolment=planned.enrolment,
            finished=True,
            has_ecg=False,
            meeting__slot=ClassSlotFactory(site=clinic),
            meeting__on=planned.enrolment.starts_on,
        )
        BoutFactory(visit=earlier)  # the last session's treadmill fills the line in
    return people


def test_class_of_twelve_with_readings_exercise_and_finish(desk, clinic):
    """From the first arrival to the last finish in the lines of the class, by keyboard alone."""
    all_of(clinic, 12)
    page, hands = desk.page, None
    desk.sign_in("floor")
    page.goto(f"{page.url.split('?')[0]}?stage=checkin")
    hands = Hands(page)
    for n in range(12):
        expect(in_line(page, n).locator("[name=before_heart_rate_bpm]")).to_be_focused()
        hands.number(str(60 + n))
        hands.press("Tab")
        hands.number("128/74")
        hands.press("Tab")
        hands.number("97")
        hands.press("Tab")
        hands.number(f"{70 + n}.5")
        hands.press("n", "Enter")  # no changes; saved, and on to the next person
    expect(page.locator("tbody[data-now^=Ready]")).to_have_count(12)
    print(f"check in {hands.keys / 12:.1f} keys a person")
    assert hands.keys / 12 <= 5
    page.keyboard.press("e")
    hands.keys = 1
    expect(page.locator("#roster[data-stage=exercise]")).to_be_visible()
    for n in range(12):
        expect(in_line(page, n).get_by_role("button", name="Start")).to_be_focused()
        hands.press("Enter")
    expect(page.locator("tbody[data-state=exercising]")).to_have_count(12)
    for n in range(12):
        expect(in_line(page, n).locator("[name=bout_heart_rate_bpm]")).to_be_focused()
        hands.number("98")
        hands.press("Tab")
        hands.number("140/80")
        hands.press("Tab")
        hands.number("12")
        hands.press("Tab")
        hands.number("96")
        hands.press("n", "Enter")
    expect(page.get_by_text("✓ No signs")).to_have_count(12)
    print(f"exercise {hands.keys / 12:.1f} keys a person")
    assert hands.keys / 12 <= 6.1  # one key for the class
    ran_for(clinic, 31)
    page.keyboard.press("f")
    hands.keys = 1
    expect(page.locator("#roster[data-stage=finish]")).to_be_visible()
    for n in range(12):
        expect(in_line(page, n).locator("[name=recovery_heart_rate_bpm]")).to_be_focused()
        hands.number("78")
        hands.press("Tab")
        hands.number("124/76")
        hands.press("n", "Enter")  # the minutes are there, by the clock of the bouts
    expect(page.locator("tbody[data-state=finished]")).to_have_count(12)
    print(f"finish {hands.keys / 12:.1f} keys a person")
    assert hands.keys / 12 <= 5
    from programs.attendance.models import Visit

    visits = Visit.objects.filter(on=clinic.today())
    assert [v.state for v in visits] == ["finished"] * 12
    assert all(v.sessions_counted == 1 and v.answers["fell"] is False for v in visits)
    assert all(31 <= v.minutes <= 33 for v in visits), "31 and what typing took"
    assert all(b.minutes == v.minutes for v in visits for b in v.bouts.all())


def ran_for(clinic, minutes):
    """Exercise began some minutes ago."""
    from programs.attendance.models import Bout, Visit

    began = timezone.now() - timedelta(minutes=minutes)
    Visit.objects.filter(on=clinic.today()).update(arrived_at=began, started_at=began)
    Bout.objects.filter(visit__on=clinic.today()).update(began_at=began)


def second_desk(new_context, live_server):
    page = new_context().new_page()
    page.set_default_timeout(PATIENCE)
    return Desk(page, live_server.url)


def test_two_browsers_lose_nothing_and_are_told(desk, clinic, new_context, live_server):
    planned = class_of(clinic, 2)
    other = second_desk(new_context, live_server)
    desk.sign_in("floor")
    other.sign_in("clinician")
    other.go("/today/")
    # one arrives here, and the other window shows it by itself
    desk.check_in()
    first = other.page.locator("tbody[data-row]").first
    expect(first.get_by_text("Checked in")).to_be_visible(timeout=15000)
    # both open the same sheet; the second to save sees both versions
    visit = planned[0].enrolment.visits.get()
    other.go(f"/visits/{visit.pk}/")
    other.page.locator("[name=before_heart_rate_bpm]").fill("88")
    desk.page.locator("[name=before_heart_rate_bpm]").fill("71")
    desk.page.locator("[name=before_pressure]").fill("126/74")
    desk.page.get_by_role("button", name="Save", exact=True).click()
    desk.page.get_by_text("saved, checked in").wait_for()
    expect(other.page.locator("#told")).to_contain_text("saved this visit")
    assert other.page.locator("[name=before_heart_rate_bpm]").input_value() == "88"
    other.page.get_by_role("button", name="Save", exact=True).click()
    other.page.get_by_text("Somebody else saved this visit meanwhile").wait_for()
    table = other.page.locator(".both table").inner_text()
    assert "71" in table
    assert "88" in table
    assert visit.readings.get().heart_rate_bpm == 71
    assert other.trouble == []


def test_network_cut_while_typing_arrives_once_after_it_is_back(desk, clinic):
    (planned,) = class_of(clinic, 1)
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    page.context.set_offline(True)
    page.locator("[name=before_pressure]").fill("128/74")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(KEPT).wait_for()
    page.get_by_role("button", name="Go on typing").click()
    page.locator("[name=before_spo2_percent]").fill("97")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(KEPT).wait_for()
    page.context.set_offline(False)
    page.get_by_text("saved, checked in").wait_for()
    reading = planned.enrolment.visits.get().readings.get()
    assert (reading.heart_rate_bpm, reading.pressure, reading.spo2_percent) == (71, "128/74", 97)
    assert not page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:'))")
    offline = ("ERR_INTERNET_DISCONNECTED", "htmx:")  # the live panel could not ask either
    desk.trouble[:] = [t for t in desk.trouble if not any(words in t for words in offline)]


def test_answer_lost_on_the_way_back_counts_once(desk, clinic):
    """The server has saved, the answer never came: the same key is sent again and counts once."""
    (planned,) = class_of(clinic, 1)
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    cut = []

    def lose_first_answer(route):
        if route.request.method == "POST" and not cut:
            cut.append(route.fetch(max_redirects=0))
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/visits/*/", lose_first_answer)
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(KEPT).wait_for()
    page.locator("#roster, #sheet").first.wait_for()
    expect(page.get_by_text(KEPT)).to_have_count(0)
    assert cut
    visit = planned.enrolment.visits.get()
    assert visit.readings.count() == 1
    assert visit.readings.get().history.count() == 1
    desk.trouble[:] = [t for t in desk.trouble if "ERR_CONNECTION_RESET" not in t]


def test_site_may_switch_the_keeping_off(desk, clinic):
    class_of(clinic, 1)
    clinic.keeps_drafts = False
    clinic.save()
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    assert not page.evaluate("Object.keys(sessionStorage).filter(k => k.startsWith('draft:'))")


def test_one_press_opens_the_emergency_card(desk, clinic):
    (planned,) = class_of(clinic, 1)
    clinic.emergency_card = "Stop. Call 555-0100."
    clinic.save()
    page = desk.page
    desk.sign_in("floor")
    page.get_by_role("button", name="Emergency").click()
    expect(page.get_by_text("Call 555-0100")).to_be_visible()
    page.keyboard.press("Escape")
    desk.check_in()
    page.get_by_role("button", name="Emergency").click()
    page.get_by_role("button", name=re.compile("Start the time line for")).click()
    page.get_by_text("Time line started.").first.wait_for()
    event = clinic.events.get()
    assert event.patient == planned.enrolment.patient


def test_stop_leads_to_its_record_and_stands_next_time(desk, clinic):
    (planned,) = class_of(clinic, 1)
    earlier = VisitFactory(
        enrolment=planned.enrolment,
        state="held",
        meeting__slot=ClassSlotFactory(site=clinic),
        meeting__on=planned.enrolment.starts_on,
    )
    InterruptionFactory(visit=earlier, return_condition="pressure below 160", seen="186/92.")
    page = desk.page
    desk.sign_in("floor")
    expect(page.get_by_text("return not confirmed")).to_be_visible()
    desk.check_in()
    page.get_by_text("pressure below 160").wait_for()
    page.get_by_role("button", name="Hold session").click()
    page.get_by_text("Document the hold").wait_for()
    assert page.evaluate("document.activeElement.name") == "seen"
    for name, words in {"seen": "tired", "done": "sent home", "told": "Dr Lind"}.items():
        page.locator(f"#write-up [name={name}]").fill(words)
    page.locator("#write-up button").click()  # one is missing: the browser says so
    expect(page.locator("#write-up [name=return_condition]:invalid")).to_have_count(1)
    assert page.locator("#write-up [name=done]").input_value() == "sent home"
    page.locator("#write-up [name=return_condition]").fill("rested")
    page.locator("#write-up button").click()
    page.get_by_text("documented").first.wait_for()


def test_glucose_in_the_other_unit_and_the_countdown(desk, clinic):
    (planned,) = class_of(clinic, 1)
    MedicineFactory(patient=planned.enrolment.patient, drug_class="insulin")
    page = desk.page
    desk.sign_in("floor")
    desk.check_in()
    page.get_by_role("button", name="Glucose in mmol/L").click()
    page.get_by_role("button", name="Glucose in mg/dL").wait_for()
    page.locator("[name=before_glucose_mgdl]").fill("64")
    page.get_by_text("Is 64 in mg/dL? Then write 64 mg/dL").first.wait_for()
    page.locator("[name=before_glucose_mgdl]").fill("3.6")
    page.get_by_text("3.6 mmol/L (65 mg/dL)").first.wait_for()
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("button", name="Given now").click()
    page.get_by_text(re.compile(r"recheck at .*, in 1[45]:\d\d")).wait_for()
    page.locator("[name=recheck_mgdl]").fill("6.1")
    page.get_by_role("button", name="Recheck").click()
    page.get_by_text("no longer low").first.wait_for()


# --- a server of its own, killed in the middle ---------------------------------------------------


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


DATABASE = "killed.sqlite3"


class Server:
    """The program on a database of its own, in a process that can be killed."""

    def __init__(self, folder):
        self.port = free_port()
        self.env = os.environ | {"DATABASE_URL": f"sqlite:///{folder}/{DATABASE}"}
        self.address = f"http://127.0.0.1:{self.port}"
        self.process = None

    def manage(self, *words):
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            env=self.env, check=True, capture_output=True, text=True,
        )  # fmt: skip
        return done.stdout

    def start(self):
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "runserver", "--noreload", f"127.0.0.1:{self.port}"],
            env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        for _ in range(100):
            with socket.socket() as s:
                if s.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.1)
        raise RuntimeError("The server did not come up.")

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


@pytest.fixture(scope="module")
def migrated(tmp_path_factory):
    """A database file with every table and nothing in it, for servers to begin with."""
    folder = tmp_path_factory.mktemp("migrated")
    Server(folder).manage("migrate", "-v", "0")
    return folder / DATABASE


@pytest.fixture
def server(tmp_path, migrated):
    shutil.copy(migrated, tmp_path)
    found = Server(tmp_path)
    yield found
    if found.process is not None:
        found.kill()


SETUP = f"""
from datetime import time
from programs.attendance.models import Visit
from tests.factories.enrolment import (
    ClassSlotFactory,
    EnrolmentFactory,
    EntryScreenFactory,
    PlannedSessionFactory,
)
from tests.factories.staff import SiteFactory, UserFactory
from django.contrib.auth.hashers import make_password
site = SiteFactory(timezone="UTC")
slot = ClassSlotFactory(site=site, weekday=site.today().weekday(), starts_at=time(9))
course = EnrolmentFactory(patient__site=site)
PlannedSessionFactory(enrolment=course, slot=slot)
UserFactory(username="floor", role="floor", sites=[site], password=make_password("{PASSWORD}"))
"""
STORED = "from programs.attendance.models import Reading as R; print([(r.heart_rate_bpm, r.pressure) for r in R.objects.all()])"  # noqa: E501


def test_server_killed_in_mid_save_keeps_what_it_acknowledged(server, page):
    server.manage("shell", "-v", "0", "-c", SETUP)
    server.start()
    page.set_default_timeout(PATIENCE)
    page.goto(server.address + "/login/")
    page.get_by_label("Username").fill("floor")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    Desk(page, server.address).check_in()
    page.locator("[name=before_heart_rate_bpm]").fill("71")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("saved, checked in").wait_for()  # acknowledged
    page.get_by_role("link", name="Open").click()
    page.locator("#sheet [name=before_pressure]").fill("128/74")
    page.route("**/visits/*/", lambda route: (server.kill(), route.continue_()))
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text(KEPT).wait_for()
    page.unroute("**/visits/*/")
    assert "[(71, '')]" in server.manage("shell", "-v", "0", "-c", STORED)
    server.start()
    page.get_by_text("saved, checked in").wait_for()
    assert "[(71, '128/74')]" in server.manage("shell", "-v", "0", "-c", STORED)


def test_reload_after_a_killed_server_offers_what_was_typed(server, page):
    server.manage("shell", "-v", "0", "-c", SETUP)
    server.start()
    page.set_default_timeout(PATIENCE)
    page.goto(server.address + "/login/")
    page.get_by_label("Username").fill("floor")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    Desk(page, server.address).check_in()
    page.locator("[name=before_pressure]").fill("128/74")
    server.kill()
    server.start()
    page.reload()
    page.get_by_role("button", name="Put them back").click()
    expect(page.locator("[name=before_pressure]")).to_have_value("128/74")


def test_a_hold_costs_two_presses_and_its_words(desk, clinic):
    """Read in the line, held with one press, documented once: counted beyond the words."""
    all_of(clinic, 2)
    page = desk.page
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    hands = Hands(page)
    expect(in_line(page, 0).locator("[name=before_heart_rate_bpm]")).to_be_focused()
    for value in ["72", "186/92", "97", "80"]:
        hands.number(value)
        hands.press("Tab")
    hands.press("n", "Enter")
    hands.click(in_line(page, 0).get_by_role("button", name="Hold session"))
    hands.click(in_line(page, 0).get_by_role("link", name="Open", exact=True))
    done = page.locator("#write-up [name=done]")
    expect(page.locator("#write-up [name=seen]")).to_have_value(re.compile("186"))
    expect(page.locator("#write-up [name=seen]")).to_be_focused()
    hands.press("Tab")
    expect(done).to_be_focused()
    for words in ["rested 10 min, 184/90", "Dr Lind", "resting pressure below 180"]:
        hands.number(words)
        hands.press("Tab")
    hands.press("Enter")
    expect(page.get_by_text("documented.")).to_be_visible()
    print(f"a hold: {hands.keys} keys, {hands.clicks} clicks")
    assert hands.keys <= 11
    assert hands.clicks <= 2


def test_a_low_glucose_is_treated_beside_the_sheet(desk, clinic):
    """Typed in the line, treated and rechecked on the sheet: counted beyond the values."""
    page, person = desk.page, all_of(clinic, 2)[0].enrolment.patient
    ConditionFactory(patient=person, kind="diabetes")
    MedicineFactory(patient=person, drug_class="insulin")
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")
    hands = Hands(page)
    expect(in_line(page, 0).locator("[name=before_heart_rate_bpm]")).to_be_focused()
    for value in ["72", "124/76", "97", "80"]:
        hands.number(value)
        hands.press("Tab")
    hands.number("62")
    hands.press("Enter")
    hands.click(in_line(page, 0).get_by_role("link", name=re.compile("Open")).first)
    hands.click(page.get_by_role("button", name="Given now"))
    expect(page.locator("#care")).to_contain_text("15 g so far")
    recheck = page.locator("#care [name=recheck_mgdl]")
    hands.click(recheck)
    hands.number("104")
    hands.press("Enter")
    expect(page.locator("#care")).to_contain_text("no longer low")
    print(f"a low glucose: {hands.keys} keys, {hands.clicks} clicks")
    assert hands.keys <= 6
    assert hands.clicks <= 3


def test_a_class_by_touch_alone(new_context, live_server, clinic):
    """On a tablet: every press is a tap, values come from the tablet's own keyboard."""
    all_of(clinic, 3)
    page = new_context(has_touch=True, viewport={"width": 768, "height": 1024}).new_page()
    page.set_default_timeout(PATIENCE)
    desk = Desk(page, live_server.url)
    desk.sign_in("floor")
    desk.go("/today/?stage=checkin")

    def typed(n, **values):
        for name, value in values.items():
            box = in_line(page, n).locator(f"[name={name}]")
            box.tap()
            box.fill(value)

    for n in range(3):
        typed(
            n, before_heart_rate_bpm="70", before_pressure="124/76",
            before_spo2_percent="97", before_weight_kg="80",
        )  # fmt: skip
        in_line(page, n).locator("label", has_text="No changes").tap()
        in_line(page, n).get_by_role("button", name="Check in").tap()
        expect(in_line(page, n)).to_have_attribute("data-state", "arrived")
    page.locator("#stages").get_by_role("link", name="Exercise").tap()
    for n in range(3):
        in_line(page, n).get_by_role("button", name="Start").tap()
        expect(in_line(page, n)).to_have_attribute("data-state", "exercising")
        typed(
            n, bout_heart_rate_bpm="98", bout_pressure="140/80", bout_rpe="12",
            bout_spo2_percent="96",
        )  # fmt: skip
        in_line(page, n).locator("label", has_text="No signs").tap()
        page.locator("#bar-next").tap()
        expect(in_line(page, n).get_by_text("✓ No signs")).to_be_visible()
    ran_for(clinic, 31)
    page.locator("#stages").get_by_role("link", name="Finish").tap()
    for n in range(3):
        typed(n, recovery_heart_rate_bpm="78", recovery_pressure="124/76")
        in_line(page, n).locator("label", has_text="No symptoms").tap()
        in_line(page, n).get_by_role("button", name="Finish").tap()
        expect(in_line(page, n)).to_have_attribute("data-state", "finished")
    assert desk.trouble == []
