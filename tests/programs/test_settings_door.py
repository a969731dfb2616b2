"""The framework's admin: own sites only, and in and out by our own doors."""

import pytest
from django.urls import reverse

from patients.models import AuditEvent
from programs.staff.models import Credential, Site, User
from tests.factories.staff import CredentialFactory, SiteFactory, UserFactory

pytestmark = pytest.mark.django_db
NEW_PASSWORD = {"password1": "nine lives of a grey cat", "password2": "nine lives of a grey cat"}


@pytest.fixture
def administrator(client, people):
    user = people["administrator"]
    user.is_staff = True
    user.save()
    client.force_login(user)
    return user


@pytest.fixture
def elsewhere():
    return SiteFactory(name="Harbour Rise")


@pytest.fixture
def stranger(elsewhere):
    """Somebody of another site."""
    return UserFactory(role="clinician", sites=[elsewhere], last_name="Unseen")


@pytest.fixture
def shared(site, elsewhere):
    """Somebody who works here and at another site."""
    return UserFactory(role="clinician", sites=[site, elsewhere], last_name="Between")


def page(name, *args):
    return reverse(f"admin:staff_{name}", args=args)


def person_data(person, **changed):
    return {
        "username": person.username,
        "first_name": person.first_name,
        "last_name": person.last_name,
        "title": person.title,
        "email": person.email,
        "role": person.role,
        "sites": [site.pk for site in person.sites.all()],
        "is_active": "on",
    } | changed


def test_lists_hold_own_sites_people_and_cards_only(client, administrator, site, stranger):
    CredentialFactory(user=stranger, number="hidden card")
    mine = CredentialFactory(user=administrator)
    for name, there in [("site", site.name), ("user", administrator.username)]:
        text = client.get(page(f"{name}_changelist")).content.decode()
        assert there in text
        assert "Harbour Rise" not in text
        assert stranger.username not in text
    cards = client.get(page("credential_changelist")).context["cl"].queryset
    assert list(cards) == [mine]


def test_nothing_of_another_site_can_be_opened_or_set(client, administrator, elsewhere, stranger):
    card = CredentialFactory(user=stranger)
    hash_before = stranger.password
    addresses = [
        page("user_change", stranger.pk),
        page("user_history", stranger.pk),
        reverse("admin:auth_user_password_change", args=[stranger.pk]),
        page("site_change", elsewhere.pk),
        page("credential_change", card.pk),
    ]
    for address in addresses:
        for answer in (client.get(address), client.post(address, {**NEW_PASSWORD, "name": "x"})):
            assert answer.status_code in {302, 404}, address
    for kept in (page("site_history", elsewhere.pk), page("credential_history", card.pk)):
        assert client.get(kept).status_code == 404
    version = elsewhere.history.get().pk
    old = reverse("admin:staff_site_simple_history", args=[elsewhere.pk, version])
    assert client.get(old).status_code == 404
    assert client.post(old, {"name": "Taken over"}).status_code == 404
    stranger.refresh_from_db()
    elsewhere.refresh_from_db()
    assert (stranger.password, elsewhere.name) == (hash_before, "Harbour Rise")


def test_an_account_cannot_be_given_a_site_of_somebody_else(
    client, administrator, site, elsewhere, people
):
    nurse = people["floor"]
    answer = client.post(
        page("user_change", nurse.pk), person_data(nurse, sites=[site.pk, elsewhere.pk])
    )
    assert answer.status_code == 200  # refused, with the field marked
    assert "sites" in answer.context["adminform"].form.errors
    new = {"username": "newcomer", "usable_password": "true", "role": "clinician", **NEW_PASSWORD}
    client.post(page("user_add"), new | {"sites": [elsewhere.pk]})
    assert not User.objects.filter(username="newcomer").exists()
    assert list(nurse.sites.all()) == [site]
    assert client.post(page("user_add"), new | {"sites": [site.pk]}).status_code == 302
    assert list(User.objects.get(username="newcomer").sites.all()) == [site]


def test_a_password_given_is_recorded_and_ones_own_asks_for_the_old(client, administrator, people):
    nurse = people["floor"]
    address = reverse("admin:auth_user_password_change", args=[nurse.pk])
    data = NEW_PASSWORD | {"usable_password": "true"}
    assert client.post(address, data).status_code == 302
    event = AuditEvent.objects.get(kind="password")
    assert (event.user, str(nurse) in event.what) == (administrator, True)
    own = reverse("admin:auth_user_password_change", args=[administrator.pk])
    assert client.post(own, data).url == reverse("staff:password")
    before = administrator.password
    administrator.refresh_from_db()
    assert administrator.password == before


