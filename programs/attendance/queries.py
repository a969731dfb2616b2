"""Reads that feed Today and the session sheet."""

from dataclasses import dataclass, field
from datetime import date, time

from django.db.models import Count, Max, Q

from programs.attendance.calc.sheet import Vitals
from programs.attendance.models import ClassMeeting, Finding, Interruption, Visit
from programs.attendance.queries_flags import add_risk, flags_of, warnings_of
from programs.attendance.queries_visit import merged_vitals
from programs.enrolment.models import (
    ClassChange,
    ClassSlot,
    Closure,
    Enrolment,
    PlannedSession,
)
from programs.enrolment.queries_risk import latest_risks
from programs.enrolment.services.risk import supervision_of
from programs.prescription.models import Prescription, TreatmentPlan
from programs.staff.models import Site

LATE_FROM_MINUTES = 10  # project choice


@dataclass
class ClassLine:
    """One class of the day in the side list."""

    slot: ClassSlot
    change: ClassChange | None = None  # cancelled, or otherwise different, on this day
    meeting: ClassMeeting | None = None
    n_expected: int = 0
    n_in: int = 0
    n_finished: int = 0
    n_absent: int = 0

    @property
    def starts_at(self) -> time:
        """The hour on this day."""
        return (self.change and self.change.starts_at) or self.slot.starts_at

    @property
    def n_done(self) -> int:
        return self.n_finished + self.n_absent

    @property
    def is_over(self) -> bool:
        return self.n_expected > 0 and self.n_done == self.n_expected


@dataclass(frozen=True)
class Counted:
    """Counted sessions of a course before a day, and on it."""

    before: int = 0
    on_day: int = 0


@dataclass
class RosterRow:
    """One person in one class, with what matters before they start."""

    planned: PlannedSession
    visit: Visit | None
    counted: Counted
    week: int
    age: int
    flags: list[str]
    warnings: list[str]
    prescription: Prescription | None
    before: Vitals | None = None  # the last known values, over all repeats
    open_findings: list[Finding] = field(default_factory=list)
    earlier_stop: Interruption | None = None  # a hold or stop whose return is not confirmed

    @property
    def enrolment(self) -> Enrolment:
        return self.planned.enrolment

    @property
    def session_number(self) -> int:
        """The session this visit is, or would be; never typed, always counted."""
        visit, before = self.visit, self.counted.before
        if visit is not None and visit.counts_first:
            return before + 1
        if visit is not None and visit.counts_second:
            return before + 2
        return before + self.counted.on_day + 1

    @property
    def state(self) -> str:
        return self.visit.state if self.visit else Visit.State.EXPECTED

    @property
    def state_words(self) -> str:
        visit = self.visit
        if visit is None:
            return "Expected"
        if visit.state == Visit.State.ABSENT:
            return f"Absent: {visit.get_absence_display()}"
        words = str(visit.get_state_display()).capitalize()
        if visit.minutes and visit.has_ended:
            words += f", {visit.minutes} min"
        if self.late_minutes and not visit.has_ended:
            words += f", {self.late_minutes} min late"
        return f"{words}, left early" if visit.left_early else words

    @property
    def late_minutes(self) -> int:
        """Minutes after the hour of the class; below the grace nobody is late."""
        minutes = self.visit.late_minutes if self.visit else 0
        return minutes if minutes >= LATE_FROM_MINUTES else 0

    @property
    def remaining(self) -> int:
        """Sessions of the course not counted yet; never below zero."""
        done = self.counted.before + self.counted.on_day
        return max(0, self.enrolment.sessions_planned - done)


@dataclass
class Day:
    site: Site
    on: date
    closure: Closure | None
    meeting: ClassMeeting | None  # of the chosen class, once somebody came or it was opened
    classes: list[ClassLine]
    chosen: ClassSlot | None
    rows: list[RosterRow]

    @property
    def n_expected(self) -> int:
        return sum(line.n_expected for line in self.classes)

    @property
    def n_in(self) -> int:
        return sum(line.n_in for line in self.classes)

    @property
    def n_finished(self) -> int:
        return sum(line.n_finished for line in self.classes)

    @property
    def n_absent(self) -> int:
        return sum(line.n_absent for line in self.classes)


def day_of(site: Site, on: date, slot_pk: int | None = None) -> Day:
    """A site's day: its classes and the roster of one. Constant in the number of people."""
    planned = list(
        PlannedSession.objects.filter(slot__site=site, on=on)
        .select_related("slot", "enrolment__patient", "enrolment__referral__condition")
        .order_by("slot__starts_at", "enrolment__patient__family_name", "pk")
    )
    visits = {
        (visit.enrolment_id, visit.meeting.slot_id): visit
        for visit in Visit.objects.filter(meeting__slot__site=site, on=on)
        .select_related("meeting__slot__site")
        .prefetch_related("readings", "findings")
    }
    meetings = {
        m.slot_id: m
        for m in ClassMeeting.objects.filter(slot__site=site, on=on).select_related("closed_by")
    }
    classes = _classes(site, on, planned, visits, meetings)
    chosen = _choose(site, on, classes, slot_pk)
    here = [p for p in planned if chosen and p.slot_id == chosen.pk]
    closure = None if planned else Closure.objects.in_force().filter(site=site, on=on).first()
    meeting = meetings.get(chosen.pk) if chosen else None
    return Day(site, on, closure, meeting, classes, chosen, _rows(site, here, visits, on))


