"""Choosing tests by what seems to limit somebody."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render

from assessments import services_choosing
from assessments.access import get_assessment_for
from assessments.calc.catalogue import BY_KEY
from assessments.calc.choosing import LIMIT_WORDS, TEST_OF, minutes_of, suggest
from assessments.forms_choosing import KeptTestsForm, LimitsForm
from assessments.queries_record import on_record
from patients import audit
from patients.history import StaleVersion
from patients.typed import whole
from programs.staff.request import StaffRequest


@permission_required("assessments.add_assessment", raise_exception=True)
def choose(request: StaffRequest, pk: int) -> HttpResponse:
    """Tick what seems to limit somebody, see the tests, take those that will be done."""
    user = request.user
    assessment = get_assessment_for(user, pk)
    enrolment = assessment.enrolment
    patient = enrolment.patient
    limits = [key for key in request.GET.getlist("limit") if key in LIMIT_WORDS]
    if "limit" not in request.GET and "asked" not in request.GET:
        limits = list(assessment.limits)
    if request.method == "POST":
        seen = request.POST.get("seen_version", "")
        try:
            services_choosing.choose(
                assessment,
                request.POST.getlist("limit"),
                request.POST.getlist("test"),
                seen=whole(seen) or 0,
                by=user,
            )
            messages.success(request, "Tests chosen.")
            return redirect("assessments:record", pk)
        except StaleVersion:
            messages.error(request, "Somebody else saved this assessment meanwhile; look again.")
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        limits = [key for key in request.POST.getlist("limit") if key in LIMIT_WORDS]
    else:
        audit.look(patient, "choice of tests", by=user)
    proposed = services_choosing.proposed_for(assessment)
    if "asked" in request.GET:  # what was ticked before other limits were asked for
        proposed = [key for key in BY_KEY if key in request.GET.getlist("test")]
    suggested = suggest(limits, on_record(enrolment, patient.site.today()))
    shown = {s.test.key for s in suggested}
    others = [(BY_KEY[key], TEST_OF.get(key)) for key in proposed if key not in shown]
    context = {
        "assessment": assessment,
        "enrolment": enrolment,
        "patient": patient,
        "limits_form": LimitsForm(limits),
        "chosen_limits": limits,
        "suggested": [(s, s.test.key in proposed) for s in suggested],
        "others": others,
        "others_form": KeptTestsForm(others),
        "minutes": minutes_of(proposed),
    }
    return render(request, "assessments/choose.html", context)
