"""Setting limits of the rules: for a site within bounds, for one person tighter only."""

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.history import save_as
from patients.models import Patient
from programs.attendance.calc.catalogue import BY_KEY, in_force, may_be_settled
from programs.attendance.limits.queries import site_settings
from programs.attendance.models import PersonLimit, SiteLimit
from programs.staff.models import Site, User


@transaction.atomic
def set_site_limit(
    site: Site,
    key: str,
    limit: float | None,
    reason: str,
    *,
    settled_by: str = "",
    seen: int,
    by: User,
) -> SiteLimit:
    """Set a site's limit and who settles its hold; empty is the program's. The history stays.

    Raises
    ------
    ValidationError : an unknown rule, a limit outside its bounds, or no reason.
    StaleVersion : somebody else set it meanwhile.
    """
    row = SiteLimit.objects.select_for_update().filter(site=site, rule_key=key).first()
    if row is None:
        row = SiteLimit(site=site, rule_key=key)
    else:
        row.check_version(seen)
    row.limit, row.reason, row.set_on = limit, reason, site.today()
    row.settled_by = settled_by
    save_as(row, by=by, reason=reason)
    return row


@transaction.atomic
def set_person_limit(
    patient: Patient, key: str, limit: float, reason: str, *, by: User
) -> PersonLimit:
    """A tighter limit for one person, in force until it is ended.

    Raises
    ------
    ValidationError : an unknown rule, outside its bounds, not tighter than the site's limit, or
        the person has a limit of this rule already.
    """
    row = PersonLimit(
        patient=patient, rule_key=key, limit=limit, reason=reason, set_on=patient.site.today()
    )
    row.clean()
    here = next(r for r in in_force(site_settings(patient.site_id)) if r.key == key)
    if not here.is_tighter(limit):
        raise ValidationError(
            f"{limit:g} is not tighter than the limit in force here, {here.compare} {here.limit:g}."
        )
    save_as(row, by=by, reason=reason)
    return row


@transaction.atomic
def end_person_limit(limit: PersonLimit, reason: str, *, by: User) -> None:
    """The site's limit holds again; raises ValidationError without a reason or when ended."""
    row = PersonLimit.objects.select_for_update().select_related("patient__site").get(pk=limit.pk)
    if row.ended_on is not None or not reason.strip():
        raise ValidationError("Ending a limit needs a reason, and is done once.")
    row.ended_on = row.patient.site.today()
    save_as(row, by=by, reason=reason)


def known_limit(key: str) -> bool:
    """Whether a site may set anything of a rule."""
    return key in BY_KEY and (BY_KEY[key].bounds is not None or may_be_settled(key))
