"""What the record tells of somebody, as far as paper needs it."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, tzinfo
from typing import Any

from django.db.models import F, OuterRef, Subquery, TextField, Value

from assessments.models import Measurement
from programs.attendance.calc.situation import Known
from programs.enrolment.calc import record as told
from programs.enrolment.calc.record import Record
from programs.enrolment.models import EntryScreen, RiskStratification
from programs.enrolment.risk.queries import background, record_from


def last_hba1c(patient: str) -> Subquery:
    """The last HbA1c [%] of the person a column names; a high one tells diabetes."""
    found = Measurement.objects.standing().filter(
        assessment__enrolment__patient=OuterRef(patient), key="hba1c", value__isnull=False
    )
    return Subquery(found.order_by("-assessment__performed_on", "-pk").values("value")[:1])


def records_of(hba1c: Mapping[int, float | None], zone: tzinfo | None) -> dict[int, Record]:
    """The record of each person whose last HbA1c is given. Two queries."""
    rows: dict[int, list[Any]] = defaultdict(list)
    for patient, *row in background(patient__in=hba1c):
        rows[patient].append(row)
    answered = _answered(list(hba1c))
    return {
        patient: replace(_record(rows[patient], answered, patient, zone), hba1c_percent=percent)
        for patient, percent in hba1c.items()
    }


def _record(rows: list[Any], answered: Any, patient: int, zone: tzinfo | None) -> Record:
    risk, screen = answered.get((patient, "risk")), answered.get((patient, "screen"))
    return record_from(
        rows,
        (risk[0].astimezone(zone).date(), risk[1]) if risk else None,
        (screen[0].astimezone(zone).date(), screen[1], screen[2]) if screen else None,
    )


def _answered(people: list[int]) -> dict[tuple[int, str], Any]:
    """The latest class of risk and the latest entry screen of each, in one query."""

    def of(model: Any, kind: str, decided: str) -> Any:
        found = model.objects.filter(patient__in=people).order_by()
        named = found.annotate(kind=Value(kind, TextField()), said=F(decided))
        return named.values_list("patient", "kind", "at", "pk", "answers", "said")

    risks = of(RiskStratification, "risk", "decided")
    both = risks.union(of(EntryScreen, "screen", "decision"), all=True).order_by("at", "pk")
    # Later ones take the place of earlier ones.
    return {(patient, kind): (at, answers, said) for patient, kind, at, _, answers, said in both}


def groups_of(record: Record, on: date) -> frozenset[str]:
    """Who somebody is, for questions asked of some only: the same facts as on the sheet."""
    return Known(
        uses_insulin=bool(told.insulin_or_secretagogue(record, on)),
        has_diabetes=bool(told.diabetes(record, on)),
        has_heart_failure=bool(told.heart_failure(record)),
        has_icd=bool(told.defibrillator(record, on)),
    ).groups


def record_with_hba1c(patient: Any) -> Record:
    """One person's record with the last HbA1c."""
    hba1c = type(patient).objects.filter(pk=patient.pk).values_list(last_hba1c("pk")).get()[0]
    return records_of({patient.pk: hba1c}, patient.site.now().tzinfo)[patient.pk]
