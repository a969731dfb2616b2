"""What stands around the classes: checks, drills, cards, teaching, home reports, events."""

import random
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

from patients.history import save_as
from programs.attendance.calc.teaching import COMPONENTS
from programs.attendance.events import services as services_events
from programs.attendance.limits import services as services_limits
from programs.attendance.meeting.services import open_class
from programs.attendance.models import HomeReport, SafetyEvent
from programs.attendance.teaching import services as services_teaching
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.staff.calc.readiness import ITEMS
from programs.staff.models import Credential, Drill, OpeningCheck, Site, User

SCENARIOS = ["Collapse on the treadmill", "Chest pain at the cycle", "Low glucose in recovery"]


class Floor:
    def __init__(self, staff: dict[str, User], today: date, rng: random.Random) -> None:
        self.staff, self.today, self.rng = staff, today, rng

    def cards(self) -> None:
        """Everybody on the floor has life support; a few cards end soon."""
        for user in self.staff.values():
            if user.role not in {"floor", "clinician", "physician"}:
                continue
            kinds = ["BLS"] if user.role == "floor" and user.title != "RN" else ["BLS", "ACLS"]
            for kind in kinds:
                until = self.today + timedelta(days=self.rng.choice([25, 48, 200, 410, 600]))
                save_as(Credential(user=user, kind=kind, expires_on=until), by=user)

    def ready(self, site: Site, by: User) -> None:
        """Opening checks of the last days, a drill this quarter and one before."""
        for days in range(5, -1, -1):
            on = self.today - timedelta(days=days)
            if on.weekday() > 4 and days:
                continue
            answers = {key: True for key, _, _ in ITEMS}
            save_as(OpeningCheck(site=site, on=on, answers=answers, by=by), by=by)
        for days, scenario in zip([40, 128], SCENARIOS, strict=False):
            on = self.today - timedelta(days=days)
            drill = Drill(site=site, on=on, scenario=scenario, who="Floor staff, clinician on duty",
                          learned="Defibrillator there in 50 seconds.")  # fmt: skip
            save_as(drill, by=by)

    def open_classes(self, site: Site, slots: Iterable[ClassSlot]) -> None:
        """Today's classes with the staff of the site."""
        here = [u for u in self.staff.values() if site in u.my_sites()]
        floor = [u for u in here if u.role in {"floor", "clinician"}]
        supervisor = next(u for u in here if u.role == "physician")
        for slot in slots:
            open_class(slot, self.today, staff=floor[:3], supervisor=supervisor, presence="there",
                       exception="a card is being renewed; covered by the others",
                       by=floor[0])  # fmt: skip

    def open_todays(self, sites: Iterable[Site]) -> None:
        for site in sites:
            planned = PlannedSession.objects.filter(slot__site=site, on=self.today)
            slots = ClassSlot.objects.filter(planned__in=planned).distinct().order_by("starts_at")
            times = list(slots)
            self.open_classes(site, times[: len(times) // 2 + 1])

    def teach(self, courses: Sequence[Enrolment], by: User) -> None:
        """A few topics for everybody, fewer under the later components."""
        for course in courses:
            for place, component in enumerate(COMPONENTS):
                on = course.starts_on + timedelta(days=7 * place + 1)
                if on < self.today and self.rng.random() < 0.75:
                    topic = self.rng.choice(component.topics)
                    services_teaching.teach([course], on, component.id, topic, 15, by=by)
            for weeks in range(1, 4):
                monday = self.today - timedelta(days=self.today.weekday() + 7 * weeks)
                if monday > course.starts_on and self.rng.random() < 0.7:
                    report = HomeReport(enrolment=course, week_of=monday,
                                        minutes=self.rng.choice([60, 90, 120, 150]),
                                        days=self.rng.randint(2, 5),
                                        steps=100 * self.rng.randint(30, 80),
                                        has_symptoms=False)  # fmt: skip
                    save_as(report, by=by)

    def happened(self, site: Site, course: Enrolment, by: User, reviewer: User) -> None:
        """One event written up and reviewed, one still to be."""
        zone = site.now().tzinfo
        for days, kind in [(23, SafetyEvent.Kind.FALL), (2, SafetyEvent.Kind.SYMPTOM)]:
            at = datetime.combine(self.today - timedelta(days=days), time(9, 20), zone)
            event = services_events.open_event(
                site, kind, happened_at=at, patient=course.patient,
                what="Stumbled beside the treadmill, no injury." if days > 9
                else "Light-headed after the cycle, better after five minutes lying down.",
                words="Sat down, pressure taken.", by=by,
            )  # fmt: skip
            if days > 9:
                event = services_events.change_event(
                    event, seen=event.version, by=by, told="Supervising physician",
                    outcome="Went on after a rest.",
                )  # fmt: skip
                services_events.review_event(
                    event, "Mat edge taped; no change to the program.", seen=event.version,
                    by=reviewer,
                )  # fmt: skip

    def limits(self, site: Site, course: Enrolment, admin: User, clinician: User) -> None:
        """The site is stricter in one limit, one person in another."""
        services_limits.set_site_limit(
            site, "E-01-caution", 150, "local protocol 4.2", seen=0, by=admin
        )
        services_limits.set_person_limit(
            course.patient, "F-02-systolic-stop", 200, "cardiologist’s letter", by=clinician
        )
