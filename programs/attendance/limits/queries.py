"""The limits in force: of a site, of one person."""

from django.db.models import QuerySet

from patients.models import Patient
from programs.attendance.calc.catalogue import Setting, in_force
from programs.attendance.calc.rules import Rule
from programs.attendance.models import PersonLimit, SiteLimit


def rules_for(patient: Patient) -> tuple[Rule, ...]:
    """The rules with the limits of the person's site, and the person's own tighter ones."""
    return in_force(site_settings(patient.site_id), _settings(patient.limits.in_force()))


def site_settings(site: int) -> dict[str, Setting]:
    return _settings(SiteLimit.objects.filter(site=site, limit__isnull=False))


def _settings(rows: QuerySet[SiteLimit] | QuerySet[PersonLimit]) -> dict[str, Setting]:
    return {row.rule_key: Setting(row.limit or 0, row.set_on) for row in rows}
