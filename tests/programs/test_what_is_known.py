"""A fact counts wherever it was recorded: every fact, every place, every rule that reads it.

What each rule does stands in ``tests/calc/test_safety_rules.py`` with its source; here each place
must have the same effect, and the person without the fact must not have it.
"""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.utils import timezone

from patients.models import Condition, Procedure
from programs.attendance.calc.effort import Load
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.findings.known import known_of
from programs.attendance.findings.services import judge
from programs.attendance.limits.queries import rules_for
from programs.attendance.models import SafetyEvent
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.attendance import (
    InterruptionFactory,
    ReadingFactory,
    SafetyEventFactory,
    VisitFactory,
)
from tests.factories.enrolment import (
    EntryScreenFactory,
    ReferralFactory,
    RiskStratificationFactory,
)
from tests.factories.patients import (
    BodyWeightFactory,
    ConditionFactory,
    DeviceFactory,
    MedicineFactory,
    ProcedureFactory,
)
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def here(course):
    """Somebody who came today, with nothing on record but a stent of long ago."""
    visit = VisitFactory(enrolment=course, meeting__slot__site=course.patient.site)
    course.patient.conditions.update(happened_on=visit.on - timedelta(days=400))
    referral = course.referral
    return SimpleNamespace(
        visit=visit, course=course, patient=course.patient, referral=referral, on=visit.on
    )


def ago(here, **delta):
    return here.on - timedelta(**delta)


def said(here, sheet=None, *, exercising=False):
    """Findings by rule and level, and what is asked for."""
    visit = here.visit
    visit.refresh_from_db()
    if exercising:
        visit.state, visit.started_at = "exercising", timezone.now()
    judged = judge(visit, sheet or Sheet(), known_of(visit), rules_for(here.patient))
    found = {(f.rule_id, f.of.partition("@")[0], f.level.word) for f in judged.findings}
    return found, {(m.rule_id, m.asks_for) for m in judged.missing}


# --- what is typed today, so that a fact shows in what the rules say -----------------------------


def finds(rule, of, level, sheet=None, *, exercising=False):
    return lambda here: (rule, of, level) in said(here, sheet, exercising=exercising)[0]


def asks(rule, words, *, exercising=False):
    return lambda here: any(
        r == rule and words in asked for r, asked in said(here, exercising=exercising)[1]
    )


def gained(here):
    BodyWeightFactory(patient=here.patient, on=ago(here, days=2), kg=80.0)
    return ("E-10", "", "caution") in said(here, Sheet(before=Vitals(weight_kg=84.0)))[0]


def attacked(here):
    ConditionFactory(patient=here.patient, kind="mi", happened_on=ago(here, days=10))
    return ("E-16", "mi", "hold") in said(here)[0]


LOW = Sheet(before=Vitals(glucose_mgdl=89.0))
GONE = Sheet(before=Vitals(glucose_mgdl=120.0))
COMPLEX = Sheet(rhythm=Rhythm(before="complex"))
BLOCKED = Sheet(rhythm=Rhythm(before="block_3"))
FAST = Sheet(bouts=(Load("treadmill", 10, speed_kmh=4, heart_rate_bpm=145),))

# --- facts, the places that tell them, the rules that read them ----------------------------------


def condition(kind, **more):
    def store(here):
        ConditionFactory(**({"patient": here.patient, "kind": kind, "icd10": "",
                             "happened_on": None} | more))  # fmt: skip

    return store


def medicine(name, drug_class, *, stops_in=None):
    def store(here):
        stops = None if stops_in is None else here.on + timedelta(days=stops_in)
        MedicineFactory(patient=here.patient, name=name, drug_class=drug_class, stopped_on=stops)

    return store


def on_referral(**values):
    def store(here):
        type(here.referral).objects.filter(pk=here.referral.pk).update(**values)

    return store


def on_earlier_referral(**values):
    def store(here):
        ReferralFactory(patient=here.patient, referred_on=ago(here, days=300), **values)

    return store


def risk(**answers):
    return lambda here: RiskStratificationFactory(patient=here.patient, answers=answers)


def screened(**answers):
    def store(here):
        named = {key.replace("_", "-"): value for key, value in answers.items()}
        EntryScreenFactory(patient=here.patient, answers=named)

    return store


