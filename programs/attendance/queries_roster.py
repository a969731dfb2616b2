"""The roster of one class: each person with what matters before they start."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import Count, F, Max, Q

from programs.attendance.calc.sheet import Vitals
from programs.attendance.models import ClassMeeting, Finding, Interruption, Reading, Visit
from programs.attendance.queries_flags import add_risk, flags_of, warnings_of
from programs.enrolment.models import ClassSlot, Enrolment, PlannedSession
from programs.enrolment.queries_risk import latest_risks
from programs.enrolment.services.risk import supervision_of
from programs.prescription.models import Prescription, TreatmentPlan
from programs.staff.models import Site

LATE_FROM_MINUTES = 10  # project choice


@dataclass(frozen=True)
class Counted:
    """Counted sessions of a course before a day, and on it."""

    before: int = 0
    on_day: int = 0


@dataclass(frozen=True)
class EarlierStop:
    """A hold or stop of an earlier day."""

    words: str
    on: date


# Only what the row shows: forty people are on a page that floor staff open all day.
OF_THE_PERSON = [
    "on", "slot", "enrolment__starts_on", "enrolment__sessions_planned",
    "enrolment__next_review", "enrolment__next_review_on", "enrolment__patient__given_name",
    "enrolment__patient__family_name", "enrolment__patient__born_on", "enrolment__patient__sex",
]  # fmt: skip
OF_THE_VISIT = [
    "enrolment", "meeting", "on", "state", "absence", "arrived_at", "minutes", "counts_first",
    "counts_second", "left_early",
]  # fmt: skip
SHOWN_BEFORE = ["heart_rate_bpm", "systolic_mmhg", "diastolic_mmhg", "spo2_percent"]


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
    earlier_stop: EarlierStop | None = None  # its return is not confirmed

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
    def train_at(self) -> str:
        """What to train at: the heart rate where one is prescribed, else exertion."""
        dose = self.prescription
        return (dose.heart_rate_words or dose.rpe_words) if dose else "none"

    @property
    def train_rpe(self) -> str:
        """Exertion beside a heart rate."""
        dose = self.prescription
        return dose.rpe_words if dose and dose.heart_rate_words else ""

    @property
    def before_words(self) -> str:
        """Heart rate, pressure and saturation before exercise; a dash is not measured."""
        before = self.before
        if before is None:
            return "–"
        spo2 = "–" if before.spo2_percent is None else f"{before.spo2_percent} %"
        rate = "–" if before.heart_rate_bpm is None else f"{before.heart_rate_bpm}"
        return f"{rate} · {before.pressure or '–'} · {spo2}"

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


def planned_on(site: Site, on: date) -> list[PlannedSession]:
    """Everybody planned at a site on a day, by name."""
    return list(
        PlannedSession.objects.filter(slot__site=site, on=on)
        .select_related("enrolment__patient")
        .only(*OF_THE_PERSON)
        .order_by("enrolment__patient__family_name", "pk")
    )


def visits_on(site: Site, on: date) -> dict[tuple[int, int], Visit]:
    """The visits of a site's day, by course and class."""
    rows = Visit.objects.filter(meeting__slot__site=site, on=on).order_by()
    found = rows.annotate(slot=F("meeting__slot")).only(*OF_THE_VISIT)
    return {(visit.enrolment_id, visit.slot): visit for visit in found}


def roster_of(
    site: Site,
    slot: ClassSlot,
    meeting: ClassMeeting | None,
    planned: list[PlannedSession],
    visits: Mapping[tuple[int, int], Visit],
    on: date,
) -> list[RosterRow]:
    """The rows of a class on a day. Constant in the number of people.

    Rows are put together by hand: Django's prefetching makes a query set for every object.
    """
    slot.site = site
    if meeting is not None:
        meeting.slot = slot
    before, findings = _before(meeting), _open_findings(meeting)
    enrolments = [p.enrolment_id for p in planned]
    patients = [p.enrolment.patient_id for p in planned]
    counted = _counted(enrolments, on)
    doses = {
        dose.enrolment_id: dose
        for dose in Prescription.objects.in_force()
        .filter(enrolment__in=enrolments)
        .order_by()
        .only("enrolment", "low_bpm", "high_bpm", "rpe_low", "rpe_high")
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
        p.slot = slot
        visit, patient = visits.get((p.enrolment_id, slot.pk)), p.enrolment.patient
        if visit is not None and meeting is not None:
            visit.meeting = meeting
        row = RosterRow(
            planned=p,
            visit=visit,
            counted=counted.get(p.enrolment_id, Counted()),
            week=p.enrolment.week_on(on),
            age=patient.person.age_on(on),
            flags=list(flags.get(patient.pk, [])),
            warnings=warnings_of(p.enrolment, doses, signed, on),
            prescription=doses.get(p.enrolment_id),
            before=before.get(visit.pk) if visit else None,
            open_findings=findings.get(visit.pk, []) if visit else [],
            earlier_stop=stops.get(patient.pk),
        )
        add_risk(row, risks.get(patient.pk), meaning)
        rows.append(row)
    return rows


def _before(meeting: ClassMeeting | None) -> dict[int, Vitals]:
    """The last known values before exercise over all repeats, by visit."""
    if meeting is None:
        return {}
    readings = Reading.objects.filter(visit__meeting=meeting, phase=Reading.Phase.BEFORE)
    found: dict[int, Vitals] = {}
    for visit, rate, upper, lower, spo2 in readings.values_list("visit", *SHOWN_BEFORE):
        earlier = found.get(visit, Vitals())
        if upper is not None:  # a pressure stays a pair
            earlier = replace(earlier, systolic_mmhg=upper, diastolic_mmhg=lower)
        given = {"heart_rate_bpm": rate, "spo2_percent": spo2}
        known = {name: value for name, value in given.items() if value is not None}
        found[visit] = replace(earlier, **known)
    return found


def _open_findings(meeting: ClassMeeting | None) -> dict[int, list[Finding]]:
    found: dict[int, list[Finding]] = {}
    if meeting is None:
        return found
    rows = Finding.objects.filter(visit__meeting=meeting, decision="", cleared_at=None)
    for row in rows.only("visit", "rule_id", "level", "decision", "cleared_at"):
        found.setdefault(row.visit_id, []).append(row)
    return found


def _earlier_stops(patients: list[int], on: date) -> dict[int, EarlierStop]:
    """The latest unsettled hold or stop before this day, by patient."""
    found = Interruption.objects.filter(
        visit__enrolment__patient__in=patients,
        visit__on__lt=on,
        settled_at=None,
        is_taken_back=False,
    )
    rows = found.order_by("at").values_list("visit__enrolment__patient", "kind", "visit__on")
    return {patient: EarlierStop(Interruption.Kind(kind).label, on) for patient, kind, on in rows}


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
