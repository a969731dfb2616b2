"""The published holds and stops, stated a second time without the program's rules.

Written from the paraphrased reference of the program (sections E, F and G, and H-08 of H) and from
nothing in ``calc/rules*.py``, ``derived.py`` or ``catalogue.py``: a slip there is not copied here.
Only what must be raised is stated, at the limits that are shipped; cautions and what a clinician
may decide either way are left out. A reading that is missing asks for nothing, except where the
reference reads the unknown as the danger, which is said beside it.

Sources, as named beside each clause
------------------------------------
ENROL    BMJ Open, Table 1: contraindications to be considered during enrolment
PRESSURE PMC10959113, Table 1: absolute and relative contraindications
HEART    HeartOnline, Exercise: safety considerations
HF-LIST  European Respiratory Review, Table 3: training in chronic heart failure
END      Am Fam Physician 2017;96:293, and Trials 2013;14:91, Table 6: when to end a test
ACSM     J Sports Sci Med suppl. 7, Table 7 (adapted from ACSM 2000)
CPET     PMC2943096, Table 2: reasons to stop cardiopulmonary exercise testing
ADA      Standards of Medical Care 2017, Table 6.3, Diabetes Care 40(Suppl 1):S48-S56
T1       Turner 2019, doi:10.1186/s40798-019-0192-1: type 1 diabetes and exercise
COLBERG  Colberg 2016, doi:10.2337/dc16-1728, Table 1: glucose before exercise
LOCAL    common practice of telemetry rooms, no source; shipped as a site's setting
PRACTICE common practice, no source
MEMORY   from memory
"""

from collections.abc import Iterable

from programs.attendance.calc.effort import Load
from programs.attendance.calc.quantities import Glucose
from programs.attendance.calc.situation import Situation

# A yes to one of these is a symptom (PRACTICE: the screen before each session).
SYMPTOMS = ("chest_pain", "breathless", "dizzy", "fainted", "palpitations", "other")
# Swelling and a worse effort tolerance are symptoms of heart failure (HEART, HF-LIST).
SYMPTOMS_OF_HEART_FAILURE = ("swelling", "worse")


def below(glucose: Glucose | None, mgdl: float, mmoll: float) -> bool:
    """Limits are rounded in each unit, so a meter is compared in the unit it shows."""
    if glucose is None:
        return False
    # A molar mass of 180.156 g/mol (MEMORY); a meter shows tenths.
    return round(glucose / 18.0156, 1) < mmoll if glucose.is_mmoll else glucose < mgdl


def level_1(glucose: Glucose | None) -> bool:
    return below(glucose, 70, 3.9)


def level_2(glucose: Glucose | None) -> bool:
    return below(glucose, 54, 3.0)


def must_hold(visit: Situation) -> set[str]:
    """Ids that must be raised as a hold, or worse, of what was found at rest."""
    return {*_at_rest(visit), *_by_history(visit), *_rhythm_at_rest(visit), *_glucose_held(visit)}


def must_stop(visit: Situation) -> set[str]:
    """Ids that must be raised as a stop, of what was found in exercise."""
    places = range(1, len(visit.sheet.bouts) + 1)
    under_load = (key for place in places for key in must_stop_at(visit, place))
    return {*under_load, *_seen(visit), *_monitor(visit), *_glucose_stopped(visit)}


def must_stop_at(visit: Situation, place: int) -> set[str]:
    """Those of them that were found under the load of the bout in this place, from 1."""
    return set(_load(visit, place - 1))


def _has_symptoms(visit: Situation) -> bool:
    asked: tuple[str, ...] = SYMPTOMS
    if visit.known.has_heart_failure:
        asked += SYMPTOMS_OF_HEART_FAILURE
    return any(visit.sheet.answers.get(key) for key in asked)


# --- E: do not start today --------------------------------------------------------------------


