"""The tabs of a person's pages: seven at most, and the pages that share one."""

from dataclasses import dataclass
from typing import Any

from django import template

from patients.addresses import to

register = template.Library()


@dataclass(frozen=True)
class Page:
    """A page about a person: what tells it from the others, its name, route, who may read it."""

    key: str
    name: str
    route: str
    permission: str
    is_of_course: bool = False  # its address names a course
    needs_course: bool = False  # it has nothing to show before there is one


def _of_course(key: str, name: str, route: str, permission: str) -> Page:
    return Page(key, name, route, permission, is_of_course=True, needs_course=True)


PERSON, COURSE, DOSE, VISIT = (
    "patients.view_patient",
    "enrolment.view_enrolment",
    "prescription.view_prescription",
    "attendance.view_visit",
)
TABS: dict[str, list[Page]] = {
    "Overview": [Page("journey", "Overview", "reports:journey", PERSON)],
    "Assessments": [
        _of_course(
            "assessments", "Assessments", "assessments:course", "assessments.view_assessment"
        )
    ],
    "Exercise": [
        _of_course("prescription", "Prescription", "prescription:prescribe", DOSE),
        Page("limits", "Patient-specific limits", "attendance:person-limits", VISIT),
        _of_course("teaching", "Education and home exercise", "attendance:teaching", VISIT),
    ],
    "Outcomes": [
        Page(
            "outcomes",
            "Outcomes",
            "reports:outcomes",
            "reports.view_outcomes",
            needs_course=True,
        ),
        Page(
            "sheets",
            "Sheets and letters",
            "reports:sheets",
            "reports.view_outcomes",
            needs_course=True,
        ),
    ],
    "Record": [
        Page("background", "Background", "patients:background", PERSON),
        Page("risk", "Risk", "enrolment:risk", PERSON),
        Page("card", "Emergency card", "attendance:emergency-card", PERSON),
    ],
    "Course": [
        _of_course(
            "course", "Change course", "assessments:change-course", "enrolment.change_enrolment"
        ),
        _of_course("plan", "Treatment plan", "review:plan", DOSE),
        _of_course("calendar", "Calendar", "reports:course-calendar", COURSE),
    ],
    "Changes": [Page("changes", "Changes", "reports:changes", "reports.view_changes")],
}


@register.inclusion_tag("parts/patient_tabs.html", takes_context=True)
def patient_tabs(context: Any, patient: Any, enrolment: Any, here: str) -> dict[str, Any]:
    """The tabs the reader may open, each leading to its first page, and the pages beside this."""
    user = context["user"]
    tabs: list[dict[str, Any]] = []
    beside: dict[str, Any] = {}
    for name, pages in TABS.items():
        links = [
            {
                "name": page.name,
                "url": to(page.route, (enrolment if page.is_of_course else patient).pk),
                "is_here": page.key == here,
            }
            for page in pages
            if user.has_perm(page.permission) and (enrolment or not page.needs_course)
        ]
        is_here = here in {page.key for page in pages}
        if links:
            tabs.append({"name": name, "url": links[0]["url"], "is_here": is_here})
        if is_here and len(links) > 1:
            beside = {"of": name, "links": links}
    return {"tabs": tabs, "beside": beside}
