"""What the record tells about a person, wherever a fact was written down, and where that was.

One fact is written in many places: a condition, a letter of referral, the answers of the risk
class, a list of medicines, an operation, an event of last week. Any of them counts. What would
excuse somebody (a pacemaker) counts only where it was recorded as such. Which place tells what is
a project choice; limits name their source.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from patients.calc.medicines import (
    BETA_BLOCKER,
    GLUCOSE_LOWERING,
    INSULIN,
    SECRETAGOGUE,
    classes_in,
)

# Reduced ejection fraction: universal definition of heart failure 2021, from memory. The program
# asks as in heart failure until a clinician has looked, since symptoms are told, not the fraction.
REDUCED_LVEF_PERCENT = 40
# Diagnosis of diabetes by HbA1c: American Diabetes Association, from memory.
DIABETES_HBA1C_PERCENT = 6.5
FAILING_WORDS = re.compile(r"heart failure|cardiac failure|cardiomyopathy|\bhf[rmp]+ef\b", re.I)
# No "AF" alone: too many other things are called so.
FIBRILLATING_WORDS = re.compile(r"atrial (?:fib|flutter)|\ba-?fib\b", re.I)
GLUCOSE_CLASSES = frozenset({INSULIN, SECRETAGOGUE, GLUCOSE_LOWERING})
QUALIFYING = frozenset({"mi", "pci", "cabg", "valve", "transplant"})
# Kinds of event that ask for a review before anybody exercises again (E-19); "other" is told.
HOLDING_EVENTS = frozenset(
    {"emergency", "transfer", "fall", "low_glucose", "arrhythmia", "symptom"}
)
ACUTE_EVENTS = frozenset({"emergency", "transfer"})


@dataclass(frozen=True)
class Condition:
    kind: str
    on: date | None = None
    icd10: str = ""
    wording: str = ""  # as received

    @property
    def is_open(self) -> bool:
        """Its kind tells nothing, so its words do; also where they deny it, until clarified."""
        return self.kind in {"other", "unclear"}


@dataclass(frozen=True)
class Medicine:
    name: str
    drug_class: str
    stopped_on: date | None = None


@dataclass(frozen=True)
class Device:
    kind: str
    implanted_on: date | None = None
    removed_on: date | None = None
    detection_bpm: int | None = None
    detection_read_on: date | None = None


@dataclass(frozen=True)
class Operation:
    kind: str
    on: date


@dataclass(frozen=True)
class Referral:
    on: date
    lvef_percent: float | None = None
    nyha: int | None = None
    admitted_on: date | None = None


@dataclass(frozen=True)
class Answered:
    """Answers of a risk class or an entry screen, and the day they were given."""

    on: date
    answers: Mapping[str, Any]
    says_start: bool | None = None  # of an entry screen


@dataclass(frozen=True)
class Event:
    kind: str
    at: datetime
    words: str  # what it is called
    is_reviewed: bool = False


@dataclass(frozen=True)
class Record:
    """Rows of one person's record, as far as the rules need them; the newest first."""

    conditions: tuple[Condition, ...] = ()
    medicines: tuple[Medicine, ...] = ()
    devices: tuple[Device, ...] = ()
    operations: tuple[Operation, ...] = ()
    referrals: tuple[Referral, ...] = ()
    risk: Answered | None = None
    screen: Answered | None = None
    events: tuple[Event, ...] = ()
    hba1c_percent: float | None = None


@dataclass(frozen=True)
class Fact:
    """Something known of a person, with the places that tell it; none when nothing tells it."""

    where: tuple[str, ...] = field(default=())

    def __bool__(self) -> bool:
        return bool(self.where)

    @property
    def words(self) -> str:
        """The places in one phrase."""
        return ", ".join(self.where)


def _fact(*told: tuple[object, str]) -> Fact:
    return Fact(tuple(dict.fromkeys(words for is_told, words in told if is_told)))


def _day(on: date) -> str:
    return f"{on:%-d %b %Y}"


def _is_taken(medicine: Medicine, on: date) -> bool:
    return medicine.stopped_on is None or medicine.stopped_on > on


def _classes(medicine: Medicine) -> frozenset[str]:
    return classes_in(medicine.name) | {medicine.drug_class}


def _taken(record: Record, on: date, classes: Iterable[str]) -> list[str]:
    wanted = frozenset(classes)
    return [m.name for m in record.medicines if _is_taken(m, on) and _classes(m) & wanted]


def in_place(record: Record, on: date) -> list[Device]:
    """Devices that are in the person on a day.

    Parameters
    ----------
    record : the person's record.
    on : the day. One whose removal lies ahead is still in place.

    Returns
    -------
    The devices, in the order of the record.
    """
    return [d for d in record.devices if d.removed_on is None or d.removed_on > on]


def _newest(referrals: Iterable[Referral], name: str) -> tuple[Any, date] | None:
    """The newest referral that says anything about a value decides it."""
    for referral in sorted(referrals, key=lambda r: r.on, reverse=True):
        value = getattr(referral, name)
        if value is not None:
            return value, referral.on
    return None


