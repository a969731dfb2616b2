"""Policy of a site: payers and their rule sets, what a class of risk means, precautions."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from patients.forms import stored
from patients.history import save_as
from patients.models import PrecautionProtocol
from patients.typed import whole
from programs.enrolment.calc.risk import RiskClass
from programs.enrolment.calc.rule_sets import SHIPPED
from programs.enrolment.models import Payer, SiteRuleSet
from programs.enrolment.policy import services
from programs.enrolment.policy.forms import PayerForm, ProtocolForm, RuleSetForm, SupervisionForm
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.services import save_setting


@permission_required("enrolment.view_payer", raise_exception=True)
def policy(request: StaffRequest) -> HttpResponse:
    """Everything in force at the site, with its source and who changed it last."""
    site = current_site(request)
    own = list(SiteRuleSet.objects.filter(site=site))
    versions = versions_of(own)
    context = {
        "site": site,
        "payers": list(Payer.objects.filter(site=site).select_related("own")),
        "shipped": list(SHIPPED.values()),
        "own": [(row, row.rule_set(), versions[row.pk]) for row in own],
        "supervision": services.supervision_of(site),
        "protocols": list(PrecautionProtocol.objects.filter(site=site)),
    }
    return render(request, "enrolment/policy.html", context)


@dataclass(frozen=True)
class Version:
    """One saved version of a setting: who, when, and what it changed."""

    at: datetime
    by: str
    changes: tuple[str, ...]


def versions_of(rows: list[SiteRuleSet]) -> dict[int, list[Version]]:
    """Every version of these rule sets, newest first. One query."""
    stored = SiteRuleSet.history.filter(id__in=[row.pk for row in rows])
    found: dict[int, list[Version]] = {row.pk: [] for row in rows}
    earlier: dict[int, Any] = {}
    told = [f for f in SiteRuleSet._meta.fields if f.name not in {"id", "version", "site"}]
    for one in stored.select_related("history_user").order_by("history_date", "history_id"):
        before = earlier.get(one.id)
        changes = tuple(
            f"{f.verbose_name}: {getattr(before, f.name) or '–'} → {getattr(one, f.name) or '–'}"
            for f in told
            if before is not None and getattr(before, f.name) != getattr(one, f.name)
        )
        found[one.id].insert(0, Version(one.history_date, str(one.history_user or ""), changes))
        earlier[one.id] = one
    return found


def _edit(request: StaffRequest, form: Any, title: str, write: Any, seen: int = 0) -> HttpResponse:
    """Show a setting's form, save it, say what refused it."""
    if request.method == "POST" and form.is_valid():
        row = form.save(commit=False)
        if stored(form, lambda: write(row)):
            messages.success(request, "Saved. It is in force from now on.")
            return redirect("enrolment:policy")
    context = {"form": form, "title": title, "seen": seen}
    return render(request, "enrolment/edit_policy.html", context)


@permission_required("enrolment.change_payer", raise_exception=True)
def edit_payer(request: StaffRequest, pk: int | None = None) -> HttpResponse:
    user = request.user
    found = Payer.objects.visible_to(user).select_related("site")
    row = get_object_or_404(found, pk=pk) if pk else Payer(site=current_site(request))
    form = PayerForm(request.POST or None, instance=row, site=row.site)
    return _edit(request, form, str(row) if pk else "Add payer", lambda new: save_as(new, by=user))


@permission_required("enrolment.change_siteruleset", raise_exception=True)
def copy_rule_set(request: StaffRequest, key: str) -> HttpResponse:
    """A shipped rule set as the start of the site's own."""
    user = request.user
    if key not in SHIPPED:
        raise Http404
    site = current_site(request)
    row = SiteRuleSet.copy_of(key, site=site, name=f"{SHIPPED[key].name}, {site}")
    form = RuleSetForm(request.POST or None, instance=row)
    return _edit(request, form, f"Copy of {SHIPPED[key].name}", lambda new: save_as(new, by=user))


@permission_required("enrolment.change_siteruleset", raise_exception=True)
def edit_rule_set(request: StaffRequest, pk: int) -> HttpResponse:
    user = request.user
    row = get_object_or_404(SiteRuleSet.objects.visible_to(user), pk=pk)
    seen, form = row.version, RuleSetForm(request.POST or None, instance=row)
    return _edit(request, form, str(row), _versioned(request), seen)


@permission_required("enrolment.change_siteruleset", raise_exception=True)
def edit_supervision(request: StaffRequest, risk_class: str) -> HttpResponse:
    if risk_class not in set(RiskClass):
        raise Http404
    row = services.supervision_of(current_site(request))[risk_class]
    seen, form = row.version, SupervisionForm(request.POST or None, instance=row)
    return _edit(request, form, f"{risk_class} risk".capitalize(), _versioned(request), seen)


@permission_required("enrolment.change_siteruleset", raise_exception=True)
def edit_protocol(request: StaffRequest, pk: int | None = None) -> HttpResponse:
    user = request.user
    found = PrecautionProtocol.objects.visible_to(user)
    row = get_object_or_404(found, pk=pk) if pk else PrecautionProtocol(site=current_site(request))
    form = ProtocolForm(request.POST or None, instance=row)
    return _edit(
        request, form, str(row) if pk else "Add precaution", lambda new: save_as(new, by=user)
    )


def _versioned(request: StaffRequest) -> Any:
    user = request.user
    raw = request.POST.get("seen_version", "")
    seen = whole(raw) or 0
    return lambda new: save_setting(new, seen=seen, by=user)