def test_nobody_gives_themselves_more(client, administrator, site, elsewhere):
    client.post(
        page("user_change", administrator.pk),
        person_data(
            administrator,
            sites=[site.pk, elsewhere.pk],
            role="physician",
            is_staff="on",
            is_superuser="on",
        ),
    )
    administrator.refresh_from_db()
    assert (administrator.role, administrator.is_superuser) == ("administrator", False)
    assert list(administrator.sites.all()) == [site]


def test_superuser_is_not_grantable_nor_a_superuser_changed(client, administrator, site, people):
    nurse = people["floor"]
    client.post(page("user_change", nurse.pk), person_data(nurse, is_superuser="on"))
    nurse.refresh_from_db()
    assert not nurse.is_superuser
    root = UserFactory(role="administrator", sites=[site], is_superuser=True)
    address = reverse("admin:auth_user_password_change", args=[root.pk])
    assert client.post(address, NEW_PASSWORD).status_code == 403


def test_of_somebody_shared_only_the_own_site_is_changed(
    client, administrator, site, elsewhere, shared
):
    assert client.get(page("user_change", shared.pk)).status_code == 200
    other = SiteFactory()
    administrator.sites.add(other)
    data = person_data(shared, sites=[other.pk], role="administrator", is_active="", username="x")
    assert client.post(page("user_change", shared.pk), data).status_code == 302
    before = shared.username
    shared.refresh_from_db()
    assert (shared.role, shared.is_active, shared.username) == ("clinician", True, before)
    assert set(shared.sites.all()) == {other, elsewhere}
    password = reverse("admin:auth_user_password_change", args=[shared.pk])
    assert client.post(password, NEW_PASSWORD).status_code == 403


def test_an_account_always_keeps_a_site(client, administrator, people):
    nurse = people["floor"]
    answer = client.post(page("user_change", nurse.pk), person_data(nurse, sites=[]))
    assert answer.status_code == 200
    assert nurse.sites.count() == 1


def test_a_card_is_given_to_own_people_only(client, administrator, stranger):
    data = {"user": stranger.pk, "kind": "BLS", "number": "", "expires_on": "2030-01-01"}
    assert client.post(page("credential_add"), data).status_code == 200
    assert not Credential.objects.exists()
    assert client.post(page("credential_add"), data | {"user": administrator.pk}).status_code == 302


def test_whoever_opens_a_site_works_there(client, administrator):
    data = {
        "name": "Ferry Street",
        "code": "FS",
        "timezone": "UTC",
        "phone": "",
        "emergency_card": "",
        "idle_minutes": 15,
        "hours": "24",
        "dates": "iso",
        "patients_per_staff": 5,
        "least_staff": 2,
    }
    assert client.post(page("site_add"), data).status_code == 302
    opened = Site.objects.get(code="FS")
    assert administrator.sites.filter(pk=opened.pk).exists()
    assert client.get(page("site_change", opened.pk)).status_code == 200
    assert client.get(reverse("enrolment:classes") + f"?site={opened.pk}").status_code == 200


def test_the_first_account_takes_up_a_site_where_nobody_works(client, elsewhere, stranger):
    empty = SiteFactory(name="Nobody yet")
    root = User.objects.create_superuser("first", password="nine lives of a grey cat")
    client.force_login(root)
    data = person_data(root, is_staff="on", sites=[empty.pk, elsewhere.pk])
    client.post(page("user_change", root.pk), data)
    assert not root.sites.exists()
    assert (
        client.post(page("user_change", root.pk), data | {"sites": [empty.pk]}).status_code == 302
    )
    assert list(root.sites.all()) == [empty]


def test_its_sign_in_is_ours(client, administrator):
    client.logout()
    answer = client.get(reverse("admin:login") + "?next=/settings/admin/staff/user/")
    assert answer.url == "/login/?next=/settings/admin/staff/user/"
    posted = client.post(
        reverse("admin:login"), {"username": administrator.username, "password": "whatever"}
    )
    assert posted.url.startswith(reverse("staff:login"))
    assert "_auth_user_id" not in client.session


def test_its_sign_out_is_recorded_and_its_password_page_is_ours(client, administrator):
    assert client.get(reverse("admin:password_change")).url == reverse("staff:password")
    answer = client.post(reverse("admin:logout"))
    assert "storage" in answer["Clear-Site-Data"]
    assert AuditEvent.objects.filter(kind="sign_out", user=administrator).exists()


def test_somebody_else_signed_in_is_refused_and_not_sent_round(client, people):
    client.force_login(people["clinician"])
    assert client.get(reverse("admin:index"), follow=True).status_code == 403
