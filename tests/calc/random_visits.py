"""Visits put together at random, with values at and beside every limit of the reference.

``pick`` chooses one of several: hypothesis does, so that a failing visit is made small, or a seeded
generator, which is quick enough for tens of thousands of visits.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

from hypothesis import strategies as st

from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.questions import BY_ID, QUESTIONS
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.calc.situation import Known, Situation

Pick = Callable[[Sequence[Any]], Any]
SEED = 13
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)

MG_DL = (45, 51, 52, 53, 54, 55, 60, 69, 70, 71, 89, 90, 91, 100, 130, 180,
         249, 250, 251, 300, 349, 350, 351, 420)  # fmt: skip
MMOL_L = (2.5, 2.8, 2.9, 3.0, 3.1, 3.5, 3.8, 3.9, 4.0, 4.9, 5.0, 5.1, 6.5, 9.0,
          13.8, 13.9, 14.0, 16.0, 19.3, 19.4, 19.5, 23.0)  # fmt: skip
# One mmol/L of glucose is 18.0156 mg/dL: molar mass 180.156 g/mol (from memory). Kept to a tenth,
# 13.9 mmol/L is 250.4 mg/dL, which is a little less than 13.9 again.
METER = (
    *[Glucose(n) for n in MG_DL],
    *[Glucose(n * 18.0156, is_mmoll=True) for n in MMOL_L],
    *[Glucose(round(n * 18.0156, 1), is_mmoll=True) for n in MMOL_L],
)
GOOD_METER = tuple(g for g in METER if 91 <= g <= 245)

SYSTOLIC = (82, 89, 90, 91, 110, 130, 160, 161, 179, 180, 181, 200)
DIASTOLIC = (55, 70, 80, 100, 101, 109, 110, 111)
RATES = (48, 62, 75, 99, 100, 119, 120, 121, 122, 130, 140)
DETECTION = (110, 131, 150, 160, 171, 188)
SPO2 = (86, 87, 88, 89, 90, 91, 94, 98, 99, 100)
WORK: tuple[Mapping[str, Any], ...] = (
    {"activity": "treadmill", "speed_kmh": 3.0},
    {"activity": "treadmill", "speed_kmh": 4.5, "grade_percent": 2.0},
    {"activity": "treadmill", "speed_kmh": 8.5, "grade_percent": 1.0},
    {"activity": "treadmill"},
    {"activity": "track", "speed_kmh": 4.0},
    {"activity": "cycle", "power_w": 0.0},
    {"activity": "cycle", "power_w": 30.0},
    {"activity": "cycle", "power_w": 75.0},
    {"activity": "arm", "power_w": 25.0},
    {"activity": "stepper", "steps_per_minute": 20, "step_height_cm": 20.0},
    {"activity": "rower", "shown_mets": 2.5},
    {"activity": "rower", "shown_mets": 4.0},
    {"activity": "rower", "shown_mets": 5.5},
    {"activity": "rower"},
    {"activity": "strength", "shown_mets": 3.0, "sets": 2, "repetitions": 10},
    {"activity": "flexibility"},
    {},
)
MOMENTS = ("during", "after", "recovery")  # since exercise began
LISTED = ("E-05", "E-06", "E-07", "E-08", "E-08b", "E-09", "E-11", "E-12", "E-13", "E-14", "E-15",
          "E-16", "E-17", "E-19", "E-20", "E-21")  # fmt: skip


def _glucose(pick: Pick) -> Glucose | None:
    return pick((None, *METER)) if pick((False, True)) else pick((None, *GOOD_METER))


def _meter(glucose: Glucose | None) -> dict[str, Any]:
    if glucose is None:
        return {}
    return {"glucose_mgdl": float(glucose), "glucose_is_mmoll": glucose.is_mmoll}


def _at_rest(pick: Pick, weight: float, glucose: Glucose | None) -> Vitals:
    upper = pick((None, *SYSTOLIC))
    fall = pick((None, 0, 10, 19, 20, 21, 30))
    return Vitals(
        heart_rate_bpm=pick((None, *RATES)),
        systolic_mmhg=upper,
        diastolic_mmhg=pick((None, *DIASTOLIC)),
        spo2_percent=pick((None, *SPO2)),
        weight_kg=pick((None, weight, weight)),
        standing_systolic_mmhg=None if fall is None else max(50, (upper or 120) - fall),
        temperature_c=pick((None, 36.5, 37.9, 38.0, 38.1, 39.2)),
        **_meter(glucose),
    )


def _load(pick: Pick, rest: Vitals, earlier: list[Load]) -> Load:
    if pick((False,) * 9 + (True,)):
        return Load()  # a bout that was taken back leaves its place
    known = [rest.systolic_mmhg, *[load.systolic_mmhg for load in earlier]]
    base = pick([upper for upper in known if upper is not None] or [130])
    detection = pick(DETECTION)
    return Load(
        **pick(WORK),
        minutes=pick((None, 5, 10)),
        heart_rate_bpm=pick((None, 75, 110, *[detection - n for n in (30, 11, 10, 9, 0, -5)])),
        systolic_mmhg=pick(
            (None, *[max(50, base + n) for n in (-30, -11, -10, -9, -1, 0, 10, 40)], 249, 250, 251)
        ),
        diastolic_mmhg=pick((None, 70, 80, 114, 115, 116)),
        spo2_percent=pick((None, *SPO2, *[(rest.spo2_percent or 98) - n for n in (9, 10, 11)])),
        rpe=pick((None, 11, 13, 17)),
        angina=pick((None, 0, 0, 1, 2, 3)),
        dyspnoea=pick((None, 0, 0, 1, 2, 3, 4)),
    )


def _rhythm(pick: Pick) -> Rhythm:
    often = ("", "sinus", "sinus", "paced", "af", "other")
    rare = ("af_new", "svt", "brady", "block_2", "block_3", "complex", "vt")
    maybe = (None, False, True)
    return Rhythm(
        before=pick(often + rare),
        during=pick(often + rare),
        pvc_per_minute=pick((None, 0, 5, 6, 7, 20)),
        has_couplets=pick(maybe),
        has_triplets=pick(maybe),
        is_multiform=pick(maybe),
        pvc_is_rising=pick(maybe),
        run_beats=pick((None, None, None, 3, 4, 30)),
        run_rate_bpm=pick((None, None, None, 150)),
        qrs_before_ms=pick((None, 90, 120, 121, 140)),
        qrs_during_ms=pick((None, 90, 119, 120, 121, 140, 150)),
        st_change=pick(("", "none", "depression", "elevation")),
        st_mm=pick((None, 0.0, 0.5, 0.9, 1.0, 1.1, 1.9, 2.0, 2.1, 3.0)),
        st_leads=pick(("", "inferior", "lateral", "anterior", "right")),
        has_q_wave=pick(maybe),
        new_block=pick(("", "none", "bundle", "av")),
    )


def _answers(pick: Pick) -> dict[str, bool]:
    """Most people say no to most; some are not asked, some of nothing at all."""
    kind = pick(("all", "all", "some", "none"))
    if kind == "none":
        return {}
    given = (False,) * 8 + (True,) if kind == "all" else (None, False, False, True)
    answers = {key: pick(given) for key in BY_ID}
    return {key: answer for key, answer in answers.items() if answer is not None}


def _known(pick: Pick, weight: float, replaced: tuple[Glucose, ...]) -> Known:
    flag = (False, False, True)
    has_icd = pick(flag)
    gains = (-1.0, 0.0, 1.0, 1.7, 1.8, 1.9, 3.0)
    earlier = [round(weight - pick(gains), 1) for _ in range(pick((0, 1, 3)))]
    given = (None, False, False, False, False, True)
    return Known(
        uses_insulin=pick((False, True)),
        has_diabetes=pick(flag),
        has_beta_blocker=pick(flag),
        has_heart_failure=pick((False, True)),
        nyha=pick((None, 1, 2, 3, 4)),
        has_pacemaker=pick(flag),
        has_icd=has_icd,
        detection_bpm=pick((None, *DETECTION)) if has_icd or pick(flag) else None,
        weights_last_3_days_kg=tuple(earlier),
        last_weight_kg=pick((None, weight)),
        replaced_glucose=replaced,
        needed_help_24h=pick((False,) * 5 + (True,)),
        days_since_event=pick((None, 0, 1, 2, 3, 20, 60)),
        days_since_mi=pick((None, 0, 2, 20, 21, 22, 60)),
        entry_answers=pick((None, {}, {key: bool(pick(given)) for key in LISTED})),
        entry_says_start=pick((None, False, True)),
        was_interrupted=pick((False,) * 4 + (True,)),
        events_to_review=pick(((), (), (), ("fall of 27 Feb 2026",))),
        other_events_to_review=pick(((), (), (), ("other of 27 Feb 2026",))),
        upper_limit_bpm=pick((None, 110.0, 130.0, 180.0)),
    )


def _since_it_began(pick: Pick) -> tuple[dict[str, Any], list[Glucose]]:
    """Glucose since exercise began as a sheet has it, and what its moments no longer show."""
    shown: dict[str, Glucose] = {}
    rechecks: list[tuple[datetime, Glucose]] = []
    hidden = []
    for moment in MOMENTS:
        for _ in range(pick((0, 0, 1, 2))):
            glucose = pick(METER)
            hidden += [shown[moment]] if moment in shown else []
            shown[moment] = glucose
            rechecks.append((NOON + timedelta(minutes=pick((0, 15, 15, 30))), glucose))
    if pick((False, False, False, True)):  # typed, and nothing of it stored yet
        rechecks, hidden = [], []
    moments = {moment: Vitals(**_meter(shown.get(moment))) for moment in MOMENTS}
    for moment in MOMENTS[1:]:
        moments[moment] = replace(
            moments[moment],
            heart_rate_bpm=pick((None, 70, 95, 145)),
            systolic_mmhg=pick((None, 85, 120, 185)),
            diastolic_mmhg=pick((None, 75, 112)),
            spo2_percent=pick((None, 86, 97)),
        )
    return {"rechecks": tuple(rechecks), **moments}, hidden


def a_visit(pick: Pick) -> Situation:
    """One visit at some moment, whole."""
    weight = pick((61.2, 80.0, 81.8, 104.3))
    replaced = tuple(pick(METER) for _ in range(pick((0, 0, 0, 1, 2))))
    rest = _at_rest(pick, weight, _glucose(pick))
    bouts: list[Load] = []
    for _ in range(pick((0, 1, 2, 3, 5))):
        bouts.append(_load(pick, rest, bouts))
    since, hidden = _since_it_began(pick)
    others = [pick(METER) for _ in range(pick((0, 0, 0, 1)))]
    has_exercised = bool(bouts) or pick((False, False, True))
    return Situation(
        Sheet(
            before=rest,
            bouts=tuple(bouts),
            rhythm=_rhythm(pick) if pick((False, True, True)) else Rhythm(),
            answers=_answers(pick),
            ketones=pick(("", "", "none", "small", "moderate", "large")),
            has_ecg=pick((None, False, True)),
            **since,
        ),
        replace(_known(pick, weight, replaced), other_glucose_24h=(*hidden, *others)),
        has_exercised=has_exercised and pick((False,) + (True,) * 5),
        is_over=pick((False, True)),
        minutes_running=pick((0, 10, 31, 50)),
        minutes_since_glucose=pick((None, 0, 31, 60)),
    )


def numbered(number: int) -> Situation:
    """The visit of this number, always the same."""
    return a_visit(Random(f"{SEED}/{number}").choice)


def a_calm_visit(pick: Pick) -> Situation:
    """Everything asked, measured and inside the limits of a hold and of a stop."""
    insulin, failing, icd = (pick((False, True)) for _ in range(3))
    rest = Vitals(
        heart_rate_bpm=pick((55, 99, 100, 120)),
        systolic_mmhg=pick((90, 120, 160, 161, 180)),
        diastolic_mmhg=pick((60, 80, 101, 110)),
        spo2_percent=pick((90, 91, 97)),
        weight_kg=81.7,
        standing_systolic_mmhg=None,
        temperature_c=pick((36.5, 38.0)),
        **_meter(pick((Glucose(90), Glucose(249), Glucose(5.0 * 18.0156, is_mmoll=True)))),
    )
    rest = replace(rest, standing_systolic_mmhg=(rest.systolic_mmhg or 0) - pick((0, 19, 20)))
    upper = rest.systolic_mmhg or 0
    bouts = []
    for work in (WORK[0], WORK[1], WORK[12]):  # each harder than the one before
        upper += pick((0, 5, 20))
        bouts.append(
            Load(
                **work,
                minutes=10,
                heart_rate_bpm=pick((120, 140)),
                systolic_mmhg=upper,
                diastolic_mmhg=pick((70, 115)),
                spo2_percent=pick((90, 96)),
                rpe=12,
                angina=pick((0, 1)),
                dyspnoea=pick((0, 2)),
            )
        )
    calm = replace(rest, spo2_percent=97, systolic_mmhg=120, diastolic_mmhg=80, heart_rate_bpm=70)
    calm = replace(calm, standing_systolic_mmhg=None, weight_kg=None, temperature_c=None, angina=0)
    done = pick((False, True))
    return Situation(
        Sheet(
            before=rest,
            bouts=tuple(bouts) if done else (),
            rhythm=Rhythm(pick(("sinus", "paced", "af")), "sinus", 5, False, False, False, False,
                          None, None, 100, 120, "none", 0.0, "inferior", False, "none"),
            answers={question.id: False for question in QUESTIONS},
            ketones="none",
            has_ecg=True,
            rechecks=((NOON, Glucose(120)),) if done else (),
            during=Vitals(glucose_mgdl=120) if done else Vitals(),
            after=calm if done else Vitals(),
            recovery=calm if done else Vitals(),
        ),
        Known(
            uses_insulin=insulin,
            has_diabetes=pick((False, True)),
            has_heart_failure=failing,
            nyha=2 if failing else None,
            has_icd=icd,
            detection_bpm=pick((150, 188)) if icd else None,
            weights_last_3_days_kg=(80.0,),
            days_since_event=21,
            days_since_mi=21,
            entry_answers=dict.fromkeys(LISTED, False),
            entry_says_start=True,
        ),
        has_exercised=done,
        is_over=done and pick((False, True)),
        minutes_running=30 if done else 0,
        minutes_since_glucose=10 if done else None,
    )  # fmt: skip


def _drawn(make: Callable[[Pick], Situation]) -> st.SearchStrategy[Situation]:
    @st.composite
    def visit(draw: st.DrawFn) -> Situation:
        return make(lambda values: draw(st.sampled_from(values)))

    return visit()


visits, calm_visits = _drawn(a_visit), _drawn(a_calm_visit)