def _at_rest(visit: Situation) -> Iterable[str]:
    rest, said = visit.sheet.before, visit.sheet.answers
    upper, lower, standing = (
        rest.systolic_mmhg, rest.diastolic_mmhg, rest.standing_systolic_mmhg,
    )  # fmt: skip
    if upper is not None and upper > 180:
        yield "E-01"  # PRESSURE: > 180 absolute
    if lower is not None and lower > 110:
        yield "E-02"  # PRESSURE: > 110 absolute
    if upper is not None and standing is not None and upper - standing > 20 and said.get("dizzy"):
        yield "E-03"  # ENROL: a fall of > 20 with symptoms
    if rest.heart_rate_bpm is not None and rest.heart_rate_bpm > 120:
        yield "E-04"  # HEART: > 120
    if said.get("ill") or (rest.temperature_c is not None and rest.temperature_c > 38.0):
        yield "E-13"  # ENROL, HEART: fever, one protocol > 38.0 °C, or acute illness
    if upper is not None and upper < 90 and _has_symptoms(visit):
        yield "E-17"  # PRACTICE: < 90 with symptoms
    if rest.spo2_percent is not None and rest.spo2_percent < 90:
        yield "E-18"  # PRACTICE: < 90
    if _near_detection(visit, rest.heart_rate_bpm):
        yield "H-08"  # MEMORY: 10 /min below the lowest detection rate
    gained = _gained_kg(visit)
    if visit.known.has_heart_failure and gained >= 1.8 and _has_symptoms(visit):
        yield "E-10"  # HF-LIST: >= 1.8 kg in 1 to 3 days; a hold with symptoms


def _gained_kg(visit: Situation) -> float:
    """Over the lowest of the last three days; scales show tenths, so 81.8 - 80.0 is 1.8."""
    now, earlier = visit.sheet.before.weight_kg, visit.known.weights_last_3_days_kg
    return round(now - min(earlier), 3) if now is not None and earlier else 0.0


def _near_detection(visit: Situation, rate: int | None) -> bool:
    detection = visit.known.detection_bpm
    return rate is not None and detection is not None and detection - rate < 10


# The list of the entry screen that no question of a session asks again.
LASTING = ("E-08", "E-11", "E-12", "E-21")


def _by_history(visit: Situation) -> Iterable[str]:
    known, said = visit.known, visit.sheet.answers
    if said.get("chest_pain"):
        yield "E-07"  # ENROL: angina at rest or a new pattern of it
    if known.has_heart_failure and said.get("worse"):
        yield "E-09"  # HEART, HF-LIST: worse over 3 to 5 days
    if said.get("stomach"):
        yield "E-15"  # ENROL: vomiting, diarrhoea or dehydration in 24 to 36 h
    if known.days_since_event is not None and known.days_since_event <= 2:
        yield "E-16"  # ENROL: an acute event within 2 days
    if known.has_heart_failure and known.days_since_mi is not None and known.days_since_mi < 21:
        yield "E-16"  # HEART, HF-LIST: in heart failure, an infarction < 3 weeks ago
    since = ("missed_doses", "shock", "fainted", "fell", "neuro")
    if any(said.get(key) for key in since) or known.events_to_review:
        yield "E-19"  # PRACTICE: since the last visit, until reviewed
    if known.was_interrupted:
        yield "E-31"  # PRACTICE: a hold stands until its return is confirmed
    if known.entry_says_start is not True:
        # E-08 ENROL, HEART; E-11 PRESSURE, HEART; E-12 HEART; E-21 HF-LIST: no exercise, until
        # a clinician says start.
        yield from (key for key in LASTING if (known.entry_answers or {}).get(key))


def _rhythm_at_rest(visit: Situation) -> Iterable[str]:
    seen = visit.sheet.rhythm.before
    if seen in {"af_new", "svt", "vt"}:
        yield "E-05"  # ENROL, HEART, HF-LIST: uncontrolled arrhythmia, new fibrillation
    if seen == "complex" and not visit.known.has_heart_failure:
        yield "E-05"  # ENROL; relative in heart failure only (E-20: HEART, HF-LIST)
    if seen == "block_3" and not visit.known.has_pacemaker:
        yield "E-06"  # MEMORY: third-degree block without pacemaker


