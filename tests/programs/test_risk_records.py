"""Screen and class of risk as records: confirmed or overridden with a reason, kept, prompted."""

import re
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from programs.enrolment.calc import screen
from programs.enrolment.calc.risk import CRITERIA
from programs.enrolment.models import EntryScreen, RiskStratification, SupervisionPolicy
from programs.enrolment.policy.services import supervision_of
from programs.enrolment.risk import services as risk
from programs.enrolment.risk.forms import field_name
from programs.enrolment.risk.queries import stratify_again
from tests.calc.test_risk_and_screen import CALM, LOW
from tests.factories.enrolment import RiskStratificationFactory
from tests.factories.patients import ConditionFactory, DeviceFactory, PatientFactory

pytestmark = pytest.mark.django_db
WHY = re.compile(r'<details class="why">.*?</details>', re.DOTALL)


@pytest.fixture
def patient(site):
    return PatientFactory(site=site)


def test_computed_class_is_taken_unless_overridden(patient, clinician):
    row = risk.record_risk(patient, LOW, "", has_test=True, by=clinician)
    assert (row.computed, row.decided) == ("low", "low")
    with pytest.raises(ValidationError, match="needs a reason"):
        risk.record_risk(patient, LOW, "high", has_test=True, by=clinician)
    row = risk.record_risk(patient, LOW, "high", "lives alone", has_test=True, by=clinician)
    assert (row.computed, row.decided) == ("low", "high")
    assert [r.decided for r in patient.stratifications.all()] == ["high", "low"]


def test_missing_items_are_stored(patient, clinician):
    row = risk.record_risk(patient, LOW | {"arrest": None}, "", has_test=True, by=clinician)
    assert row.decided == "moderate"
    assert row.missing == ["History of cardiac arrest or sudden death"]


def test_impossible_number_stores_nothing(patient, clinician):
    with pytest.raises(ValidationError, match="outside"):
        risk.record_risk(patient, LOW | {"lvef_percent": 2}, "", has_test=True, by=clinician)
    assert not RiskStratification.objects.exists()


def test_starting_despite_a_finding_or_a_gap_needs_a_reason(patient, clinician):
    def screened(changes, decision, reason=""):
        return risk.record_screen(
            patient, CALM | changes, decision, reason, has_heart_failure=True, by=clinician
        )

    screened({}, "may_start")
    for changes in ({"E-01": 170}, {"E-07": True}, {"E-12": None}):
        with pytest.raises(ValidationError, match="needs a reason"):
            screened(changes, "may_start")
        screened(changes, "not_yet")
    row = screened({"E-01": 170}, "may_start", "physician informed")
    assert (row.found, row.findings) == ("caution", ["Systolic pressure at rest 170 mmHg (E-01)"])
    assert EntryScreen.objects.count() == 5


@pytest.mark.parametrize("what", ["event", "device"])
def test_event_or_device_since_asks_for_a_new_class(patient, site, what):
    row = RiskStratificationFactory(patient=patient)
    RiskStratification.objects.filter(pk=row.pk).update(at=row.at - timedelta(days=5))
    assert stratify_again(patient) == ""
    day = site.today() - timedelta(days=2)
    if what == "event":
        ConditionFactory(patient=patient, kind="mi", happened_on=day)
    else:
        DeviceFactory(patient=patient, kind="pacemaker", implanted_on=day)
    assert stratify_again(patient)


def test_site_setting_of_supervision_has_its_history(client, people, site):
    assert supervision_of(site)["high"].supervised_days == 90
    client.force_login(people["administrator"])
    url = reverse("enrolment:edit-supervision", args=["high"])
    data = {
        "supervised_low": 20, "supervised_high": 36, "supervised_days": 120,
        "ecg_low": 20, "ecg_high": 36, "source": "state rule", "seen_version": 1,
    }  # fmt: skip
    assert client.post(url, data).status_code == 302
    assert supervision_of(site)["high"].supervised_days == 120
    row = SupervisionPolicy.objects.get()
    assert row.history.first().history_user == people["administrator"]
    assert "first number" in client.post(url, data | {"ecg_low": 40}).content.decode()


def test_stratify_page_fills_in_what_is_known_and_stores(client, clinician, patient):
    DeviceFactory(patient=patient, kind="icd")
    client.force_login(clinician)
    url = reverse("enrolment:stratify", args=[patient.pk])
    form = client.get(url).context["form"]
    assert (form.initial["icd"], form.initial.get("arrest")) == (True, None)
    page = client.post(url, {"has_test": "no", "capacity_mets": "8", "occasion": "entry"})
    assert "though no test was done" in page.content.decode()
    data = {"has_test": "no", "icd": "yes", "occasion": "entry"}
    assert client.post(url, data).status_code == 302
    assert patient.stratifications.get().decided == "high"


def test_screen_page_asks_twice_about_the_unusual(client, clinician, patient):
    client.force_login(clinician)
    url = reverse("enrolment:screen", args=[patient.pk])
    data = {"E_01": "230", "decision": "not_yet"}
    page = client.post(url, data)
    assert "Unusual" in page.content.decode()
    data["confirmed"] = page.context["form"].data["confirmed"]
    assert client.post(url, data).status_code == 302
    assert patient.entry_screens.get().found == "hold"
    shown = client.get(reverse("enrolment:risk", args=[patient.pk])).content.decode()
    assert "not answered" in shown


