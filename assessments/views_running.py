"""Running a test on a tablet; the result goes into the assessment's form, not yet the record."""

from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import render

from assessments.access import get_assessment_for
from assessments.calc.catalogue import BY_KEY
from assessments.calc.running import COUNTED_BY_KEY, TIMED_BY_KEY, labels_of
from assessments.calc.shuttle_walk import LEVELS, SHUTTLE_WALK, shuttles_in
from assessments.calc.six_minute_walk import SIX_MINUTE_WALK
from assessments.services_choosing import variants_for
from patients import audit
from patients.forms import as_typed
from programs.staff.request import StaffRequest

WALKS = {SIX_MINUTE_WALK.key: "six", SHUTTLE_WALK.key: "shuttle"}
RUNNERS = {*WALKS, *COUNTED_BY_KEY, *TIMED_BY_KEY}
USUAL_COURSE_M = 30  # ATS 2002: the standard corridor


@permission_required("assessments.add_assessment", raise_exception=True)
def run(request: StaffRequest, pk: int, key: str) -> HttpResponse:
    """Count or time one test."""
    assessment = get_assessment_for(request.user, pk)
    if key not in RUNNERS:
        raise Http404
    patient = assessment.enrolment.patient
    audit.look(patient, BY_KEY[key].name, by=request.user)
    context: dict[str, Any] = {
        "assessment": assessment,
        "patient": patient,
        "measure": BY_KEY[key],
    }
    variant = variants_for(assessment).get(key, {})
    if key in WALKS:
        context |= {
            "kind": WALKS[key],
            "course_m": as_typed(variant.get("course_m", USUAL_COURSE_M)),
            "levels": [shuttles_in(level) for level in range(1, LEVELS + 1)],
        }
        return render(request, "assessments/run.html", context)
    if counted := COUNTED_BY_KEY.get(key):
        context |= {
            "counted": counted,
            "limit": counted.seconds,
            "digits": 0,
            "trials": labels_of(counted.measure, [counted.into]),
        }
    else:
        timed = TIMED_BY_KEY[key]
        context |= {
            "limit": timed.stops_at,
            "digits": timed.digits,
            "trials": timed.labelled,
            "beside": [
                (name, label, as_typed(variant.get(name, "")))
                for name, label in labels_of(timed.measure, timed.beside)
            ],
        }
    return render(request, "assessments/time.html", context)