# --- F and H-08: stop during exercise ---------------------------------------------------------


def _load(visit: Situation, place: int) -> Iterable[str]:
    load, rest = visit.sheet.bouts[place], visit.sheet.before
    upper, lower, spo2 = load.systolic_mmhg, load.diastolic_mmhg, load.spo2_percent
    if upper is not None and any(base - upper >= 10 for base in _lower(visit, place)):
        yield "F-01"  # ACSM: falls by >= 10 as workload rises
    if (upper is not None and upper > 250) or (lower is not None and lower > 115):
        yield "F-02"  # END: > 250 or > 115
    if load.angina is not None and load.angina >= 2:
        yield "F-09"  # END, MEMORY: in training any angina above mild
    if load.dyspnoea is not None and load.dyspnoea >= 3:
        yield "F-11"  # END: marked breathlessness
    if spo2 is not None:
        fell = rest.spo2_percent is not None and rest.spo2_percent - spo2 >= 10
        if spo2 < 88 or ((spo2 < 90 or fell) and _has_signs(visit, load)):
            yield "F-12"  # CPET: < 90 or a fall of 10 with symptoms; other lists < 88
    if _near_detection(visit, load.heart_rate_bpm):
        yield "H-08"  # MEMORY: 10 /min below the lowest detection rate


def _lower(visit: Situation, place: int) -> Iterable[int]:
    """Systolic pressures at rest and under each earlier load that was lower, in METs."""
    if visit.sheet.before.systolic_mmhg is not None:
        yield visit.sheet.before.systolic_mmhg
    here = visit.mets_of(visit.sheet.bouts[place])
    for load in visit.sheet.bouts[:place]:
        mets = visit.mets_of(load)
        is_lower = here is not None and mets is not None and mets < here
        if is_lower and load.systolic_mmhg is not None:
            yield load.systolic_mmhg


def _has_signs(visit: Situation, load: Load) -> bool:
    seen = any(visit.sheet.answers.get(key) for key in ("unsteady", "pale", "wheeze"))
    return seen or bool(load.angina) or bool(load.dyspnoea)


SEEN = {
    "unsteady": "F-10",  # END: dizziness, ataxia, near-syncope
    "pale": "F-10",  # END: pallor, cyanosis, cold clammy skin
    "wheeze": "F-11",  # END
    "leg_pain": "F-11",  # END: leg cramps, claudication
    "unreadable": "F-13",  # END: monitoring fails
    "asks_to_stop": "F-14",  # END, ACSM, CPET
    "no_rise": "F-15",  # CPET: rate does not rise, with fatigue or dizziness
}


def _seen(visit: Situation) -> Iterable[str]:
    return (rule for key, rule in SEEN.items() if visit.sheet.answers.get(key))


