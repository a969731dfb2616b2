"""Load the invented clinic: people and dates from the story, stored through the rooms' services."""

import json
import random
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password
from django.core.exceptions import ValidationError
from django.db import transaction

from config.demo import lifting
from config.demo.assessing import Assessing
from config.demo.floor import Floor
from config.demo.holidays import class_days, holidays
from config.demo.intake import Intake
from config.demo.planning import Planning
from config.demo.sessions import Sessions
from config.demo.story import Character, cast
from config.demo.todays_classes import Today
from patients.history import save_as
from patients.models import Condition, Patient
from programs.enrolment.courses import services as enrolments
from programs.enrolment.models import (
    ClassSlot,
    Closure,
    Enrolment,
    PlannedSession,
    Referral,
)
from programs.enrolment.referrals import services as referrals
from programs.enrolment.seats import booking
from programs.prescription import services as prescriptions
from programs.prescription.calc.machines import USUAL
from programs.prescription.models import DosePolicy, Prescription
from programs.prescription.policy.queries import initial_machine
from programs.staff.models import DemoMark, Site, User

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "clinic.json"
Tick = Callable[[int, int], None]


def clinic() -> dict[str, Any]:
    return json.loads(FIXTURE.read_text(encoding="utf-8"))


class Loader:
    def __init__(self, seed: int, tick: Tick) -> None:
        self.clinic, self.seed, self.tick = clinic(), seed, tick
        self.rng = random.Random(seed + 1)

    @transaction.atomic
    def load(self) -> None:
        """Everything in one transaction: a demo is whole or not there."""
        self._sites_and_staff()
        self.today = next(iter(self.sites.values())).today()
        self._timetable()
        self.intake = Intake(self.clinic, self.clinician, list(self.sites.values()), self.rng)
        self.assessing = Assessing(self.staff, self.sites, self.today, self.rng)
        self.planning = Planning(self.clinic["goals"], self.clinician, self.physician, self.today)
        people = cast(self.clinic, self.today, self.seed)
        zone = self.clinic["timezone"]
        self.sessions = Sessions(
            self.staff["rokafor"], zone, random.Random(self.seed + 2), self.today
        )
        in_classes: list[tuple[Character, Enrolment]] = []
        for done, person in enumerate(people, start=1):
            course = self._tell(person)
            if course is not None:
                in_classes.append((person, course))
            self.tick(done, len(people) + 12)
        self.sessions.write()
        self.tick(len(people) + 8, len(people) + 12)
        self._floor([course for _, course in in_classes if course.is_open])
        Today(self.sessions, self.staff["rokafor"], in_classes).play(
            self.sites.values(), self.today
        )
        DemoMark.objects.create(seed=self.seed)
        self.tick(len(people) + 12, len(people) + 12)

    def _floor(self, courses: list[Enrolment]) -> None:
        floor = Floor(self.staff, self.today, random.Random(self.seed + 3))
        nurse, first = self.staff["rokafor"], courses[0]
        floor.cards()
        for site in self.sites.values():
            floor.ready(site, nurse)
        floor.open_todays(self.sites.values())
        floor.teach(courses, nurse)
        floor.happened(first.patient.site, first, nurse, self.clinician)
        floor.limits(first.patient.site, courses[1], self.staff["iduarte"], self.clinician)

    def _sites_and_staff(self) -> None:
        self.sites, self.staff = {}, {}
        for row in self.clinic["sites"]:
            names = ["code", "name", "phone", "emergency_card"]
            site = Site(timezone=self.clinic["timezone"], **{n: row[n] for n in names})
            site.full_clean()
            site.save()
            self.sites[site.code] = site
        hashed = make_password(self.clinic["password"])
        for row in self.clinic["staff"]:
            user = User(
                username=row["username"],
                first_name=row["first"],
                last_name=row["last"],
                role=row["role"],
                title=row["title"],
                password=hashed,
                is_staff=row["role"] == "administrator",
            )
            user.save()
            user.sites.set([self.sites[code] for code in row["sites"]])
            self.staff[user.username] = user
        self.clinician = self.staff["hvantongeren"]
        self.physician = self.staff["alindqvist"]
        for site in self.sites.values():
            policy = DosePolicy(site=site, unsigned_goes_on=True, source="clinic's own protocol")
            save_as(policy, by=self.physician, reason="setting changed")
            for kind in ("arm", "track"):
                machine = initial_machine(site, USUAL[kind])
                machine.is_in_use = True
                save_as(machine, by=self.physician, reason="setting changed")

    def _timetable(self) -> None:
        """Classes on three and on two days a week; today is always a class day."""
        days = class_days(self.today.weekday())
        self.slots: dict[tuple[str, str], list[list[ClassSlot]]] = {}
        for row in self.clinic["sites"]:
            for pattern, times in row["classes"].items():
                groups = []
                for at in times:
                    group = []
                    for day in days[pattern]:
                        slot = ClassSlot(
                            site=self.sites[row["code"]],
                            weekday=day,
                            starts_at=time.fromisoformat(at),
                            minutes=60,
                            seats=8,
                            staff_needed=2,
                            ecg_channels=8,
                        )
                        save_as(slot, by=self.staff["iduarte"])
                        group.append(slot)
                    groups.append(group)
                self.slots[row["code"], pattern] = groups
        for site in self.sites.values():
            for on, why in holidays(self.today):
                save_as(Closure(site=site, on=on, reason=why), by=self.staff["iduarte"])

    # --- one person's road ------------------------------------------------------------------

    def _tell(self, person: Character) -> Enrolment | None:
        referral = self._refer(person)
        if person.role == "waiting":
            self.intake.work_on(referral, person)
            return None
        if person.role == "not_enrolling":
            reason = self.rng.choice(["declined", "distance", "unreachable", "work", "cost"])
            referrals.close_referral(referral, reason, by=self.clinician)
            return None
        referrals.confirm_eligibility(referral, "eligible", person.starts_on, by=self.clinician)
        self.intake.stratify(person, referral.patient)
        course = self._enrol(person, referral)
        if person.role != "booked":
            self._prescribe(person, course)
            self._attend(person, course)
            self.assessing.assess(person, course)
            self.planning.tell(person, course, min(self.today, self._last_day(person, course)))
            if person.number % 9 == 0 and course.is_open:
                self._raise(person, course)
        self._end(person, course)
        return course

    def _refer(self, person: Character) -> Referral:
        patient = Patient(
            site=self.sites[person.site],
            record_number=f"{person.site}-{1000 + person.number}",
            given_name=person.given,
            family_name=person.family,
            born_on=person.born_on,
            sex=person.sex,
            phone=f"555-{2000 + person.number}",
        )
        condition = Condition(kind=person.kind, happened_on=person.event_on, icd10=person.icd10)
        failing = person.kind == "heart_failure"
        known = person.role != "waiting" or person.number % 2 == 0
        referral = Referral(
            referred_on=person.referred_on,
            discharged_on=person.discharged_on,
            referrer=self.rng.choice(self.clinic["referrers"]),
            lvef_percent=31 if failing else None,
            nyha_class=2 if failing and known else None,
            hf_therapy_since=person.event_on - timedelta(days=60) if failing else None,
            last_cv_stay_on=person.event_on - timedelta(days=90) if failing else None,
            is_procedure_planned=False if failing else None,
            is_angina_stable=True if person.kind == "stable_angina" and known else None,
        )
        referral = self.intake.refer(person, patient, condition, referral)
        self.intake.background(person, referral.patient)
        return referral

    def _enrol(self, person: Character, referral: Referral) -> Enrolment:
        pattern = "two" if person.per_week == 2 else "three"
        groups = list(self.slots[person.site, pattern])
        self.rng.shuffle(groups)
        other = "three" if pattern == "two" else "two"
        for group in [*groups, *self.slots[person.site, other]]:
            person.per_week = len(group)
            try:
                return enrolments.enrol(
                    referral,
                    group,
                    person.starts_on or self.today,
                    12 * person.per_week,
                    by=self.clinician,
                )
            except ValidationError:
                continue
        raise RuntimeError("The demo clinic has too few seats.")

    def _prescribe(self, person: Character, course: Enrolment) -> None:
        rest = 64 if person.has_beta_blocker else 72
        tested = person.number % 3 != 0
        peak = rest + self.rng.randint(58, 84) if tested else None
        limit, why = 140, "10 below the ICD's detection rate"
        if peak is not None and peak < limit:
            limit, why = peak, "the tested peak"
        draft = Prescription(
            enrolment=course,
            method="reserve" if tested else "exertion",
            valid_from=course.starts_on,
            resting_bpm=rest if tested else None,
            peak_bpm=peak,
            tested_on=course.starts_on - timedelta(days=3) if tested else None,
            low_share=0.4 if tested else None,
            high_share=0.59 if tested else None,
            upper_limit_bpm=limit if person.has_icd else None,
            upper_limit_reason=why if person.has_icd else "",
            rpe_low=11 if person.kind in {"heart_failure", "transplant"} else 12,
            rpe_high=13,
            target_mets=round(2.6 + person.walk_m / 500, 1),
            minutes=30,
            per_week=person.per_week,
            warm_up_minutes=5,
            cool_down_minutes=5,
            stretch_days=3,
            stretch_hold_s=20,
            home_days=2,
            home_minutes=30,
            most_rpe=14,
            most_minutes=45,
            most_per_week=max(person.per_week, 4),
            most_mets=round(4.0 + person.walk_m / 500, 1),
        )
        lifting.prescribe(draft, person)
        prescriptions.prescribe(draft, person.weight_kg, by=self.clinician)
        draft.signed_by, draft.signed_at = self.physician, self._noon(course.starts_on)
        save_as(draft, by=self.physician, reason="signed")

    def _raise(self, person: Character, course: Enrolment) -> None:
        """Harder from today on, beyond what a physician has signed."""
        dose = course.prescriptions.in_force().get()
        dose.pk, dose.signed_by, dose.signed_at = None, None, None
        dose._state.adding = True
        dose.rpe_low, dose.rpe_high, dose.valid_from = 13, 15, self.today
        prescriptions.prescribe(dose, person.weight_kg, by=self.clinician)

    def _noon(self, day: date) -> datetime:
        return datetime.combine(day, time(12), ZoneInfo(self.clinic["timezone"]))

    def _last_day(self, person: Character, course: Enrolment) -> date:
        """When a past person left: long enough for their sessions with a few missed."""
        if person.role != "past":
            return self.today
        weeks = person.n_sessions / person.per_week
        return min(course.starts_on + timedelta(days=round(weeks * 7 * 1.12) + 4), self.today)

    def _attend(self, person: Character, course: Enrolment) -> None:
        """Walk the calendar: attend, miss, and add classes at the end for those who go on."""
        until = self._last_day(person, course)
        if person.role == "paused":
            until = self.today - timedelta(days=10)
        slots = {slot.weekday: slot for slot in course.slots.all()}
        shut = booking.closed_days(course.patient.site)
        planned = {(p.on, p.slot_id) for p in course.planned.all()}
        attended, day, more = 0, course.starts_on, []
        latest = self.today - timedelta(days=1)
        while day <= latest and (day <= until or person.outcome == "completed"):
            slot = slots.get(day.weekday())
            if slot is not None and day not in shut:
                if attended >= person.n_sessions:
                    break
                if (day, slot.pk) not in planned:
                    more.append(PlannedSession(enrolment=course, slot=slot, on=day))
                if attended and self.rng.random() < 0.09:
                    self.sessions.miss(course, slot, day)
                else:
                    attended += 1
                    self.sessions.attend(person, course, slot, day, attended)
                    attended -= not self.sessions.visits[-1].counts_first
                person.extra["last_on"] = day
            day += timedelta(days=1)
        PlannedSession.objects.bulk_create(more)

    # --- endings and today ------------------------------------------------------------------

    def _end(self, person: Character, course: Enrolment) -> None:
        if person.role == "past":
            last = person.extra.get("last_on", course.starts_on)
            enrolments.close(course, last, person.outcome, by=self.clinician)
        elif person.role == "paused":
            enrolments.pause(
                course, self.today - timedelta(days=9), "chest infection", by=self.clinician
            )
