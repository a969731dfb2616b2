"""The limits in force: of a site, of one person."""

from collections.abc import Iterable

from patients.models import Patient
from patients.prepared import Prepared
from programs.attendance.calc.catalogue import Setting, in_force
from programs.attendance.calc.rules import Rule, Settled
from programs.attendance.models import PersonLimit, SiteLimit


def rules_for(patient: Patient) -> tuple[Rule, ...]:
    """The rules with the limits of the person's site, and the person's own tighter ones."""
    return in_force(site_settings(patient.site_id), _own(_OF_PERSON(patient=patient.pk)))


_OF_SITE = Prepared(lambda site: SiteLimit.objects.filter(site=site), site=int)
_OF_PERSON = Prepared(
    lambda patient: PersonLimit.objects.in_force().filter(patient=patient), patient=int
)


def site_settings(site: int) -> dict[str, Setting]:
    rows: list[SiteLimit] = _OF_SITE(site=site)
    return {
        row.rule_key: Setting(
            row.limit, row.set_on, Settled(row.settled_by) if row.settled_by else None
        )
        for row in rows
    }


def _own(rows: Iterable[PersonLimit]) -> dict[str, Setting]:
    return {row.rule_key: Setting(row.limit, row.set_on) for row in rows}
