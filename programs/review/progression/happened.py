"""What really happened in courses: days of exercise, sets that were lifted, what was tested."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db.models import Max, Q, Sum

from assessments.calc.strength import EXERCISES, ONE_REPETITION
from assessments.models import Measurement
from patients.models import Precaution
from programs.attendance.calc.effort import NEEDS_NO_METS
from programs.attendance.calc.levels import Level
from programs.attendance.models import Bout, Finding, Interruption, Visit
from programs.prescription.calc.lifts import key_of
from programs.review.calc.lifting import Lifted
from programs.review.calc.progression import Day

State = Visit.State


def maxima_of(courses: Iterable[int]) -> dict[int, dict[str, float]]:
    """The one-repetition maximum tested last, of each exercise by name. [kg]"""
    names = {value: words for value, words in EXERCISES if words != "other"}
    rows = (
        Measurement.objects.standing()
        .filter(assessment__enrolment__in=courses, key=ONE_REPETITION.key)
        .order_by("assessment__performed_on", "pk")
        .values_list("assessment__enrolment", "inputs", "value")
    )
    found: dict[int, dict[str, float]] = defaultdict(dict)
    for course, inputs, kg in rows:
        name = names.get(inputs.get("exercise"))
        if name is not None and kg is not None:
            found[course][key_of(name)] = kg
    return found


def precautions_of(patients: Iterable[int]) -> dict[int, list[str]]:
    """The precautions of each person that nobody has lifted."""
    found: dict[int, list[str]] = defaultdict(list)
    for row in Precaution.objects.filter(patient__in=patients, lifted_on=None):
        found[row.patient_id].append(str(row))
    return found


Came = Sequence[tuple[int, int, date, str]]  # visit, course, day, state


def visits_of(courses: Iterable[int]) -> Came:
    """The visits at which somebody came."""
    came = [State.ARRIVED, State.EXERCISING, State.HELD, *Visit.EXERCISED]
    rows = Visit.objects.filter(enrolment__in=courses, state__in=came).order_by("on", "pk")
    return list(rows.values_list("pk", "enrolment", "on", "state"))


def sets_of(visits: Came) -> dict[int, list[Lifted]]:
    """What was lifted in each course."""
    when = {pk: (course, on) for pk, course, on, _ in visits}
    rows = Bout.objects.filter(
        visit__in=list(when), activity=Bout.Activity.STRENGTH, is_withdrawn=False
    ).exclude(exercise="")
    done: dict[int, list[Lifted]] = defaultdict(list)
    names = ("exercise", "repetitions", "load_kg", "in_reserve", "rpe")
    for visit, *values in rows.order_by("visit", "place").values_list("visit", *names):
        course, on = when[visit]
        done[course].append(Lifted(on, *values))
    return done


def days_of(visits: Came) -> dict[int, list[Day]]:
    """The days of each course on which somebody came: three queries.

    A hold counts as a day without exercise, and so does a session that is not over: what was found
    of them counts. Of what was measured the highest counts, of what was
    found the worst, also where a later reading was better.
    """
    keys = [pk for pk, *_ in visits]
    bouts = {row["visit"]: row for row in _bouts(keys)}
    worst = _worst(keys)
    days: dict[int, list[Day]] = defaultdict(list)
    for pk, course, on, state in visits:
        done = bouts.get(pk, {})
        level, sentence = worst.get(pk, ("", ""))
        days[course].append(
            Day(
                on,
                exercised=state in Visit.EXERCISED,
                minutes=done.get("minutes"),
                rpe=done.get("rpe"),
                heart_rate_bpm=done.get("rate"),
                level=level,
                finding=sentence,
            )
        )
    return days


def _bouts(visits: list[int]) -> Any:
    """Of each visit the aerobic minutes, and the highest rate and exertion of them."""
    standing = Bout.objects.filter(visit__in=visits, is_withdrawn=False)
    aerobic = standing.exclude(activity__in=NEEDS_NO_METS).order_by()
    return aerobic.values("visit").annotate(
        minutes=Sum("minutes"), rpe=Max("rpe"), rate=Max("heart_rate_bpm")
    )


def _worst(visits: list[int]) -> dict[int, tuple[str, str]]:
    """Of each visit the worst that was found or decided, in words."""
    worst: dict[int, tuple[int, str]] = {}
    for visit, level, sentence in (
        Finding.objects.filter(visit__in=visits, level__gte=Level.CAUTION)
        .order_by("pk")
        .values_list("visit", "level", "sentence")
    ):
        worst[visit] = max(worst.get(visit, (0, "")), (level, sentence))
    decided: dict[str, Level] = {"hold": Level.HOLD, "stop": Level.STOP}
    for visit, kind, seen in (
        Interruption.objects.filter(visit__in=visits, is_taken_back=False)
        .order_by("pk")
        .values_list("visit", "kind", "seen")
    ):
        level = decided[kind]
        if level >= worst.get(visit, (0, ""))[0]:
            worst[visit] = (level, seen)
    held = Visit.objects.filter(Q(state=State.HELD) | Q(state=State.STOPPED), pk__in=visits)
    for visit, state in held.values_list("pk", "state"):
        level = Level.HOLD if state == State.HELD else Level.STOP
        if level > worst.get(visit, (0, ""))[0]:
            worst[visit] = (level, "not documented")
    return {pk: (Level(level).word, sentence) for pk, (level, sentence) in worst.items()}
