"""A site's targets: read and set by who answers for its figures."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from patients.forms import stored
from patients.typed import whole
from programs.staff.access import current_site
from programs.staff.request import StaffRequest
from programs.staff.services import save_setting
from reports.forms import TargetsForm
from reports.models import ProgramTargets


@permission_required("reports.change_programtargets", raise_exception=True)
def edit_targets(request: StaffRequest) -> HttpResponse:
    """Set what a site wants to reach: the one asked for, else where somebody works now."""
    asked = request.GET.get("site", "")
    site = next((s for s in request.user.my_sites() if str(s.pk) == asked), None)
    if asked and site is None:
        raise Http404("This is none of your sites.")
    site = site or current_site(request)
    row = ProgramTargets.objects.filter(site=site).first() or ProgramTargets(site=site)
    seen = row.version if row.pk is not None else 0
    form = TargetsForm(request.POST or None, instance=row)
    if request.method == "POST" and form.is_valid():
        typed = whole(request.POST.get("seen_version", "")) or 0
        new = form.save(commit=False)
        if stored(form, lambda: save_setting(new, seen=typed, by=request.user)):
            messages.success(request, "Saved. The targets stand beside the figures of this site.")
            return redirect(f"{reverse('reports:program')}?site={site.pk}")
    context = {"form": form, "site": site, "seen": seen}
    return render(request, "reports/program/targets.html", context)
