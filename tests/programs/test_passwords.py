"""Signing in and changing a password: guessing is slow, and nobody is kept out by others."""

from concurrent.futures import ThreadPoolExecutor

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from patients.models import AuditEvent
from programs.staff.calc import pace
from programs.staff.models import PasswordPace
from programs.staff.throttle import client_address
from tests.factories.staff import UserFactory

RIGHT = "correct horse battery"
HERE, ELSEWHERE = "192.0.2.10", "198.51.100.7"  # addresses for documentation: RFC 5737
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def quick(settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def ann(site):
    return UserFactory(username="ann", sites=[site], password=make_password(RIGHT))


@pytest.fixture
def clock():
    with time_machine.travel(timezone.now(), tick=False) as found:
        yield found


def attempt(password, name="ann", address=HERE, browser=None, **headers):
    """Try in a browser of its own unless one is given."""
    return (browser or Client()).post(
        reverse("staff:login"),
        {"username": name, "password": password},
        REMOTE_ADDR=address,
        headers=headers,
    )


def guess(n, **where):
    return [attempt(f"wrong {i}", **where).status_code for i in range(n)]


def test_the_page_speaks_of_it_and_the_right_password_still_signs_in(ann, clock):
    assert guess(6) == [200] * 4 + [429] * 2
    assert attempt(RIGHT).status_code == 302
    assert guess(4) == [200] * 4  # counted anew


def test_guessing_is_slowed_and_trying_meanwhile_makes_it_no_longer(ann, clock):
    guess(pace.LOOKED_AT)
    refused = attempt(RIGHT)
    assert (refused.status_code, refused["Retry-After"]) == (429, "30")
    assert "30 seconds" in refused.content.decode()
    for _ in range(28):
        clock.shift(1)
        guess(1)
        attempt(RIGHT)
    clock.shift(2)
    assert attempt(RIGHT).status_code == 302
    assert not PasswordPace.objects.exists()


def test_a_day_of_guessing_from_one_place_is_a_hundred_guesses(ann, clock):
    guess(pace.LOOKED_AT)
    for _ in range(24 * 12):
        clock.shift(5 * 60)
        guess(1)
    assert PasswordPace.objects.get().n_wrong <= pace.LOOKED_AT + 24 * 4 + 5


def test_accounts_that_exist_and_that_do_not_are_answered_alike(ann, clock):
    for n in range(pace.LOOKED_AT + 3):
        known, unknown = attempt("wrong"), attempt("wrong", name="nobody")
        assert known.status_code == unknown.status_code, n
        assert known.headers.get("Retry-After") == unknown.headers.get("Retry-After")


def test_nobody_locks_another_out(ann, clock):
    """Somebody hammers the account, from elsewhere and from the owner's own network."""
    mine = Client()
    assert attempt(RIGHT, browser=mine).status_code == 302
    mine.post(reverse("staff:logout"))
    guess(200, address=ELSEWHERE)
    guess(200, address=HERE)
    assert attempt(RIGHT, browser=mine).status_code == 302
    assert attempt(RIGHT, address="203.0.113.5").status_code == 302  # and from a new place


def test_a_browser_known_to_one_account_is_a_stranger_to_another(ann, site, clock):
    UserFactory(username="bo", sites=[site], password=make_password(RIGHT))
    mine = Client()
    attempt(RIGHT, browser=mine)
    mine.post(reverse("staff:logout"))
    guess(pace.LOOKED_AT, name="bo", browser=mine)
    assert attempt(RIGHT, name="bo").status_code == 429  # the same address
    assert attempt(RIGHT, browser=mine).status_code == 302


def test_a_made_up_cookie_is_no_known_browser(ann, clock):
    forged = Client()
    forged.cookies["device"] = "x" * 40 + ":forged"
    guess(pace.LOOKED_AT, browser=forged)
    assert attempt(RIGHT, browser=forged).status_code == 429


def test_one_address_tries_many_accounts_slowly(ann, clock):
    for n in range(pace.CROWD_OF_ADDRESS // 2):
        guess(2, name=f"name{n}")
    assert attempt("wrong").status_code == 200  # the first for an account is looked at
    assert attempt(RIGHT).status_code == 429
    clock.shift(31)
    assert attempt(RIGHT).status_code == 302


def test_many_addresses_try_one_account_slowly(ann, clock):
    for n in range(pace.CROWD_OF_ACCOUNT // 10):
        guess(10, address=f"203.0.113.{n}")
    there = "203.0.113.200"
    assert guess(1, address=there) == [200]
    assert attempt(RIGHT, address=there).status_code == 429
    assert attempt(RIGHT, address="203.0.113.201").status_code == 302


def test_a_forwarded_address_counts_behind_a_configured_proxy_only(ann, settings, clock, rf):
    def seen(forwarded, hops, address=HERE):
        settings.PROXIES_IN_FRONT = hops
        headers = {"x-forwarded-for": forwarded} if forwarded else {}
        return client_address(rf.get("/", REMOTE_ADDR=address, headers=headers))

    assert seen(ELSEWHERE, 0) == HERE
    assert seen(ELSEWHERE, 1) == ELSEWHERE
    assert seen(f"10.9.9.9, {ELSEWHERE}", 1) == ELSEWHERE  # what the sender wrote is left of it
    assert seen(f"10.9.9.9, {ELSEWHERE}, 203.0.113.1", 2) == ELSEWHERE
    assert seen("", 1) == HERE
    assert seen("not an address", 1) == "unknown"
    assert seen("", 0, "2001:db8:0:7:1::1") == seen("", 0, "2001:db8:0:7:2::2")  # RFC 3849
    assert seen("", 0, "::ffff:192.0.2.10") == HERE
    settings.PROXIES_IN_FRONT = 0
    for n in range(pace.LOOKED_AT):
        attempt("wrong", **{"x-forwarded-for": f"203.0.113.{n}"})
    assert attempt(RIGHT, **{"x-forwarded-for": "203.0.113.99"}).status_code == 429


def test_neither_names_nor_passwords_are_kept(ann, clock):
    attempt("a secret", name="typed into the wrong box")
    row = PasswordPace.objects.get()
    kept = " ".join(str(value) for value in vars(row).values())
    assert "secret" not in kept
    assert "wrong box" not in kept


@pytest.mark.django_db(transaction=True)
def test_many_sent_at_once_are_counted_one_by_one(ann):
    def run(n):
        try:
            return attempt(f"wrong {n}")
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        list(pool.map(run, range(24)))
    assert PasswordPace.objects.get().n_wrong == pace.LOOKED_AT


def test_a_new_password_from_an_administrator_ends_the_waiting(ann, people, clock):
    guess(pace.LOOKED_AT)
    admin = people["administrator"]
    admin.is_staff = True
    admin.save()
    office = Client()
    office.force_login(admin)
    new = "nine lives of a grey cat"
    office.post(
        reverse("admin:auth_user_password_change", args=[ann.pk]),
        {"password1": new, "password2": new, "usable_password": "true"},
    )
    assert attempt(new).status_code == 302


# --- changing it ---------------------------------------------------------------------------


def change(browser, old, new="nine lives of a grey cat"):
    data = {"old_password": old, "new_password1": new, "new_password2": new}
    return browser.post(reverse("staff:password"), data)


def test_changing_a_password_is_recorded(client, ann):
    client.force_login(ann)
    assert change(client, RIGHT).status_code == 302
    event = AuditEvent.objects.get(kind="password")
    assert (event.user, event.what) == (ann, "their own")


def test_guessing_the_old_password_is_slowed_and_recorded(client, ann, clock):
    client.force_login(ann)
    for _ in range(pace.LOOKED_AT):
        assert change(client, "wrong").status_code == 200
    refused = change(client, RIGHT)
    assert "Too many wrong passwords" in refused.content.decode()
    assert AuditEvent.objects.filter(kind="refusal", user=ann).count() == pace.LOOKED_AT + 1
    clock.shift(31)
    assert change(client, RIGHT).status_code == 302


def test_another_session_of_the_same_person_is_not_kept_waiting(ann, clock):
    left, own = Client(), Client()
    left.force_login(ann)
    own.force_login(ann)
    for _ in range(pace.LOOKED_AT + 1):
        change(left, "wrong")
    assert change(own, RIGHT).status_code == 302


@pytest.mark.parametrize("new", ["837465920174", "0000000000000000"])
def test_a_password_of_digits_only_is_refused(client, ann, new):
    client.force_login(ann)
    answer = change(client, RIGHT, new)
    assert answer.status_code == 200
    assert "entirely numeric" in answer.content.decode()
