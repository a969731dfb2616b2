"""Intake: states, papers, owners, duplicates, several conditions, payers, the waiting list."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from patients.models import Condition, Patient
from programs.enrolment.calc.eligibility import Outcome
from programs.enrolment.calc.referral_states import MOVES, may_move
from programs.enrolment.calc.start_clock import start_clock
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import ContactAttempt, Referral
from programs.enrolment.referrals import queries
from programs.enrolment.referrals import services as referrals
from tests.factories.enrolment import (
    ClassSlotFactory,
    EntryScreenFactory,
    PayerFactory,
    ReferralFactory,
    SiteRuleSetFactory,
)
from tests.factories.patients import ConditionFactory, PatientFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def referral(site):
    return ReferralFactory(patient__site=site)


# --- states --------------------------------------------------------------------------------


@pytest.mark.parametrize("here", MOVES)
@pytest.mark.parametrize("there", MOVES)
def test_only_allowed_moves_are_made(referral, clinician, here, there):
    why_not = "declined" if here == "not_enrolling" else ""
    Referral.objects.filter(pk=referral.pk).update(state=here, why_not=why_not)
    referral.refresh_from_db()
    referral.why_not = "declined" if there == "not_enrolling" else ""
    if may_move(here, there):
        referrals.move(referral, there, by=clinician, reason="test")
        assert referral.state == there
    else:
        with pytest.raises(ValidationError, match="cannot be"):
            referrals.move(referral, there, by=clinician, reason="test")


def test_enrolled_never_falls_back_by_closing(site, clinician):
    referral = ReferralFactory(patient__site=site, state="enrolled")
    with pytest.raises(ValidationError, match="cannot be"):
        referrals.close_referral(referral, "declined", by=clinician)


# --- papers --------------------------------------------------------------------------------


def test_asking_and_receiving_papers_moves_the_referral(referral, clinician, site):
    today = site.today()
    referrals.ask_for(referral, ["order", "discharge"], "ward 4", today, by=clinician)
    referral.refresh_from_db()
    assert referral.state == Referral.State.ASKING
    referrals.receive_document(referral, "order", today, by=clinician)
    referral.refresh_from_db()
    assert referral.state == Referral.State.ASKING
    referrals.receive_document(referral, "discharge", today, by=clinician)
    referral.refresh_from_db()
    assert referral.state == Referral.State.CONTACTED
    referrals.receive_document(referral, "order", None, by=clinician)
    assert referral.documents.get(kind="order").received_on is None


def test_asking_twice_keeps_the_first_day(referral, clinician, site):
    day = site.today() - timedelta(days=3)
    referrals.ask_for(referral, ["order"], "ward", day, by=clinician)
    referrals.ask_for(referral, ["order"], "surgeon", site.today(), by=clinician)
    assert referral.documents.get().asked_on == day


# --- next step and owner -------------------------------------------------------------------


def test_owner_must_work_at_the_site(referral, clinician, site):
    referrals.assign(referral, clinician, by=clinician)
    referral.refresh_from_db()
    assert referral.owner == clinician
    stranger = PatientFactory().site
    from tests.factories.staff import UserFactory

    with pytest.raises(ValidationError, match="does not work"):
        referrals.assign(referral, UserFactory(sites=[stranger]), by=clinician)


def test_contact_in_the_future_is_refused(referral, clinician):
    later = timezone.now() + timedelta(hours=1)
    attempt = ContactAttempt(referral=referral, outcome="reached", at=later, by=clinician)
    with pytest.raises(ValidationError, match="future"):
        referrals.log_contact(attempt, by=clinician)


# --- the clock -----------------------------------------------------------------------------


def test_referral_before_discharge_is_shown_as_such(client, clinician, site):
    planned = site.today() + timedelta(days=2)
    referral = ReferralFactory(patient__site=site, referred_on=site.today(), discharged_on=planned)
    clock = referral.clock(site.today())
    assert (clock.is_before_discharge, clock.is_late, referral.is_early) == (True, False, True)
    assert clock.target_on == planned + timedelta(days=21)
    assert queries.first_day(referral) == planned + timedelta(days=1)
    client.force_login(clinician)
    assert "still in hospital" in client.get(reverse("enrolment:referrals")).content.decode()


@pytest.mark.parametrize(("day", "late"), [(21, False), (22, True)])
def test_day_21_is_still_in_time(day, late):
    """A-40: first session within 21 days (Ritchey 2020)."""
    out = date(2028, 2, 20)  # across 29 February
    clock = start_clock(
        out + timedelta(days=day), discharged_on=out, event_on=None, referred_on=out
    )
    assert (clock.day, clock.is_late) == (day, late)


def test_list_is_ordered_by_the_clock(site, clinician):
    today = site.today()
    for days in (3, 30, 12):
        ReferralFactory(patient__site=site, discharged_on=today - timedelta(days=days))
    assert [line.clock.day for line in queries.lines_of(queries.on_clock(clinician))] == [30, 12, 3]


# --- several conditions, payers ------------------------------------------------------------


def test_further_condition_decides_when_it_is_the_covered_one(site, clinician):
    patient = PatientFactory(site=site)
    main = ConditionFactory(patient=patient, kind="mi", happened_on=date(2020, 1, 1))
    referral = ReferralFactory(patient=patient, condition=main)
    assert referrals.judge(referral, site.today()).outcome == Outcome.NOT_ELIGIBLE
    referral.others.add(ConditionFactory(patient=patient, kind="pci"))
    assert referrals.judge(referral, site.today()).limb == "A-05"


def test_payer_chooses_the_rule_set(site):
    old = site.today() - timedelta(days=400)
    referral = ReferralFactory(
        patient__site=site, condition__kind="pci", condition__happened_on=old
    )
    assert referrals.judge(referral, site.today()).outcome == Outcome.ELIGIBLE
    referral.payer = PayerFactory(site=site, shipped="general")
    assert referrals.judge(referral, site.today()).outcome == Outcome.NOT_ELIGIBLE
    own = SiteRuleSetFactory(site=site, based_on="general", pci_months=18, source="contract")
    referral.payer = PayerFactory(site=site, shipped="", own=own)
    found = referrals.judge(referral, site.today())
    assert (found.outcome, found.reason) == ("eligible", "Angioplasty or stent within 18 months.")


@pytest.mark.parametrize(
    ("field", "value", "ok"),
    [
        ("mi_months", 60, True),
        ("mi_months", 61, False),
        ("max_lvef_percent", 30, True),
        ("max_lvef_percent", 29.9, False),
        ("max_lvef_percent", 50, True),
        ("max_lvef_percent", 50.1, False),
        ("planned_months", 12, True),
        ("planned_months", 13, False),
    ],
)
def test_own_rule_set_stays_within_bounds(site, field, value, ok):
    row = SiteRuleSetFactory.build(site=site, **{field: value})
    if ok:
        row.full_clean()
    else:
        with pytest.raises(ValidationError):
            row.full_clean()


def test_changed_rule_set_keeps_its_history(client, people, site):
    row = SiteRuleSetFactory(site=site)
    client.force_login(people["administrator"])
    url = reverse("enrolment:edit-rule-set", args=[row.pk])
    data = {
        "name": row.name, "mi_months": 18, "max_lvef_percent": 40, "therapy_weeks": 6,
        "stable_weeks": 6, "planned_months": 6, "source": "new contract", "seen_version": 1,
    }  # fmt: skip
    assert client.post(url, data).status_code == 302
    row.refresh_from_db()
    assert (row.mi_months, row.version) == (18, 2)
    assert row.history.first().history_user == people["administrator"]
    shown = client.get(reverse("enrolment:policy")).content.decode()
    assert "heart attack, months: 12 → 18" in shown
    page = client.post(url, data | {"mi_months": 24}).content.decode()  # version 1 is stale
    assert "meanwhile" in page
    row.refresh_from_db()
    assert row.mi_months == 18


def test_confirmed_answer_keeps_rule_set_and_limb(site, clinician):
    referral = ReferralFactory(patient__site=site, payer=PayerFactory(site=site))
    answer = referrals.confirm_eligibility(referral, "eligible", site.today(), by=clinician)
    assert "42 CFR 410.49" in answer.rule_set
    assert answer.limb == "A-05"


# --- bad input, through the page -----------------------------------------------------------


@pytest.fixture
def typed(site):
    return {
        "given_name": "Ada", "family_name": "Marchbanks", "born_on": "1960-05-04",
        "record_number": "M-1", "kind": "pci", "event_on": "2026-01-10", "icd10": "Z95.5",
        "referred_on": "2026-01-12", "discharged_on": "2026-01-11",
    }  # fmt: skip


@pytest.fixture
def add(client, clinician):
    client.force_login(clinician)

    def send(data):
        return client.post(reverse("enrolment:add-referral"), data)

    return send


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"discharged_on": "2026-01-09"}, "Discharge lies before the event"),
        ({"event_on": "2031-01-10"}, "lies in the future"),
        ({"admitted_on": "2026-01-12"}, "Discharge lies before admission"),
        ({"icd10": "heart"}, "shape of a code"),
        ({"icd10": "J45.0"}, "in no family this program knows"),
        ({"icd10": "I21.4"}, "stands for heart attack"),
        ({"lvef": "0.35"}, "fraction"),
        ({"lvef": "low"}, "not a percentage"),
        ({"event_on_0": "2026-01-01"}, "Which condition"),
        ({"born_on": "2031-01-01"}, "in the future"),
        ({"has_had_cv_stay": "false", "last_cv_stay_on": "2026-01-01"}, "there was none"),
        ({"kind": ""}, "required"),
    ],
)
def test_bad_input_is_a_clear_question_and_nothing_is_lost(add, typed, change, words):
    response = add(typed | change)
    page = response.content.decode()
    assert response.status_code == 200
    assert words in page
    assert "Marchbanks" in page
    assert not Referral.objects.exists()


def years_old(site, years):
    today = site.today()
    return today.replace(year=today.year - years, day=min(today.day, 28))


@pytest.mark.parametrize(("years", "asked"), [(17, True), (18, False), (110, False), (111, True)])
def test_an_age_nobody_usually_has_is_asked_about_once(add, typed, site, years, asked):
    """18 to 110 years: project choice, as agreed for the inputs."""
    born = years_old(site, years)
    page = add(typed | {"born_on": f"{born}"})
    assert (page.status_code == 200) is asked
    if asked:
        assert f": {years} years old. Is that right?" in page.content.decode()
        token = page.context["person"].data["age_confirmed"]
        again = typed | {"born_on": f"{born}", "age_confirmed": token}
        assert add(again | {"born_on": f"{years_old(site, 5)}"}).status_code == 200
        assert add(again).status_code == 302


def test_unusual_code_is_asked_about_once(add, typed):
    page = add(typed | {"icd10": "J45.0"})
    token = page.context["form"].data["confirmed"]
    assert add(typed | {"icd10": "J45.0", "confirmed": token}).status_code == 302
    assert Condition.objects.get().icd10 == "J45.0"


def test_lvef_range_is_kept_as_reported(add, typed):
    assert add(typed | {"lvef": "35-40 %"}).status_code == 302
    referral = Referral.objects.get()
    assert (referral.lvef_percent, referral.lvef_reported) == (None, "35-40 %")


def test_same_name_and_birth_date_asks_one_or_two(add, typed, site):
    add(typed)
    again = typed | {"record_number": "", "kind": "cabg", "icd10": "", "event_on": "2026-01-11"}
    page = add(again).content.decode()
    assert "one person or two" in page
    assert Patient.objects.count() == 1
    assert add(again | {"one_or_two": "same"}).status_code == 302
    assert Patient.objects.count() == 1
    third = again | {"one_or_two": "another", "event_on": "2026-01-10"}
    assert add(third).status_code == 302
    assert Patient.objects.count() == 2


def test_same_record_number_is_the_same_person(add, typed):
    add(typed)
    assert add(typed | {"kind": "cabg", "icd10": ""}).status_code == 302
    assert Patient.objects.get().referrals.count() == 2


def test_record_number_of_somebody_else_is_an_error(add, typed):
    add(typed)
    page = add(typed | {"family_name": "Quillfeather"}).content.decode()
    assert "belongs to Ada Marchbanks" in page
    assert Patient.objects.count() == 1


def test_same_referral_twice_names_the_first(add, typed):
    add(typed)
    assert "received 12 Jan 2026" in add(typed).content.decode()


def test_further_conditions_are_stored_and_corrected(add, typed, client):
    add(typed | {"kind_0": "mi", "event_on_0": "2026-01-09", "icd10_0": "I214"})
    referral = Referral.objects.get()
    assert [c.icd10 for c in referral.conditions()] == ["Z95.5", "I21.4"]
    url = reverse("enrolment:change-referral", args=[referral.pk])
    changed = typed | {"seen_version": referral.version, "kind_0": "mi", "event_on_0": "2026-01-08"}
    assert client.post(url, changed).status_code == 302
    assert referral.others.get().happened_on == date(2026, 1, 8)
    referral.refresh_from_db()
    assert client.post(url, typed | {"seen_version": referral.version}).status_code == 302
    assert not referral.others.exists()
    assert Condition.objects.count() == 2  # no row of the record is deleted


def test_stale_correction_shows_both_versions(add, typed, client):
    add(typed)
    referral = Referral.objects.get()
    url = reverse("enrolment:change-referral", args=[referral.pk])
    first = typed | {"seen_version": referral.version, "referrer": "Dr Hale"}
    assert client.post(url, first).status_code == 302
    second = typed | {"seen_version": referral.version, "referrer": "Dr Ash"}
    response = client.post(url, second)
    page = response.content.decode()
    assert "stored “Dr Hale”, here “Dr Ash”" in page
    again = second | {"seen_version": response.context["form"].data["seen_version"]}
    assert client.post(url, again).status_code == 302
    referral.refresh_from_db()
    assert referral.referrer == "Dr Ash"


# --- waiting list and booking --------------------------------------------------------------


def test_waiting_list_is_in_fair_order(site, clinician):
    today = site.today()
    waits = [(today - timedelta(days=n), n) for n in (5, 25, 15)]
    for out, _ in waits:
        row = ReferralFactory(patient__site=site, discharged_on=out)
        referrals.wait_for_seat(row, 2, "13", by=clinician)
    lines = queries.lines_of(queries.fair_order(clinician))
    assert [line.clock.day for line in lines] == [25, 15, 5]
    assert lines[0].referral.weekdays == [1, 3]
    referrals.leave_waiting_list(lines[0].referral, by=clinician)
    assert len(queries.fair_order(clinician)) == 2


def test_entry_screen_that_says_not_yet_bars_booking(site, clinician):
    referral = ReferralFactory(patient__site=site, confirmed=True)
    EntryScreenFactory(patient=referral.patient, decision="not_yet")
    slots = [ClassSlotFactory(site=site, weekday=0)]
    start = site.today() + timedelta(days=1)
    with pytest.raises(ValidationError, match="not yet"):
        enrolments.enrol(referral, slots, start, 6, by=clinician)
    EntryScreenFactory(patient=referral.patient, decision="may_start", found="nothing")
    enrolments.enrol(referral, slots, start, 6, by=clinician)


@pytest.mark.parametrize(
    ("sessions", "approved", "ok"),
    [(36, "", True), (37, "", False), (37, "payer, 3 Feb", True), (72, "payer", True)],
)
def test_more_than_36_sessions_need_approval(site, clinician, sessions, approved, ok):
    """A-15: fixtures/reference/course_limits.csv; the form refuses 73."""
    referral = ReferralFactory(patient__site=site, confirmed=True)
    slots = [ClassSlotFactory(site=site, weekday=day) for day in (0, 2, 4)]
    start = site.today() + timedelta(days=1)

    def book():
        enrolments.enrol(referral, slots, start, sessions, extension_reason=approved, by=clinician)

    if ok:
        book()
    else:
        with pytest.raises(ValidationError, match="approval"):
            book()


def test_offer_books_in_one_click(client, clinician, site):
    for day in (0, 2, 4):
        ClassSlotFactory(site=site, weekday=day, starts_at="09:00")
    referral = ReferralFactory(patient__site=site, confirmed=True)
    client.force_login(clinician)
    page = client.get(reverse("enrolment:referral", args=[referral.pk]))
    (line, *_) = page.context["offers"]
    assert len(line.slots) == 3
    data = {
        "starts_on": line.offer.starts_on,
        "sessions": page.context["sessions"],
        "slots": [slot.pk for slot in line.slots],
    }
    response = client.post(reverse("enrolment:enrol", args=[referral.pk]), data)
    course = referral.patient.enrolments.get()
    assert response.url == reverse("enrolment:letter", args=[course.pk])
    assert course.starts_on == line.offer.starts_on
    assert course.planned.count() == 36


def test_booking_sent_twice_shows_the_one_letter(client, clinician, site):
    slot = ClassSlotFactory(site=site, weekday=0)
    referral = ReferralFactory(patient__site=site, confirmed=True)
    client.force_login(clinician)
    data = {"starts_on": site.today() + timedelta(days=1), "sessions": 6, "slots": [slot.pk]}
    url = reverse("enrolment:enrol", args=[referral.pk])
    assert client.post(url, data).url == client.post(url, data).url
    assert referral.patient.enrolments.count() == 1


def test_new_referral_sent_twice_counts_once(add, typed, client):
    key = client.get(reverse("enrolment:add-referral")).context["form"].initial["submission_key"]
    for _ in range(2):
        assert add(typed | {"submission_key": key}).status_code == 302
    assert Referral.objects.count() == 1


def test_override_does_not_cover_new_facts(site, clinician):
    referral = ReferralFactory(
        patient__site=site, condition__kind="mi", condition__happened_on=None
    )
    referrals.confirm_eligibility(
        referral, "eligible", site.today(), "cardiologist by phone", by=clinician
    )
    slot = ClassSlotFactory(site=site, weekday=0)
    start = site.today() + timedelta(days=1)
    referral.condition.happened_on = site.today() - timedelta(days=430)
    referral.condition.save()
    with pytest.raises(ValidationError, match="rule says otherwise"):
        enrolments.enrol(referral, [slot], start, 6, by=clinician)


def test_next_try_in_the_past_is_refused(referral, clinician, site):
    attempt = ContactAttempt(
        referral=referral,
        outcome="no_answer",
        next_try_on=site.today() - timedelta(days=1),
        by=clinician,
    )
    with pytest.raises(ValidationError, match="lies in the past"):
        referrals.log_contact(attempt, by=clinician)


def test_correcting_keeps_a_payer_no_longer_in_use(add, typed, client, site):
    add(typed)
    referral = Referral.objects.get()
    referral.payer = PayerFactory(site=site, is_active=False)
    referral.save()
    url = reverse("enrolment:change-referral", args=[referral.pk])
    form = client.get(url).context["form"]
    assert referral.payer in form.fields["payer"].queryset
    data = typed | {"seen_version": referral.version, "payer": referral.payer_id, "note": "x"}
    assert client.post(url, data).status_code == 302
    referral.refresh_from_db()
    assert referral.payer is not None


def test_stale_correction_names_the_clinical_fields_too(add, typed, client):
    add(typed)
    referral = Referral.objects.get()
    url = reverse("enrolment:change-referral", args=[referral.pk])
    seen = {"seen_version": referral.version}
    assert (
        client.post(url, typed | seen | {"lvef": "30", "event_on": "2026-01-09"}).status_code == 302
    )
    page = client.post(url, typed | seen | {"note": "called"}).content.decode()
    assert "LVEF: stored “30.0”" in page
    assert "Event date: stored “2026-01-09”" in page


def test_booking_page_names_what_is_not_yet_there(client, clinician, site):
    ClassSlotFactory(site=site)
    referral = ReferralFactory(patient__site=site, confirmed=True)
    client.force_login(clinician)
    url = reverse("enrolment:referral", args=[referral.pk])
    assert "physician’s order, entry screen, risk class" in client.get(url).content.decode()
    referrals.receive_document(referral, "order", site.today(), by=clinician)
    EntryScreenFactory(patient=referral.patient, decision="may_start", found="nothing")
    assert client.get(url).context["not_yet"] == ["risk class"]


def test_planned_discharge_is_taken_without_a_question(add, typed, site):
    soon = site.today() + timedelta(days=7)
    assert add(typed | {"discharged_on": soon.isoformat()}).status_code == 302
    far = site.today() + timedelta(days=30)
    page = add(typed | {"discharged_on": far.isoformat(), "record_number": "M-9"}).content.decode()
    assert "discharge planned for" in page
