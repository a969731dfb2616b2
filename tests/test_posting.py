"""Every route that takes a form: refused, corrected, sent again with the same key, stored once."""

import pytest
from django.apps import apps
from django.urls import reverse
from django.utils import timezone

from patients.submissions import new_key
from programs.attendance.models import Visit
from programs.enrolment.models.referral_totals import COUNTED
from programs.review.services import sign_plan
from reports import keeping
from tests.factories.attendance import ClassMeetingFactory
from tests.factories.enrolment import EnrolmentFactory, PlannedSessionFactory
from tests.factories.patients import DeviceFactory
from tests.house import rows_at
from tests.posting import CASES, PRESSES, STORES_NOTHING, lacking, made_up, ready_to_step
from tests.routes.test_permissions import OPEN_TO_ALL, TABLE, address

pytestmark = pytest.mark.django_db
ROOMS = ["patients", "staff", "enrolment", "prescription", "attendance", "assessments", "reports"]
# What tells that a form was sent, not what was typed; and the counters of saves.
BESIDE_THE_RECORD = {"Submission", "AuditEvent", "PasswordPace"}
COUNTERS = {"version", "last_login"}
# Counted from the record when a figure asks, and said of a referral that it was.
COUNTED_WHEN_ASKED = {"DayTotals", "GainTotals", "SignatureTotals"}
# Pages to read: they take no form.
READ = {
    "home", "staff:settings", "staff:looks", "staff:readiness", "patients:list",
    "patients:background", "enrolment:referrals", "enrolment:referral", "enrolment:phone-script",
    "enrolment:waiting-list", "enrolment:closed-referrals", "enrolment:letter",
    "enrolment:sessions-file", "enrolment:risk",
    "enrolment:classes", "enrolment:policy", "enrolment:refused-rows", "assessments:test-sets",
    "assessments:course", "assessments:run", "attendance:today", "attendance:rows",
    "attendance:emergency-card", "attendance:session-record", "attendance:plan-of-day",
    "attendance:events", "attendance:rules", "reports:due", "reports:journey",
    "review:queue", "review:version", "review:without-plan",
    "review:progression", "prescription:policy",
    "reports:outcomes", "reports:changes", "reports:course-calendar", "reports:outlook",
    "reports:program", "reports:program-people", "reports:program-gains", "reports:program-running",
    "reports:program-export",
    "reports:program-export-people",
    "reports:sheets", "reports:outcomes-pdf", "reports:doctor-letter", "reports:home-exercise",
    "reports:wallet-card", "reports:maintenance-plan",
}  # fmt: skip


def record():
    """Every row of every room, without its versions."""
    found = {}
    for room in ROOMS:
        for model in apps.get_app_config(room).get_models(include_auto_created=True):
            name = model.__name__
            if name.startswith("Historical") or name in BESIDE_THE_RECORD | COUNTED_WHEN_ASKED:
                continue
            for row in model._base_manager.order_by("pk").values():
                kept = {k: v for k, v in row.items() if k not in COUNTERS | COUNTED}
                found[name, row[model._meta.pk.attname]] = repr(kept)
    return found


@pytest.fixture
def rows(site, people):
    found = rows_at(site)
    visit = found["visit"]
    PlannedSessionFactory(enrolment=visit.enrolment, slot=visit.meeting.slot)
    found["device"] = DeviceFactory(patient=found["patient"])
    found["people"] = people
    fresh = EnrolmentFactory(patient__site=site, starts_on=site.today())
    found["line"] = f"{fresh.pk}-six_weeks-1"
    return found


def target(name, rows, case=None):
    if case is not None and case.path is not None:
        return case.path(rows)
    return address(name, rows) + (case.query if case is not None else "")


def test_every_route_is_a_case_a_press_a_page_or_stores_nothing():
    listed = [*CASES, *PRESSES, *STORES_NOTHING, *READ]
    assert sorted(listed) == sorted({*TABLE, *OPEN_TO_ALL})
    posting = {name for name, (method, _, _) in TABLE.items() if method == "post"}
    assert not posting & READ
    print(f"{len(CASES)} forms and {len(PRESSES)} presses of {len(listed)} routes")


