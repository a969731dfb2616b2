"""The pages that are measured: every page that can be read, each as somebody who may read it.

What a page may cost beside the floor (a bare signed-in page) at 100,000 enrolments stands here
once, for the whole run by hand and for the short one.
"""

from dataclasses import dataclass
from typing import Any

from django.db import connection
from django.db.models import Count
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Assessment, Concern
from patients.models import Patient, PrecautionProtocol
from programs.attendance.models import SafetyEvent, Visit
from programs.enrolment.models import (
    ClassSlot,
    Enrolment,
    Payer,
    PlannedSession,
    Referral,
    SiteRuleSet,
)
from programs.staff.models import Credential, Site, User
from tests.benchmarks.measuring import FLOOR_URL
from tests.routes.test_permissions import KEYS, TABLE

USERS = {
    "floor": "rokafor",
    "clinician": "hvantongeren",
    "physician": "alindqvist",
    "manager": "cfairweather",
    "administrator": "iduarte",
}
# What these took at most when last measured, and half as much again for a machine that is shared.
KEPT_BESIDE_FLOOR = {
    "Due": 12.5,
    "Referrals": 4.0,
    "Journey": 4.8,
    "Outcomes": 4.8,
    "Changes": 4.2,
}
GROWTH = 1.3  # from 1,000 enrolments to 100,000
# Times the floor at 100,000 enrolments: on SQLite, on PostgreSQL.
BESIDE_FLOOR = {
    "Today": (1.5, 2.0),
    "Today, asked again": (1.5, 2.0),
    "Session sheet": (4, 4),
    "Due": (3, 3),
    "Referrals": (3, 3),
    "People": (3, 3),
    "Journey": (3, 3),
    "Outcomes": (3, 3),
    "Course": (3, 3),
    "Access log": (2, 2),
    "Changes": (2, 2),
}
MOST_MS = {"Start outlook": 300}
FIND_MS = 50  # somebody among 130,000 people


@dataclass(frozen=True)
class Page:
    """A page and who reads it."""

    name: str
    role: str
    url: str


def pages() -> list[Page]:
    """Every page, the ones with a bound first; searches, and the program over ten years."""
    rows = _rows()
    site, slot = rows["patient"].site_id, rows["slot"].pk
    here = f"?site={site}&class={slot}"
    old = Enrolment.objects.filter(
        patient__site=site, outcome="completed", pk__lt=10_000_000
    ).order_by("-starts_on", "pk").first()  # fmt: skip
    done = old or rows["enrolment"]
    named = [
        Page("Today", "floor", reverse("attendance:today") + here),
        Page("Today, asked again", "floor", reverse("attendance:rows") + here),
        Page("Session sheet", "floor", reverse("attendance:sheet", args=[rows["visit"].pk])),
        Page("Due", "clinician", reverse("reports:due")),
        Page("Referrals", "clinician", reverse("enrolment:referrals")),
        Page("People", "clinician", reverse("patients:list")),
        Page("Journey", "clinician", reverse("reports:journey", args=[done.patient_id])),
        Page("Outcomes", "clinician", reverse("reports:outcomes", args=[done.patient_id])),
        Page("Course", "clinician", reverse("assessments:course", args=[done.pk])),
        Page("Access log", "administrator", reverse("staff:looks")),
        Page("Changes", "clinician", reverse("reports:changes", args=[done.patient_id])),
        Page("Start outlook", "manager", reverse("reports:outlook")),
        *_searches(rows["patient"]),
        *_program(),
    ]
    taken = {page.url.split("?")[0] for page in named}
    others = [
        Page(name, _reader(roles), url)
        for name, (method, _, roles) in TABLE.items()
        if method == "get" and (url := _address(name, rows)) and url not in taken
    ]
    return [*named, *others]


def floor() -> Page:
    """The bare page."""
    return Page("floor", "clinician", FLOOR_URL)


def clients() -> dict[str, Client]:
    """Somebody of each role, signed in."""
    found = {}
    for role, name in USERS.items():
        found[role] = Client()
        found[role].force_login(User.objects.get(username=name))
    return found


def _searches(patient: Patient) -> list[Page]:
    url = reverse("patients:list")
    first, last = patient.given_name, patient.family_name
    asked = {
        "family name": last,
        "given, family": f"{first} {last}",
        "family, given": f"{last} {first}",
        "part of a name": last[:3],
        "birth date": patient.born_on.isoformat(),
        "record number": patient.record_number,
        "phone": patient.phone,
        "nobody": "zzyzx",
    }
    return [
        Page(f"People by {what}", "clinician", f"{url}?q={words.replace(' ', '+')}")
        for what, words in asked.items()
    ]


def _program() -> list[Page]:
    url = reverse("reports:program")
    now = timezone.localdate()
    ten = now.replace(year=now.year - 10, day=1)
    return [
        Page("Program, a year", "manager", url),
        Page("Program, ten years, ten sites", "manager", f"{url}?since={ten}&until={now}"),
    ]


def _reader(roles: set[str]) -> str:
    return next(
        role for role in ["clinician", "manager", "administrator", "floor"] if role in roles
    )


def _address(name: str, rows: dict[str, Any]) -> str:
    kind = TABLE[name][1]
    if kind is not None and kind != "key" and kind not in rows:
        return ""  # a list taken in, a drill: nothing of a person's past
    keys = {} if kind is None or kind == "key" else {"pk": rows[kind].pk}
    return reverse(name, kwargs=keys | KEYS.get(name, {}))


def _rows() -> dict[str, Any]:
    """A row of each kind, the same at every size: of the demo's own people, in a class of forty."""
    site = Site.objects.order_by("pk").first()
    assert site is not None
    today = site.today()
    full = (
        PlannedSession.objects.filter(on=today, slot__site=site)
        .values("slot").annotate(n=Count("pk")).order_by("-n", "slot").first()
    )  # fmt: skip
    assert full is not None
    assert full["n"] >= 40
    mine = Visit.objects.filter(on=today, meeting__slot=full["slot"], readings__isnull=False)
    # Who sits in this class differs by the day of the week: somebody who was assessed.
    visit = mine.filter(enrolment__assessments__isnull=False).order_by("pk").first()
    assert visit is not None
    course = visit.enrolment
    return {
        "patient": course.patient,
        "enrolment": course,
        "visit": visit,
        "slot": ClassSlot.objects.get(pk=full["slot"]),
        "planned": course.planned.get(on=today),
        "assessment": Assessment.objects.filter(enrolment=course).order_by("pk")[0],
        "referral": Referral.objects.waiting().filter(patient__site=site).order_by("pk")[0],
        "event": SafetyEvent.objects.order_by("pk")[0],
        "concern": Concern.objects.order_by("pk")[0],
        "card": Credential.objects.order_by("pk")[0],
        "payer": Payer.objects.filter(site=site).order_by("pk")[0],
        "rule_set": SiteRuleSet.objects.order_by("pk")[0],
        "protocol": PrecautionProtocol.objects.order_by("pk")[0],
    }


def is_kept(page: Page, beside_floor: float) -> bool:
    """Whether a page costs no more beside the floor than it may."""
    bounds = BESIDE_FLOOR.get(page.name)
    if bounds is None:
        return True
    return beside_floor <= bounds[connection.vendor == "postgresql"]
