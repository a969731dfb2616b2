"""Which tests an assessment proposes, and the choice of somebody."""

from collections.abc import Collection

from django.core.exceptions import ValidationError
from django.db import transaction

from assessments.calc.catalogue import BY_KEY, MEASURES, PROPOSED
from assessments.calc.choosing import LIMIT_WORDS
from assessments.calc.measure import EQUATION
from assessments.models import Assessment, SiteEquation, UsualTests
from patients.history import save_as
from programs.staff.models import Site, User

REPEATS_BASELINE = {Assessment.Kind.SIX_WEEKS, Assessment.Kind.EXIT}


def set_of(site: Site, kind: str) -> list[str]:
    """The site's own set for a kind of assessment, else the program's."""
    own = UsualTests.objects.filter(site=site, kind=kind).first()
    return list(own.tests) if own else list(PROPOSED[kind])


def baseline_of(assessment: Assessment) -> Assessment | None:
    """The performed baseline of the same course."""
    return assessment.enrolment.assessments.filter(
        kind=Assessment.Kind.BASELINE, performed_on__isnull=False
    ).first()


def proposed_for(assessment: Assessment) -> list[str]:
    """Keys of the tests to do, in the order pages show them.

    What was chosen comes first; a reassessment repeats the tests of the baseline, since only the
    same test shows a change; else the set of the site.
    """
    if assessment.tests:
        return _in_order(assessment.tests)
    if assessment.kind in REPEATS_BASELINE and (first := baseline_of(assessment)):
        done = first.measurements.standing().values_list("key", flat=True)
        return _in_order([*done, *set_of(assessment.enrolment.patient.site, assessment.kind)])
    return _in_order(set_of(assessment.enrolment.patient.site, assessment.kind))


def variants_for(assessment: Assessment) -> dict[str, dict[str, object]]:
    """The site's equations, and how each test was done at the baseline: changes compare only so."""
    site = assessment.enrolment.patient.site
    found: dict[str, dict[str, object]] = {
        row.key: {EQUATION: row.equation} for row in SiteEquation.objects.filter(site=site)
    }
    if assessment.kind not in REPEATS_BASELINE or (first := baseline_of(assessment)) is None:
        return found
    for done in first.measurements.standing():
        variant = {k: done.inputs[k] for k in done.measure.variant_inputs if k in done.inputs}
        if variant or done.key in found:
            found[done.key] = variant
    return found


def _in_order(keys: Collection[str]) -> list[str]:
    return [measure.key for measure in MEASURES if measure.key in keys]


def _known(keys: Collection[str]) -> list[str]:
    if not keys or set(keys) - set(BY_KEY):
        raise ValidationError("Choose at least one test, and only tests of the list.")
    return _in_order(keys)


@transaction.atomic
def choose(
    assessment: Assessment, limits: Collection[str], tests: Collection[str], *, seen: int, by: User
) -> Assessment:
    """Note what seems to limit somebody and the tests that will show it.

    Raises
    ------
    ValidationError : no test, an unknown one, or an unknown limit.
    StaleVersion : somebody else saved the assessment meanwhile.
    """
    row = Assessment.objects.select_for_update().get(pk=assessment.pk)
    row.check_version(seen)
    if set(limits) - set(LIMIT_WORDS):
        raise ValidationError("Choose from the list what seems to limit this person.")
    row.limits = [key for key in LIMIT_WORDS if key in limits]
    row.tests = _known(tests)
    save_as(row, by=by, reason="tests chosen")
    return row


@transaction.atomic
def change_set(
    site: Site, kind: str, tests: Collection[str], reason: str, *, seen: int, by: User
) -> UsualTests:
    """A site's own set of tests for one kind of assessment.

    Raises
    ------
    ValidationError : no test, an unknown one, or no reason.
    StaleVersion : somebody else changed it meanwhile.
    """
    if not reason.strip():
        raise ValidationError("Say why the set changes.")
    row = UsualTests.objects.select_for_update().filter(site=site, kind=kind).first()
    if row is None:
        row = UsualTests(site=site, kind=kind)
    else:
        row.check_version(seen)
    row.tests, row.reason = _known(tests), reason.strip()
    save_as(row, by=by, reason=reason.strip())
    return row


@transaction.atomic
def choose_equation(
    site: Site, key: str, equation: int, reason: str, *, seen: int, by: User
) -> SiteEquation:
    """Which reference equation a site uses from now on; stored results keep theirs.

    Raises
    ------
    ValidationError : no such equation, or no reason.
    StaleVersion : somebody else changed it meanwhile.
    """
    if not reason.strip():
        raise ValidationError("Say why the equation changes.")
    if key not in BY_KEY or equation not in dict(BY_KEY[key].equations):
        raise ValidationError("Choose an equation of the list.")
    row = SiteEquation.objects.select_for_update().filter(site=site, key=key).first()
    if row is None:
        row = SiteEquation(site=site, key=key)
    else:
        row.check_version(seen)
    row.equation, row.reason = equation, reason.strip()
    save_as(row, by=by, reason=reason.strip())
    return row
