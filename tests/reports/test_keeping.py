"""A question is kept under a name of one's own, and asks anew whose figures one may see."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from reports import keeping
from reports.models import KeptQuestion
from tests.factories.staff import SiteFactory
from tests.reports.test_program import words

pytestmark = pytest.mark.django_db
ASKED = "since=2024-01-01&until=2024-12-31&definition=36&by=sex&sex=female&order=x&next=//elsewhere"


def test_a_question_is_kept_without_its_days_unless_they_are_wanted(people):
    rolling = keeping.keep(people["manager"], "Women", ASKED, with_days=False)
    assert (rolling.name, rolling.address) == ("Women", "definition=36&by=sex&sex=female")
    of_2024 = keeping.keep(people["manager"], "Women 2024", ASKED, with_days=True)
    assert of_2024.address.startswith("since=2024-01-01&until=2024-12-31&definition=36")
    again = keeping.keep(people["manager"], "Women", "sex=male", with_days=False)
    assert (again.pk, again.address) == (rolling.pk, "sex=male")


@pytest.mark.parametrize("name", ["", "   ", "\n"])
def test_a_question_without_a_name_is_refused(client, people, name):
    client.force_login(people["manager"])
    typed = {"name": name, "question": "sex=female&next=//elsewhere"}
    page = client.post(reverse("reports:keep-question"), typed, follow=True)
    assert page.redirect_chain[-1][0].endswith("/program/?sex=female")
    assert "Give the question a name." in page.content.decode()
    assert not KeptQuestion.objects.exists()


def test_the_list_stays_short(people):
    for n in range(keeping.MOST):
        keeping.keep(people["manager"], f"n {n}", ASKED, with_days=True)
    keeping.keep(people["manager"], "n 3", "sex=male", with_days=True)
    with pytest.raises(ValidationError, match="forget one"):
        keeping.keep(people["manager"], "one more", ASKED, with_days=True)


def test_a_kept_question_is_seen_asked_and_forgotten_by_its_owner_only(client, people):
    keeping.keep(people["manager"], "<b>Women</b>", ASKED, with_days=True)
    assert "Women" not in words(client, people["clinician"])
    key = {"question": KeptQuestion.objects.get().pk}
    client.post(reverse("reports:drop-question"), key)
    assert KeptQuestion.objects.count() == 1
    page = words(client, people["manager"])
    assert "&lt;b&gt;Women&lt;/b&gt;" in page
    assert 'href="?since=2024-01-01&amp;until=2024-12-31&amp;definition=36' in page
    client.post(reverse("reports:drop-question"), key)
    assert not KeptQuestion.objects.exists()


def test_a_site_left_since_is_said_to_be_left(client, people):
    elsewhere = SiteFactory()
    page = words(client, people["manager"], site=elsewhere.pk)
    assert "not one of yours; the figures are of all your sites" in page


def test_a_name_is_kept_without_the_space_around_it(client, people):
    client.force_login(people["manager"])
    typed = {"name": "  Women \t of 2024 ", "question": ASKED, "with_days": "on"}
    page = client.post(reverse("reports:keep-question"), typed, follow=True)
    assert KeptQuestion.objects.get().name == "Women of 2024"
    assert f"{page.context['question'].asked.since}" == "2024-01-01"