def _monitor(visit: Situation) -> Iterable[str]:
    seen, mm = visit.sheet.rhythm, visit.sheet.rhythm.st_mm
    up = seen.st_change in {"elevation", ""}  # millimetres without a direction count as either
    down = seen.st_change in {"depression", ""}
    is_excused = seen.has_q_wave or seen.st_leads == "right"
    slow_or_svt = seen.during in {"svt", "brady", "block_2", "block_3"}
    was, now = seen.qrs_before_ms, seen.qrs_during_ms
    has_run = seen.run_beats is not None or seen.run_rate_bpm is not None
    clauses = [
        # END: >= 1.0 mm without a Q wave, not in aVR, aVL or V1; >= 2.0 mm is the safer default
        ("F-03", mm is not None and up and mm >= 1.0 and not is_excused),
        ("F-04", mm is not None and down and mm >= 2.0),
        ("F-05", seen.during == "vt"),  # END: sustained ventricular tachycardia
        ("F-06", slow_or_svt or seen.new_block == "av"),  # END: SVT, block, bradyarrhythmia
        # CPET: a run of more than 3, or PVCs of rising frequency
        ("F-07", seen.pvc_is_rising or (seen.run_beats is not None and seen.run_beats > 3)),
        ("F-08", seen.new_block == "bundle"),  # END: new bundle-branch block
        # LOCAL: widens beyond 0.12 s; not measured before is taken as widened
        ("F-20", now is not None and now > 120 and (was is None or now > was)),
        ("F-21", seen.pvc_per_minute is not None and seen.pvc_per_minute >= 6),  # LOCAL
        ("F-22", seen.has_couplets or seen.has_triplets),  # LOCAL; triplets END
        ("F-23", seen.during == "vt" or has_run),  # LOCAL: any run
        ("F-24", seen.is_multiform),  # LOCAL; END names multifocal ones
    ]
    return (rule for rule, is_so in clauses if is_so)


# --- G: glucose -------------------------------------------------------------------------------


def _latest(visit: Situation) -> Glucose | None:
    """The last since exercise began: by the clock, as typed while nothing of it is stored."""
    sheet = visit.sheet
    ordered = sorted(sheet.rechecks, key=lambda recheck: recheck[0])  # keeps the order of ties
    typed = [sheet.during.glucose, sheet.after.glucose, sheet.recovery.glucose]
    since = [glucose for _, glucose in ordered] or [g for g in typed if g is not None]
    return since[-1] if since else None


def _glucose_held(visit: Situation) -> Iterable[str]:
    sheet, known = visit.sheet, visit.known
    rest, ketones = sheet.before.glucose, sheet.ketones
    if level_1(rest) and not level_2(rest):
        yield "G-01"  # ADA, current text: < 70 and >= 54; treat first (T1, 15 g and 15 min)
    if any(level_2(glucose) for glucose in (rest, *known.replaced_glucose)):
        yield "G-02"  # ADA: < 54; a good recheck does not end it
    if sheet.answers.get("needed_help"):
        yield "G-03"  # ADA: needs another person's help
    if ketones in {"moderate", "large"}:
        yield "G-05"  # COLBERG: none with moderate or large ketones
    if known.uses_insulin and rest is not None and _is_out_for_insulin(rest, ketones):
        yield "G-05"
    moments = (sheet.before, sheet.during, sheet.after, sheet.recovery)
    day = [vitals.glucose for vitals in moments] + [glucose for _, glucose in sheet.rechecks]
    day += [*known.replaced_glucose, *known.other_glucose_24h]
    helped = known.needed_help_24h or sheet.answers.get("severe_low")
    if helped or any(below(glucose, 52.2, 2.9) for glucose in day):
        yield "G-06"  # T1: < 2.9 mmol/L, or a low that needed help, in the last 24 h
    if level_1(_latest(visit)):
        yield "G-09"  # T1: looked at in and after exercise; while low, again after 15 min


def _is_out_for_insulin(rest: Glucose, ketones: str) -> bool:
    """COLBERG: < 90 carbohydrate first; from 250 ketones; from 350 only with none or a trace."""
    if not below(rest, 350, 19.4):
        return ketones != "none"
    return below(rest, 90, 5.0) or (not below(rest, 250, 13.9) and not ketones)


def _glucose_stopped(visit: Situation) -> Iterable[str]:
    sheet = visit.sheet
    since = [vitals.glucose for vitals in (sheet.during, sheet.after, sheet.recovery)]
    since += [glucose for _, glucose in sheet.rechecks]
    if any(level_2(glucose) for glucose in since):
        yield "G-02"  # ADA: < 54 since exercise began; a good recheck does not end it
    glucose = sheet.during.glucose
    if level_1(glucose) and not level_2(glucose):
        yield "G-01"  # ADA: < 70 in exercise
