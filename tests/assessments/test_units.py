"""Height and weight at assessments, typed in pounds and inches and stored metric.

Factors of NIST SP 811, appendix B.8: 1 lb = 0.45359237 kg, 1 in = 2.54 cm, 1 mi = 1.609344 km.
"""

import pytest
from django.urls import reverse

from assessments import services_schedule
from assessments.models import Measurement
from patients.models import BodyWeight
from programs.staff import services

pytestmark = pytest.mark.django_db
IMPERIAL = {"shows_pounds": True, "shows_feet": True, "shows_mph": True}
SIZE = "body_mass_index"


@pytest.fixture
def assessment(course, clinician, client):
    client.force_login(clinician)
    return services_schedule.open_assessment(course, "baseline", 1, by=clinician)


def address(assessment):
    return reverse("assessments:record", args=[assessment.pk]) + f"?test={SIZE}"


def shown(client, assessment):
    form = client.get(address(assessment)).context["form"]
    values = {bound.name: bound.value() for bound in form}
    return {name: value for name, value in values.items() if value not in (None, "", False)}


def save(client, assessment, **typed):
    data = shown(client, assessment) | {f"{SIZE}-{k}": v for k, v in typed.items()}
    return client.post(address(assessment), data)


@pytest.mark.parametrize(
    ("height", "weight", "cm", "kg"),
    [
        ("5'10 1/2\"", "182 lb", 179.07, 182 * 0.45359237),
        ("70 in", "182#", 177.8, 182 * 0.45359237),
        ("178 cm", "82,5\u00a0kg", 178, 82.5),
        ("1.78 m", "82.5", 178, 82.5),
    ],
)
def test_height_and_weight_are_stored_metric(client, assessment, height, weight, cm, kg):
    assert save(client, assessment, height_cm=height, weight_kg=weight).status_code == 302
    inputs = Measurement.objects.get().inputs
    assert inputs["height_cm"] == pytest.approx(cm, abs=1e-9)
    assert inputs["weight_kg"] == pytest.approx(kg, abs=1e-9)
    assert BodyWeight.objects.get().kg == inputs["weight_kg"]


WALK = "six_minute_walk"


def test_a_test_without_its_own_weight_follows_the_one_beside_it(client, assessment):
    """Enright and Sherrill 1998: 1.76 m a kilogram in men, 2.29 m in women."""
    url = address(assessment) + f"&test={WALK}"

    def send(**typed):
        form = client.get(url).context["form"]
        kept = {b.name: b.value() for b in form if b.value() not in (None, "", False)}
        answer = client.post(url, kept | typed)
        assert answer.status_code == 302, answer.context["form"].errors
        return Measurement.objects.get(key=WALK)

    typed = {f"{SIZE}-height_cm": "178", f"{SIZE}-weight_kg": "84", f"{WALK}-distance_m": "410"}
    first = send(**typed)
    assert first.inputs["weight_kg"] == 84
    again = send(**{f"{SIZE}-weight_kg": "80"})
    assert again.inputs["weight_kg"] == 80
    per_kg = {"male": 1.76, "female": 2.29}[assessment.enrolment.patient.sex]
    more = again.derived_values["predicted"] - first.derived_values["predicted"]
    assert more == pytest.approx(4 * per_kg)
    own = send(**{f"{WALK}-weight_kg": "83"})
    assert own.inputs["weight_kg"] == 83
    assert send(**{f"{SIZE}-weight_kg": "79"}).inputs["weight_kg"] == 83  # typed on purpose


def test_adding_a_test_loses_nothing_that_is_typed(client, assessment):
    form = client.get(address(assessment)).context["form"]
    hidden = {b.name: b.value() for b in form if b.is_hidden and b.value()}
    typed = {f"{SIZE}-height_cm": "5'10", f"{SIZE}-weight_kg": "182#", "note": "tired today"}
    press = {"do": "add-test", "add_test": "phq9"}
    page = client.post(address(assessment), hidden | typed | press)
    assert page.status_code == 200
    form = page.context["form"]
    assert not Measurement.objects.exists()
    assert not form.errors
    assert {name: form[name].value() for name in typed} == typed
    assert "phq9-item9" in form.fields
    sent = hidden | typed | {"performed_on": form["performed_on"].initial, "test": "phq9"}
    more = sent | {"phq9-item9": "1"} | {"do": "add-test", "add_test": "waist"}
    again = client.post(address(assessment), more).context["form"]
    assert (again["phq9-item9"].value(), "waist-waist_cm" in again.fields) == ("1", True)


