"""Pages: constant queries, audit of looks, refusals, two people at once, the strict policy."""

import re

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from patients.models import AuditEvent
from reports.changes import KINDS
from tests.factories.assessments import AssessmentFactory, ConcernFactory, MeasurementFactory
from tests.factories.attendance import (
    BoutFactory,
    CarbohydrateFactory,
    EventEntryFactory,
    FindingFactory,
    HomeReportFactory,
    InterruptionFactory,
    PersonLimitFactory,
    ReadingFactory,
    RhythmFactory,
    SafetyEventFactory,
    TeachingFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    ClassChangeFactory,
    ClassSlotFactory,
    ClosureFactory,
    EnrolmentFactory,
    EntryScreenFactory,
    PayerFactory,
    PlannedSessionFactory,
    ReferralDocumentFactory,
    ReferralFactory,
    RiskStratificationFactory,
    SiteRuleSetFactory,
)
from tests.factories.patients import (
    ConditionFactory,
    MedicineFactory,
    PatientFactory,
    PrecautionFactory,
)
from tests.factories.prescription import PrescriptionFactory, TreatmentPlanFactory
from tests.factories.staff import CredentialFactory, DrillFactory, OpeningCheckFactory, UserFactory

pytestmark = pytest.mark.django_db
MOST_QUERIES = 30
MOST_QUERIES_OF_A_SHEET = 48  # the roster around it, the record the rules read, its own rows


def queries(client, url):
    """Queries of a page, asked for twice in one moment: the first visit stores the activity."""
    with time_machine.travel(timezone.now(), tick=False):
        client.get(url)
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url).status_code == 200
    return len(captured)


def fill_class(slot, n):
    for _ in range(n):
        course = EnrolmentFactory(patient__site=slot.site)
        planned = PlannedSessionFactory(enrolment=course, slot=slot)
        visit = VisitFactory(enrolment=course, meeting=meeting_of(planned))
        ReadingFactory(visit=visit)
        FindingFactory(visit=visit)
        BoutFactory(visit=visit)
        MedicineFactory(patient=course.patient)
        PrescriptionFactory(enrolment=course)
        TreatmentPlanFactory(enrolment=course)
        MeasurementFactory(assessment=AssessmentFactory(enrolment=course))
        ConcernFactory(assessment=course.assessments.get())
        ReferralFactory(patient__site=slot.site, confirmed=True)
        fill_intake(slot.site)
        fill_floor(visit)


def fill_floor(visit):
    """Everything the floor keeps beside the readings."""
    site = visit.enrolment.patient.site
    InterruptionFactory(visit=visit)
    CarbohydrateFactory(visit=visit)
    RhythmFactory(visit=visit)
    TeachingFactory(enrolment=visit.enrolment)
    HomeReportFactory(enrolment=visit.enrolment)
    EventEntryFactory(event=SafetyEventFactory(site=site, patient=visit.enrolment.patient))
    PersonLimitFactory(patient=visit.enrolment.patient)
    OpeningCheckFactory(site=site)
    DrillFactory(site=site)
    CredentialFactory(user=UserFactory(sites=[site]))


def fill_intake(site):
    """A referral with everything on it, a payer, a closed day and a changed class."""
    payer = PayerFactory(site=site, shipped="", own=SiteRuleSetFactory(site=site))
    referral = ReferralFactory(patient__site=site, payer=payer, state="seat", confirmed=True)
    referral.others.add(ConditionFactory(patient=referral.patient, kind="mi"))
    ReferralDocumentFactory(referral=referral)
    PrecautionFactory(patient=referral.patient, review_on=site.today())
    RiskStratificationFactory(patient=referral.patient)
    ClosureFactory(site=site)
    ClassChangeFactory(slot=ClassSlotFactory(site=site))


def meeting_of(planned):
    from programs.attendance.models import ClassMeeting

    return ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)[0]