@pytest.mark.parametrize("name", sorted(READ))
def test_page_to_read_stores_nothing_however_it_is_asked(client, rows, people, name):
    client.force_login(people[sorted(TABLE[name][2])[0]])
    before = record()
    client.post(address(name, rows), {"submission_key": new_key(), "reason": "x", "note": "x"})
    assert record() == before


@pytest.mark.parametrize("name", sorted(CASES))
def test_refused_corrected_and_sent_again_is_stored_exactly_once(client, rows, people, name):
    case = CASES[name]
    rows["by"] = people[case.role]
    case.prepare(rows)
    rows["by"].refresh_from_db()
    client.force_login(rows["by"])
    to, key = target(name, rows, case), new_key()
    keys = {"submission_key": key, "event-submission_key": key}
    wrong = case.wrong(rows) | keys
    before = record()
    refused = client.post(to, wrong)
    assert refused.status_code in {200, 400}, f"went to {refused.headers.get('Location')}"
    assert record() == before, "what was refused is not stored"
    page = refused.content.decode()
    assert 'role="alert"' in page or 'aria-invalid="true"' in page, "nothing says why"
    keeps = case.keeps(rows) if callable(case.keeps) else case.keeps
    assert keeps in page, "what was typed stands in the refused form"
    right = wrong | case.right(rows)
    saved = client.post(to, right)
    errors = saved.context and [f.errors for f in forms_in(saved.context) if f.errors]
    assert saved.status_code == 302, errors
    once = record()
    assert once != before
    if "file" in right:  # read to its end by the first sending
        right |= case.right(rows)
    client.post(to, right)
    assert record() == once


def forms_in(context):
    """Every form a page was made with, to say in a failed test what refused it."""
    found = []
    for layer in context:
        for value in [v for part in layer.dicts for v in part.values()]:
            found += [f for f in (value.values() if isinstance(value, dict) else [value])
                      if hasattr(f, "errors")]  # fmt: skip
    return found


def plan_before(name, client, rows, people):
    """What must stand before a press: a plan opened, a plan signed, a question kept."""
    plan, dose = rows["plan"], rows["prescription"]
    if name == "review:sign-opened":
        client.get(reverse("review:queue"), {"plan": plan.enrolment_id})
    if name == "review:write-draft":
        sign_plan(plan, seen=plan.version, seen_dose=dose.pk, by=people["physician"])
    if name == "reports:drop-question":
        keeping.keep(people["manager"], "Women", "sex=female", with_days=False)


@pytest.mark.parametrize("name", sorted(PRESSES))
def test_press_sent_twice_counts_once(client, rows, people, site, name):
    role, data = PRESSES[name]
    client.force_login(people[role])
    if name == "assessments:take":
        rows["enrolment"].clinician = None
        rows["enrolment"].save()
    plan_before(name, client, rows, people)
    if name == "review:take-step":
        ready_to_step(rows)
    if name == "attendance:undo":
        client.post(reverse("attendance:arrive", args=[rows["planned"].pk]))
    if name == "attendance:give-up-make-up":
        made_up(rows)
    if name in {"attendance:book-missing", "attendance:undo-missing"}:
        lacking(rows)
    if name == "attendance:undo-missing":
        client.post(reverse("attendance:book-missing", args=[rows["enrolment"].pk]))
    if name == "attendance:undo-all":
        client.post(reverse("attendance:arrive-all", args=[rows["slot"].pk]))
    if name in {"attendance:stop", "attendance:undo-stop"}:
        now = timezone.now()
        ended = {"state": "stopped", "ended_at": now} if "undo" in name else {"state": "exercising"}
        began = {"arrived_at": now, "started_at": now}
        Visit.objects.filter(pk=rows["visit"].pk).update(**began | ended)
    if name == "attendance:reopen-class":
        ClassMeetingFactory._meta.model.objects.filter(slot=rows["slot"]).update(
            closed_at=site.now()
        )
    sent = data(rows) | {"submission_key": new_key()}
    before = record()
    assert client.post(address(name, rows), sent).status_code == 302
    once = record()
    assert once != before or name == "attendance:start-ready"  # nobody is ready
    client.post(address(name, rows), sent)
    assert record() == once
