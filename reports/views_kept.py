"""Questions to the program's page that somebody keeps for themselves."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from patients.typed import whole
from programs.staff.request import StaffRequest
from reports import keeping
from reports.forms import KeepForm
from reports.models import KeptQuestion


@require_POST
@permission_required("reports.view_program", raise_exception=True)
def keep(request: StaffRequest) -> HttpResponse:
    """Keep the question of the page and show its answer again."""
    form = KeepForm(request.POST)
    back = keeping.address_of(request.POST.get("question", ""), with_days=True)
    if form.is_valid():
        told = form.cleaned_data
        try:
            row = keeping.keep(
                request.user, told["name"], told["question"], with_days=told["with_days"]
            )
            messages.success(request, f"Kept as “{row.name}”.")
            back = row.address
        except ValidationError as error:
            messages.error(request, error.messages[0])
    else:
        messages.error(request, str(next(iter(form.errors.values()))[0]))
    return redirect(f"{reverse('reports:program')}?{back}")


@require_POST
@permission_required("reports.view_program", raise_exception=True)
def drop(request: StaffRequest) -> HttpResponse:
    """Forget one of one's own questions; one that is gone already is no trouble."""
    key = whole(request.POST.get("question", "")) or 0
    row = KeptQuestion.objects.filter(user=request.user, pk=key).first()
    if row is not None:
        row.delete()
        messages.success(request, f"“{row.name}” is kept no longer.")
    return redirect("reports:program")