LISTS = [
    ("floor", "attendance:today"),
    ("clinician", "reports:due"),
    ("manager", "enrolment:referrals"),
    ("manager", "enrolment:waiting-list"),
    ("manager", "enrolment:closed-referrals"),
    ("manager", "enrolment:classes"),
    ("administrator", "enrolment:policy"),
    ("administrator", "prescription:policy"),
    ("manager", "reports:outlook"),
    ("clinician", "assessments:book-many"),
    ("clinician", "patients:list"),
    ("physician", "review:queue"),
    ("manager", "reports:program"),
    ("manager", "reports:program-targets"),
    ("clinician", "reports:program-people"),
    ("manager", "reports:program-running"),
    ("manager", "reports:program-gains"),
    ("administrator", "staff:settings"),
    ("administrator", "staff:looks"),
    ("floor", "attendance:rows"),
    ("floor", "attendance:events"),
    ("floor", "attendance:rules"),
    ("floor", "staff:readiness"),
    ("floor", "staff:mine"),
]


def test_queries_do_not_grow_with_rows(people, site):
    slot = ClassSlotFactory(site=site, seats=40)
    clients = {role: Client() for role, _ in LISTS}
    for role, client in clients.items():
        client.force_login(people[role])

    def asked():
        return {name: queries(clients[role], reverse(name)) for role, name in LISTS}

    fill_class(slot, 3)
    few = asked()
    fill_class(slot, 27)
    many = asked()
    assert many == few
    assert not {name: n for name, n in few.items() if n >= MOST_QUERIES}


def test_one_persons_pages_stay_under_the_limit(client, people, site):
    slot = ClassSlotFactory(site=site, seats=40)
    fill_class(slot, 8)
    planned = slot.planned.first()
    course = planned.enrolment
    visit = course.visits.get()
    client.force_login(people["clinician"])
    pages = {
        "attendance:sheet": visit.pk,
        "reports:journey": course.patient_id,
        "reports:outcomes": course.patient_id,
        "reports:sheets": course.patient_id,
        "reports:maintenance-plan": course.patient_id,
        "attendance:session-record": visit.pk,
        "attendance:emergency-card": course.patient_id,
        "attendance:teaching": course.pk,
        "attendance:person-limits": course.patient_id,
        "patients:background": course.patient_id,
        "reports:changes": course.patient_id,
        "assessments:course": course.pk,
        "assessments:record": course.assessments.get().pk,
        "prescription:prescribe": course.pk,
        "review:plan": course.pk,
        "review:version": course.plans.get().pk,
        "assessments:change-course": course.pk,
        "reports:course-calendar": course.pk,
        "enrolment:letter": course.pk,
        "enrolment:phone-script": course.referral_id,
        "enrolment:risk": course.patient_id,
        "patients:details": course.patient_id,
        "enrolment:referral": course.referral_id,
    }
    counts = {name: queries(client, reverse(name, args=[pk])) for name, pk in pages.items()}
    versions = counts.pop("reports:changes")  # one query a kind of row, whatever their number
    assert versions < len(KINDS) + 10
    assert counts.pop("attendance:sheet") < MOST_QUERIES_OF_A_SHEET
    assert not {name: n for name, n in counts.items() if n >= MOST_QUERIES}


def test_changes_show_before_and_after_with_who_and_why(client, opened, people):
    send(client, opened, **CALM)
    opened.refresh_from_db()
    send(client, opened, **CALM | {"before_pressure": "140/80", "because": "misread"})
    client.force_login(people["clinician"])
    url = reverse("reports:changes", args=[opened.enrolment.patient_id])
    page = " ".join(client.get(url).content.decode().split())
    assert "<s>126</s> <b>140</b>" in page
    assert str(people["floor"]) in page
    assert "arrived" in page


def test_every_page_about_a_patient_leaves_a_look(client, people, course):
    client.force_login(people["clinician"])
    for name in ["reports:journey", "reports:outcomes", "patients:background"]:
        client.get(reverse(name, args=[course.patient_id]))
    looks = AuditEvent.objects.filter(kind="look", patient=course.patient)
    assert set(looks.values_list("what", flat=True)) == {"overview", "outcomes", "background"}
    assert {look.user for look in looks} == {people["clinician"]}


