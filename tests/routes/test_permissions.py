"""Every URL by every role. A route missing from the table fails; another site's row is a 404."""

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.conftest import ROLES

pytestmark = pytest.mark.django_db

ALL = set(ROLES)
CLINICAL = {"floor", "clinician", "physician"}
EXERCISERS = {"floor", "clinician"}
DOCTORS = {"clinician", "physician"}
INTAKE = {"clinician", "manager"}
READS_REFERRALS = ALL
KEEPERS = {"manager", "administrator"}
LISTS = {"clinician", "manager", "administrator"}

# route: (method, which row its key is of, roles that may)
TABLE = {
    "home": ("get", None, ALL),
    "staff:password": ("get", None, ALL),
    "staff:choose-site": ("post", None, ALL),
    "staff:mine": ("get", None, ALL),
    "staff:logout": ("post", None, ALL),
    "staff:settings": ("get", None, {"administrator"}),
    "staff:looks": ("get", None, {"administrator"}),
    "patients:list": ("get", None, CLINICAL),
    "patients:details": ("get", "patient", CLINICAL),
    "patients:background": ("get", "patient", CLINICAL),
    "patients:add-background": ("post", "patient", CLINICAL),
    "patients:end-background": ("post", "patient", CLINICAL),
    "enrolment:referrals": ("get", None, READS_REFERRALS),
    "enrolment:add-referral": ("get", None, INTAKE),
    "enrolment:referral": ("get", "referral", READS_REFERRALS),
    "enrolment:change-referral": ("get", "referral", INTAKE),
    "enrolment:confirm-eligibility": ("post", "referral", DOCTORS),
    "enrolment:log-contact": ("post", "referral", INTAKE),
    "enrolment:close-referral": ("post", "referral", INTAKE),
    "enrolment:enrol": ("post", "referral", {"clinician"}),
    "enrolment:assign": ("post", "referral", INTAKE),
    "enrolment:papers": ("post", "referral", INTAKE),
    "enrolment:wait-for-seat": ("post", "referral", INTAKE),
    "enrolment:phone-script": ("get", "referral", READS_REFERRALS),
    "enrolment:waiting-list": ("get", None, READS_REFERRALS),
    "enrolment:closed-referrals": ("get", None, READS_REFERRALS),
    "enrolment:letter": ("get", "enrolment", CLINICAL),
    "enrolment:sessions-file": ("get", "enrolment", CLINICAL),
    "enrolment:risk": ("get", "patient", CLINICAL),
    "enrolment:stratify": ("get", "patient", DOCTORS),
    "enrolment:screen": ("get", "patient", DOCTORS),
    "enrolment:classes": ("get", None, ALL),
    "enrolment:add-class": ("get", None, KEEPERS),
    "enrolment:edit-class": ("get", "slot", KEEPERS),
    "enrolment:close-day": ("get", None, KEEPERS | {"clinician"}),
    "enrolment:open-day": ("post", "closure", KEEPERS | {"clinician"}),
    "enrolment:change-class": ("get", None, KEEPERS | {"clinician"}),
    "enrolment:policy": ("get", None, DOCTORS | KEEPERS),
    "enrolment:add-payer": ("get", None, {"administrator"}),
    "enrolment:edit-payer": ("get", "payer", {"administrator"}),
    "enrolment:copy-rule-set": ("get", "key", {"administrator"}),
    "enrolment:edit-rule-set": ("get", "rule_set", {"administrator"}),
    "enrolment:edit-supervision": ("get", "key", {"administrator"}),
    "enrolment:add-protocol": ("get", None, {"administrator"}),
    "enrolment:edit-protocol": ("get", "protocol", {"administrator"}),
    "enrolment:upload": ("get", None, LISTS),
    "enrolment:list": ("get", "list", LISTS),
    "enrolment:list-layout": ("get", "layout", LISTS),
    "enrolment:take-in": ("post", "list", LISTS),
    "enrolment:refused-rows": ("get", "list", LISTS),
    "assessments:change-course": ("get", "enrolment", {"clinician"}),
    "review:without-plan": ("get", None, CLINICAL | {"manager"}),
    "review:progression": ("get", None, CLINICAL),
    "review:step": ("get", "enrolment", CLINICAL),
    "review:take-step": ("post", "enrolment", DOCTORS),
    "review:plan": ("get", "enrolment", CLINICAL),
    "review:write-draft": ("post", "enrolment", DOCTORS),
    "review:queue": ("get", None, CLINICAL),
    "review:version": ("get", "plan", CLINICAL),
    "review:sign-plan": ("post", "plan", {"physician"}),
    "prescription:policy": ("get", None, CLINICAL | KEEPERS),
    "prescription:edit-policy": ("get", None, {"physician", "administrator"}),
    "prescription:edit-machine": ("get", "key", {"physician", "administrator"}),
    "review:sign-opened": ("post", None, {"physician"}),
    "review:send-back": ("post", "plan", {"physician"}),
    "review:on-paper": ("get", "plan", DOCTORS),
    "prescription:sign-prescription": ("post", "prescription", {"physician"}),
    "attendance:today": ("get", None, CLINICAL),
    "attendance:arrive": ("post", "planned", EXERCISERS),
    "attendance:absent": ("get", "planned", EXERCISERS),
    "attendance:undo": ("post", "planned", EXERCISERS),
    "attendance:make-up": ("get", "planned", EXERCISERS),
    "attendance:give-up-make-up": ("post", "planned", EXERCISERS),
    "attendance:call": ("get", "enrolment", EXERCISERS),
    "attendance:book-missing": ("post", "enrolment", {"clinician"}),
    "attendance:undo-missing": ("post", "enrolment", {"clinician"}),
    "attendance:line": ("post", "planned", EXERCISERS),
    "attendance:stop": ("post", "visit", EXERCISERS),
    "attendance:undo-stop": ("post", "visit", EXERCISERS),
    "attendance:undo-all": ("post", "slot", EXERCISERS),
    "attendance:arrive-all": ("post", "slot", EXERCISERS),
    "attendance:add-someone": ("get", "slot", EXERCISERS),
    "attendance:sheet": ("get", "visit", CLINICAL),
    "attendance:live": ("post", "visit", CLINICAL),
    "attendance:rows": ("get", None, CLINICAL),
    "attendance:go-on": ("post", "visit", EXERCISERS),
    "attendance:answer": ("post", "visit", CLINICAL),
    "attendance:take-back": ("post", "visit", EXERCISERS),
    "attendance:correct-arrival": ("post", "visit", EXERCISERS),
    "attendance:write-up": ("post", "interruption", CLINICAL),
    "attendance:carbohydrate": ("post", "visit", EXERCISERS),
    "attendance:recheck": ("post", "visit", EXERCISERS),
    "attendance:units": ("post", "visit", CLINICAL),
    "attendance:open-class": ("get", "slot", EXERCISERS),
    "attendance:start-ready": ("post", "slot", EXERCISERS),
    "attendance:close-class": ("get", "slot", EXERCISERS),
    "attendance:reopen-class": ("post", "slot", EXERCISERS),
    "attendance:teach-class": ("get", "slot", EXERCISERS),
    "attendance:teaching": ("get", "enrolment", CLINICAL),
    "attendance:withdraw-teaching": ("post", "teaching", EXERCISERS),
    "attendance:events": ("get", None, CLINICAL),
    "attendance:start-event": ("post", None, CLINICAL),
    "attendance:event": ("get", "event", CLINICAL),
    "attendance:add-entry": ("post", "event", CLINICAL),
    "attendance:correct-entry": ("post", "entry", CLINICAL),
    "attendance:withdraw-entry": ("post", "entry", CLINICAL),
    "attendance:review-event": ("post", "event", DOCTORS),
    "attendance:rules": ("get", None, ALL),
    "attendance:edit-limit": ("get", "key", {"physician", "administrator"}),
    "attendance:person-limits": ("get", "patient", CLINICAL),
    "attendance:end-limit": ("post", "limit", DOCTORS),
    "attendance:plan-of-day": ("get", "slot", CLINICAL),
    "attendance:session-record": ("get", "visit", CLINICAL),
    "attendance:emergency-card": ("get", "patient", CLINICAL),
    "staff:readiness": ("get", None, ALL),
    "staff:check": ("post", None, EXERCISERS),
    "staff:drill": ("post", None, {"clinician", "manager", "administrator"}),
    "staff:withdraw-drill": ("post", "drill", {"clinician", "manager", "administrator"}),
    "staff:add-card": ("get", None, KEEPERS),
    "staff:edit-card": ("get", "card", KEEPERS),
    "assessments:choose": ("get", "assessment", {"clinician"}),
    "assessments:run": ("get", "assessment", {"clinician"}),
    "assessments:test-sets": ("get", None, {*CLINICAL, "administrator"}),
    "assessments:policy": ("get", None, {"administrator"}),
    "assessments:change-target": ("get", "key", {"administrator"}),
    "assessments:book-many": ("get", None, {"clinician"}),
    "assessments:take": ("post", "enrolment", {"clinician"}),
    "assessments:not-obtained": ("post", "enrolment", {"clinician"}),
    "assessments:hand-over": ("post", "concern", {"clinician", "physician"}),
    "assessments:change-equation": ("get", "key", {"administrator"}),
    "assessments:change-set": ("get", "key", {"administrator"}),
    "assessments:course": ("get", "enrolment", CLINICAL),
    "assessments:open": ("post", "enrolment", {"clinician"}),
    "assessments:record": ("get", "assessment", CLINICAL),
    "assessments:book": ("post", "assessment", {"clinician"}),
    "assessments:mark-in-error": ("post", "measurement", {"clinician"}),
    "assessments:concern": ("get", "concern", CLINICAL),
    "prescription:prescribe": ("get", "enrolment", CLINICAL),
    "prescription:work-out": ("post", "enrolment", DOCTORS),
    "reports:due": ("get", None, CLINICAL | {"manager"}),
    "reports:journey": ("get", "patient", CLINICAL),
    "reports:outcomes": ("get", "patient", CLINICAL),
    "reports:sheets": ("get", "patient", CLINICAL),
    "reports:outcomes-pdf": ("get", "patient", CLINICAL),
    "reports:doctor-letter": ("get", "enrolment", CLINICAL),
    "reports:home-exercise": ("get", "patient", CLINICAL),
    "reports:wallet-card": ("get", "patient", CLINICAL),
    "reports:maintenance-plan": ("get", "patient", CLINICAL),
    "reports:changes": ("get", "patient", DOCTORS),
    "reports:course-calendar": ("get", "enrolment", CLINICAL),
    "reports:outlook": ("get", None, DOCTORS | {"manager"}),
    "reports:program": ("get", None, DOCTORS | {"manager"}),
    "reports:program-people": ("get", None, DOCTORS),
    "reports:program-gains": ("get", None, DOCTORS | {"manager"}),
    "reports:program-running": ("get", None, DOCTORS | {"manager"}),
    "reports:keep-question": ("post", None, DOCTORS | {"manager"}),
    "reports:drop-question": ("post", None, DOCTORS | {"manager"}),
    "reports:program-targets": ("get", None, {"manager"}),
    "reports:program-export": ("get", None, DOCTORS | {"manager"}),
    "reports:program-export-people": ("get", None, {"manager"}),
}
OPEN_TO_ALL = {"staff:login"}
ADMIN_PAGES = [
    "admin:index",
    "admin:staff_site_changelist",
    "admin:staff_user_changelist",
    "admin:staff_credential_changelist",
]