def device(kind="icd", **more):
    return lambda here: DeviceFactory(patient=here.patient, kind=kind, **more)


def device_with_rate(*rates):
    def store(here):
        for rate in rates:
            DeviceFactory(patient=here.patient, detection_bpm=rate, detection_read_on=here.on)

    return store


def hba1c(percent):
    def store(here):
        MeasurementFactory(
            assessment=AssessmentFactory(enrolment=here.course, performed_on=here.on),
            key="hba1c",
            inputs={"percent": percent},
            value=percent,
        )

    return store


def event(kind, *, hours=20, reviewed=False, by_visit=False):
    def store(here):
        at = timezone.now() - timedelta(hours=hours)
        more = {"what": "x", "outcome": "x", "review": "seen"} if reviewed else {}
        if reviewed:
            more |= {"reviewed_at": timezone.now(), "reviewed_by": here.visit.enrolment.clinician}
            more["reviewed_by"] = here.by
        if by_visit:
            earlier = VisitFactory(enrolment=here.course)
            more |= {"visit": earlier, "patient": None}
        else:
            more["patient"] = here.patient
        SafetyEventFactory(site=here.patient.site, kind=kind, happened_at=at, **more)

    return store


def reading_of_another_visit(**values):
    def store(here):
        earlier = VisitFactory(enrolment=here.course, state="held")
        reading = ReadingFactory(visit=earlier, **values)
        reading.taken_at = timezone.now() - timedelta(hours=20)
        reading.save()

    return store


def replaced_reading(**values):
    def store(here):
        ReadingFactory(visit=here.visit, taken_at=timezone.now() - timedelta(minutes=20), **values)
        ReadingFactory(visit=here.visit, **(values | {"glucose_mgdl": 110.0}))

    return store


def helped(*, measured):
    def store(here):
        at = timezone.now() - timedelta(hours=20)
        earlier = VisitFactory(
            enrolment=here.course, state="held", answers={"needed_help": True}, arrived_at=at,
            ended_at=at,
        )  # fmt: skip
        if measured:
            ReadingFactory(visit=earlier, glucose_mgdl=66.0, taken_at=at)

    return store


def yesterday_condition(kind):
    return lambda here: ConditionFactory(
        patient=here.patient, kind=kind, happened_on=ago(here, days=1)
    )


def yesterday_operation(kind):
    return lambda here: ProcedureFactory(
        patient=here.patient, kind=kind, performed_on=ago(here, days=1)
    )