@pytest.mark.parametrize(
    ("role", "name"),
    [
        ("floor", "attendance:today"),
        ("clinician", "reports:due"),
        ("clinician", "enrolment:referrals"),
        ("clinician", "assessments:book-many"),
        ("clinician", "patients:list"),
        ("manager", "reports:program"),
    ],
)
def test_empty_pages_say_so(client, people, name, role):
    client.force_login(people[role])
    response = client.get(reverse(name))
    assert response.status_code == 200
    assert "None" not in response.content.decode()


def test_each_role_comes_home(client, people):
    homes = {
        "floor": "attendance:today",
        "clinician": "reports:due",
        "physician": "reports:due",
        "manager": "reports:program",
        "administrator": "staff:settings",
    }
    for role, name in homes.items():
        client.force_login(people[role])
        assert client.get("/").url == reverse(name)


# --- the policy and the door ---------------------------------------------------------------


def test_policy_allows_nothing_inline(client):
    policy = client.get(reverse("staff:login")).headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy


def test_templates_hold_no_inline_script_or_style():
    import re
    from pathlib import Path

    inline = re.compile(r"<style|\sstyle=|\son[a-z]+=|<script(?![^>]*\ssrc=)|javascript:", re.I)
    for path in Path("templates").rglob("*.html"):
        assert not inline.search(path.read_text()), path


@pytest.fixture
def member(people):
    user = people["floor"]
    user.password = make_password("correct horse battery")
    user.save()
    return user


def sign_in(client, name, password):
    return client.post(reverse("staff:login"), {"username": name, "password": password})


def test_sign_in_and_out_are_recorded(client, member):
    assert sign_in(client, member.username, "correct horse battery").status_code == 302
    response = client.post(reverse("staff:logout"))
    assert "storage" in response["Clear-Site-Data"]
    assert list(AuditEvent.objects.values_list("kind", flat=True)) == ["sign_out", "sign_in"]


def words(response):
    """The page without the parts that differ by design: the token and the name typed."""
    import re

    text = re.sub(r'value="[^"]*"', "", response.content.decode())
    return re.sub(r"\s+", " ", text)


def test_failed_sign_in_does_not_tell_whether_the_account_exists(client, member):
    known = sign_in(client, member.username, "wrong")
    unknown = sign_in(client, "nobody-of-that-name", "wrong")
    assert words(known) == words(unknown)
    member.is_active = False
    member.save()
    assert words(sign_in(client, member.username, "correct horse battery")) == words(known)


@pytest.mark.parametrize("name", ["member", "nobody-of-that-name"])
def test_sign_in_is_throttled_for_known_and_unknown_alike(client, member, name):
    name = member.username if name == "member" else name
    statuses = [sign_in(client, name, "wrong").status_code for _ in range(6)]
    assert statuses[:4] == [200] * 4
    assert statuses[-1] == 429


def test_passwords_are_kept_with_argon2(member):
    assert member.password.startswith("argon2")


def test_idle_person_is_signed_out(client, member, site):

    from django.utils import timezone

    site.idle_minutes = 15
    site.save()
    client.force_login(member)
    with time_machine.travel(timezone.now(), tick=False) as clock:
        url = reverse("attendance:today")
        assert client.get(url).status_code == 200
        clock.shift(14 * 60)
        assert client.get(url).status_code == 200
        clock.shift(15 * 60 + 1)
        response = client.get(url)
    assert response.url.startswith(reverse("staff:login"))
    assert AuditEvent.objects.filter(kind="sign_out", what="idle").exists()


def test_page_that_refreshes_itself_does_not_keep_the_session(client, member, site):

    from django.utils import timezone

    client.force_login(member)
    url = reverse("attendance:today")
    with time_machine.travel(timezone.now(), tick=False) as clock:
        client.get(url)
        for _ in range(4):
            clock.shift(5 * 60)
            response = client.get(url, headers={"X-Background": "1"})
    assert response.status_code == 302


def test_cookies_are_for_this_site_only(client, member):
    sign_in(client, member.username, "correct horse battery")
    session = client.cookies["sessionid"]
    assert session["httponly"]
    assert session["samesite"] == "Lax"