def nyha_class(record: Record) -> int | None:
    """NYHA class, from the newest of referral and risk class that tells it.

    Parameters
    ----------
    record : the person's record.

    Returns
    -------
    1 to 4; the higher when both were written on one day. None when nobody wrote it.
    """
    told = []
    if (found := _newest(record.referrals, "nyha")) is not None:
        told.append((found[1], int(found[0])))
    if record.risk is not None and record.risk.answers.get("nyha_class"):
        told.append((record.risk.on, int(record.risk.answers["nyha_class"])))
    return max(told)[1] if told else None


def heart_failure(record: Record) -> Fact:
    """Whether somebody is to be asked and weighed as in heart failure.

    Parameters
    ----------
    record : the person's record.

    Returns
    -------
    The places that tell it: a condition, its code, a class or a reduced fraction on a referral,
    answers of the risk class or of the entry screen, an assist device.

    References
    ----------
    ``REDUCED_LVEF_PERCENT``; NYHA classes describe heart failure only (from memory).
    """
    told: list[tuple[object, str]] = []
    for condition in record.conditions:
        told.append((condition.kind == "heart_failure", "conditions"))
        told.append((condition.kind == "vad", "assist device"))
        told.append((condition.icd10.upper().startswith("I50"), f"code {condition.icd10}"))
        has_words = condition.is_open and FAILING_WORDS.search(condition.wording)
        told.append((has_words, f"“{condition.wording}”"))
    if (nyha := _newest(record.referrals, "nyha")) is not None:
        told.append((True, f"NYHA {'I' * nyha[0] if nyha[0] < 4 else 'IV'}, referral"))
    if (lvef := _newest(record.referrals, "lvef_percent")) is not None:
        is_low = lvef[0] <= REDUCED_LVEF_PERCENT
        told.append((is_low, f"LVEF {lvef[0]:g} %, referral"))
    told += _answered_as_failing(record.risk)
    if record.screen is not None:
        told.append((record.screen.answers.get("E-09"), "entry screen"))
    return _fact(*told)


def _answered_as_failing(risk: Answered | None) -> list[tuple[object, str]]:
    if risk is None:
        return []
    lvef = risk.answers.get("lvef_percent")
    return [
        (risk.answers.get("heart_failure"), "risk class"),
        (risk.answers.get("nyha_class"), "NYHA, risk class"),
        (lvef is not None and float(lvef) <= REDUCED_LVEF_PERCENT, "LVEF, risk class"),
    ]


def diabetes(record: Record, on: date) -> Fact:
    """Whether somebody has diabetes, treated by whatever means.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    The places that tell it: a condition or its code (E08 to E13), a medicine that lowers glucose,
    HbA1c, the entry screen.

    References
    ----------
    ``DIABETES_HBA1C_PERCENT``; ICD-10-CM chapter 4 for the codes (from memory).
    """
    codes = ("E08", "E09", "E10", "E11", "E13")
    told: list[tuple[object, str]] = [
        *[(c.kind == "diabetes", "conditions") for c in record.conditions],
        *[(c.icd10.upper().startswith(codes), f"code {c.icd10}") for c in record.conditions],
        *[
            (c.is_open and "diabet" in c.wording.lower(), f"“{c.wording}”")
            for c in record.conditions
        ],
        *[(True, name) for name in _taken(record, on, GLUCOSE_CLASSES)],
    ]
    if record.hba1c_percent is not None:
        is_high = record.hba1c_percent >= DIABETES_HBA1C_PERCENT
        told.append((is_high, f"HbA1c {record.hba1c_percent:g} %"))
    if record.screen is not None:
        told.append((record.screen.answers.get("E-14"), "entry screen"))
    return _fact(*told)


def insulin_or_secretagogue(record: Record, on: date) -> Fact:
    """Medicines that can make glucose fall in exercise.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about; a medicine that stops later is still taken.

    Returns
    -------
    Their names, by class chosen or by what the name tells.
    """
    return Fact(tuple(_taken(record, on, {INSULIN, SECRETAGOGUE})))


def beta_blocker(record: Record, on: date) -> Fact:
    """Beta-blockers taken.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about; a medicine that stops later is still taken.

    Returns
    -------
    Their names, by class chosen or by what the name tells.
    """
    return Fact(tuple(_taken(record, on, {BETA_BLOCKER})))


def atrial_fibrillation(record: Record) -> Fact:
    """Atrial fibrillation or flutter, of whatever pattern.

    Parameters
    ----------
    record : the person's record.

    Returns
    -------
    The places that tell it: a code, or the words of a condition that has no kind of its own.

    References
    ----------
    ICD-10-CM I48 (from memory).
    """
    told: list[tuple[object, str]] = []
    for condition in record.conditions:
        told.append((condition.icd10.upper().startswith("I48"), f"code {condition.icd10}"))
        has_words = FIBRILLATING_WORDS.search(condition.wording)
        told.append((has_words, f"“{condition.wording}”"))
    return _fact(*told)


