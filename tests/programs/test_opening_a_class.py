"""The page that opens a class: staff, what is missing, and the opening check of the day."""

import pytest
from django.urls import reverse

from programs.staff.calc.readiness import ITEMS
from programs.staff.models import OpeningCheck
from tests.factories.enrolment import ClassSlotFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(client, nurse, site):
    client.force_login(nurse)
    slot = ClassSlotFactory(site=site)
    return f"{reverse('attendance:open-class', args=[slot.pk])}?on={site.today():%Y-%m-%d}"


def sign(client, site, back):
    data = {key: "yes" for key, _, _ in ITEMS} | {"next": back}
    return client.post(f"{reverse('staff:check')}?site={site.pk}", data)


def test_the_opening_check_is_signed_where_the_class_is_opened(client, address, site):
    page = client.get(address).content.decode()
    check = page[page.index('id="check"') :]
    assert "not done today" in check
    assert all(words in check for _, words, _ in ITEMS)
    answer = sign(client, site, address)
    assert answer.headers["Location"] == address
    assert OpeningCheck.objects.get().on == site.today()
    after = client.get(address).content.decode()
    assert "all in order" in after[after.index('id="check"') :]


def test_another_address_is_no_way_back(client, address, site):
    for back in ["https://elsewhere.example/", "//elsewhere.example", "attendance", ""]:
        assert sign(client, site, back).headers["Location"] == reverse("staff:readiness")


def test_the_check_of_another_day_is_not_made_up(client, address):
    """Yesterday's room cannot be looked at any more."""
    page = client.get(address.split("?")[0] + "?on=2026-01-05").content.decode()
    assert 'id="check"' not in page
