"""Past class visits of the invented people, written in bulk with their history."""

import random
from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from simple_history.utils import bulk_create_with_history

from config.demo.lifting import lifted
from config.demo.story import Character
from patients.models import BodyWeight
from programs.attendance.calc.catalogue import RULES
from programs.attendance.calc.counting import sessions_for
from programs.attendance.calc.effort import Load, cost_of
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.rules import evaluate
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.calc.situation import Situation
from programs.attendance.models import (
    Bout,
    ClassMeeting,
    Finding,
    Interruption,
    Reading,
    RhythmFinding,
    Visit,
)
from programs.attendance.visit.counting import tell_totals
from programs.enrolment.models import ClassSlot, Enrolment
from programs.staff.models import User

HELD_SHARE, STOPPED_SHARE = 0.02, 0.006
RECENT_DAYS = 8  # a hold so recent may still wait for its return
NO_TO_ALL = {q.id: False for q in ASKED_BEFORE}
NOTHING_SEEN = {q.id: False for q in (*SEEN_DURING, *ASKED_AFTER)}
QUIET = Rhythm(
    before="sinus", during="sinus", pvc_per_minute=0, has_couplets=False, has_triplets=False,
    is_multiform=False, pvc_is_rising=False, qrs_before_ms=92, qrs_during_ms=94, st_change="none",
    new_block="none",
)  # fmt: skip
ABSENCES = ["ill", "appointment", "transport", "work", "weather", "unknown"]