def transplant(record: Record) -> Fact:
    """A transplanted heart.

    Parameters
    ----------
    record : the person's record.

    Returns
    -------
    The places that tell it: a condition, its code (Z94.1, Z94.3), an operation.

    References
    ----------
    ICD-10-CM Z94 (from memory).
    """
    codes = ("Z94.1", "Z94.3", "Z941", "Z943")
    told: list[tuple[object, str]] = [
        *[(c.kind == "transplant", "conditions") for c in record.conditions],
        *[(c.icd10.upper().startswith(codes), f"code {c.icd10}") for c in record.conditions],
        *[(o.kind == "transplant", "operations") for o in record.operations],
    ]
    return _fact(*told)


def defibrillator(record: Record, on: date) -> Fact:
    """An implanted defibrillator.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    The places that tell it: a device, or an answer of the risk class that no removal contradicts.
    """
    kinds = [device.kind for device in in_place(record, on)]
    was_removed = any(d.kind == "icd" and d not in in_place(record, on) for d in record.devices)
    said = record.risk is not None and record.risk.answers.get("icd") and not was_removed
    return _fact(("icd" in kinds, "devices"), (said, "risk class"))


def has_pacemaker(record: Record, on: date) -> bool:
    """Whether a device that paces is recorded as such; an ICD paces as well.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    True for a device in place. An answer elsewhere excuses nothing.
    """
    return bool(in_place(record, on))


def detection_bpm(record: Record, on: date) -> int | None:
    """Lowest rate at which a device would treat.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    Rate. [beats/min]; None when no device has one on record.
    """
    rates = [d.detection_bpm for d in in_place(record, on) if d.detection_bpm is not None]
    return min(rates, default=None)


def detection_read_on(record: Record, on: date) -> date | None:
    """Day on which a detection rate was read last.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    Day; None when no device in place has a rate on record.
    """
    days = [d.detection_read_on for d in in_place(record, on)]
    return max((day for day in days if day is not None), default=None)


def last_event_on(record: Record, on: date) -> date | None:
    """Day of the last acute event or operation up to a day, wherever it was recorded.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about; what is dated later has not happened.

    Returns
    -------
    Day; None when none is dated. Counted are dated conditions, operations, implants, admissions
    of referrals, emergency calls and transfers on the floor.
    """
    days = [c.on for c in record.conditions if c.kind != "diabetes"]
    days += [operation.on for operation in record.operations]
    days += [device.implanted_on for device in record.devices]
    days += [referral.admitted_on for referral in record.referrals]
    days += [event.at.date() for event in record.events if event.kind in ACUTE_EVENTS]
    return max((day for day in days if day is not None and day <= on), default=None)


def last_mi_on(record: Record, on: date) -> date | None:
    """Day of the last heart attack up to a day.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    Day; None when none is dated. A code of an acute attack (I21, I22) counts as one.
    """
    attacks = [c.on for c in record.conditions
               if c.kind == "mi" or c.icd10.upper().startswith(("I21", "I22"))]  # fmt: skip
    return max((day for day in attacks if day is not None and day <= on), default=None)


def qualifying_event_on(record: Record, on: date) -> date | None:
    """Day of the last event that opens a course of its own, up to a day.

    Parameters
    ----------
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    Day; None when none is dated. Operations count beside conditions; an implant opens none.

    References
    ----------
    Medicare Benefit Policy Manual ch. 15 s. 232: the conditions (rules A-01 to A-06).
    """
    operations = QUALIFYING | {"tavi"}
    days = [c.on for c in record.conditions if c.kind in QUALIFYING]
    days += [o.on for o in record.operations if o.kind in operations]
    return max((day for day in days if day is not None and day <= on), default=None)


def in_force(answered: Answered | None, record: Record, on: date) -> Answered | None:
    """An entry screen or risk class, unless a qualifying event happened since it was answered.

    Parameters
    ----------
    answered : the latest one.
    record : the person's record.
    on : day that is asked about.

    Returns
    -------
    The same; None when there is none, or when it was answered before the last qualifying event.
    """
    event = qualifying_event_on(record, on)
    is_of_before = answered is not None and event is not None and answered.on < event
    return None if is_of_before else answered


def unreviewed(record: Record, kinds: Iterable[str] | None = None) -> tuple[str, ...]:
    """Events on the floor that no clinician has reviewed yet.

    Parameters
    ----------
    record : the person's record.
    kinds : kinds wanted; None for those that hold.

    Returns
    -------
    What each is called, with its day, in the order of the record.
    """
    wanted = HOLDING_EVENTS if kinds is None else frozenset(kinds)
    return tuple(
        f"{event.words} of {_day(event.at.date())}"
        for event in record.events
        if event.kind in wanted and not event.is_reviewed
    )


def low_as_event(record: Record, upto: datetime) -> bool:
    """Whether a low glucose was recorded as an event within 24 hours.

    Parameters
    ----------
    record : the person's record.
    upto : the moment that is asked about.

    Returns
    -------
    True when it was. How low, and whether somebody had to help, such an event need not say, so it
    counts as one that needed help.
    """
    return any(
        event.kind == "low_glucose" and upto - timedelta(hours=24) < event.at <= upto
        for event in record.events
    )
