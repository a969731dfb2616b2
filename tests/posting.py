"""What is posted to every route that takes a form: refused first, then corrected.

A case gives the role, what is refused, what is typed in its place, and a word of the refused form
that the answer must still show. Routes that only carry out a press have nothing to refuse.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import time, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from programs.attendance.events.services import stamp_of
from programs.attendance.models import ClassMeeting
from programs.enrolment.calc.risk import CRITERIA
from programs.enrolment.lists import services as lists
from programs.staff.calc.readiness import ITEMS
from programs.staff.models import User
from reports.models import KeptQuestion
from tests.easy_week import an_easy_week
from tests.factories.attendance import FindingFactory, ReadingFactory, VisitFactory
from tests.factories.enrolment import ClassSlotFactory, PlannedSessionFactory, ReferralFactory
from tests.factories.staff import UserFactory

Data = dict[str, Any]


@dataclass(frozen=True)
class Case:
    role: str
    wrong: Callable[[Any], Data]
    right: Callable[[Any], Data]  # over what was refused
    keeps: str = ""  # typed in the refused form, and still shown
    prepare: Callable[[Any], None] = field(default=lambda rows: None)
    query: str = ""
    path: Callable[[Any], str] | None = None


def today(rows, days=0):
    return f"{rows['patient'].site.today() + timedelta(days=days)}"


def case(role, wrong, right, keeps="", **more):
    """Data as it stands, or a function of the rows."""
    given = [x if callable(x) else (lambda rows, x=x: x) for x in (wrong, right)]
    return Case(role, *given, keeps, **more)


def file_of(text, name="list.csv"):
    return lambda rows: {"file": SimpleUploadedFile(name, text)}


# --- what a case needs beside the rows that every page has --------------------------------------


def kept_question():
    return KeptQuestion.objects.get()


def finding(rows):
    rows["finding"] = FindingFactory(visit=rows["visit"], decision="", reason="", by=None)


def held(rows):
    rows["visit"].state = "held"
    rows["visit"].save()


def late_class(rows):
    """Nobody sits in two classes at the same hour."""
    rows["slot"].starts_at = time(22, 30)
    rows["slot"].save()


def opened(rows):
    meeting = rows["visit"].meeting
    meeting.opened_at, meeting.opened_by = timezone.now(), rows["by"]
    meeting.save()


def low(rows):
    ReadingFactory(visit=rows["visit"], glucose_mgdl=62)


def unperformed(rows):
    row = rows["assessment"]
    row.measurements.update(error_reason="wrong person")
    row.performed_on, row.by = None, None
    row.save()


def written(rows):
    event = rows["event"]
    event.what, event.outcome = "Felt faint on the treadmill", "Went home well"
    event.save()


def somebody_is_here(rows):
    planned = PlannedSessionFactory(enrolment__patient__site=rows["patient"].site,
                                    slot=rows["slot"])  # fmt: skip
    meeting = ClassMeeting.objects.get(slot=rows["slot"])
    rows["here"] = VisitFactory(enrolment=planned.enrolment, meeting=meeting)


def absent(rows):
    """Missed today; a class of this weekday has seats next week."""
    planned = rows["planned"]
    meeting, _ = ClassMeeting.objects.get_or_create(slot=planned.slot, on=planned.on)
    found = {"enrolment": planned.enrolment, "meeting": meeting}
    VisitFactory(**found, state="absent", absence="ill", arrived_at=None)
    free_class(rows)


def made_up(rows):
    absent(rows)
    planned, free = rows["planned"], rows["free"]
    stands_for = {"makes_up_on": planned.on, "makes_up_slot": planned.slot}
    later = planned.on + timedelta(days=7)
    PlannedSessionFactory(enrolment=planned.enrolment, slot=free, on=later, **stands_for)


def twice_missed(rows):
    """Two sessions missed in a row without a reason, the last one yesterday."""
    course, day = rows["enrolment"], rows["patient"].site.today()
    for n in (8, 1):
        on = day - timedelta(days=n)
        slot = ClassSlotFactory(site=rows["patient"].site, weekday=on.weekday())
        meeting = ClassMeeting.objects.create(slot=slot, on=on)
        missed = {"state": "absent", "absence": "unknown", "arrived_at": None}
        VisitFactory(enrolment=course, meeting=meeting, **missed)
    course.visits.filter(on=day).update(state="expected", arrived_at=None)


def lacking(rows):
    """A course of usual classes with nothing booked."""
    course = rows["enrolment"]
    course.slots.add(ClassSlotFactory(site=rows["patient"].site))


def ready_to_step(rows):
    """A week of easy sessions upon a dose that is signed up to more."""
    course = rows["enrolment"]
    rows["prescription"].replaced_on = rows["prescription"].valid_from
    rows["prescription"].save()
    rows["dose"] = an_easy_week(course, UserFactory(role="physician"))


def nobody_is_left(rows):
    """What keeps a class from closing is not typed on its form."""
    rows["here"].state, rows["here"].minutes = "finished", 41
    rows["here"].save()
    return {}


def free_class(rows):
    rows["free"] = ClassSlotFactory(site=rows["patient"].site)


def confirmed(rows):
    rows["referral"] = ReferralFactory(patient__site=rows["patient"].site, confirmed=True)
    free_class(rows)


PLAN = {"goals": "Climb two flights", "psychosocial_intervention": "PHQ-9 in week 6"}
DOSE = {"method": "exertion", "rpe_low": "12", "rpe_high": "13", "minutes": "30", "per_week": "3"}
CLASS = {"weekday": "1", "starts_at": "15:30", "minutes": "60", "staff_needed": "2"}
CLASS |= {"ecg_channels": "8", "is_open": "on"}
RULES = {"name": "House rules", "mi_months": "12", "max_lvef_percent": "35", "therapy_weeks": "6"}
RULES |= {"stable_weeks": "6", "planned_months": "6"}
SUPERVISED = {"supervised_low": "10", "supervised_high": "36", "supervised_days": "90"}
SUPERVISED |= {"ecg_low": "6"}
PERSON = {"given_name": "Mara", "family_name": "Holt", "born_on": "1958-02-03", "sex": "female"}
REFERRAL = {"kind": "pci", "event_on": "2026-01-10", "source": "ward"}
COLUMNS = {
    "columns": "1", "column_1": "sideways", "column_2": "born_on", "column_3": "referred_on",
}  # fmt: skip
NONE_OF = {c.id: "no" for c in CRITERIA if c.limit is None and c.kind != "symptoms"}
CLOSED = {"form": "teaching", "component": "aerobic", "topic": "Warming up"}

CASES: dict[str, Case] = {
    # staff
    "staff:password": case(
        "floor",
        {
            "old_password": "wrong horse",
            "new_password1": "x" * 6 + "battery staple 9",
            "new_password2": "x" * 6 + "battery staple 9",
        },
        {"old_password": "correct horse battery"},
        prepare=lambda rows: rows["by"].set_password("correct horse battery") or rows["by"].save(),
    ),
    "staff:mine": case(
        "floor", {"shows_pounds": "yes", "has_letter_keys": "?"}, {"has_letter_keys": "no"}
    ),
    "staff:check": case(
        "floor",
        {k: "no" for k, _, _ in ITEMS},
        {"note": "AED away, spare in use"},
    ),
    "staff:drill": case(
        "clinician",
        lambda r: {"on": today(r, 2), "scenario": "Faint", "who": "All of us"},
        lambda r: {"on": today(r)},
        "All of us",
    ),
    "staff:add-card": case(
        "manager",
        lambda r: {"user": r["by"].pk, "kind": "BLS", "number": "C-77"},
        lambda r: {"expires_on": today(r, 90)},
        "C-77",
    ),
    "staff:edit-card": case(
        "manager",
        lambda r: {"user": r["by"].pk, "kind": "BLS", "number": "C-78"},
        lambda r: {"expires_on": today(r, 91)},
        "C-78",
    ),
    # patients
    "patients:details": case(
        "clinician",
        lambda r: {
            "given_name": "",
            **{k: PERSON[k] for k in list(PERSON)[1:]},
            "seen_version": r["patient"].version,
        },
        {"given_name": "Mara"},
        "Holt",
    ),
    "patients:add-background": case(
        "clinician",
        lambda r: {
            "medicine-name": "Metoprolol",
            "medicine-drug_class": "beta_blocker",
            "medicine-started_on": today(r, 3),
        },
        lambda r: {"medicine-started_on": today(r, -3)},
        "Metoprolol",
    ),
    "patients:end-background": case(
        "clinician",
        lambda r: {"bpm": "187", "read_on": today(r, 3)},
        lambda r: {"read_on": today(r)},
        "187",
        path=lambda r: f"/patients/{r['patient'].pk}/background/device/{r['device'].pk}/end/",
    ),
    # enrolment
    "enrolment:add-referral": case(
        "clinician",
        lambda r: PERSON | REFERRAL | {"referred_on": today(r, 4)},
        lambda r: {"referred_on": today(r)},
        "Holt",
    ),
    "enrolment:change-referral": case(
        "clinician",
        lambda r: (
            REFERRAL
            | {
                "referred_on": today(r, 4),
                "source_name": "Ward 7",
                "seen_version": r["referral"].version,
            }
        ),
        lambda r: {"referred_on": today(r, -9)},
        lambda r: today(r, 4),
    ),
    "enrolment:confirm-eligibility": case(
        "clinician",
        {"decision": "", "reason": "as the surgeon wrote"},
        {"decision": "eligible"},
        "as the surgeon wrote",
    ),
    "enrolment:log-contact": case(
        "clinician",
        {"how": "phone", "note": "Daughter answered", "outcome": ""},
        {"outcome": "reached"},
        "Daughter answered",
    ),
    "enrolment:close-referral": case(
        "clinician",
        {"why_not": "", "note": "moves to her son"},
        {"why_not": "declined"},
        "moves to her son",
    ),
    "enrolment:enrol": case(
        "clinician",
        lambda r: {"starts_on": today(r, -3), "sessions": "7", "slots": [r["free"].pk]},
        lambda r: {"starts_on": today(r, 1)},
        'value="7"',
        prepare=confirmed,
    ),
    "enrolment:assign": case(
        "clinician",
        {"owner": "0"},
        lambda r: {"owner": r["by"].pk},
    ),
    "enrolment:papers": case(
        "clinician",
        {"of": "Ward 7"},
        {"ask": ["order"]},
        "Ward 7",
    ),
    "enrolment:wait-for-seat": case(
        "clinician",
        {"per_week": "9", "weekdays": ["1"]},
        {"per_week": "2"},
    ),
    "enrolment:stratify": case(
        "clinician",
        NONE_OF | {"occasion": "entry", "reason": "as discussed"},
        {"has_test": "no", **dict.fromkeys([c.id for c in CRITERIA if c.is_of_test], "")},
        "as discussed",
    ),
    "enrolment:screen": case(
        "clinician",
        {"decision": "", "reason": "seen with the physician"},
        {"decision": "not_yet"},
        "seen with the physician",
    ),
    "enrolment:add-class": case("manager", CLASS, {"seats": "6"}, "15:30"),
    "enrolment:edit-class": case(
        "manager",
        lambda r: CLASS | {"seats": "", "weekday": r["slot"].weekday},
        {"seats": "7"},
        "15:30",
    ),
    "enrolment:close-day": case(
        "manager",
        {"closure-reason": "Burst pipe", "closure-on": ""},
        lambda r: {"closure-on": today(r, 40)},
        "Burst pipe",
    ),
    "enrolment:change-class": case(
        "manager",
        lambda r: {
            "change-slot": r["slot"].pk,
            "change-reason": "Staff away",
            "change-is_cancelled": "on",
        },
        lambda r: {"change-on": today(r, 28)},
        "Staff away",
    ),
    "enrolment:add-payer": case(
        "administrator",
        {"name": "", "shipped": "medicare", "is_active": "on"},
        {"name": "North Mutual"},
    ),
    "enrolment:edit-payer": case(
        "administrator",
        {"name": "", "shipped": "medicare", "is_active": "on"},
        {"name": "South Mutual"},
    ),
    "enrolment:copy-rule-set": case(
        "administrator",
        RULES,
        {"source": "contract of 2026"},
        "House rules",
    ),
    "enrolment:edit-rule-set": case(
        "administrator",
        lambda r: RULES | {"seen_version": r["rule_set"].version},
        {"source": "contract of 2026"},
        "House rules",
    ),
    "enrolment:edit-supervision": case(
        "administrator",
        SUPERVISED | {"source": "own protocol"},
        {"ecg_high": "18"},
        "own protocol",
    ),
    "enrolment:add-protocol": case(
        "administrator",
        {"access": "chest", "days": "56", "source": "own protocol"},
        {"instruction": "No lifting above 5 kg"},
        "own protocol",
    ),
    "enrolment:edit-protocol": case(
        "administrator",
        {"access": "sternum", "days": "56", "source": "own protocol", "instruction": ""},
        {"instruction": "No lifting above 4 kg"},
        "own protocol",
    ),
    "enrolment:upload": case(
        "clinician",
        {},
        file_of(b"Name;DOB;Referral date\nA, A;1960-01-01;2026-01-01"),
    ),
    "enrolment:list": case(
        "clinician",
        lambda r: COLUMNS | {"edition": lists.edition(r["list"])},
        {"column_1": "full_name"},
        "Use these columns",
    ),
    "enrolment:list-layout": case(
        "clinician",
        {"layout_name": "", "is_active": "on", "forget": ["dates"], "seen_version": "1"},
        {"layout_name": "Ward 6"},
        "checked",
    ),
    # prescription and review
    "prescription:prescribe": case(
        "clinician",
        DOSE | {"minutes": "", "note": "Shoulder sore"},
        {"minutes": "35"},
        "Shoulder sore",
    ),
    "prescription:edit-policy": case(
        "administrator",
        {
            "highest_rpe": "16",
            "highest_percent": "80",
            "icd_margin_bpm": "9",
            "most_minutes": "45",
            "source": "own protocol",
            "seen_version": "0",
        },
        {"icd_margin_bpm": "12"},
        "own protocol",
    ),
    "prescription:edit-machine": case(
        "administrator",
        {"is_in_use": "on", "least": "1.5", "most": "", "step": "0.1", "seen_version": "0"},
        {"most": "12"},
        "1.5",
    ),
    "reports:program-targets": case(
        "manager",
        {
            "got_in": "130",
            "finished": "70",
            "finished_by": "36-in-36",
            "source": "quality board",
            "seen_version": "0",
        },
        {"got_in": "65"},
        "quality board",
    ),
    "review:plan": case(
        "clinician",
        lambda r: PLAN | {"goal_ldl": "4000", "seen_version": r["plan"].version},
        {"goal_ldl": "70"},
        "PHQ-9 in week 6",
    ),
    "review:send-back": case(
        "physician",
        lambda r: {"because": "other", "seen_version": r["plan"].version},
        {"words": "Seen by nobody yet"},
    ),
    "review:on-paper": case(
        "clinician",
        lambda r: {
            "signer": User.objects.get(role="physician").pk,
            "on": today(r),
            "scan": "",
            "dose": r["prescription"].pk,
            "seen_version": r["plan"].version,
        },
        {"scan": "Cabinet 3, folder 12"},
    ),
    "review:step": case(
        "clinician",
        lambda r: {"dose": r["dose"].pk, "minutes": "", "mets": "3.1"},
        {"minutes": "32"},
        "3.1",
        prepare=ready_to_step,
    ),
    # assessments
    "assessments:change-course": case(
        "clinician",
        {"step": "pause", "pause-from_on": "", "pause-reason": "travels"},
        lambda r: {"pause-from_on": today(r, 2)},
        "travels",
    ),
    "assessments:choose": case(
        "clinician",
        lambda r: {"limit": ["endurance"], "seen_version": r["assessment"].version},
        {"test": ["six_minute_walk"]},
    ),
    "assessments:policy": case(
        "administrator",
        {"informal_every_days": "14", "longest_course_m": "31"},
        {"reason": "new corridor"},
        "31",
    ),
    "assessments:change-target": case(
        "administrator",
        {"amount": "52"},
        {"reason": "as the cardiologists ask"},
        "52",
    ),
    "assessments:change-equation": case(
        "administrator",
        {"reason": "as the hospital does"},
        {"equation": "2"},
        "as the hospital does",
    ),
    "assessments:change-set": case(
        "administrator",
        {"reason": "no corridor"},
        {"tests": ["grip_strength"]},
        "no corridor",
    ),
    "assessments:book-many": case(
        "clinician",
        {},
        lambda r: {"take": [r["line"]], f"on-{r['line']}": today(r, 3)},
        query="?ahead=84",
    ),
    "assessments:not-obtained": case("clinician", {"reason": ""}, {"reason": "did not come"}),
    "assessments:hand-over": case("clinician", {"to": "0"}, lambda r: {"to": r["by"].pk}),
    "assessments:record": case(
        "clinician",
        lambda r: {
            "performed_on": today(r, 3),
            "six_minute_walk-distance_m": "411",
            "six_minute_walk-course_m": "30",
            "seen_version": r["assessment"].version,
        },
        lambda r: {"performed_on": today(r)},
        "411",
    ),
    "assessments:book": case(
        "clinician",
        lambda r: {"planned_on": today(r, -3)},
        lambda r: {"planned_on": today(r, 3)},
        lambda r: today(r, -3),
        prepare=unperformed,
    ),
    "assessments:mark-in-error": case("clinician", {"reason": ""}, {"reason": "wrong person"}),
    "assessments:concern": case(
        "clinician",
        {"outcome": "Talked"},
        {"outcome": "Talked with her at length; Dr Lind informed."},
        "Talked",
    ),
    # attendance
    "attendance:add-someone": case(
        "floor",
        {"enrolment": "0"},
        lambda r: {"enrolment": r["visit"].enrolment_id},
        prepare=late_class,
    ),
    "attendance:make-up": case(
        "floor",
        {"sitting": "soon"},
        lambda r: {"sitting": f"{today(r, 7)}:{r['free'].pk}"},
        "Make-up for",
        prepare=absent,
    ),
    "attendance:call": case(
        "floor",
        lambda r: {"how": "phone", "note": "Her bus is gone", "missed_until": today(r, -1)},
        {"outcome": "reached"},
        "Her bus is gone",
        prepare=twice_missed,
    ),
    "attendance:go-on": case(
        "floor",
        lambda r: {"step": "start", "seen_version": r["visit"].version, "decided_by": "Dr Lind"},
        {"rest": "the room was too loud"},
        "Dr Lind",
        prepare=opened,
    ),
    "attendance:sheet": case(
        "floor",
        lambda r: {
            "before_heart_rate_bpm": "710",
            "before_pressure": "127/73",
            "step": "save",
            "shows": "before",
            "seen_version": r["visit"].version,
        },
        {"before_heart_rate_bpm": "71"},
        "127/73",
    ),
    "attendance:answer": case(
        "clinician",
        lambda r: {"findings": [r["finding"].pk], "decision": "proceed", "told": "Dr Lind"},
        {"reason": "rested, 168/92"},
        "Dr Lind",
        prepare=finding,
    ),
    "attendance:take-back": case(
        "floor",
        lambda r: {"seen_version": r["visit"].version, "reason": ""},
        {"reason": "wrong person"},
        prepare=held,
    ),
    "attendance:correct-arrival": case(
        "floor",
        lambda r: {"seen_version": r["visit"].version, "at": "25:10"},
        {"at": "00:00"},
        "25:10",
    ),
    "attendance:write-up": case(
        "clinician",
        {"seen": "pale", "done": "sat down", "told": "Dr Lind"},
        {"return_condition": "pressure below 160"},
        "sat down",
        prepare=held,
    ),
    "attendance:carbohydrate": case(
        "floor",
        {"grams": "900", "what": "apple juice"},
        {"grams": "15"},
        "apple juice",
    ),
    "attendance:recheck": case(
        "floor",
        {"recheck_mgdl": "9999"},
        {"recheck_mgdl": "104"},
        "9999",
        prepare=low,
    ),
    "attendance:open-class": case(
        "floor",
        {"presence": "", "staff": []},
        {"exception": "the second nurse is on the way"},
    ),
    "attendance:close-class": case(
        "floor",
        lambda r: {f"absence-{r['planned'].pk}": "weather"},
        nobody_is_left,
        'value="weather" selected',
        prepare=somebody_is_here,
    ),
    "attendance:teach-class": case(
        "floor",
        {"component": "aerobic", "topic": "Warming up", "on": ""},
        lambda r: {"on": today(r)},
        "Warming up",
        path=lambda r: f"/classes/{r['visit'].meeting.slot_id}/teach/",
    ),
    "attendance:teaching": case(
        "floor",
        lambda r: CLOSED | {"on": today(r, 2)},
        lambda r: {"on": today(r)},
        "Warming up",
    ),
    "attendance:event": case(
        "floor",
        lambda r: {
            "kind": "fall",
            "happened_at": "2999-01-01T10:00",
            "what": "Slipped on a wet floor",
            "patient": r["patient"].pk,
            "seen_version": r["event"].version,
        },
        {"happened_at": "2026-01-02T10:00"},
        "Slipped on a wet floor",
    ),
    "attendance:add-entry": case(
        "floor",
        {"words": "Ambulance here", "at": "2999-01-01T10:00"},
        {"at": "2026-01-02T10:00"},
        "Ambulance here",
    ),
    "attendance:correct-entry": case(
        "floor",
        lambda r: {
            "words": "Sat down on the mat",
            "at": "2999-01-01T10:00",
            "stamp": stamp_of(r["entry"]),
        },
        {"at": "2026-01-02T10:00"},
        "Sat down on the mat",
    ),
    "attendance:review-event": case(
        "clinician",
        lambda r: {"seen_version": r["event"].version, "review": ""},
        {"review": "The mat was wet; it is gone."},
        prepare=written,
    ),
    "attendance:edit-limit": case(
        "physician",
        {"limit": "9999", "reason": "local protocol 12"},
        {"limit": "175"},
        "local protocol 12",
    ),
    "attendance:person-limits": case(
        "clinician",
        {"rule_key": "E-02-hold", "limit": "9999", "reason": "after her stroke"},
        {"limit": "100"},
        "after her stroke",
    ),
    "attendance:end-limit": case(
        "clinician",
        {"reason": ""},
        {"reason": "seen by the cardiologist"},
    ),
}

# A press without anything typed: what it is sent with; sent twice it counts once.
PRESSES: dict[str, tuple[str, Callable[[Any], Data]]] = {
    "staff:withdraw-drill": ("clinician", lambda r: {}),
    "enrolment:open-day": ("manager", lambda r: {}),
    "enrolment:take-in": ("clinician", lambda r: {}),
    "assessments:take": ("clinician", lambda r: {}),
    "assessments:open": ("clinician", lambda r: {"kind": "exit", "number": "1"}),
    "review:sign-plan": (
        "physician",
        lambda r: {"seen_version": r["plan"].version, "dose": r["prescription"].pk},
    ),
    "review:sign-opened": (
        "physician",
        lambda r: {"opened": f"{r['plan'].pk}:{r['plan'].version}:{r['prescription'].pk}"},
    ),
    "review:write-draft": ("clinician", lambda r: {}),
    "reports:keep-question": ("manager", lambda r: {"name": "Women", "question": "sex=female"}),
    "reports:drop-question": ("manager", lambda r: {"question": kept_question().pk}),
    "review:take-step": ("clinician", lambda r: {"dose": r["dose"].pk}),
    "prescription:sign-prescription": ("physician", lambda r: {}),
    "attendance:arrive": ("floor", lambda r: {}),
    "attendance:absent": ("floor", lambda r: {"absence": "ill"}),
    "attendance:undo": ("floor", lambda r: {}),
    "attendance:give-up-make-up": ("floor", lambda r: {}),
    "attendance:book-missing": ("clinician", lambda r: {}),
    "attendance:undo-missing": ("clinician", lambda r: {}),
    "attendance:line": (
        "floor",
        lambda r: {"stage": "checkin", "step": "arrive", "before_heart_rate_bpm": "68"},
    ),
    "attendance:stop": ("floor", lambda r: {}),
    "attendance:undo-stop": ("floor", lambda r: {}),
    "attendance:arrive-all": ("floor", lambda r: {}),
    "attendance:undo-all": ("floor", lambda r: {}),
    "attendance:start-ready": ("floor", lambda r: {}),
    "attendance:reopen-class": ("floor", lambda r: {}),
    "attendance:withdraw-teaching": ("floor", lambda r: {}),
    "attendance:withdraw-entry": ("floor", lambda r: {}),
    "attendance:start-event": ("floor", lambda r: {"kind": "fall"}),
    "attendance:units": ("floor", lambda r: {"shows": "yes"}),
}

# Stores nothing that could be lost or counted twice.
STORES_NOTHING = {
    "staff:choose-site": "where somebody works now, in the session; an unknown site is a 404",
    "staff:logout": "ends the sign-in",
    "staff:login": "begins the sign-in",
    "attendance:live": "what the rules say of values being typed",
    "prescription:work-out": "what a dose comes to while it is typed",
}
