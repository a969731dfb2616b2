"""Due and Referrals show the worst first, a page at a time, and nobody falls between two pages."""

import re
from datetime import timedelta

import pytest
from django.test import RequestFactory
from django.urls import reverse

from patients.paging import part_of
from reports.views import SHOWN_OF_EACH
from reports.worklists import due_for
from tests.factories.enrolment import EnrolmentFactory, ReferralFactory

pytestmark = pytest.mark.django_db


class Row:
    def __init__(self, n):
        self.key = f"k{n}"


@pytest.mark.parametrize("n", [0, 1, 4, 5, 8, 9])
def test_parts_hold_every_row_once_both_ways(n):
    rows = [Row(i) for i in range(n)]

    def ask(address):
        return part_of(RequestFactory().get(f"/{address}"), rows, 4)

    page, seen = ask("?whose=3"), []
    while True:
        seen += page.rows
        if not page.later:
            break
        assert "whose=3" in page.later
        page = ask(page.later)
    assert seen == rows
    back = page.rows
    while page.earlier:
        page = ask(page.earlier)
        back = page.rows + back
    assert back == rows
    assert ask("?after=gone").rows == rows[:4]


def shown(page):
    return re.findall(r'class="who"\s+href="/patients/(\d+)/"', page)


def test_due_shows_the_first_of_each_and_all_of_one(client, site, clinician):
    today = site.today()
    courses = [
        EnrolmentFactory(patient__site=site, starts_on=today - timedelta(days=3 + n))
        for n in range(SHOWN_OF_EACH + 30)
    ]
    client.force_login(clinician)
    page = client.get(reverse("reports:due")).content.decode()
    assert "only=plans" in page
    assert "only=assessments" in page
    assert shown(page)[:3] == [str(c.patient_id) for c in courses[:-4:-1]]  # longest overdue first
    seen, address = [], "?whose=all&only=plans"
    while address:
        page = client.get(reverse("reports:due") + address).content.decode()
        assert "Assessments" not in page
        seen += shown(page)
        found = re.search(r'href="([^"]+)" rel="next"', page)
        address = found[1].replace("&amp;", "&") if found else ""
    assert seen == [str(c.patient_id) for c in reversed(courses)]
    assert due_for(clinician).total >= 2 * len(courses) - 30


def test_referrals_come_longest_wait_first_page_by_page(client, site, clinician):
    today = site.today()
    rows = [
        ReferralFactory(
            patient__site=site, discharged_on=today - timedelta(days=n), condition__happened_on=None
        )
        for n in range(30)
    ]
    gone = ReferralFactory(patient__site=site, state="not_enrolling", why_not="declined")
    client.force_login(clinician)
    seen, address = [], ""
    while True:
        page = client.get(reverse("enrolment:referrals") + address).content.decode()
        assert "30\n      waiting · 8 past 21 days" in page
        seen += re.findall(r'href="/referrals/(\d+)/"', page)
        found = re.search(r'href="([^"]+)" rel="next"', page)
        if not found:
            break
        address = found[1]
    assert seen == [str(row.pk) for row in reversed(rows)]
    page = client.get(reverse("enrolment:closed-referrals")).content.decode()
    assert f"/referrals/{gone.pk}/" in page
    assert "declined" in page
