"""How a site assesses: how often, on which course, who answers for a concern, targets."""

from django.core.exceptions import ValidationError
from django.db import transaction

from assessments.calc.targets import BY_KEY as TARGETS
from assessments.models import AssessmentPolicy, SiteTarget
from patients.history import save_as
from programs.staff.models import Site, User


@transaction.atomic
def change_policy(changed: AssessmentPolicy, *, seen: int, by: User) -> AssessmentPolicy:
    """Store a site's policy. What was due before today stays as it was due.

    Raises
    ------
    ValidationError : no reason, an interval other than 7 or 14 days, or an owner of another site.
    StaleVersion : somebody else changed it meanwhile.
    """
    if not changed.reason.strip():
        raise ValidationError("Say why the policy changes.")
    owner = changed.concern_owner
    if owner is not None and not may_answer(owner, changed.site):
        raise ValidationError(f"{owner} cannot close concerns at {changed.site}.")
    row = AssessmentPolicy.objects.select_for_update().filter(site=changed.site).first()
    if row is not None:
        row.check_version(seen)
        changed.pk, changed.version = row.pk, row.version
        changed._state.adding = False
    elif seen:
        raise ValidationError("This site has no policy of its own any more; look again.")
    _keep_rhythm(changed, row)
    changed.reason = changed.reason.strip()
    save_as(changed, by=by, reason=changed.reason)
    return changed


def _keep_rhythm(changed: AssessmentPolicy, stored: AssessmentPolicy | None) -> None:
    """Another interval holds from today on."""
    before = stored or AssessmentPolicy(site=changed.site)
    changed.rhythm = list(before.rhythm)
    if changed.informal_every_days != before.informal_every_days:
        today = f"{changed.site.today()}"
        kept = [entry for entry in before.rhythm if entry[0] != today]
        changed.rhythm = [*kept, [today, changed.informal_every_days]]


def may_answer(person: User, site: Site) -> bool:
    """Whether a concern can be in somebody's hands: works there, and may close it."""
    works_here = site.pk in person.site_ids()
    return person.is_active and works_here and person.has_perm("assessments.close_concern")


@transaction.atomic
def change_target(
    site: Site, key: str, amount: float, reason: str, *, seen: int, by: User
) -> SiteTarget:
    """A site's own target; results are compared with it from now on.

    Raises
    ------
    ValidationError : no reason or no such target.
    OutOfRange : an amount outside the bounds of the target.
    StaleVersion : somebody else changed it meanwhile.
    """
    if not reason.strip():
        raise ValidationError("Say why the target changes.")
    if key not in TARGETS:
        raise ValidationError("Choose a target of the list.")
    TARGETS[key].bounds.check(amount)
    row = SiteTarget.objects.select_for_update().filter(site=site, key=key).first()
    if row is None:
        row = SiteTarget(site=site, key=key)
    else:
        row.check_version(seen)
    row.amount, row.reason = amount, reason.strip()
    save_as(row, by=by, reason=reason.strip())
    return row
