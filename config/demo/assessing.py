"""Who looks after whom, how the demo's sites assess, and what was measured when."""

import random
from datetime import date, timedelta
from typing import Any

from assessments import services
from assessments.calc.timing import SIX_WEEKS_DAYS
from assessments.models import AssessmentPolicy, Concern
from assessments.services_policy import change_policy, change_target
from assessments.services_schedule import open_assessment
from config.demo.results import results
from config.demo.story import Character
from programs.enrolment.courses.services import look_after
from programs.enrolment.models import Enrolment
from programs.staff.models import Site, User


class Assessing:
    """Assessments of every course, by the clinician who looks after it."""

    def __init__(
        self, staff: dict[str, User], sites: dict[str, Site], today: date, rng: random.Random
    ) -> None:
        self.today, self.rng = today, rng
        self.clinician, other = staff["hvantongeren"], staff["dachterberg"]
        # Every third course is in nobody's hands yet.
        self.hands: dict[str, list[User | None]] = {
            "SL": [self.clinician, self.clinician, None],
            "QH": [other, self.clinician, None],
        }
        by = staff["iduarte"]
        for site in sites.values():
            policy = AssessmentPolicy(
                site=site,
                longest_course_m=30,
                concern_owner=self.clinician,
                reason="as the clinic opened",
            )
            change_policy(policy, seen=0, by=by)
        change_target(sites["QH"], "ldl", 55, "as the cardiologists ask", seen=0, by=by)

    def assess(self, person: Character, course: Enrolment) -> None:
        hands = self.hands[person.site]
        look_after(course, hands[person.number % len(hands)], by=self.clinician)
        until = person.extra.get("last_on", self.today) if person.role == "past" else self.today
        stages = [("baseline", 0, 0.0), ("six_weeks", SIX_WEEKS_DAYS, 0.5), ("exit", 83, 1.0)]
        for kind, day, share in stages:
            on = course.starts_on + timedelta(days=day)
            if kind == "exit" and person.role == "past":
                if not person.has_exit:
                    continue
                on = until
            elif on > until - timedelta(days=1):
                continue
            if person.role == "active" and kind != "baseline" and person.number % 4 == 0:
                continue  # overdue on purpose
            if person.role == "active" and kind == "baseline" and (self.today - on).days < 3:
                continue
            self._record(person, course, kind, 1, on, results(person, share, kind, self.rng))
        for day in range(14, 84, 14):
            on = course.starts_on + timedelta(days=day)
            if day == SIX_WEEKS_DAYS or on > until or self.rng.random() < 0.3:
                continue
            few = results(person, day / 84, "informal", self.rng)
            self._record(person, course, "informal", day // 7, on, few)

    def _record(
        self, person: Character, course: Enrolment, kind: str, number: int, on: date, found: Any
    ) -> None:
        assessment = open_assessment(course, kind, number, by=self.clinician)
        raised = services.record(
            assessment, on, found, seen=assessment.version, key=None, by=self.clinician
        )
        for concern in raised:
            if person.role == "past":
                words = "Spoke with the patient the same day; physician and family doctor informed."
                services.close_concern(Concern.objects.get(pk=concern.pk), words, by=self.clinician)
