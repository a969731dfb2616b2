"""Finding somebody, and lists paged by key: whatever comes in meanwhile, nobody is missed."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from simple_history.utils import bulk_create_with_history

from patients import services
from patients.models import AuditEvent, FindKey, Patient
from patients.paging import page_of
from tests.factories.patients import PatientFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
BY_NAME = ["family_name", "given_name", "pk"]


@pytest.fixture
def ada(site):
    return PatientFactory(
        site=site,
        given_name="Ada Søren",
        family_name="van Lindqvist-Møller",
        born_on="1958-03-02",
        record_number="NB-1023",
        phone="+1 (208) 555-2010",
    )


@pytest.mark.parametrize(
    "typed",
    [
        "ada", "ADA lind", "lind ada", "Lindqvist, Ada", "møller", "moller soren", "van lindqvist",
        "vanlind", "lindqvist-møller", "soren lind", "NB-1023", "nb1023", "1023", "555-2010",
        "(208) 5552010", "208 555 2010", "2010", "1958-03-02", "2.3.1958", "3/2/1958",
        "lind 2 Mar 1958",
    ],
)  # fmt: skip
def test_somebody_is_found(ada, site, typed):
    PatientFactory(site=site, given_name="Otto", family_name="Ashbeck", phone="")
    assert list(Patient.objects.matching(typed)) == [ada]


@pytest.mark.parametrize(
    "typed", ["qvist", "aden", "lind ashbeck", "1958-03-03", "023", "b%", "_d"]
)
def test_others_are_not(ada, typed):
    assert not Patient.objects.matching(typed)


def test_a_corrected_name_is_found_and_the_old_one_is_not(ada, clinician):
    ada.family_name = "Ashbeck"
    services.change_person(ada, seen=1, by=clinician)
    assert Patient.objects.matching("ashb ada").exists()
    assert not Patient.objects.matching("lindqvist").exists()


def test_a_very_long_name_is_kept_found_and_changed(site, clinician):
    long = " ".join(["Wolfeschlegelsteinhausen", "Bergerdorff", "Abcdefghijklmnop", "Q" * 20])[:80]
    row = PatientFactory(site=site, family_name=long)
    assert Patient.objects.matching(long.replace(" ", "")).get() == row
    assert Patient.objects.matching(long).get() == row
    row.phone = "555-0101"
    services.change_person(row, seen=1, by=clinician)
    assert not FindKey.objects.renew([row], store=False)


def test_people_stored_in_bulk_are_found(site, clinician):
    rows = [PatientFactory.build(site=site, family_name=f"Bulk{n}") for n in range(3)]
    bulk_create_with_history(rows, Patient, default_user=clinician)
    assert Patient.objects.matching("bulk").count() == 3
    assert not FindKey.objects.renew(Patient.objects.all(), store=False)


def test_another_sites_people_are_not_found(client, clinician, ada):
    PatientFactory(site=SiteFactory(), family_name="Lindgren")
    client.force_login(clinician)
    page = client.get(reverse("patients:list"), {"q": "lin"}).content.decode()
    assert "Lindqvist" in page
    assert "Lindgren" not in page


# --- pages --------------------------------------------------------------------------------------


def ask(address):
    return RequestFactory().get(f"/x/{address}")


def walk(found, order, size, *, meanwhile=lambda: None):
    """Every page to the last and back to the first."""
    there, page = [], page_of(ask("?q=a"), found.all(), order=order, size=size)
    there.append(page)
    while page.later:
        meanwhile()
        page = page_of(ask(page.later), found.all(), order=order, size=size)
        there.append(page)
    back = [page]
    while page.earlier:
        page = page_of(ask(page.earlier), found.all(), order=order, size=size)
        back.append(page)
    return there, back


@pytest.mark.parametrize("n", [0, 1, 3, 4, 9, 10])
@pytest.mark.parametrize("order", [BY_NAME, ["-family_name", "given_name", "-pk"], ["-pk"]])
def test_pages_hold_everybody_once_both_ways(site, n, order):
    for i in range(n):
        PatientFactory(site=site, family_name="AAB"[i % 3], given_name="XY"[i % 2])
    expected = list(Patient.objects.order_by(*order))
    there, back = walk(Patient.objects, order, 3)
    assert [row for page in there for row in page.rows] == expected
    assert [row for page in reversed(back) for row in page.rows] == expected
    assert not there[0].earlier
    assert not there[-1].later
    assert all("q=a" in page.later for page in there[:-1])


def test_nobody_is_skipped_or_shown_twice_when_people_come_in_meanwhile(site):
    for i in range(9):
        PatientFactory(site=site, family_name=f"M{i}")
    there, _ = walk(
        Patient.objects, BY_NAME, 3,
        meanwhile=lambda: PatientFactory(site=site, family_name="A", given_name="first"),
    )  # fmt: skip
    names = [row.family_name for page in there for row in page.rows]
    assert names == [f"M{i}" for i in range(9)]


def test_several_query_sets_make_one_order(site):
    for i in range(11):
        PatientFactory(site=site, family_name=f"{i % 4}", given_name="ab"[i % 2])
    strands = [Patient.objects.filter(given_name="a"), Patient.objects.filter(family_name="1")]
    expected = list((strands[0] | strands[1]).order_by(*BY_NAME))
    seen, address = [], ""
    while True:
        page = page_of(ask(address), *strands, order=BY_NAME, size=2)
        seen += page.rows
        if not page.later:
            break
        address = page.later
    assert seen == expected


@pytest.mark.parametrize(
    "address", ["?after=x", "?after=-1", "?after=99999999999999999999", "?before=0"]
)
def test_a_place_that_is_not_there_is_the_beginning(site, address):
    first = PatientFactory(site=site, family_name="A")
    assert page_of(ask(address), Patient.objects.all(), order=BY_NAME).rows == [first]


def test_a_place_of_another_site_tells_nothing(client, clinician, ada):
    other = PatientFactory(site=SiteFactory(), family_name="Aaa")
    client.force_login(clinician)
    assert "Lindqvist" in client.get(f"/patients/?after={other.pk}").content.decode()


def test_a_page_costs_the_same_wherever_it_lies(site):
    for i in range(12):
        PatientFactory(site=site, family_name=f"{i:02}")
    counts = []
    for pk in Patient.objects.order_by(*BY_NAME).values_list("pk", flat=True)[1:9:3]:
        with CaptureQueriesContext(
            connection,
        ) as captured:
            page_of(ask(f"?after={pk}"), Patient.objects.all(), order=BY_NAME, size=3)
        counts.append(len(captured))
    assert counts == [2, 2, 2]


# --- the access log -----------------------------------------------------------------------------


@pytest.fixture
def log(site, ada):
    """Looks of two staff at two people, and one at another site."""
    here = [UserFactory(first_name="Ines", last_name="Duarte", sites=[site]),
            UserFactory(first_name="Otto", last_name="Berg", sites=[site])]  # fmt: skip
    other = PatientFactory(site=site, family_name="Ashbeck")
    away = PatientFactory(site=SiteFactory(), family_name="Away")
    start = timezone.now()
    for n in range(6):
        event = AuditEvent.objects.create(
            kind="look", what=f"look {n}", user=here[n % 2], patient=[ada, other][n // 3]
        )
        AuditEvent.objects.filter(pk=event.pk).update(at=start + timedelta(seconds=n))
    AuditEvent.objects.create(kind="look", what="away", user=here[0], patient=away)
    stranger = UserFactory(sites=[away.site])
    AuditEvent.objects.create(kind="sign_in", what="stranger", user=stranger, patient=None)
    return here


@pytest.mark.parametrize(
    ("who", "looks"),
    [("", "543210"), ("duarte", "420"), ("ines", "420"), ("ashb", "543"), ("lind", "210"),
     ("berg", "531"), ("nobody", "")],
)  # fmt: skip
def test_the_log_is_of_own_staff_and_people_newest_first(client, people, log, who, looks):
    client.force_login(people["administrator"])
    page = client.get(reverse("staff:looks"), {"who": who}).content.decode()
    shown = [n for n in "543210" if f"look {n}" in page]
    assert "".join(shown) == looks
    places = [page.index(f"look {n}") for n in shown]
    assert places == sorted(places)
    assert "away" not in page.lower().replace("forward", "")
    assert "stranger" not in page


def test_the_next_page_of_the_log_keeps_the_name(client, people, log, ada):
    AuditEvent.objects.bulk_create(
        AuditEvent(kind="look", what="x", user=log[0], patient=ada) for _ in range(60)
    )
    client.force_login(people["administrator"])
    page = client.get(reverse("staff:looks"), {"who": "duarte"}).content.decode()
    assert "?who=duarte&amp;after=" in page
