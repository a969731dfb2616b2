"""The safety rules in force, the site's own limits, and one person's tighter ones."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.access import get_patient_for
from patients.history import StaleVersion
from patients.models import Patient
from programs.attendance.calc.catalogue import BY_KEY, in_force
from programs.attendance.calc.levels import Phase
from programs.attendance.calc.rules import Rule
from programs.attendance.limits import services
from programs.attendance.limits.forms import EndLimitForm, LimitForm, PersonLimitForm
from programs.attendance.limits.queries import rules_for, site_settings
from programs.attendance.models import PersonLimit, SiteLimit
from programs.staff.access import current_site
from programs.staff.models import Site, User
from programs.staff.request import StaffRequest

PHASES = {
    Phase.BEFORE: "Before exercise",
    Phase.DURING: "In exercise",
    Phase.AFTER: "In recovery",
}


@dataclass(frozen=True)
class Line:
    """A rule on the page: its words with the limit in force."""

    rule: Rule
    default: Rule
    words: str

    @property
    def is_own(self) -> bool:
        return self.rule.limit != self.default.limit


def lines_of(rules: tuple[Rule, ...]) -> list[tuple[str, list[Line]]]:
    lines = [Line(rule, BY_KEY[rule.key], _in_general(rule)) for rule in rules]
    return [
        (title, [line for line in lines if line.rule.phase is phase])
        for phase, title in PHASES.items()
    ]


def _in_general(rule: Rule) -> str:
    """The sentence without a reading: an ellipsis stands where it goes."""
    if rule.bounds is None:
        return rule.sentence.replace("{value:g}", "…").replace("{value}", "…").replace(
            "{limit:g}", f"{rule.limit:g}").replace("{limit}", f"{rule.limit:g}")  # fmt: skip
    return f"{rule.bounds.name} {rule.compare} {rule.limit:g} {rule.bounds.unit}"


@permission_required("attendance.view_sitelimit", raise_exception=True)
def rules(request: StaffRequest) -> HttpResponse:
    """Every rule in force at the site, with its source, whose limit it is and since when."""
    site = current_site(request)
    versions = (
        SiteLimit.history.filter(site=site)
        .select_related("history_user")
        .order_by("-history_date", "-history_id")[:60]
    )
    context = {
        "site": site,
        "groups": lines_of(in_force(site_settings(site.pk))),
        "versions": list(versions),
        "n_rules": len(BY_KEY),
    }
    return render(request, "attendance/rules.html", context)


@permission_required("attendance.change_sitelimit", raise_exception=True)
def edit_limit(request: StaffRequest, key: str) -> HttpResponse:
    """The site's own limit of one rule, within its bounds."""
    user = request.user
    site = current_site(request)
    if not services.known_limit(key):
        raise Http404
    row = SiteLimit.objects.filter(site=site, rule_key=key).first()
    initial: dict[str, Any] = {"seen_version": row.version if row else 0}
    if row is not None:
        initial |= {"limit": row.limit, "settled_by": row.settled_by}
    form = LimitForm(request.POST or None, initial=initial, rule=BY_KEY[key])
    if request.method == "POST" and form.is_valid() and _set(site, key, form, user):
        messages.success(request, "Saved. It is in force from now on.")
        return redirect("attendance:rules")
    return render(
        request,
        "attendance/edit_limit.html",
        {
            "form": form,
            "rule": BY_KEY[key],
            "words": _in_general(BY_KEY[key]),
            "site": site,
            "row": row,
        },
    )


def _set(site: Site, key: str, form: LimitForm, user: User) -> bool:
    given = form.cleaned_data
    seen = given.get("seen_version") or 0
    try:
        services.set_site_limit(
            site,
            key,
            given.get("limit"),
            given["reason"],
            settled_by=given.get("settled_by") or "",
            seen=seen,
            by=user,
        )
    except StaleVersion:
        form.add_error(None, "Somebody else changed this limit meanwhile; open it again.")
        return False
    except ValidationError as error:
        form.add_error(None, error.messages)
        return False
    return True


@permission_required("attendance.view_visit", raise_exception=True)
def person_limits(request: StaffRequest, pk: int) -> HttpResponse:
    """One person's own limits, tighter than the site's; and the history of all of them."""
    user = request.user
    patient = get_patient_for(user, pk)
    here = in_force(site_settings(patient.site_id))
    form = PersonLimitForm(request.POST or None, rules=here)
    if request.method == "POST":
        if not user.has_perm("attendance.add_personlimit"):
            raise PermissionDenied
        if form.is_valid():
            try:
                services.set_person_limit(patient, by=user, **_given(form))
                messages.success(request, "Saved. It is in force from now on.")
                return redirect("attendance:person-limits", patient.pk)
            except ValidationError as error:
                form.add_error(None, error.messages)
    else:
        audit.look(patient, "patient-specific limits", by=user)
    return _own_limits(request, patient, form)


def _own_limits(
    request: StaffRequest,
    patient: Patient,
    form: PersonLimitForm | None = None,
    refused: Mapping[int, EndLimitForm] | None = None,
) -> HttpResponse:
    """The page; ``refused`` holds, by limit, a reason for ending it as it was typed."""
    form = form or PersonLimitForm(rules=in_force(site_settings(patient.site_id)))
    rows, ends = list(patient.limits.all()), dict(refused or {})
    context = {
        "patient": patient,
        "enrolment": patient.enrolments.first(),
        "form": form,
        "rows": [
            (row, BY_KEY.get(row.rule_key), ends.get(row.pk) or _end_form(row.pk)) for row in rows
        ],
        "in_force": [r for r in rules_for(patient) if r.origin.startswith("own limit")],
    }
    return render(request, "attendance/person_limits.html", context)


def _given(form: PersonLimitForm) -> dict[str, Any]:
    data = form.cleaned_data
    return {"key": data["rule_key"], "limit": data["limit"], "reason": data["reason"]}


@require_POST
@permission_required("attendance.add_personlimit", raise_exception=True)
def end_limit(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    mine = PersonLimit.objects.visible_to(user)
    row = get_object_or_404(mine, pk=pk)
    form = _end_form(pk, request.POST)
    if form.is_valid():
        try:
            services.end_person_limit(row, form.cleaned_data["reason"], by=user)
            messages.success(request, "Ended; the site’s limit holds again.")
            return redirect("attendance:person-limits", row.patient_id)
        except ValidationError as error:
            form.add_error(None, error.messages)  # type: ignore[arg-type]
    return _own_limits(request, get_patient_for(user, row.patient_id), refused={pk: form})


def _end_form(pk: int, data: Any = None) -> EndLimitForm:
    return EndLimitForm(data, auto_id=f"end{pk}_%s")
