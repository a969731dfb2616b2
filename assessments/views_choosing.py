"""Choosing tests by what seems to limit somebody, and running one on a tablet."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from assessments import services_choosing
from assessments.access import get_assessment_for
from assessments.calc.catalogue import BY_KEY, MEASURES
from assessments.calc.choosing import LIMIT_WORDS, LIMITS, TEST_OF, minutes_of, suggest
from assessments.calc.shuttle_walk import LEVELS, SHUTTLE_WALK, shuttles_in
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.forms_choosing import EquationForm, UsualTestsForm
from assessments.models import Assessment, SiteEquation, UsualTests
from assessments.queries_choosing import on_record
from patients import audit
from patients.forms import as_typed
from patients.history import StaleVersion
from programs.staff.access import current_site


@permission_required("assessments.add_assessment", raise_exception=True)
def choose(request: HttpRequest, pk: int) -> HttpResponse:
    """Tick what seems to limit somebody, see the tests, take those that will be done."""
    user: Any = request.user
    assessment = get_assessment_for(user, pk)
    enrolment = assessment.enrolment
    patient = enrolment.patient
    limits = [key for key in request.GET.getlist("limit") if key in LIMIT_WORDS]
    if "limit" not in request.GET:
        limits = list(assessment.limits)
    if request.method == "POST":
        seen = request.POST.get("seen_version", "")
        try:
            services_choosing.choose(
                assessment,
                request.POST.getlist("limit"),
                request.POST.getlist("test"),
                seen=int(seen) if seen.isdecimal() else 0,
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
    suggested = suggest(limits, on_record(enrolment, patient.site.today()))
    shown = {s.test.key for s in suggested}
    context = {
        "assessment": assessment,
        "enrolment": enrolment,
        "patient": patient,
        "limits": [(key, words, key in limits) for key, words in LIMITS],
        "chosen_limits": limits,
        "suggested": [(s, s.test.key in proposed) for s in suggested],
        "others": [(BY_KEY[key], TEST_OF.get(key)) for key in proposed if key not in shown],
        "minutes": minutes_of(proposed),
    }
    return render(request, "assessments/choose.html", context)


RUNNERS = {SIX_MINUTE_WALK.key: "six", SHUTTLE_WALK.key: "shuttle"}
USUAL_COURSE_M = 30  # ATS 2002: the standard corridor


@permission_required("assessments.add_assessment", raise_exception=True)
def run(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """Count a walk on a tablet; the result goes into the assessment's form, not yet the record."""
    assessment = get_assessment_for(request.user, pk)
    if key not in RUNNERS:
        raise Http404
    patient = assessment.enrolment.patient
    audit.look(patient, BY_KEY[key].name, by=request.user)
    variant = services_choosing.variants_for(assessment).get(key, {})
    context = {
        "assessment": assessment,
        "patient": patient,
        "measure": BY_KEY[key],
        "kind": RUNNERS[key],
        "course_m": as_typed(variant.get("course_m", USUAL_COURSE_M)),
        "levels": [shuttles_in(level) for level in range(1, LEVELS + 1)],
    }
    return render(request, "assessments/run.html", context)


@permission_required("assessments.view_assessment", raise_exception=True)
def test_sets(request: HttpRequest) -> HttpResponse:
    """What the site does at each kind of assessment."""
    site = current_site(request)
    own = {row.kind: row for row in UsualTests.objects.filter(site=site)}
    kinds = [
        (kind, label, own.get(kind), [BY_KEY[k] for k in services_choosing.set_of(site, kind)])
        for kind, label in Assessment.Kind.choices
    ]
    chosen = {row.key: row for row in SiteEquation.objects.filter(site=site)}
    equations = [(m, chosen.get(m.key), m.equations[0][1]) for m in MEASURES if m.equations]
    context = {"kinds": kinds, "equations": equations, "here": site}
    return render(request, "assessments/test_sets.html", context)


@permission_required("staff.change_setting", raise_exception=True)
def change_set(request: HttpRequest, kind: str) -> HttpResponse:
    """Change the set of one kind of assessment, with a reason."""
    user: Any = request.user
    site = current_site(request)
    if kind not in Assessment.Kind.values:
        return redirect("assessments:test-sets")
    row = UsualTests.objects.filter(site=site, kind=kind).first()
    form = UsualTestsForm(
        request.POST or None,
        initial={"tests": services_choosing.set_of(site, kind)},
        version=row.version if row else 0,
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            services_choosing.change_set(
                site, kind, given["tests"], given["reason"], seen=form.seen, by=user
            )
            messages.success(request, "Saved; later assessments propose these tests.")
            return redirect("assessments:test-sets")
        except StaleVersion:
            form.add_error(None, "Somebody else changed this set meanwhile; look again.")
        except ValidationError as error:
            form.add_error(None, error)
    context = {
        "form": form,
        "label": f"Tests of the {Assessment.Kind(kind).label.lower()}",
        "versions": list(row.history.select_related("history_user")) if row else [],
        "here": site,
    }
    return render(request, "assessments/change_set.html", context)


@permission_required("staff.change_setting", raise_exception=True)
def change_equation(request: HttpRequest, key: str) -> HttpResponse:
    """Change the reference equation of one test, with a reason."""
    user: Any = request.user
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
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            services_choosing.choose_equation(
                site, key, given["equation"], given["reason"], seen=form.seen, by=user
            )
            messages.success(request, "Saved; later results are scored by it.")
            return redirect("assessments:test-sets")
        except StaleVersion:
            form.add_error(None, "Somebody else changed this meanwhile; look again.")
        except ValidationError as error:
            form.add_error(None, error)
    context = {
        "form": form,
        "label": f"Reference equation of the {measure.name.lower()}",
        "versions": list(row.history.select_related("history_user")) if row else [],
        "here": site,
    }
    return render(request, "assessments/change_set.html", context)
