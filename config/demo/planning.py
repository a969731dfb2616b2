"""Treatment plans of the demo: signed every 30 days, some waiting, some old ones of four texts."""

from datetime import date, timedelta
from typing import Any

from config.demo.story import Character
from patients.history import save_as
from programs.enrolment.models import Enrolment
from programs.prescription.calc.signature import SIGN_EVERY_DAYS
from programs.prescription.models import TreatmentPlan
from programs.review import services
from programs.review.calc.parts import stored
from programs.review.document import parts_of
from programs.review.queries import draft_of
from programs.review.writing import OnRecord, begin, record_of, written
from programs.staff.models import User

READY_DAYS = 5  # so many days before its day a draft is ready
DONE = {
    "nutrition": "Plate half vegetables, less salt; two talks with the dietitian.",
    "weight": "Weighed every Monday at home.",
    "blood_pressure": "Measured before every session; home readings brought each week.",
    "lipids": "Statin as ordered; drawn again at six weeks.",
    "tobacco": "Asked at every reassessment.",
    "psychosocial": "Asked about mood, sleep and work at every reassessment.",
    "activity": "Walks on days without a class, noted in a diary.",
    "medicines": "List compared with the bottles at each reassessment.",
}
FAMILY = "Lives with family, who were told when to call for help."
LATER = {
    "blood_pressure": "Measured before every session; own doctor told of readings over 140.",
    "activity": "Walks of 20 minutes on days without a class, noted in a diary.",
    "nutrition": "Plate half vegetables, less salt; cooking class offered.",
}


class Planning:
    def __init__(self, goals: list[str], clinician: User, physician: User, today: date) -> None:
        self.goals, self.today = goals, today
        self.clinician, self.physician = clinician, physician
        self.n_back = 0

    def tell(self, person: Character, course: Enrolment, until: date) -> None:
        """Signed on the day, or late and waiting; a draft is ready shortly before its day."""
        days = [course.starts_on]
        while days[-1] + timedelta(days=SIGN_EVERY_DAYS) <= until:
            days.append(days[-1] + timedelta(days=SIGN_EVERY_DAYS))
        if person.role == "past":  # from before plans had components
            for day in days:
                self._as_before(person, course, day)
            return
        record = record_of(course)
        late = person.role == "active" and person.number % 8 == 0
        for n, day in enumerate(days):
            plan = self._draft(person, course, record.until(day), n)
            if not (late and n == len(days) - 1):
                dose = course.prescriptions.in_force().first()
                signer = self.physician
                services.seal(plan, dose, signer=signer, on=day, scan="", by=signer)
        ready = days[-1] + timedelta(days=SIGN_EVERY_DAYS - READY_DAYS)
        if not late and person.role == "active" and ready <= self.today:
            plan = self._draft(person, course, record, len(days))
            self._perhaps_back(plan)

    def _draft(
        self, person: Character, course: Enrolment, record: OnRecord, n: int
    ) -> TreatmentPlan:
        plan = draft_of(course)
        plan.goals = self.goals[person.number % len(self.goals)]
        parts: dict[str, Any] = {}
        for key, part in parts_of(plan).items():
            words = LATER.get(key) if n and person.number % 3 else None
            done = words or part.intervention or DONE.get(key, "")
            family = FAMILY if key == "psychosocial" and person.number % 4 else part.family
            parts[key] = stored(part) | {"intervention": done} | {"family": family}
        parts["exercise"]["intervention"] = "Treadmill and cycle in class, walking at home."
        plan.content = {"components": parts}
        begin(plan, record)
        plan.content, plan.prepared_by = written(plan, record), self.clinician
        save_as(plan, by=self.clinician, reason="prepared")
        return plan

    def _perhaps_back(self, plan: TreatmentPlan) -> None:
        """The first of them was sent back."""
        self.n_back += 1
        if self.n_back == 1:
            because, words = TreatmentPlan.Back.GOAL, "Name a day for the walk at home."
            services.send_back(plan, because, words, seen=plan.version, by=self.physician)

    def _as_before(self, person: Character, course: Enrolment, day: date) -> None:
        plan = TreatmentPlan(
            enrolment=course,
            goals=self.goals[person.number % len(self.goals)],
            exercise=f"Treadmill and cycle, {person.per_week} times a week, 30 minutes.",
            risk_factors="Blood pressure below 130/80; diet and tobacco reviewed.",
            psychosocial="PHQ-9 at entry and exit; family informed.",
            prepared_by=self.clinician,
            signed_by=self.physician,
            signed_on=day,
        )
        save_as(plan, by=self.clinician)
