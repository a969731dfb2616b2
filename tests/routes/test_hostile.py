"""Every route asked and posted to with what nobody types: no answer of 500, on both databases.

Names are not listed by hand: every form of every page is filled in as a person would and then bent
field by field, and every name a view reads of an address or of posted data is bent as well.
"""

import os
import re
from collections import defaultdict
from html.parser import HTMLParser

import pytest
from django.db import connection, transaction
from django.http import QueryDict
from django.test import Client
from django.urls import reverse

from tests.conftest import ROLES
from tests.routes.test_permissions import TABLE, address

pytestmark = pytest.mark.django_db

BEYOND = str(2**63)  # the first whole number a database's widest column does not hold
DIGITS = "9" * 5000  # more than Python itself turns into a number
NUL = "a\0b"
# One at a time, the rest of the form as a person fills it in.
BENT = [BEYOND, DIGITS, NUL]
# Everywhere at once.
WORSE = [
    *BENT,
    "-1",
    "9999-12-31",
    str(-(2**63) - 1),
    str(2**31),
    "1e400",
    "0001-01-01",
    "²",
    "nowhere",
    "/\r\nSet-Cookie: a=b",
    "",
]
# ``HOSTILE=full`` sends each form every value; a run of the whole suite takes turns with them, so
# that one on SQLite and one on PostgreSQL send all of the turns together.
IN_FULL = os.environ.get("HOSTILE") == "full"
TURN = connection.vendor == "postgresql"
TURNS = {False: [BEYOND, NUL, "-1"], True: [DIGITS, "9999-12-31", ""]}
AT_ONCE = WORSE if IN_FULL else TURNS[TURN]
# In a path; what its converter does not let through is no page.
KEYS = ["0", str(2**31), str(2**63 - 1), BEYOND, DIGITS, "-1", "x" * 5000, "a%00b", "%0d%0a", "%ff"]


class Forms(HTMLParser):
    """The forms of a page: where they go and what stands in them; an empty box is filled in."""

    def __init__(self, today):
        super().__init__()
        self.today, self.found, self.form, self.select = today, [], None, None

    def handle_starttag(self, tag, attrs):
        at = dict(attrs)
        name, value, kind = at.get("name"), at.get("value"), at.get("type", "text")
        if tag == "form":
            self.form = {"action": at.get("action"), "get": at.get("method", "get") != "post"}
            self.form |= {"data": defaultdict(list), "buttons": []}
            self.found.append(self.form)
        elif tag == "option" and self.select:
            self.select[1] = self.select[1] or value
            if "selected" in at:
                self.select[2] = value
        elif self.form is not None and name and kind not in {"file", "submit"}:
            self._field(tag, name, value, kind, "checked" in at)

    def _field(self, tag, name, value, kind, is_ticked):
        data = self.form["data"]
        if tag == "select":
            self.select = [name, None, None]
        elif tag == "button":
            self.form["buttons"].append((name, value or ""))
        elif tag == "textarea":
            data[name].append("said so")
        elif tag == "input" and kind not in {"checkbox", "radio"}:
            needed = {"date": str(self.today), "time": "09:00"}.get(kind, "70")
            data[name].append(value or needed)
        elif tag == "input" and (is_ticked or not data[name]):
            data[name].append(value or "on")

    def handle_endtag(self, tag):
        if tag == "select" and self.select and self.form is not None:
            name, first, chosen = self.select
            self.form["data"][name].append(chosen or first or "")
            self.select = None
        elif tag == "form":
            self.form = None


@pytest.fixture
def names_read(monkeypatch):
    """Names looked up in addresses and posted data while a request is answered."""
    read = set()

    def noting(method):
        plain = getattr(QueryDict, method)

        def looked_up(self, name, *args):
            if isinstance(name, str):
                read.add(name)
            return plain(self, name, *args)

        return looked_up

    for method in ("__getitem__", "__contains__", "getlist"):
        monkeypatch.setattr(QueryDict, method, noting(method))
    return read


class Caller:
    """Sends requests that leave nothing behind, and keeps those that were not answered."""

    def __init__(self, people):
        self.n, self.failed, self.clients = 0, {}, {}
        for role, user in people.items():
            client = Client()
            client.force_login(user)
            self.clients[role] = (client, client.cookies["sessionid"].value)

    def send(self, role, method, url, data=None):
        client, session = self.clients[role]
        client.cookies["sessionid"] = session
        self.n += 1
        try:
            with transaction.atomic():
                answer = getattr(client, method)(url, data)
                transaction.set_rollback(True)
        except Exception as error:
            self._note(method, url, data, f"{type(error).__name__}: {str(error)[:80]}")
            return None
        if answer.status_code >= 500:
            self._note(method, url, data, str(answer.status_code))
        return answer

    def _note(self, method, url, data, what):
        said = {k: str(v)[:30] for k, v in (data or {}).items()}
        where = re.sub(r"\d+", "N", url.split("?")[0])[:60]
        self.failed.setdefault(f"{method} {where} {what}", f"{url[:120]} {str(said)[:300]}")

    def bend(self, role, method, url, data, known=()):
        """One field at a time, of a long form a fifth of them; then all of them at once."""
        names = [name for name in data if name != "csrfmiddlewaretoken"]
        one_by_one = [name for name in names if name not in known]
        for start in range(min(5, len(one_by_one))):
            if not IN_FULL and start % 2 != TURN:
                continue
            for value in BENT if IN_FULL else [BENT[start % len(BENT)]]:
                bent = dict.fromkeys(one_by_one[start::5], value)
                self.send(role, method, url, data | bent)
        for value in AT_ONCE:
            self.send(role, method, url, dict.fromkeys(names, value))


