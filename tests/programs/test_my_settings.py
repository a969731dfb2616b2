"""Units and keys belong to the person: kept under My settings, told on the pages."""

import pytest
from django.test import Client
from django.urls import reverse

from patients.calc.measuring import FEET, LB, MPH, Units
from programs.staff import services
from programs.staff.units import units_of

pytestmark = pytest.mark.django_db
CHOSEN = {"shows_pounds": "yes", "shows_feet": "yes", "shows_mph": "yes", "has_letter_keys": "no"}


def test_settings_hold_on_every_device_until_they_follow_the_site_again(client, nurse, site):
    client.force_login(nurse)
    versions = nurse.history.count()
    assert client.post(reverse("staff:mine"), CHOSEN).status_code == 302
    nurse.refresh_from_db()
    assert units_of(nurse, site) == Units(weight=LB, height=FEET, speed=MPH)
    assert nurse.history.count() == versions  # a way of reading is no version of the person
    other = Client()
    other.force_login(nurse)
    page = other.get(reverse("staff:mine")).content.decode()
    assert '<option value="yes" selected>mph</option>' in page
    client.post(reverse("staff:mine"), {"has_letter_keys": "yes"})
    nurse.refresh_from_db()
    site.shows_mph = True
    assert units_of(nurse, site) == Units(speed=MPH)
    assert nurse.has_letter_keys


def test_what_the_site_reads_is_said_beside_as_the_site(client, nurse, site):
    site.shows_pounds = True
    site.save()
    client.force_login(nurse)
    page = client.get(reverse("staff:mine")).content.decode()
    assert "lb, as the site" in page
    assert "km/h, as the site" in page


def test_single_keys_are_off_where_somebody_wants_them_off(client, nurse, planned):
    """WCAG 2.2, success criterion 2.1.4: a mechanism to turn a character key shortcut off."""
    client.force_login(nurse)
    today = reverse("attendance:today")
    page = client.get(today).content.decode()
    assert "data-letters" not in page
    assert 'aria-keyshortcuts="/"' in page
    assert "<kbd>N</kbd>" in page
    services.choose_settings(nurse, {"has_letter_keys": False})
    page = client.get(today).content.decode()
    assert 'data-letters="off"' in page
    assert "aria-keyshortcuts" not in page
    assert "<kbd>N</kbd>" not in page
    assert "<kbd>C</kbd>" not in page
    assert "<kbd>Enter</kbd>" in page


def test_only_own_settings_can_be_chosen(nurse):
    with pytest.raises(ValueError, match="role"):
        services.choose_settings(nurse, {"role": True})


def test_somebody_without_a_site_has_settings_too(client, site, nurse):
    nurse.sites.clear()
    client.force_login(nurse)
    page = client.get(reverse("staff:mine"))
    assert page.status_code == 200
    assert "mg/dL, as the site" in page.content.decode()
