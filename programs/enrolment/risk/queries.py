"""What the record tells about somebody, for the class of risk and for the rules of the floor."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, tzinfo
from typing import Any

from django.db.models import (
    DateField,
    F,
    Field,
    FloatField,
    IntegerField,
    Model,
    QuerySet,
    TextField,
    Value,
)
from django.db.models.functions import Cast

from patients.models import Condition, Device, Medicine, Patient, Procedure
from patients.prepared import Prepared
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.calc.risk import still_standing
from programs.enrolment.models import EntryScreen, Referral, RiskStratification


def record_of(patient: int, zone: tzinfo | None) -> Record:
    """Rows of one person's record, whichever page they were typed on. Three queries."""
    risk = next(iter(_RISK(patient=patient)), None)
    screen = next(iter(_SCREEN(patient=patient)), None)
    return record_from(
        [row[1:] for row in _BACKGROUND(patient=patient)],
        (risk[0].astimezone(zone).date(), risk[1]) if risk else None,
        (screen[0].astimezone(zone).date(), *screen[1:]) if screen else None,
    )


def record_from(
    rows: Iterable[Sequence[Any]],
    risk: tuple[date, Mapping[str, Any]] | None,
    screen: tuple[date, Mapping[str, Any], str] | None,
) -> Record:
    """One person's record from rows of ``background``, the latest risk class and entry screen."""
    by_kind: dict[str, list[Any]] = defaultdict(list)
    for what, *values in rows:
        by_kind[what].append(values)
    return Record(
        tuple(told.Condition(a, on, b, c) for a, b, c, on, *_ in by_kind["condition"]),
        tuple(told.Medicine(b, a, stopped) for a, b, _, stopped, *_ in by_kind["medicine"]),
        tuple(
            told.Device(a, implanted, removed, rate, read_on)
            for a, _, _, implanted, removed, read_on, rate, _ in by_kind["device"]
        ),
        tuple(told.Operation(a, on) for a, _, _, on, *_ in by_kind["operation"]),
        tuple(
            told.Referral(on, lvef, nyha, admitted)
            for *_, on, admitted, _, nyha, lvef in by_kind["referral"]
        ),
        told.Answered(*risk) if risk else None,
        told.Answered(screen[0], screen[1], screen[2] == EntryScreen.Decision.MAY_START)
        if screen
        else None,
    )


DEVICE_DAYS = ["implanted_on", "removed_on", "detection_read_on"]


def background(**whose: Any) -> QuerySet[Any, Any]:
    """Five tables in one query: whose, what, three words, three days, a whole number, a share.

    ``whose`` filters each of them, such as ``patient=7``.
    """

    def none(field: "Field[Any, Any]") -> Cast:
        return Cast(Value(None), field)

    def of(
        model: type[Model],
        what: str,
        words: Sequence[str] = (),
        days: Sequence[str] = (),
        whole: str = "",
        share: str = "",
    ) -> QuerySet[Any, Any]:
        found: Any = model._default_manager.filter(**whose).order_by()
        named = [Cast(F(name), TextField()) for name in words]
        dated = [Cast(F(name), DateField()) for name in days]
        columns: list[Any] = [
            Value(what, TextField()),
            *named, *[Value("", TextField())] * (3 - len(named)),
            *dated, *[none(DateField())] * (3 - len(dated)),
            Cast(F(whole), IntegerField()) if whole else none(IntegerField()),
            Cast(F(share), FloatField()) if share else none(FloatField()),
        ]  # fmt: skip
        return found.annotate(**{f"c{n}": c for n, c in enumerate(columns)}).values_list(
            "patient", *[f"c{n}" for n in range(len(columns))]
        )

    return of(Condition, "condition", ["kind", "icd10", "wording"], ["happened_on"]).union(
        of(Medicine, "medicine", ["drug_class", "name"], ["stopped_on"]),
        of(Device, "device", ["kind"], DEVICE_DAYS, "detection_bpm"),
        of(Procedure, "operation", ["kind"], ["performed_on"]),
        of(Referral, "referral", [], ["referred_on", "admitted_on"], "nyha_class", "lvef_percent"),
        all=True,
    )


def _newest(model: Any, *names: str) -> Prepared:
    """Some values of somebody's newest row."""
    return Prepared(
        lambda patient: model.objects.filter(patient=patient).values_list(*names)[:1], patient=int
    )


_BACKGROUND = Prepared(lambda patient: background(patient=patient), patient=int)
_RISK = _newest(RiskStratification, "at", "answers")
_SCREEN = _newest(EntryScreen, "at", "answers", "decision")


def event_since_screen(patient: Patient) -> date | None:
    """Day of a qualifying event after the latest entry screen, whose answers then count for
    nothing; None while they count, or there is no screen."""
    record = record_of(patient.pk, patient.site.now().tzinfo)
    today = patient.site.today()
    is_of_before = record.screen is not None and not told.in_force(record.screen, record, today)
    return told.qualifying_event_on(record, today) if is_of_before else None


def fails(patient: Patient) -> bool:
    """Whether somebody is asked and weighed as in heart failure."""
    return bool(told.heart_failure(record_of(patient.pk, patient.site.now().tzinfo)))


def stratify_again(patient: Patient) -> str:
    """Why the class of risk should be looked at again; "" when nothing happened since."""
    latest = patient.stratifications.first()
    return latest.why_again() if latest else ""


def answers_on_record(patient: Patient) -> dict[str, Any]:
    """What the record already answers; the rest stays unanswered. The clinician checks it all."""
    latest = patient.stratifications.first()
    known: dict[str, Any] = {"occasion": "other" if latest else "entry"}
    if latest is not None:
        known |= still_standing(latest.answers, latest.why_again())
    referral = patient.referrals.order_by("-referred_on", "-pk").first()
    if referral is not None:
        if referral.lvef_percent is not None and "lvef_percent" not in known:
            known["lvef_percent"] = f"{referral.lvef_percent:g}"
        if referral.nyha_class and "nyha_class" not in known:
            known["nyha_class"] = referral.nyha_class
    kinds = set(patient.conditions.values_list("kind", flat=True))
    devices = set(patient.devices.filter(removed_on=None).values_list("kind", flat=True))
    if "heart_failure" in kinds:
        known["heart_failure"] = True
    if "icd" in devices:
        known["icd"] = True
    if "pacemaker" in devices:
        known["pacemaker"] = True
    return known