def routes(resolver=None, space=""):
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            inner = pattern.namespace
            yield from routes(pattern, f"{space}{inner}:" if inner else space)
        elif isinstance(pattern, URLPattern):
            yield f"{space}{pattern.name}"


KEYS = {
    "enrolment:copy-rule-set": {"key": "medicare"},
    "enrolment:edit-supervision": {"risk_class": "high"},
    "attendance:edit-limit": {"key": "E-01-hold"},
    "attendance:units": {"what": "glucose"},
    "prescription:edit-machine": {"kind": "treadmill"},
    "assessments:run": {"key": "six_minute_walk"},
    "assessments:change-equation": {"key": "six_minute_walk"},
    "assessments:change-target": {"key": "ldl"},
    "assessments:change-set": {"kind": "baseline"},
    "assessments:not-obtained": {"kind": "informal", "number": 2},
    "patients:add-background": {"kind": "medicine"},
    "patients:end-background": {"kind": "medicine"},
}


def address(name, rows):
    _, row, _ = TABLE[name]
    keys = {} if row is None or row == "key" else {"pk": rows[row].pk}
    keys |= KEYS.get(name, {})
    if name == "patients:end-background":
        keys["row"] = rows["medicine"].pk
    return reverse(name, kwargs=keys)


def test_table_holds_every_route():
    named = {name for name in routes() if not name.startswith("admin:")}
    assert named == set(TABLE) | OPEN_TO_ALL


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", TABLE)
def test_role_may_or_may_not(client, people, rows, name, role):
    method, _, allowed = TABLE[name]
    client.force_login(people[role])
    data = {"site": rows["patient"].site_id} if name == "staff:choose-site" else {}
    status = getattr(client, method)(address(name, rows), data).status_code
    if role in allowed:
        assert status in {200, 302}
    else:
        assert status == 403