@pytest.fixture
def caller(people, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # for speed
    for user in people.values():
        user.is_staff = True
        user.save()
    return Caller(people)


def role_for(allowed):
    return next(role for role in ("clinician", *ROLES) if role in allowed)


# A page that sends everybody on, and a file that is not given of fewer than eleven people.
TURNED_BACK = {"/", "/program/export/people/"}


def forms_of(caller, role, url, today):
    """Where each form of a page goes and what it sends, once for each of its buttons."""
    answer = caller.send(role, "get", url)
    if answer is None or "html" not in answer.headers.get("Content-Type", ""):
        return
    if answer.status_code == 302 and url in TURNED_BACK:
        return
    assert answer.status_code == 200, url
    page = Forms(today)
    page.feed(answer.content.decode())
    for form in page.found:
        goes_to = form["action"] or url
        goes_to = url + goes_to if goes_to.startswith("?") else goes_to
        if goes_to.startswith(("/logout/", "/site/", "/events/start/")):
            continue  # in every header; they have rows of their own
        data = {k: v if len(v) > 1 else v[0] for k, v in form["data"].items() if v}
        for step in form["buttons"] or [None]:
            yield goes_to, "get" if form["get"] else "post", data | (dict([step]) if step else {})


@pytest.mark.parametrize("name", TABLE)
def test_no_route_breaks_whatever_it_is_sent(caller, rows, site, names_read, name):
    method, _, allowed = TABLE[name]
    url, role = address(name, rows), role_for(allowed)
    seen = set()
    for one in sorted(allowed) if method == "get" else []:
        for goes_to, how, data in forms_of(caller, one, url, site.today()):
            if (goes_to, how, *data) not in seen:
                seen.add((goes_to, how, *data))
                caller.bend(one, how, goes_to, data)
    known = {field for _, _, *fields in seen for field in fields}
    for how in ("get", "post"):
        names_read.clear()
        for seed in ({"site": site.pk}, {"kind": "x"}, {"form": "home"}, {"form": "teaching"}):
            caller.send(role, how, url, seed)
        read = dict.fromkeys(names_read - {"csrfmiddlewaretoken"}, "") | {"site": str(site.pk)}
        caller.bend(role, how, url, read, known)
    for value in AT_ONCE:  # an address bent under an honest post
        query = QueryDict(mutable=True)
        query.update(dict.fromkeys(read, value))
        caller.send(role, "post", f"{url}?{query.urlencode()}", {})
    assert caller.failed == {}
    assert caller.n > 2 * len(AT_ONCE)


def test_no_route_breaks_whatever_its_address_names(caller, rows):
    for name in TABLE:
        role = role_for(TABLE[name][2])
        honest = address(name, rows)
        for part in dict.fromkeys(re.findall(r"(?<=/)(\d+|[\w-]+)(?=/)", honest)):
            for value in KEYS:
                bent = honest.replace(f"/{part}/", f"/{value}/", 1)
                caller.send(role, "get", bent)
                caller.send(role, "post", bent, {})
    assert caller.failed == {}
    assert caller.n > 1500


ADMIN = ["site", "user", "credential"]


@pytest.mark.parametrize("model", ADMIN)
def test_the_frameworks_admin_does_not_break_either(caller, rows, people, site, names_read, model):
    row = {"site": site, "user": people["floor"], "credential": rows["card"]}[model]
    pages = [reverse(f"admin:staff_{model}_{page}") for page in ("changelist", "add")]
    pages += [
        reverse(f"admin:staff_{model}_{page}", args=[row.pk]) for page in ("change", "history")
    ]
    if model == "user":
        pages.append(reverse("admin:auth_user_password_change", args=[row.pk]))
    for url in pages:
        answer = caller.send("administrator", "get", url)
        page = Forms(site.today())
        page.feed(answer.content.decode())
        for form in page.found:
            data = {k: v[0] for k, v in form["data"].items() if v}
            if "logout" not in (form["action"] or ""):
                caller.bend("administrator", "get" if form["get"] else "post", url, data)
        names_read.clear()
        caller.send("administrator", "get", url)
        caller.bend("administrator", "get", url, dict.fromkeys(names_read, ""))
        for value in KEYS:
            for how in ("get", "post"):
                caller.send("administrator", how, url.replace(f"/{row.pk}/", f"/{value}/"))
    lookups = ["id__exact", "pk__in", "role__exact", "sites__id__exact", "q", "o", "p", "all", "e"]
    lookups += ["is_active__exact", "_popup", "_to_field", "_changelist_filters"]
    for name in lookups:
        for value in WORSE:
            caller.send("administrator", "get", pages[0], {name: value})
    assert caller.failed == {}


def test_signing_in_does_not_break(client):
    failed = []
    for value in WORSE:
        for data in ({"username": value, "password": value}, {"username": "x", "next": value}):
            answer = client.post(reverse("staff:login"), data)
            failed += [value[:20]] if answer.status_code >= 500 else []
            client.get(reverse("staff:login"), {"next": value, "signed-out": value})
    assert failed == []
