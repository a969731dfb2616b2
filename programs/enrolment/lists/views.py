"""A hospital's list of referrals: upload, preview, take in, bad rows back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.models import AuditEvent
from patients.submissions import AlreadyTaken
from programs.enrolment.calc.file_text import UnreadableFile, refuse_size
from programs.enrolment.lists import services
from programs.enrolment.lists.access import get_referral_list_for
from programs.enrolment.lists.forms import ListForm, MappingForm
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

SECONDS_A_REQUEST = 15  # half of what a worker may take; the page then says what is left


@permission_required("enrolment.add_referral", raise_exception=True)
def upload(request: StaffRequest) -> HttpResponse:
    """Take a file for preview; nothing of it becomes a referral yet."""
    user = request.user
    form = ListForm(request.POST or None, request.FILES or None)
    if request.method == "POST":
        try:
            refuse_size(getattr(request, "refused_upload_bytes", 0))
            if form.is_valid():
                file = form.cleaned_data["file"]
                site = current_site(request)
                listed = services.receive(site, file.name, file.read(), key=form.key, by=user)
                return redirect("enrolment:list", listed.pk)
        except AlreadyTaken as taken:
            return redirect("enrolment:list", taken.made)
        except UnreadableFile as error:
            return render(
                request,
                "enrolment/upload.html",
                {"form": ListForm(), "refusal": str(error)},
                status=413 if hasattr(request, "refused_upload_bytes") else 400,
            )
    return render(request, "enrolment/upload.html", {"form": form})


@permission_required("enrolment.add_referral", raise_exception=True)
def preview(request: StaffRequest, pk: int) -> HttpResponse:
    """What would become of every row; the columns can be corrected."""
    listed = get_referral_list_for(request.user, pk)
    is_done = listed.state == listed.State.DONE
    if is_done or listed.n_taken:
        left = 0 if is_done else services.n_rows(listed) - listed.n_taken
        return render(request, "enrolment/list_done.html", {"listed": listed, "left": left})
    seen = services.preview(listed)
    initial = {f"column_{name}": str(index) for name, index in seen.mapping.items()}
    initial["date_order"] = listed.date_order
    form = MappingForm(request.POST or None, headers=seen.table.headers, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            services.change_mapping(listed, form.mapping(), form.cleaned_data["date_order"])
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        return redirect("enrolment:list", pk)
    counts = {fate: seen.count(fate) for fate in ("new", "known", "bad")}
    context = {"listed": listed, "seen": seen, "form": form, "counts": counts}
    return render(request, "enrolment/list_preview.html", context)


@require_POST
@permission_required("enrolment.add_referral", raise_exception=True)
def take_in(request: StaffRequest, pk: int) -> HttpResponse:
    """Take the rows in; what one request has no time for waits for the next."""
    listed = get_referral_list_for(request.user, pk)
    try:
        services.take_in(listed, by=request.user, seconds=SECONDS_A_REQUEST)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return redirect("enrolment:list", pk)


@permission_required("enrolment.add_referral", raise_exception=True)
def rejected(request: StaffRequest, pk: int) -> HttpResponse:
    """The refused rows as CSV, each with its reasons."""
    listed = get_referral_list_for(request.user, pk)
    audit.record(AuditEvent.Kind.EXPORT, f"refused rows of {listed.name}", by=request.user)
    response = HttpResponse(
        "\ufeff" + services.rejected_csv(listed), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = f'attachment; filename="refused-rows-{listed.pk}.csv"'
    return response
