"""Doses at a site: its limits, whether an unsigned dose goes on, the machines it owns."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render

from patients.forms import stored
from patients.typed import whole
from programs.prescription.policy.forms import DosePolicyForm, MachineForm
from programs.prescription.policy.queries import machines_of, policy_of
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.services import save_setting


@permission_required("attendance.view_sitelimit", raise_exception=True)
def policy(request: StaffRequest) -> HttpResponse:
    """What is in force at the site."""
    site = current_site(request)
    context = {"site": site, "policy": policy_of(site), "machines": machines_of(site)}
    return render(request, "prescription/policy.html", context)


@permission_required("attendance.change_sitelimit", raise_exception=True)
def edit_policy(request: StaffRequest) -> HttpResponse:
    row = policy_of(current_site(request))
    form = DosePolicyForm(request.POST or None, instance=row)
    return _edit(request, form, f"Limits of doses at {row.site}", _seen_of(row))


@permission_required("attendance.change_sitelimit", raise_exception=True)
def edit_machine(request: StaffRequest, kind: str) -> HttpResponse:
    row = next((one for one in machines_of(current_site(request)) if one.kind == kind), None)
    if row is None:
        raise Http404
    form = MachineForm(request.POST or None, instance=row)
    return _edit(request, form, f"{row} at {row.site}", _seen_of(row))


def _seen_of(row: Any) -> int:
    """0 of a setting nobody has stored yet."""
    return row.version if row.pk is not None else 0


def _edit(request: StaffRequest, form: Any, title: str, seen: int) -> HttpResponse:
    """Show a setting's form, save it, say what refused it."""
    if request.method == "POST" and form.is_valid():
        typed = whole(request.POST.get("seen_version", "")) or 0
        row = form.save(commit=False)
        if stored(form, lambda: save_setting(row, seen=typed, by=request.user)):
            messages.success(request, "Saved. It is in force from now on.")
            return redirect("prescription:policy")
    context = {"form": form, "title": title, "seen": seen}
    return render(request, "prescription/edit_policy.html", context)