HEART_KINDS = [kind for kind, _ in Condition.of_the_heart()]
FACTS = {
    "heart failure": (
        {
            "condition": condition("heart_failure"),
            "assist device": condition("vad"),
            "code": condition("other", icd10="I50.22"),
            "words to be clarified": condition("unclear", wording="HFrEF, optimised"),
            "words of another condition": condition("other", wording="Dilated cardiomyopathy"),
            "NYHA of the referral": on_referral(nyha_class=2),
            "LVEF of the referral": on_referral(lvef_percent=40),
            "NYHA of an earlier referral": on_earlier_referral(nyha_class=3),
            "LVEF of an earlier referral": on_earlier_referral(lvef_percent=30),
            "risk class": risk(heart_failure=True),
            "NYHA in the risk class": risk(nyha_class=2),
            "LVEF in the risk class": risk(lvef_percent=35),
            "entry screen": screened(E_09=True),
        },
        {
            "E-10": gained,
            "E-16": attacked,
            "E-20 not E-05": finds("E-20", "", "caution", COMPLEX),
            "asks the weight": asks("E-10", "weight"),
            "asks E-09": asks("E-09", "questions"),
        },
    ),
    "NYHA IV": (
        {"referral": on_referral(nyha_class=4), "risk class": risk(nyha_class=4)},
        {"E-20": finds("E-20", "nyha", "caution")},
    ),
    "diabetes": (
        {
            "condition": condition("diabetes"),
            "code": condition("other", icd10="E11.9"),
            "words": condition("unclear", wording="type 2 diabetes"),
            "class of a medicine": medicine("Glucoflux", "glucose_lowering"),
            "name of a medicine": medicine("metformin 500 mg", "other"),
            "HbA1c": hba1c(6.5),
            "entry screen": screened(E_14=True),
        },
        {
            "asks glucose": asks("G-05", "because of diabetes"),
            "puts the box in front": lambda here: "diabetes" in known_of(here.visit).groups,
        },
    ),
    "insulin or secretagogue": (
        {
            "class": medicine("Basalux", "insulin"),
            "class secretagogue": medicine("Glucoflux", "secretagogue"),
            "name": medicine("insulin glargine 100 U/ml", "other"),
            "name of a sulfonylurea": medicine("Glimepiride 2 mg", "other"),
            "in a combination": medicine("metformin/glipizide", "other"),
            "stops tomorrow": medicine("insulin lispro", "insulin", stops_in=1),
        },
        {
            "asks glucose": asks("G-05", "insulin or a secretagogue"),
            "G-05": finds("G-05", "", "hold", LOW),
            "asks about severe lows": asks("G-06", "questions"),
        },
    ),
    "beta-blocker": (
        {
            "class": medicine("Cardiomet", "beta_blocker"),
            "name": medicine("carvedilol 12.5 mg", "other"),
            "in a combination": medicine("bisoprolol + hydrochlorothiazide", "diuretic"),
            "stops tomorrow": medicine("atenolol", "beta_blocker", stops_in=1),
        },
        {"G-mask": finds("G-mask", "", "note", Sheet(before=Vitals(glucose_mgdl=65.0)))},
    ),
    "defibrillator": (
        {"device": device(), "risk class": risk(icd=True)},
        {
            "asks about shocks": lambda here: "icd" in known_of(here.visit).groups,
            "H-08 unknown": finds("H-08", "unknown", "caution"),
        },
    ),
    "detection rate": (
        {"device": device_with_rate(150), "lowest of two": device_with_rate(190, 150)},
        {
            "H-08": finds("H-08", "device", "stop", FAST, exercising=True),
            "H-08 at rest": finds("H-08", "rest", "hold", Sheet(before=Vitals(145))),
        },
    ),
    "pacemaker": (
        {"pacemaker": device("pacemaker"), "defibrillator": device()},
        {"E-06 is excused": lambda here: ("E-06", "", "hold") not in said(here, BLOCKED)[0]},
    ),
    "event yesterday": (
        {
            **{f"condition {kind}": yesterday_condition(kind) for kind in HEART_KINDS},
            **{f"operation {kind}": yesterday_operation(kind) for kind in Procedure.Kind.values},
            "implant": lambda here: DeviceFactory(
                patient=here.patient, implanted_on=ago(here, days=1)
            ),
            "admission": lambda here: on_referral(admitted_on=ago(here, days=1),
                                                  discharged_on=here.on)(here),
            "emergency": event("emergency", reviewed=True),
            "transfer": event("transfer", reviewed=True),
        },
        {"E-16": finds("E-16", "event", "hold")},
    ),
    "event to review": (
        {
            **{
                f"{kind}, {way}": event(kind, hours=70, by_visit=way == "by visit")
                for kind in SafetyEvent.Kind.values
                if kind != "other"
                for way in ["by person", "by visit"]
            },
            "today, before exercise": event("fall", hours=0.2),
        },
        {"E-19": finds("E-19", "event", "hold")},
    ),
    "another event to review": (
        {"event": event("other", hours=70)},
        {"E-19": finds("E-19", "other event", "caution")},
    ),
    "severe low within 24 hours": (
        {
            "another visit": reading_of_another_visit(glucose_mgdl=50.0),
            "another visit, recovery": reading_of_another_visit(
                glucose_mgdl=50.0, phase="recovery"
            ),
            "replaced today": replaced_reading(glucose_mgdl=50.0),
            "in exercise today": replaced_reading(glucose_mgdl=50.0, phase="during"),
        },
        {"G-06": finds("G-06", "", "hold", GONE)},
    ),
    "low that needed help": (
        {
            "another visit": helped(measured=True),
            "another visit, not measured": helped(measured=False),
            "event": event("low_glucose", reviewed=True),
        },
        {"G-06": finds("G-06", "help", "hold", GONE)},
    ),
    "heart attack": (
        {
            "condition": lambda here: ConditionFactory(
                patient=here.patient, kind="mi", happened_on=ago(here, days=10)),
            "code": lambda here: ConditionFactory(
                patient=here.patient, kind="unclear", icd10="I21.4",
                happened_on=ago(here, days=10)),
        },
        {"E-16": lambda here: attacked_in_failure(here)},
    ),
    "earlier hold": (
        {"hold": lambda here: InterruptionFactory(visit__enrolment=here.course)},
        {"E-31": finds("E-31", "", "hold")},
    ),
    "screen that says not yet": (
        {"screen": screened(E_13=True)},
        {"E-entry": finds("E-entry", "", "hold")},
    ),
    "own upper limit": (
        {"prescription": lambda here: PrescriptionFactory(
            enrolment=here.course, low_bpm=100, high_bpm=120, upper_limit_bpm=130)},
        {"H-08": finds("H-08", "", "caution", FAST, exercising=True)},
    ),
}  # fmt: skip
CELLS = [
    pytest.param(store, rule, id=f"{fact}: {place} -> {name}")
    for fact, (places, rules) in FACTS.items()
    for place, store in places.items()
    for name, rule in rules.items()
]


