"""The limits in force: of a site, of one person."""

from django.db.models import QuerySet

from patients.models import Patient
from programs.attendance.calc.catalogue import Setting, in_force
from programs.attendance.calc.rules import Rule, Settled
from programs.attendance.models import PersonLimit, SiteLimit


def rules_for(patient: Patient) -> tuple[Rule, ...]:
    """The rules with the limits of the person's site, and the person's own tighter ones."""
    return in_force(site_settings(patient.site_id), _own(patient.limits.in_force()))


def site_settings(site: int) -> dict[str, Setting]:
    rows = SiteLimit.objects.filter(site=site)
    return {
        row.rule_key: Setting(
            row.limit, row.set_on, Settled(row.settled_by) if row.settled_by else None
        )
        for row in rows
    }


def _own(rows: QuerySet[PersonLimit]) -> dict[str, Setting]:
    return {row.rule_key: Setting(row.limit, row.set_on) for row in rows}