def _classes(
    site: Site, on: date, planned: list, visits: dict, meetings: dict[int, ClassMeeting]
) -> list[ClassLine]:
    changes = {c.slot_id: c for c in ClassChange.objects.filter(slot__site=site, on=on)}
    lines = {
        slot.pk: ClassLine(slot, changes.get(slot.pk), meetings.get(slot.pk))
        for slot in ClassSlot.objects.filter(site=site, weekday=on.weekday())
    }
    for p in planned:
        line = lines.setdefault(p.slot_id, ClassLine(p.slot, meeting=meetings.get(p.slot_id)))
        visit = visits.get((p.enrolment_id, p.slot_id))
        line.n_expected += 1
        if visit and visit.state != Visit.State.EXPECTED:
            line.n_absent += visit.state == Visit.State.ABSENT
            line.n_finished += visit.has_ended
            line.n_in += visit.state in {Visit.State.ARRIVED, Visit.State.EXERCISING}
    return sorted(lines.values(), key=lambda line: line.starts_at)


def _choose(site: Site, on: date, classes: list[ClassLine], pk: int | None) -> ClassSlot | None:
    """The class asked for; else the one with work left that is on now or next."""
    for line in classes:
        if line.slot.pk == pk:
            return line.slot
    now = site.now()
    for line in classes:
        ends = line.starts_at.hour * 60 + line.starts_at.minute + line.slot.minutes
        if (
            line.n_expected
            and not line.is_over
            and (on != now.date() or ends > now.hour * 60 + now.minute)
        ):
            return line.slot
    with_people = [line.slot for line in classes if line.n_expected]
    slots = with_people or [line.slot for line in classes]
    return slots[-1] if slots else None


def _rows(site: Site, planned: list[PlannedSession], visits: dict, on: date) -> list[RosterRow]:
    enrolments = [p.enrolment_id for p in planned]
    patients = [p.enrolment.patient_id for p in planned]
    counted = _counted(enrolments, on)
    doses = {
        dose.enrolment_id: dose
        for dose in Prescription.objects.in_force().filter(enrolment__in=enrolments)
    }
    signed = dict(
        TreatmentPlan.objects.filter(enrolment__in=enrolments)
        .order_by()
        .values_list("enrolment")
        .annotate(Max("signed_on"))
    )
    flags, stops = flags_of(patients), _earlier_stops(patients, on)
    risks, meaning = latest_risks(patients), supervision_of(site)
    rows = []
    for p in planned:
        visit = visits.get((p.enrolment_id, p.slot_id))
        readings = [] if visit is None else [r for r in visit.readings.all() if r.phase == "before"]
        row = RosterRow(
            planned=p,
            visit=visit,
            counted=counted.get(p.enrolment_id, Counted()),
            week=p.enrolment.week_on(on),
            age=p.enrolment.patient.person.age_on(on),
            flags=list(flags.get(p.enrolment.patient_id, [])),
            warnings=warnings_of(p.enrolment, doses, signed, on),
            prescription=doses.get(p.enrolment_id),
            before=merged_vitals(readings) if readings else None,
            open_findings=[] if visit is None else [f for f in visit.findings.all() if f.is_open],
        )
        add_risk(row, risks.get(p.enrolment.patient_id), meaning)
        row.earlier_stop = stops.get(p.enrolment.patient_id)
        rows.append(row)
    return rows


def _earlier_stops(patients: list[int], on: date) -> dict[int, Interruption]:
    """The latest unsettled hold or stop before this day, by patient."""
    found = Interruption.objects.filter(
        visit__enrolment__patient__in=patients,
        visit__on__lt=on,
        settled_at=None,
        is_taken_back=False,
    ).select_related("visit__enrolment")
    return {stop.visit.enrolment.patient_id: stop for stop in found.order_by("at")}


def _counted(enrolments: list[int], on: date) -> dict[int, Counted]:
    earlier, today = Q(on__lt=on), Q(on=on)
    first, second = Q(counts_first=True), Q(counts_second=True)
    rows = (
        Visit.objects.counted()
        .filter(enrolment__in=enrolments, on__lte=on)
        .order_by()
        .values("enrolment")
        .annotate(
            first_before=Count("pk", filter=earlier & first),
            second_before=Count("pk", filter=earlier & second),
            first_today=Count("pk", filter=today & first),
            second_today=Count("pk", filter=today & second),
        )
    )
    return {
        row["enrolment"]: Counted(
            row["first_before"] + row["second_before"], row["first_today"] + row["second_today"]
        )
        for row in rows
    }


def n_counted(enrolment: Enrolment) -> int:
    """Counted sessions of a course so far."""
    found = _counted([enrolment.pk], date.max).get(enrolment.pk, Counted())
    return found.before + found.on_day
