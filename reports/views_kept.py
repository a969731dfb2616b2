"""Questions to the program's page that somebody keeps for themselves."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from programs.staff.request import StaffRequest
from reports import keeping
from reports.forms import ForgetForm, KeepForm
from reports.models import KeptQuestion


@require_POST
@permission_required("reports.view_program", raise_exception=True)
def keep(request: StaffRequest) -> HttpResponse:
    """Keep the question of the page and show its answer again."""
    form = KeepForm(request.POST)
    if not form.is_valid():
        messages.error(request, str(next(iter(form.errors.values()))[0]))
        return redirect("reports:program")
    told = form.cleaned_data
    try:
        row = keeping.keep(
            request.user, told["name"], told["question"], with_days=told["with_days"]
        )
    except ValidationError as error:
        messages.error(request, error.messages[0])
        return redirect("reports:program")
    messages.success(request, f"Kept as “{row.name}”.")
    return redirect(f"{reverse('reports:program')}?{row.address}")


@require_POST
@permission_required("reports.view_program", raise_exception=True)
def drop(request: StaffRequest) -> HttpResponse:
    """Forget one of one's own questions; one that is gone already is no trouble."""
    form = ForgetForm(request.POST)
    if form.is_valid():
        name = form.cleaned_data["name"]
        KeptQuestion.objects.filter(user=request.user, name=name).delete()
        messages.success(request, f"“{name}” is kept no longer.")
    return redirect("reports:program")