def attacked_in_failure(here):
    ConditionFactory(patient=here.patient, kind="heart_failure", icd10="", happened_on=None)
    return ("E-16", "mi", "hold") in said(here)[0]


@pytest.mark.parametrize(("store", "rule"), CELLS)
def test_fact_counts_wherever_it_was_recorded(here, clinician, store, rule):
    here.by = clinician
    store(here)
    assert rule(here)


@pytest.mark.parametrize(
    "rule",
    [
        pytest.param(rule, id=f"{fact}: {name}")
        for fact, (_, rules) in FACTS.items()
        for name, rule in rules.items()
    ],
)
def test_without_the_fact_the_rule_is_silent(here, rule):
    assert not rule(here)


def test_the_table_is_large():
    assert len(CELLS) > 150


@pytest.mark.parametrize(
    "store",
    [
        medicine("insulin aspart", "insulin", stops_in=0),
        condition("other", icd10="E16.2"),
        on_referral(lvef_percent=41),
        risk(icd=False, heart_failure=False, lvef_percent=55),
        event("fall", reviewed=True, hours=70),
        event("low_glucose", reviewed=True, hours=25),
        medicine("empagliflozin 10 mg", "diuretic"),
    ],
)
def test_what_does_not_tell_it_does_not_count(here, clinician, store):
    here.by = clinician
    store(here)
    known = known_of(here.visit)
    assert not known.uses_insulin
    assert not known.has_heart_failure
    assert not known.has_icd
    assert not known.needed_help_24h
    assert not known.events_to_review


def test_a_pacemaker_answered_in_the_risk_class_excuses_nothing(here):
    risk(pacemaker=True)(here)
    assert ("E-06", "", "hold") in said(here, BLOCKED)[0]


def test_the_newest_word_on_a_fraction_stands(here):
    on_earlier_referral(lvef_percent=30)(here)
    on_referral(lvef_percent=55)(here)
    assert not known_of(here.visit).has_heart_failure


def test_where_a_fact_was_recorded_is_told(here):
    on_referral(nyha_class=2)(here)
    condition("heart_failure")(here)
    assert known_of(here.visit).where["has_heart_failure"] == "conditions, NYHA II, referral"


def test_a_screen_of_before_the_last_event_counts_for_nothing(here):
    screened(E_08=True)(here)
    assert ("E-entry", "", "hold") in said(here)[0]
    here.patient.entry_screens.update(at=timezone.now() - timedelta(days=30))
    condition("mi", happened_on=ago(here, days=5))(here)
    found, asked = said(here)
    assert not {rule for rule, _, _ in found} & {"E-entry", "E-08"}
    assert ("E-entry", "the entry screen") in asked
    assert "screen again" in known_of(here.visit).where["entry_answers"]


def test_an_operation_is_an_event_that_asks_for_a_new_screen(here):
    screened(E_08=False)(here)
    here.patient.entry_screens.update(at=timezone.now() - timedelta(days=30))
    ProcedureFactory(patient=here.patient, kind="pci", performed_on=ago(here, days=5))
    assert known_of(here.visit).entry_says_start is None
