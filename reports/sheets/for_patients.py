"""What a patient takes home: exercise at home, a wallet card, a plan of twelve months.

Nothing is decided here. What is on record is told; what is not is a line to write on.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any

from patients.models import Patient
from programs.attendance.paper.card import card_of
from programs.enrolment.models import Enrolment
from reports.calc.summary import OutcomeLine, StageValue
from reports.outcomes import outcomes_of
from reports.sheets.dose import PaperDose, dose_of
from reports.sheets.texts import Speaker
from reports.sheets.words import paper_of

LOG_ROWS, OWN_GOALS, MONTHS = 7, 3, 12


def _head(patient: Patient, say: Speaker, title: str) -> dict[str, Any]:
    """What every sheet carries; the warning comes last, once everything was said."""
    site = patient.site
    return {
        "lang": say.language,
        "paper": paper_of(site),
        "title": say(title),
        "name": str(patient),
        "born": f"{say('born')}: {say.day(patient.born_on)}",
        "whose": f"{patient} · {say('made', day=say.day(site.today()), site=site.name)}",
        "first": say("doctor_first"),
        "site": site.name,
        "phone": site.phone,
        "call": say("home.call", site=site.name),
        "emergency_number": say("home.emergency_number"),
        "emergency": say("home.emergency"),
    }


def _told(head: dict[str, Any], say: Speaker, **more: Any) -> dict[str, Any]:
    return head | more | {"warning": say.warning()}


def home_exercise(course: Enrolment, say: Speaker) -> dict[str, Any]:
    """One page in large print."""
    dose = dose_of(course)
    return _told(
        _head(course.patient, say, "home.title"),
        say,
        what=say("home.what"),
        lines=[
            [say("home.kind"), ""],
            [say("home.days"), _number(dose.home_days if dose else None)],
            [say("home.minutes"), _number(dose.home_minutes if dose else None)],
            *_intensity(dose, say),
        ],
        unsigned="" if dose is None or dose.is_signed else say("home.unsigned"),
        rules=[say(key) for key in ("home.slowly", "home.talk", "home.medicines", "doctor_first")],
        not_today=[say("home.not_today"), say.parts("home.not_today_list")],
        stop=[say("home.stop"), say.parts("home.stop_list")],
        log=say("home.log"),
        log_heads=say.parts("home.log_heads"),
        log_rows=LOG_ROWS,
    )


def _number(value: int | None) -> str:
    """A number, or a line to write on."""
    return "" if value is None else str(value)


def _intensity(dose: PaperDose | None, say: Speaker) -> list[list[str]]:
    """Effort, pulse and its limit as prescribed for the class; a line where it is not."""
    effort = pulse = limit = ""
    if dose is not None:
        effort = say("home.effort_is", low=dose.rpe_low, high=dose.rpe_high)
        if dose.low_bpm is not None and dose.high_bpm is not None:
            pulse = say("home.pulse_is", low=dose.low_bpm, high=dose.high_bpm)
        if dose.limit_bpm is not None:
            limit = say("home.limit_is", limit=dose.limit_bpm)
    return [[say("home.effort"), effort], [say("home.pulse"), pulse], [say("home.limit"), limit]]


def wallet_card(course: Enrolment, say: Speaker) -> dict[str, Any]:
    """Two faces of a card. An empty list was not recorded; it never says "none"."""
    patient = course.patient
    today = patient.site.today()
    card = card_of(patient, today)
    dose = card.dose
    none_known = say.both("card.no_allergies") if patient.has_no_allergies else ""
    contact = [patient.emergency_name, patient.emergency_relation, patient.emergency_phone]
    limit = dose.upper_limit_bpm if dose else None
    return _told(
        _head(patient, say, "card.title"),
        say,
        cut=say("card.cut"),
        front=[
            [say.both("card.contact"), ", ".join(part for part in contact if part)],
            [
                say("card.clinic"),
                ", ".join(p for p in (patient.site.name, patient.site.phone) if p),
            ],
            [say.both("home.emergency_number"), ""],
            [say.both("card.limit"), say("home.limit_is", limit=limit) if limit else ""],
        ],
        back=[
            [say.both("card.conditions"), "; ".join(card.conditions)],
            [say.both("card.devices"), "; ".join(card.devices)],
            [say.both("card.allergies"), "; ".join(card.allergies) or none_known],
            [say.both("card.medicines"), "; ".join(card.medicines)],
        ],
        not_recorded=say.both("not_recorded"),
        as_recorded=say("card.as_recorded", day=say.day(today)),
    )


def maintenance_plan(course: Enrolment, say: Speaker) -> dict[str, Any]:
    """Twelve months from discharge; without one the months have no name yet."""
    lines = outcomes_of(course, "exit").lines
    dose = dose_of(course)
    signed = course.plans.exclude(signed_on=None).order_by("-signed_on", "-pk").first()
    last = {"minutes": dose.minutes, "per_week": dose.per_week} if dose else {}
    return _told(
        _head(course.patient, say, "plan.title"),
        say,
        results=say("plan.results"),
        result_heads=say.parts("plan.result_heads"),
        result_rows=_results(lines, say),
        no_results=say("plan.no_results"),
        goals=say("plan.goals"),
        goal_rows=_goals(lines, say),
        team_goals=[say("plan.team_goals"), signed.goals.strip() if signed else ""],
        own_goals=say("plan.own_goals"),
        own_rows=OWN_GOALS,
        exercise=say("plan.exercise"),
        last_dose=say("plan.last_dose", **last) if dose else "",
        unsigned="" if dose is None or dose.is_signed else say("home.unsigned"),
        exercise_rows=[
            *[[say(f"home.{key}"), ""] for key in ("kind", "days", "minutes")],
            *_intensity(dose, say),
        ],
        talk=say("home.talk"),
        where=say("plan.where"),
        where_rows=say.parts("plan.where_lines"),
        watch=say("plan.watch"),
        watch_heads=say.parts("plan.watch_heads"),
        months=_months(course.closed_on, say),
        call_if=[say("plan.call"), say.parts("home.not_today_list")],
        stop=[say("home.stop"), say.parts("home.stop_list")],
    )


def _results(lines: Sequence[OutcomeLine], say: Speaker) -> list[list[str]]:
    """At the start and at the end, of what tells a person something."""
    rows = []
    for line in lines:
        if line.measure.plain:
            ends = (line.stages[0], line.stages[-1])
            shown = [_result(one, line.measure.unit, say) for one in ends]
            rows.append([say(f"measure.{line.measure.key}"), *shown])
    return rows


def _result(one: StageValue, unit: str, say: Speaker) -> str:
    if not one.value:
        return say("plan.not_measured")
    value = say.amount(one.value, unit)
    return value if one.compares else say("plan.other_way", value=value)


def _goals(lines: Sequence[OutcomeLine], say: Speaker) -> list[list[str]]:
    """Each target of the site with whether it was met at the end."""
    words = {True: ("◆", "plan.met"), False: ("◇", "plan.not_met"), None: ("·", "plan.not_known")}
    rows = []
    for line in lines:
        for judged, goal in zip(line.row.targets, line.goals, strict=True):
            sign, key = words[goal.met[-1]]
            target = say(f"goal.{judged.target.key}", amount=f"{judged.amount:g}")
            rows.append([sign, target, say(key)])
    return rows


def _months(since: date | None, say: Speaker) -> list[str]:
    if since is None:
        return [str(n) for n in range(1, MONTHS + 1)]
    months = [since.year * 12 + since.month - 1 + n for n in range(1, MONTHS + 1)]
    return [f"{say.month(n % 12 + 1)} {n // 12}" for n in months]
