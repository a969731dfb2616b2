"""A person's pages find each other: seven tabs, and the pages that share one beside it."""

import re

import pytest
from django.urls import reverse

from programs.staff.templatetags.person import TABS
from tests.factories.patients import PatientFactory

pytestmark = pytest.mark.django_db
NAV = re.compile(r'<nav class="([\w-]+)" aria-label="([^"]*)">(.*?)</nav>', re.S)
LINK = re.compile(r'<a href="([^"]+)"\s*(?:aria-current="(\w+)")?\s*>([^<]+)</a>')
PAGES = [(name, page) for name, pages in TABS.items() for page in pages]


def rows_of(response):
    """What the tabs and the row below them say: links as (address, here or not, name)."""
    found = {kind: (label, LINK.findall(inner)) for kind, label, inner in NAV.findall(response)}
    return found["tabs"], found.get("tab-pages", ("", []))


def read(client, page, course):
    pk = course.pk if page.is_of_course else course.patient_id
    response = client.get(reverse(page.route, args=[pk]))
    assert response.status_code == 200
    return response.content.decode()


def test_there_are_seven_tabs_and_no_page_stands_in_two():
    assert len(TABS) == 7
    assert len({page.route for _, page in PAGES}) == len(PAGES)


@pytest.mark.parametrize(("tab", "page"), PAGES, ids=lambda one: getattr(one, "key", one))
def test_each_page_shows_where_it_stands_and_what_is_beside_it(client, people, course, tab, page):
    client.force_login(people["clinician"])
    (label, tabs), (of, beside) = rows_of(read(client, page, course))
    assert label == "Patient"
    assert [name for _, here, name in tabs if here] == [tab]
    assert [name for _, _, name in tabs] == list(TABS)
    if len(TABS[tab]) > 1:
        assert of == tab
        assert [name for _, here, name in beside if here == "page"] == [page.name]
        assert [name for _, _, name in beside] == [one.name for one in TABS[tab]]


@pytest.mark.parametrize("role", ["floor", "clinician", "physician"])
def test_every_link_leads_to_a_page_the_role_may_read(client, people, course, role):
    client.force_login(people[role])
    seen = set()
    for name, page in PAGES:
        if people[role].has_perm(page.permission):
            (_, tabs), (_, beside) = rows_of(read(client, page, course))
            links = {url for url, _, _ in [*tabs, *beside]}
            assert {client.get(url).status_code for url in links} == {200}, name
            seen |= links
    # each page in one press more than its tab
    mine = [page for _, page in PAGES if people[role].has_perm(page.permission)]
    assert len(seen) == len(mine)


def test_a_page_that_a_role_may_not_read_has_no_link(client, people, course):
    client.force_login(people["floor"])
    page = client.get(reverse("reports:journey", args=[course.patient_id])).content.decode()
    (_, tabs), _ = rows_of(page)
    assert [name for _, _, name in tabs] == [name for name in TABS if name != "Changes"]
    plan = client.get(reverse("review:plan", args=[course.pk])).content.decode()
    _, (_, beside) = rows_of(plan)
    assert [name for _, _, name in beside] == ["Treatment plan", "Calendar"]


def test_before_a_course_only_pages_of_the_person_are_offered(client, people, site):
    patient = PatientFactory(site=site)
    client.force_login(people["clinician"])
    page = client.get(reverse("patients:background", args=[patient.pk])).content.decode()
    (_, tabs), (_, beside) = rows_of(page)
    assert [name for _, _, name in tabs] == ["Overview", "Exercise", "Record", "Changes"]
    assert {client.get(url).status_code for url, _, _ in [*tabs, *beside]} == {200}
