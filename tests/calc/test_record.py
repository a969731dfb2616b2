"""What a record tells, wherever it was written: each place alone, and what does not tell it.

Codes: ICD-10-CM chapters 4 and 9 (from memory). Stems: WHO INN stem book (from memory). LVEF of
40 % or less is reduced: universal definition of heart failure 2021 (from memory). HbA1c from 6.5 %:
American Diabetes Association (from memory). Which place counts is a project choice.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from patients.calc.medicines import classes_in
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import (
    Answered,
    Condition,
    Device,
    Event,
    Medicine,
    Operation,
    Record,
    Referral,
)

ON = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def days(n):
    return ON - timedelta(days=n)


@pytest.mark.parametrize(
    ("name", "classes"),
    [
        ("Insulin glargine 100 U/ml", {"insulin"}),
        ("metoprolol succinate 50 mg", {"beta_blocker"}),
        ("Carvedilol", {"beta_blocker"}),
        ("labetalol", {"beta_blocker"}),
        ("glimepiride", {"secretagogue"}),
        ("glyburide 5 mg", {"secretagogue"}),
        ("repaglinide", {"secretagogue"}),
        ("sitagliptin", {"glucose_lowering"}),
        ("empagliflozin", {"glucose_lowering"}),
        ("metformin", {"glucose_lowering"}),
        ("metformin/glipizide", {"glucose_lowering", "secretagogue"}),
        ("bisoprolol and hydrochlorothiazide", {"beta_blocker"}),
        ("atorvastatin", set()),
        ("nitroglycerin", set()),
        ("", set()),
    ],
)
def test_a_name_tells_its_class(name, classes):
    assert classes_in(name) == classes


FAILING = [
    Record(conditions=(Condition("heart_failure"),)),
    Record(conditions=(Condition("vad"),)),
    Record(conditions=(Condition("other", icd10="i50.9"),)),
    Record(conditions=(Condition("unclear", wording="known HFpEF"),)),
    Record(referrals=(Referral(ON, nyha=1),)),
    Record(referrals=(Referral(ON, lvef_percent=40),)),
    Record(risk=Answered(ON, {"heart_failure": True})),
    Record(risk=Answered(ON, {"nyha_class": 4})),
    Record(risk=Answered(ON, {"lvef_percent": "38"})),
    Record(screen=Answered(ON, {"E-09": True}, True)),
]


@pytest.mark.parametrize("record", FAILING)
def test_heart_failure_is_told_by_each_place(record):
    assert told.heart_failure(record)


@pytest.mark.parametrize(
    "record",
    [
        Record(),
        Record(conditions=(Condition("mi", wording="no heart failure"),)),
        Record(referrals=(Referral(ON, lvef_percent=41), Referral(days(90), lvef_percent=30))),
        Record(risk=Answered(ON, {"heart_failure": False, "lvef_percent": 55})),
        Record(screen=Answered(ON, {"E-09": False}, True)),
    ],
)
def test_heart_failure_is_not_told(record):
    assert not told.heart_failure(record)


def test_each_place_is_named_once():
    record = Record(
        conditions=(Condition("heart_failure"), Condition("heart_failure")),
        referrals=(Referral(ON, nyha=3), Referral(ON, lvef_percent=35.5)),
    )
    assert (
        told.heart_failure(record).words == "conditions, NYHA III, referral, LVEF 35.5 %, referral"
    )


@pytest.mark.parametrize(
    ("record", "nyha"),
    [
        (Record(), None),
        (Record(referrals=(Referral(days(9)), Referral(days(90), nyha=3))), 3),
        (Record(referrals=(Referral(days(9), nyha=2), Referral(days(90), nyha=3))), 2),
        (Record(referrals=(Referral(days(9), nyha=2),), risk=Answered(ON, {"nyha_class": 1})), 1),
        (Record(referrals=(Referral(ON, nyha=2),), risk=Answered(ON, {"nyha_class": 4})), 4),
        (Record(risk=Answered(ON, {"nyha_class": None})), None),
    ],
)
def test_the_newest_nyha_class_stands(record, nyha):
    assert told.nyha_class(record) == nyha


@pytest.mark.parametrize(
    ("record", "is_told"),
    [
        (Record(conditions=(Condition("diabetes"),)), True),
        (Record(conditions=(Condition("other", icd10="E11.9"),)), True),
        (Record(conditions=(Condition("other", icd10="E16.2"),)), False),
        (Record(conditions=(Condition("unclear", wording="Type 2 Diabetes"),)), True),
        (Record(medicines=(Medicine("Glucoflux", "glucose_lowering"),)), True),
        (Record(medicines=(Medicine("metformin", "other", ON),)), False),
        (Record(hba1c_percent=6.5), True),
        (Record(hba1c_percent=6.4), False),
        (Record(screen=Answered(ON, {"E-14": True}, True)), True),
        (Record(), False),
    ],
)
def test_diabetes(record, is_told):
    assert bool(told.diabetes(record, ON)) is is_told


def test_a_medicine_counts_until_the_day_it_stops():
    record = Record(medicines=(Medicine("insulin lispro", "other", days(-1)),
                               Medicine("atenolol", "other", ON)))  # fmt: skip
    assert told.insulin_or_secretagogue(record, ON).words == "insulin lispro"
    assert not told.beta_blocker(record, ON)
    assert told.beta_blocker(record, days(1))


def test_a_device_counts_until_it_is_removed():
    device = Device("icd", days(99), days(-1), 150, days(9))
    record = Record(devices=(device, Device("icd", removed_on=ON, detection_bpm=130)))
    assert told.in_place(record, ON) == [device]
    assert told.detection_bpm(record, ON) == 150
    assert told.detection_read_on(record, ON) == days(9)
    assert told.has_pacemaker(record, ON)
    assert told.detection_bpm(Record(), ON) is None
    assert told.detection_read_on(Record(devices=(Device("icd"),)), ON) is None


@pytest.mark.parametrize(
    ("devices", "answer", "is_told"),
    [
        ((Device("icd"),), None, True),
        ((), {"icd": True}, True),
        ((Device("icd", removed_on=ON),), {"icd": True}, False),
        ((Device("pacemaker"),), {"icd": False}, False),
        ((), None, False),
    ],
)
def test_defibrillator(devices, answer, is_told):
    risk = None if answer is None else Answered(ON, answer)
    assert bool(told.defibrillator(Record(devices=devices, risk=risk), ON)) is is_told


def test_the_last_event_is_the_latest_of_all_places_and_never_ahead():
    record = Record(
        conditions=(Condition("mi", days(30)), Condition("diabetes", days(1)), Condition("other")),
        operations=(Operation("pci", days(20)), Operation("cabg", days(-5))),
        devices=(Device("icd", days(12)),),
        referrals=(Referral(days(40), admitted_on=days(11)),),
        events=(
            Event("transfer", NOON - timedelta(days=10), "transfer to hospital"),
            Event("fall", NOON, "fall"),
        ),
    )
    assert told.last_event_on(record, ON) == days(10)
    assert told.last_event_on(Record(), ON) is None
    assert told.last_mi_on(record, ON) == days(30)
    coded = Record(conditions=(Condition("unclear", days(3), "I22.0"), Condition("pci", days(1))))
    assert told.last_mi_on(coded, ON) == days(3)
    assert told.last_mi_on(Record(), ON) is None


def test_a_screen_counts_from_the_last_qualifying_event_on():
    record = Record(
        conditions=(Condition("mi", days(30)),), operations=(Operation("tavi", days(9)),)
    )
    assert told.qualifying_event_on(record, ON) == days(9)
    assert told.qualifying_event_on(Record(devices=(Device("icd", days(9)),)), ON) is None
    before, since = Answered(days(10), {}), Answered(days(9), {})
    assert told.in_force(before, record, ON) is None
    assert told.in_force(since, record, ON) is since
    assert told.in_force(None, record, ON) is None
    assert told.in_force(before, Record(), ON) is before


def test_events_wait_for_their_review():
    record = Record(
        events=(
            Event("fall", NOON, "fall"),
            Event("emergency", NOON, "emergency call", is_reviewed=True),
            Event("other", NOON, "other"),
        )
    )
    assert told.unreviewed(record) == ("fall of 2 Mar 2026",)
    assert told.unreviewed(record, {"other"}) == ("other of 2 Mar 2026",)


@pytest.mark.parametrize(("hours", "is_told"), [(0, True), (23, True), (24, False), (-1, False)])
def test_a_low_as_an_event_counts_for_24_hours(hours, is_told):
    event = Event("low_glucose", NOON - timedelta(hours=hours), "hypoglycaemia", is_reviewed=True)
    assert told.low_as_event(Record(events=(event, Event("fall", NOON, "fall"))), NOON) is is_told


@pytest.mark.parametrize(
    ("condition", "is_told"),
    [
        (Condition("other", icd10="I48.91"), True),  # ICD-10-CM I48, from memory
        (Condition("other", wording="Paroxysmal atrial fibrillation"), True),
        (Condition("other", wording="a-fib since 2019"), True),
        (Condition("other", wording="atrial flutter"), True),
        (Condition("other", wording="atrial septal defect"), False),
        (Condition("mi", icd10="I21.4"), False),
    ],
)
def test_atrial_fibrillation_is_told_by_code_or_words(condition, is_told):
    assert bool(told.atrial_fibrillation(Record(conditions=(condition,)))) is is_told


@pytest.mark.parametrize(
    "record",
    [
        Record(conditions=(Condition("transplant"),)),
        Record(conditions=(Condition("other", icd10="Z94.1"),)),  # from memory
        Record(conditions=(Condition("other", icd10="z943"),)),
        Record(operations=(Operation("transplant", ON),)),
    ],
)
def test_a_transplant_is_told_by_each_place(record):
    assert told.transplant(record)
    assert not told.transplant(Record(conditions=(Condition("cabg"),)))
