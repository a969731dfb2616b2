"""A class belongs to its own site, whichever site the header names."""

import pytest
from django.urls import reverse

from programs.attendance.models import Visit
from programs.enrolment.models import PlannedSession
from programs.staff.access import SESSION_KEY
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory, PlannedSessionFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def other(site):
    return SiteFactory(name="Harbour Rise", emergency_card="Ring the harbour bell.")


@pytest.fixture
def roaming(client, site, other):
    """Somebody of two sites who chose the first in the header."""
    user = UserFactory(role="clinician", sites=[site, other])
    client.force_login(user)
    client.post(reverse("staff:choose-site"), {"site": site.pk})
    assert client.session[SESSION_KEY] == site.pk
    return user


@pytest.fixture
def slot(other):
    return ClassSlotFactory(site=other, weekday=other.today().weekday())


def test_someone_is_added_through_the_form_as_it_stands(client, roaming, slot, other):
    course = EnrolmentFactory(patient__site=other)
    url = reverse("attendance:add-someone", args=[slot.pk])
    query = f"?site={other.pk}&on={other.today()}"
    for opened in (url + query, url):
        text = client.get(opened).content.decode()
        assert f'action="?site={other.pk}&amp;on={other.today()}"' in text
    answer = client.post(url, {"enrolment": course.pk})
    assert answer.status_code == 302
    assert PlannedSession.objects.get().slot == slot


@pytest.mark.parametrize("step", ["arrive-all", "open-class", "close-class", "reopen-class"])
def test_every_step_of_a_class_finds_it(client, roaming, slot, other, step):
    PlannedSessionFactory(enrolment=EnrolmentFactory(patient__site=other), slot=slot)
    answer = client.post(reverse(f"attendance:{step}", args=[slot.pk]), {})
    assert answer.status_code in {200, 302}
    assert step != "arrive-all" or Visit.objects.get().meeting.slot == slot


def test_a_class_of_a_site_somebody_does_not_work_at_is_not_found(client, roaming):
    foreign = ClassSlotFactory()
    assert client.get(reverse("attendance:add-someone", args=[foreign.pk])).status_code == 404


def test_header_names_the_site_of_the_page(client, roaming, other):
    """The emergency card above a page of one site is never another's."""
    text = client.get(f"{reverse('attendance:events')}?site={other.pk}").content.decode()
    assert "Emergency at Harbour Rise" in text
    assert "Ring the harbour bell." in text


def test_choosing_a_site_on_a_page_of_another_takes_effect(client, roaming, site, other):
    page = client.get(f"{reverse('enrolment:referrals')}?site={other.pk}&mine=1")
    back = page.context["here_form"]().initial["next"]
    assert back == f"{reverse('enrolment:referrals')}?mine=1"
