"""The box in the header that finds somebody: for whom, and where it leads."""

import pytest
from django.urls import reverse

from tests.conftest import ROLES
from tests.factories.patients import PatientFactory

pytestmark = pytest.mark.django_db
BOX = 'id="find"'


@pytest.mark.parametrize("role", ROLES)
def test_box_stands_on_every_page_of_those_who_may_see_people(client, people, role):
    client.force_login(people[role])
    page = client.get(reverse("attendance:rules")).content.decode()
    may = people[role].has_perm("patients.view_patient")
    assert may == (role in {"floor", "clinician", "physician"})
    assert (BOX in page) == may
    if may:
        assert f'action="{reverse("patients:list")}"' in page
        assert page.count('name="q"') == 1
        assert '<label for="header_q">Find a patient</label>' in page


def test_list_of_people_has_one_box_with_what_was_asked_for(client, people, site):
    PatientFactory(site=site, family_name="Thistledown")
    PatientFactory(family_name="Thistlewood")  # of another site
    client.force_login(people["floor"])
    page = client.get(reverse("patients:list"), {"q": "thistle"}).content.decode()
    assert BOX not in page
    assert page.count('name="q"') == 1
    assert 'value="thistle"' in page
    assert "Thistledown" in page
    assert "Thistlewood" not in page