@pytest.mark.parametrize("name", TABLE)
def test_nobody_gets_in_without_signing_in(client, rows, name):
    method, _, _ = TABLE[name]
    response = getattr(client, method)(address(name, rows))
    assert response.status_code == 302
    assert response.url.startswith(reverse("staff:login"))


@pytest.mark.parametrize(
    "name", [n for n, (_, row, _) in TABLE.items() if row not in (None, "key")]
)
def test_row_of_another_site_does_not_exist(client, people, house, name):
    method, _, allowed = TABLE[name]
    foreign = house[3]
    client.force_login(people[sorted(allowed)[0]])
    assert getattr(client, method)(address(name, foreign)).status_code == 404


@pytest.mark.parametrize("name", ADMIN_PAGES)
@pytest.mark.parametrize("role", ROLES)
def test_admin_is_for_administrators(client, people, name, role):
    user = people[role]
    user.is_staff = True
    user.save()
    client.force_login(user)
    status = client.get(reverse(name)).status_code
    if role == "administrator":
        assert status == 200
    else:
        assert status in {302, 403}


def test_admin_deletes_nothing(client, people):
    admin = people["administrator"]
    admin.is_staff = True
    admin.save()
    client.force_login(admin)
    for page in ["staff_site", "staff_user"]:
        row = admin if page == "staff_user" else admin.my_sites()[0]
        assert client.get(reverse(f"admin:{page}_delete", args=[row.pk])).status_code == 403
        assert client.get(reverse(f"admin:{page}_change", args=[row.pk])).status_code == 200


def test_every_post_route_refuses_get(client, people, rows):
    for name, (method, _, allowed) in TABLE.items():
        if method == "post":
            client.force_login(people[sorted(allowed)[0]])
            assert client.get(address(name, rows)).status_code in {404, 405}, name