class Sessions:
    """Collects visits person by person, then writes them all at once."""

    def __init__(self, by: User, zone: str, rng: random.Random, today: date) -> None:
        self.today = today
        self.by, self.zone, self.rng = by, ZoneInfo(zone), rng
        self.meetings: dict[tuple[int, date], ClassMeeting] = {}
        self.visits: list[Visit] = []
        self.sheets: list[Sheet] = []

    def meeting(self, slot: ClassSlot, on: date) -> ClassMeeting:
        return self.meetings.setdefault((slot.pk, on), ClassMeeting(slot=slot, on=on))

    def moment(self, on: date, at: time, plus: int) -> datetime:
        return datetime.combine(on, at, self.zone) + timedelta(minutes=plus)

    def attend(
        self, person: Character, course: Enrolment, slot: ClassSlot, on: date, n: int
    ) -> None:
        """One finished session, the n-th; now and then held or stopped instead."""
        kind = self.rng.random()
        state = (
            "held"
            if kind < HELD_SHARE
            else "stopped"
            if kind < HELD_SHARE + STOPPED_SHARE
            else "finished"
        )
        sheet = self.sheet(person, n, state)
        minutes = sheet.minutes
        self.visits.append(
            Visit(
                enrolment=course,
                meeting=self.meeting(slot, on),
                on=on,
                state=state,
                arrived_at=self.moment(on, slot.starts_at, -4),
                ended_at=self.moment(on, slot.starts_at, 55),
                minutes=minutes,
                counts_first=bool(minutes) and sessions_for(minutes or 0) > 0 and state != "held",
                answers=dict(sheet.answers),
            )
        )
        self.sheets.append(sheet)

    def miss(self, course: Enrolment, slot: ClassSlot, on: date) -> None:
        self.visits.append(
            Visit(
                enrolment=course,
                meeting=self.meeting(slot, on),
                on=on,
                state="absent",
                absence=self.rng.choice(ABSENCES),
            )
        )
        self.sheets.append(Sheet())

    def sheet(self, person: Character, n: int, state: str = "finished") -> Sheet:
        """Readings and exercise of the n-th session: pressure eases, work grows."""
        rng, share = self.rng, min(1.0, n / 36)
        systolic = min(158, max(98, round(person.systolic - 9 * share + rng.gauss(0, 6))))
        if state == "held":
            systolic = rng.choice([184, 188, 192])
        rest = round((66 if person.has_beta_blocker else 74) + rng.gauss(0, 4))
        before = Vitals(
            rest,
            systolic,
            min(98, max(58, round(systolic * 0.58 + rng.gauss(0, 3)))),
            rng.choice([95, 96, 96, 97, 97, 98, 99]),
            float(rng.randint(112, 190)) if person.has_insulin else None,
            round(person.weight_kg - 1.6 * share + rng.gauss(0, 0.3), 1),
        )
        if state == "held":
            return Sheet(before=before, answers=NO_TO_ALL)
        fitness = person.walk_m / 400
        minutes = round(24 + 12 * share)
        treadmill = Load(
            "treadmill",
            minutes // 2,
            speed_kmh=round((3.4 + 1.5 * share) * fitness, 1),
            grade_percent=float(round(2 * share)),
            heart_rate_bpm=rest + rng.randint(24, 38),
            systolic_mmhg=systolic + rng.randint(12, 26),
            diastolic_mmhg=min(104, before.diastolic_mmhg or 75),
            spo2_percent=before.spo2_percent,
            rpe=rng.choice([11, 12, 12, 13]),
            angina=0,
            dyspnoea=1,
        )
        cycle = Load(
            "cycle",
            minutes - minutes // 2,
            power_w=float(5 * round((25 + 35 * share) * fitness / 5)),
            heart_rate_bpm=rest + rng.randint(22, 36),
            rpe=rng.choice([11, 12, 12, 13]),
        )
        rhythm = replace(QUIET, pvc_per_minute=rng.choice([7, 8])) if state == "stopped" else QUIET
        after = Vitals(
            rest + rng.randint(2, 9), systolic - rng.randint(2, 10), before.diastolic_mmhg, 97
        )
        total = 25 if state == "stopped" else minutes + rng.choice([8, 9, 10, 11, 12])
        return Sheet(
            before=before,
            after=after,
            recovery=replace(after, systolic_mmhg=(after.systolic_mmhg or 0) + rng.randint(0, 4)),
            bouts=(treadmill, cycle, *lifted(person, n)),
            rhythm=rhythm,
            minutes=total,
            answers=NO_TO_ALL | NOTHING_SEEN,
            has_ecg=True,
        )

    def write(self) -> None:
        """Store everything collected, each row with its first version."""
        self._bulk(list(self.meetings.values()), ClassMeeting)
        self._bulk(self.visits, Visit)
        for course in {visit.enrolment for visit in self.visits}:
            tell_totals(course)
        readings, bouts, rhythms, findings, stops = [], [], [], [], []
        for visit, sheet in zip(self.visits, self.sheets, strict=True):
            if visit.state == "absent":
                continue
            readings += self._readings(visit, sheet)
            bouts += self._bouts(visit, sheet)
            if not sheet.rhythm.is_empty:
                rhythms.append(RhythmFinding(visit=visit, **asdict(sheet.rhythm)))
            findings += self._findings(visit, sheet)
            if visit.state in {"held", "stopped"}:
                stops.append(self._interruption(visit))
        self._weigh(readings)
        self._bulk(readings, Reading)
        self._bulk(bouts, Bout)
        self._bulk(rhythms, RhythmFinding)
        self._bulk(findings, Finding)
        self._bulk(stops, Interruption)

    def _weigh(self, readings: Sequence[Reading]) -> None:
        """The weights among the readings, as the people's own."""
        weighed = [reading for reading in readings if reading.weight_kg is not None]
        weights = [
            BodyWeight(
                patient=reading.visit.enrolment.patient,
                on=reading.visit.on,
                at=reading.taken_at,
                kg=reading.weight_kg or 0,
            )
            for reading in weighed
        ]
        self._bulk(weights, BodyWeight)
        for reading, weight in zip(weighed, weights, strict=True):
            reading.body_weight = weight

    def _bulk(self, rows: Sequence, model: type) -> None:
        """Each first version is dated when it happened, not when the demo was loaded."""
        for row in rows:
            visit = row if isinstance(row, Visit) else getattr(row, "visit", None)
            if isinstance(row, BodyWeight):
                row._history_date = row.at  # type: ignore[attr-defined]
            elif visit is not None:
                start = self.moment(visit.on, time(17), 0)
                row._history_date = visit.ended_at or visit.arrived_at or start
        bulk_create_with_history(
            rows, model, batch_size=200, default_user=self.by, default_change_reason="demo"
        )

    def _readings(self, visit: Visit, sheet: Sheet) -> list[Reading]:
        rows = []
        for phase, vitals, at in [
            ("before", sheet.before, visit.arrived_at),
            ("after", sheet.after, visit.ended_at),
            ("recovery", sheet.recovery, visit.ended_at),
        ]:
            if not vitals.is_empty and at is not None:
                rows.append(Reading(visit=visit, phase=phase, taken_at=at, **asdict(vitals)))
        return rows

    def _bouts(self, visit: Visit, sheet: Sheet) -> list[Bout]:
        rows = []
        for place, entry in enumerate(sheet.bouts, start=1):
            cost = cost_of(entry, sheet.before.weight_kg)
            rows.append(
                Bout(
                    visit=visit,
                    place=place,
                    mets=cost.mets if cost else None,
                    is_mets_in_range=cost.is_in_range if cost else True,
                    **asdict(entry),
                )
            )
        return rows

    def _interruption(self, visit: Visit) -> Interruption:
        """Written up; settled unless it was the last few days."""
        is_settled = (self.today - visit.on).days > RECENT_DAYS
        return Interruption(
            visit=visit,
            kind="hold" if visit.state == "held" else "stop",
            by=self.by,
            seen="Pressure above the limit, twice."
            if visit.state == "held"
            else "PVCs, 7 a minute.",
            done="Rested 15 minutes, measured again.",
            told="H. van Tongeren",
            outcome="Went home well.",
            return_condition="Seen by the clinician; pressure below 160.",
            written_at=visit.ended_at,
            settled_at=visit.ended_at if is_settled else None,
            settled_by=self.by if is_settled else None,
            settled_words="clinician agreed by phone" if is_settled else "",
        )

    def _findings(self, visit: Visit, sheet: Sheet) -> list[Finding]:
        """The same rules as on the floor, answered as the visit ended."""
        judged = evaluate(RULES, Situation(sheet, has_exercised=bool(sheet.bouts)))
        decision = {"held": "hold", "stopped": "stop"}.get(visit.state, "proceed")
        return [
            Finding(
                visit=visit,
                rule_id=f.rule_id,
                about=f.of,
                origin=f.origin,
                level=f.level,
                value=f.value,
                limit=f.limit,
                sentence=f.sentence,
                source=f.source,
                decision=decision,
                reason="rechecked twice, clinician informed",
                told="H. van Tongeren",
                by=self.by,
                answered_at=visit.ended_at,
            )
            for f in judged.findings
        ]