def test_open_redirects_are_refused(client, people, site):
    client.force_login(people["floor"])
    response = client.post(
        reverse("staff:choose-site"), {"site": site.pk, "next": "https://example.org/"}
    )
    assert response.url == "/"


# --- the sheet through the page ------------------------------------------------------------


SCREENED = {
    "answers": dict.fromkeys(["E-08", "E-08b", "E-11", "E-12", "E-21"], False),
    "found": "nothing",
    "decision": "may_start",
}


@pytest.fixture
def opened(client, people, planned):
    client.force_login(people["floor"])
    client.post(reverse("attendance:arrive", args=[planned.pk]))
    return planned.enrolment.visits.get()


def send(client, visit, **fields):
    data = {"seen_version": visit.version, "step": "save"} | fields
    return client.post(reverse("attendance:sheet", args=[visit.pk]), data)


CALM = {
    "before_heart_rate_bpm": "68",
    "before_pressure": "126/74",
    "before_spo2_percent": "97",
    "before_weight_kg": "80,5",
}


def test_start_without_questions_or_glucose_asks_why_and_for_a_clinician(client, opened):
    MedicineFactory(patient=opened.enrolment.patient, name="insulin lispro", drug_class="insulin")
    EntryScreenFactory(patient=opened.enrolment.patient, **SCREENED)
    answer = send(client, opened, **CALM, has_ecg="no", step="start")
    page = client.get(answer.url).content.decode()
    assert "Why no questions before exercise?" in page
    assert "Why no glucose, asked for because insulin" in page
    opened.refresh_from_db()
    assert (opened.state, opened.readings.count()) == ("arrived", 1)  # what was typed is stored

    def go_on(**more):
        given = {"step": "start", "seen_version": opened.version, "rest": "in a hurry"} | more
        return client.post(reverse("attendance:go-on", args=[opened.pk]), given)

    assert "Who decided to go on without" in go_on().content.decode()
    assert "Why was glucose" in go_on(rest="", decided_by="Dr Lind").content.decode()
    assert go_on(decided_by="Dr Lind").status_code == 302
    opened.refresh_from_db()
    assert opened.state == "exercising"
    assert {row.because for row in opened.not_taken.all()} == {"in a hurry"}
    assert (
        client.get(reverse("attendance:sheet", args=[opened.pk]))
        .content.decode()
        .count("decided by Dr Lind")
        == 2
    )


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"st_mm": "1.5"}, "Elevation or depression?"),
        ({"run_rate_bpm": "150"}, "A run of how many beats?"),
        ({"symptoms": "chest felt tight"}, "tick what it is"),
        ({"symptoms": "chest felt tight", "before_asked": "none"}, "tick what it is"),
        ({"step": "launch"}, "Nothing was saved"),
    ],
)
def test_half_a_statement_is_asked_about_never_dropped(client, opened, fields, words):
    page = send(client, opened, **CALM, shows="all", **fields).content.decode()
    assert words in page
    assert not opened.readings.exists()


def test_emptied_value_asks_for_words_in_its_own_box(client, opened):
    send(client, opened, **CALM)
    opened.refresh_from_db()
    page = send(client, opened, **CALM | {"before_spo2_percent": ""}).content.decode()
    assert "Oxygen saturation was emptied. Write what was wrong." in page
    assert 'name="because"' in page


def test_two_people_see_both_versions(client, opened):
    send(client, opened, **CALM)
    page = send(client, opened, **CALM | {"before_pressure": "140/80"}).content.decode()
    assert "Somebody else saved" in page
    assert "126/74" in page
    assert "140/80" in page
    assert opened.readings.get().pressure == "126/74"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("before_pressure", "74/126", "check the order"),
        ("before_pressure", "126", "two numbers"),
        ("before_pressure", "900/74", "outside 50 to 300"),
        ("before_heart_rate_bpm", "68.5", "whole number"),
        ("before_heart_rate_bpm", "inf", "outside"),
        ("before_heart_rate_bpm", "6800", "outside 20 to 250"),
        ("before_spo2_percent", "97%", "not a number"),
        ("before_heart_rate_bpm", "7_2", "not a number"),
        ("before_heart_rate_bpm", "7.2e1", "not a number"),
    ],
)
def test_impossible_readings_are_named_and_kept_in_the_form(client, opened, field, typed, words):
    page = send(client, opened, **CALM | {field: typed}).content.decode()
    assert words in page
    assert f'value="{typed}"' in page
    assert not opened.readings.exists()