def answered_by_none(page):
    """Name and answer of each box that "None of these" may answer, with what it hangs on."""
    tags = re.findall(r"<(?:input|select)[^>]*data-none=[^>]*>", page)
    part = {key: re.compile(rf'{key}="([^"]*)"') for key in ("name", "data-none", "data-needs")}
    found = [{key: (one.search(tag) or [0, ""])[1] for key, one in part.items()} for tag in tags]
    return {tag["name"]: (tag["data-none"], tag["data-needs"]) for tag in found}


def test_none_of_these_offers_a_no_to_each_contraindication_and_to_nothing_else(
    client, clinician, patient
):
    client.force_login(clinician)
    page = client.get(reverse("enrolment:screen", args=[patient.pk])).content.decode()
    assert "None of these" in page
    offered = answered_by_none(page)
    assert offered == {field_name(question.id): ("no", "") for question in screen.QUESTIONS}


def test_none_of_these_offers_a_no_to_each_criterion_of_risk(client, clinician, patient):
    client.force_login(clinician)
    page = client.get(reverse("enrolment:stratify", args=[patient.pk])).content.decode()
    offered = answered_by_none(page)
    measured = {c.id for c in CRITERIA if c.limit is not None}
    assert set(offered) == {c.id for c in CRITERIA} - measured | {"pacemaker"}
    for criterion in CRITERIA:
        if criterion.id in offered:
            none = "none" if criterion.kind == "symptoms" else "no"
            needs = "has_test" if criterion.is_of_test else ""
            assert offered[criterion.id] == (none, needs)


def test_what_none_of_these_answers_is_stored_as_if_pressed_one_by_one(client, clinician, patient):
    client.force_login(clinician)
    url = reverse("enrolment:screen", args=[patient.pk])
    offered = answered_by_none(client.get(url).content.decode())
    by_hand = {"E_07": "yes", "E_12": "no"}
    pressed = {name: answer for name, (answer, _) in offered.items()} | by_hand
    assert client.post(url, pressed | {"decision": "not_yet"}).status_code == 302
    row = patient.entry_screens.get()
    expected = {question.id: question.id == "E-07" for question in screen.QUESTIONS}
    assert row.answers == expected
    assert row.by == clinician
    assert row.history.get().history_user == clinician
    # Numbers were not touched: they are still open, and named.
    assert set(row.unanswered) == {r.id for r in screen.READINGS} - {"E-10"}


def test_codes_of_the_screen_stand_behind_why(client, clinician, patient):
    risk.record_screen(
        patient, CALM | {"E-01": 170, "E-12": None}, "not_yet", has_heart_failure=True,
        by=clinician,
    )  # fmt: skip
    client.force_login(clinician)
    for name in ("enrolment:risk", "enrolment:screen"):
        page = client.get(reverse(name, args=[patient.pk])).content.decode()
        behind = " ".join(WHY.findall(page))
        assert "E-01" in behind
        assert "E-12" in behind
        assert not re.search(r"\bE-\d\d", WHY.sub("", page))
    assert "Systolic pressure at rest 170 mmHg" in WHY.sub("", client.get(
        reverse("enrolment:risk", args=[patient.pk])).content.decode())  # fmt: skip


def test_same_form_twice_counts_once(client, clinician, patient):
    client.force_login(clinician)
    url = reverse("enrolment:stratify", args=[patient.pk])
    key = client.get(url).context["form"].initial["submission_key"]
    data = {"has_test": "no", "occasion": "entry", "submission_key": key}
    for _ in range(2):
        assert client.post(url, data).status_code == 302
    assert patient.stratifications.count() == 1


def test_unstratified_is_never_shown_as_low(client, clinician, patient):
    client.force_login(clinician)
    page = client.get(reverse("enrolment:risk", args=[patient.pk])).content.decode()
    assert "never as low" in page


def test_today_shows_the_class_and_how_long_ecg_is_suggested(client, nurse, planned):
    """D-12: about 18 to 30 sessions with ECG at high risk (from memory, a site setting)."""
    client.force_login(nurse)
    assert "risk not stratified" in client.get(reverse("attendance:today")).content.decode()
    RiskStratificationFactory(patient=planned.enrolment.patient, computed="high", decided="high")
    page = client.get(reverse("attendance:today")).content.decode()
    assert "high risk, ECG suggested to session 30" in page
    assert "risk not stratified" not in page


def test_new_class_never_answers_from_an_old_test(client, clinician, patient, site):
    risk.record_risk(patient, LOW, "", has_test=True, by=clinician)
    client.force_login(clinician)
    url = reverse("enrolment:stratify", args=[patient.pk])
    initial = client.get(url).context["form"].initial
    assert "test_arrhythmia" not in initial
    assert initial["lvef_percent"] == 55
    RiskStratification.objects.update(at=timezone.now() - timedelta(days=9))
    ConditionFactory(patient=patient, kind="mi", happened_on=site.today())
    initial = client.get(url).context["form"].initial
    assert "lvef_percent" not in initial
    assert "complicated" not in initial