@pytest.mark.parametrize("size", [(177.8, 82.55381134), (163.27, 61.3), (171.123, 350), (100, 25)])
def test_saved_reopened_and_saved_again_changes_nothing(client, assessment, clinician, size):
    height, weight = size
    save(client, assessment, height_cm=f"{height} cm", weight_kg=f"{weight} kg")
    if not Measurement.objects.exists():  # asked about as unusual: right as it is
        data = shown(client, assessment) | {
            f"{SIZE}-height_cm": f"{height} cm", f"{SIZE}-weight_kg": f"{weight} kg",
        }  # fmt: skip
        page = client.post(address(assessment), data)
        asked = page.context["form"].data["confirmed"]
        client.post(address(assessment), data | {"confirmed": asked})
    row = Measurement.objects.get()
    kept = row.inputs, row.history.count(), BodyWeight.objects.get().history.count()
    for choice in ({}, IMPERIAL, dict.fromkeys(IMPERIAL, False)):
        services.choose_settings(clinician, choice)
        data = shown(client, assessment)
        page = client.post(address(assessment), data)
        if page.status_code != 302:
            asked = page.context["form"].data["confirmed"]
            page = client.post(address(assessment), data | {"confirmed": asked})
        assert page.status_code == 302
        row.refresh_from_db()
        assert (row.inputs, row.history.count(), BodyWeight.objects.get().history.count()) == kept


def test_a_clinicians_own_units_are_shown_and_asked_in(client, assessment, clinician):
    save(client, assessment, height_cm="177.8", weight_kg="82.55381134")
    services.choose_settings(clinician, IMPERIAL)
    values = shown(client, assessment)
    assert (values[f"{SIZE}-height_cm"], values[f"{SIZE}-weight_kg"]) == ("5'10\"", "182")
    page = client.get(address(assessment)).content.decode()
    assert '<span class="unit">ft in</span>' in page
    assert "weight 182 lb, height 5&#x27;10&quot;" in page
    asked = save(client, assessment, weight_kg="230").content.decode()
    assert "Weight 230 lb, though 182 lb was weighed last" in asked


def test_a_form_open_while_the_site_changes_its_units_is_read_as_shown(client, assessment, site):
    site.shows_pounds = site.shows_feet = True
    site.save()
    data = shown(client, assessment) | {f"{SIZE}-height_cm": "70", f"{SIZE}-weight_kg": "182"}
    site.shows_pounds = site.shows_feet = False
    site.save()
    assert client.post(address(assessment), data).status_code == 302
    inputs = Measurement.objects.get().inputs
    assert (inputs["height_cm"], inputs["weight_kg"]) == (177.8, pytest.approx(82.55381134))


def test_inches_in_a_box_of_centimetres_are_refused_by_name(client, assessment):
    page = save(client, assessment, height_cm="70", weight_kg="82").content.decode()
    assert "Is 70 in inches? Then write 70 in." in page
    assert not Measurement.objects.exists()


@pytest.mark.parametrize(("own", "by_site", "is_mmoll"), [(None, True, True), (False, True, False)])
def test_lipids_are_asked_in_the_clinicians_units(
    client, assessment, clinician, site, own, by_site, is_mmoll
):
    site.shows_mmoll = by_site
    site.save()
    services.choose_settings(clinician, {"shows_mmoll": own})
    form = client.get(address(assessment) + "&test=non_hdl_cholesterol").context["form"]
    name = next(name for name in form.fields if name.endswith("-is_mmoll"))
    assert form.initial[name] is is_mmoll
