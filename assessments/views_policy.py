"""How a site assesses: everything it may choose, on one page; each change with a reason."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from assessments import services_choosing, services_policy
from assessments.calc.catalogue import BY_KEY, MEASURES
from assessments.calc.targets import BY_KEY as TARGET_OF
from assessments.calc.targets import TARGETS
from assessments.forms_choosing import EquationForm, UsualTestsForm
from assessments.forms_policy import PolicyForm, TargetForm
from assessments.models import Assessment, AssessmentPolicy, SiteEquation, SiteTarget, UsualTests
from patients.forms import as_typed
from patients.history import StaleVersion
from programs.staff.access import current_site
from programs.staff.request import StaffRequest


def test_sets(request: StaffRequest) -> HttpResponse:
    """What the site does at each kind of assessment, by which equations, towards which targets.

    For those who assess and those who set it; there is nothing of a patient on it.
    """
    user = request.user
    if not (user.has_perm("assessments.view_assessment") or user.has_perm("staff.change_setting")):
        raise PermissionDenied
    site = current_site(request)
    own = {row.kind: row for row in UsualTests.objects.filter(site=site)}
    kinds = [
        (kind, label, own.get(kind), [BY_KEY[k] for k in services_choosing.set_of(site, kind)])
        for kind, label in Assessment.Kind.choices
    ]
    chosen = {row.key: row for row in SiteEquation.objects.filter(site=site)}
    targets = {row.key: row for row in SiteTarget.objects.filter(site=site)}
    context = {
        "kinds": kinds,
        "equations": [(m, chosen.get(m.key), m.equations[0][1]) for m in MEASURES if m.equations],
        "targets": [_target_line(target, targets.get(target.key)) for target in TARGETS],
        "policy": AssessmentPolicy.of(site),
        "here": site,
    }
    return render(request, "assessments/test_sets.html", context)


def _target_line(target: Any, own: SiteTarget | None) -> tuple[Any, SiteTarget | None, str]:
    return target, own, target.words(own.amount if own else target.amount)


@permission_required("staff.change_setting", raise_exception=True)
def change_set(request: StaffRequest, kind: str) -> HttpResponse:
    """Change the set of one kind of assessment, with a reason."""
    user = request.user
    site = current_site(request)
    if kind not in Assessment.Kind.values:
        return redirect("assessments:test-sets")
    row = UsualTests.objects.filter(site=site, kind=kind).first()
    form = UsualTestsForm(
        request.POST or None,
        initial={"tests": services_choosing.set_of(site, kind)},
        version=row.version if row else 0,
    )

    def store(given: dict[str, Any]) -> None:
        services_choosing.change_set(
            site, kind, given["tests"], given["reason"], seen=form.seen, by=user
        )

    label = f"Tests of the {Assessment.Kind(kind).label.lower()}"
    return _change(request, form, store, label, row, lambda v: f"{len(v.tests)} tests")


@permission_required("staff.change_setting", raise_exception=True)
def change_equation(request: StaffRequest, key: str) -> HttpResponse:
    """Change the reference equation of one test, with a reason."""
    user = request.user
    site = current_site(request)
    measure = BY_KEY.get(key)
    if measure is None or not measure.equations:
        raise Http404
    row = SiteEquation.objects.filter(site=site, key=key).first()
    form = EquationForm(
        request.POST or None,
        initial={"equation": row.equation if row else measure.equations[0][0]},
        version=row.version if row else 0,
        measure=measure,
    )

    def store(given: dict[str, Any]) -> None:
        services_choosing.choose_equation(
            site, key, given["equation"], given["reason"], seen=form.seen, by=user
        )

    label = f"Reference equation of the {measure.name.lower()}"
    names = dict(measure.equations)
    return _change(request, form, store, label, row, lambda v: names.get(v.equation, ""))


@permission_required("staff.change_setting", raise_exception=True)
def change_target(request: StaffRequest, key: str) -> HttpResponse:
    """Change the target for one risk factor, with a reason."""
    user = request.user
    site = current_site(request)
    target = TARGET_OF.get(key)
    if target is None or target.bounds.low == target.bounds.high:
        raise Http404
    row = SiteTarget.objects.filter(site=site, key=key).first()
    form = TargetForm(
        request.POST or None,
        initial={"amount": row.amount if row else target.amount},
        version=row.version if row else 0,
        target=target,
    )

    def store(given: dict[str, Any]) -> None:
        services_policy.change_target(
            site, key, given["amount"], given["reason"], seen=form.seen, by=user
        )

    label = f"Target for {target.name}"
    return _change(request, form, store, label, row, lambda v: target.words(v.amount))


@permission_required("staff.change_setting", raise_exception=True)
def change_policy(request: StaffRequest) -> HttpResponse:
    """Change how often is checked, the longest course, and whom a concern goes to."""
    user = request.user
    site = current_site(request)
    row = AssessmentPolicy.of(site)
    names = ["informal_every_days", "longest_course_m", "concern_owner"]
    form = PolicyForm(
        request.POST or None,
        initial={name: as_typed(getattr(row, name)) for name in names},
        version=row.version,
        site=site,
    )

    def store(given: dict[str, Any]) -> None:
        changed = AssessmentPolicy(site=site, reason=given["reason"])
        for name in names:
            setattr(changed, name, given[name])
        services_policy.change_policy(changed, seen=form.seen, by=user)

    stored = row if row.pk else None
    return _change(request, form, store, "How often, where, and who answers", stored, _policy_words)


def _policy_words(version: Any) -> str:
    words = [f"checks every {version.informal_every_days} days"]
    if version.longest_course_m:
        words.append(f"course up to {version.longest_course_m:g} m")
    words.append(f"concerns to {version.concern_owner or 'whoever the course is assigned to'}")
    return ", ".join(words)


def _change(
    request: StaffRequest, form: Any, store: Any, label: str, row: Any, words: Any
) -> HttpResponse:
    """One setting: store and go back, or show the form with what was set before."""
    if request.method == "POST" and form.is_valid():
        try:
            store(form.cleaned_data)
            messages.success(request, "Saved; it holds from now on, stored results stay.")
            return redirect("assessments:test-sets")
        except StaleVersion:
            form.add_error(None, "Somebody else changed this meanwhile; look again.")
        except ValidationError as error:
            form.add_error(None, error)
    versions = row.history.select_related("history_user") if row else []
    context = {
        "form": form,
        "label": label,
        "versions": [(version, words(version)) for version in versions],
        "here": current_site(request),
    }
    return render(request, "assessments/change_set.html", context)