@pytest.mark.parametrize("typed", ["128/74", "128 / 74", "128-74", "128 74", " 128/74 "])
def test_pressure_may_be_typed_in_several_ways(client, opened, typed):
    send(client, opened, **CALM | {"before_pressure": typed})
    assert opened.readings.get().pressure == "128/74"


def test_live_check_judges_and_stores_nothing(client, opened):
    response = client.post(
        reverse("attendance:live", args=[opened.pk]), CALM | {"before_pressure": "186/92"}
    )
    assert "E-01" in response.content.decode()
    assert not opened.readings.exists()
    assert not opened.findings.exists()


WHY = re.compile(r'<details class="why">.*?</details>', re.DOTALL)


def test_codes_and_sources_of_a_finding_stand_behind_why(client, opened):
    typed = CALM | {"before_pressure": "186/92"}
    live = reverse("attendance:live", args=[opened.pk])
    sheet = reverse("attendance:sheet", args=[opened.pk])
    shown = [client.post(live, typed).content.decode()]
    send(client, opened, **typed)
    page = client.get(sheet).content.decode()
    shown.append(page[page.index('class="finding') : page.index('id="live"')])
    for page in shown:
        behind = " ".join(WHY.findall(page))
        assert "E-01" in behind
        assert "IBPC" in behind  # the source of the limit
        said = WHY.sub("", page)
        assert "Systolic 186 is above" in said
        assert "E-01" not in said
        assert "IBPC" not in said
    assert "High resting systolic: what now?" in shown[1]


def test_two_alerts_are_ticked_by_name(client, opened):
    send(client, opened, **CALM | {"before_pressure": "186/116"})
    page = client.get(reverse("attendance:sheet", args=[opened.pk])).content.decode()
    form = page[page.index('id="answer"') :]
    form = form[: form.index("</form>")]
    for words in ["High resting systolic (hold)", "High resting diastolic (hold)", "What now?"]:
        assert words in form
    assert "E-0" not in form


def test_what_was_not_taken_is_named_without_codes(client, opened):
    answer = client.post(
        reverse("attendance:sheet", args=[opened.pk]),
        CALM | {"seen_version": opened.version, "step": "start"},
        follow=True,
    )
    page = answer.content.decode()
    told = page[page.index("Saved. Not taken yet:") :]
    assert "E-05" not in told[: told.index("</")]
    assert "rhythm before exercise (E-05" in " ".join(WHY.findall(page))


def test_nothing_found_never_says_safe(client, opened):
    send(client, opened, **CALM)
    page = client.get(reverse("attendance:sheet", args=[opened.pk])).content.decode()
    assert "No alerts from the readings taken" in page
    assert "safe" not in page.lower().replace("unsafe", "")


def test_names_with_markup_are_only_text(client, people, site):
    patient = PatientFactory(site=site, given_name="<b>Bo</b>", family_name="X" * 80)
    client.force_login(people["clinician"])
    page = client.get(reverse("reports:journey", args=[patient.pk])).content.decode()
    assert "<b>Bo</b>" not in page


def test_looks_of_another_sites_patient_are_not_shown(client, people, site):
    from patients import audit

    two_sites = people["floor"]
    mine, foreign = PatientFactory(site=site), PatientFactory()
    for patient in (mine, foreign):
        audit.look(patient, "overview", by=two_sites)
    client.force_login(people["administrator"])
    page = client.get(reverse("staff:looks")).content.decode()
    assert mine.family_name in page
    assert foreign.family_name not in page


@pytest.mark.parametrize("query", ["on=9999-12-31", "on=0001-01-01", "on=x", "class=²", "site=x"])
def test_senseless_addresses_show_today(client, people, query):
    client.force_login(people["floor"])
    assert client.get(f"{reverse('attendance:today')}?{query}").status_code == 200


def test_physician_may_answer_a_finding_on_the_sheet(client, people, planned):
    finding = FindingFactory(
        visit=VisitFactory(enrolment=planned.enrolment, meeting=meeting_of(planned))
    )
    client.force_login(people["physician"])
    page = client.get(reverse("attendance:sheet", args=[finding.visit_id])).content.decode()
    assert "Record decision" in page


def test_unusual_pressure_is_asked_about(client, opened):
    page = send(client, opened, **CALM | {"before_pressure": "70/30"}).content.decode()
    assert "Is that right?" in page
    assert not opened.readings.exists()


def test_pressure_in_a_bout_without_an_activity_is_asked_for(client, opened):
    data = CALM | {"shows": "all", "bout1_pressure": "120/70"}
    page = send(client, opened, **data).content.decode()
    assert "Which activity?" in page


def test_background_sent_twice_counts_once(client, people, site):
    patient = PatientFactory(site=site)
    client.force_login(people["clinician"])
    url = reverse("patients:add-background", args=[patient.pk, "medicine"])
    data = {
        "medicine-name": "metoprolol",
        "medicine-drug_class": "beta_blocker",
        "submission_key": "3f0c8a52-9f3e-4b0e-8a51-0d2f6a1f9b78",
    }
    for _ in range(2):
        assert client.post(url, data).status_code == 302
    assert patient.medicines.count() == 1


def test_administrator_cannot_change_their_own_role(client, people):
    admin = people["administrator"]
    admin.is_staff = True
    admin.save()
    client.force_login(admin)
    url = reverse("admin:staff_user_change", args=[admin.pk])
    client.post(url, {"username": admin.username, "role": "physician", "first_name": "A"})
    admin.refresh_from_db()
    assert admin.role == "administrator"
    assert 'name="role"' not in client.get(url).content.decode()


def test_sheet_says_what_is_on_record_and_where(client, opened):
    referral = opened.enrolment.referral
    referral.nyha_class = 2
    referral.save()
    page = client.get(reverse("attendance:sheet", args=[opened.pk])).content.decode()
    assert "On record: heart failure (NYHA II, referral)." in page


def test_start_without_readings_names_each(client, opened):
    answer = send(client, opened, step="start")
    page = client.get(answer.url).content.decode()
    assert "Not taken yet: blood pressure, heart rate, oxygen saturation" in page
    opened.refresh_from_db()
    assert opened.state == "arrived"


def test_new_symptoms_bar_the_start(client, opened):
    ill = CALM | {"before_asked": "some", "before_ticks": ["other"], "symptoms": "odd feeling"}
    send(client, opened, step="start", **ill)
    opened.refresh_from_db()
    assert opened.state == "arrived"
    assert opened.answers["other"] is True
    assert opened.answers["dizzy"] is False
    assert [f.rule_id for f in opened.findings.all()] == ["E-30"]


def test_roster_shows_the_last_known_values_after_a_repeat(client, opened):
    send(client, opened, **CALM | {"before_pressure": "186/92"})
    opened.refresh_from_db()
    send(client, opened, before_pressure="150/80", is_repeat="True")
    page = client.get(reverse("attendance:today") + "?stage=checkin").content.decode()
    cells = re.findall(r'<td class="n[^"]*" data-label="[^"]*">(.*?)</td>', page)
    assert [cell.strip() for cell in cells][:3] == ["68", "150/80", "97"]


def test_every_room_with_pages_lights_up_an_entry_of_the_navigation():
    from programs.staff.context import PAGES, SECTIONS
    from tests.routes.test_permissions import TABLE

    rooms = {name.partition(":")[0] for name in TABLE} - {"reports"}
    assert {room for room in rooms if room not in SECTIONS} <= {"home", "login"}
    assert SECTIONS["review"] == "patients"
    assert all(nav for nav in PAGES.values())
