"""Which tests would confirm or refute what seems to limit somebody, and what speaks against each.

What a test answers, its time, space and equipment are common practice, no source. What speaks
against it names its source; sources disagree, and local protocol comes first. Nothing here says
that a test is safe: what is not on record is named.
"""

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from assessments.calc.catalogue import BY_KEY
from assessments.calc.measure import Measure

PRACTICE = "common practice, no source"
ERS_ATS = "Holland 2014, Eur Respir J 44:1428"
ATS_MEMORY = "ATS 2002, AJRCCM 166:111, from memory"

LIMITS: tuple[tuple[str, str], ...] = (
    ("endurance", "Endurance"),
    ("leg_strength", "Leg strength"),
    ("arm_strength", "Arm strength, grip"),
    ("balance", "Balance, falls"),
    ("walking_speed", "Walking speed"),
    ("stairs", "Stairs"),
    ("breathing", "Dyspnea, breathing muscles"),
    ("mood", "Mood"),
    ("anxiety", "Anxiety, fear"),
    ("self_care", "Self-care, daily activities"),
    ("diet", "Diet"),
    ("activity", "Activity, sitting"),
    ("tobacco", "Tobacco"),
    ("medicines", "Taking medicines"),
    ("risk_factors", "Lipids, sugar, weight"),
    ("prescription", "How hard to train"),
)
LIMIT_WORDS = dict(LIMITS)


@dataclass(frozen=True)
class Candidate:
    """What one measure can answer, and what it takes."""

    key: str
    answers: tuple[str, ...]
    minutes: int
    space: str = ""
    equipment: str = ""
    is_effort: bool = False  # hard enough that vital signs and recent events matter
    is_maximal: bool = False
    strains: frozenset[str] = frozenset()  # precautions of these kinds speak against it
    blunted_by_beta_blocker: bool = False

    @property
    def measure(self) -> Measure:
        """The measure of this key."""
        return BY_KEY[self.key]


# For each question the most telling test stands first.
TESTS: tuple[Candidate, ...] = (
    Candidate(
        "six_minute_walk",
        ("endurance", "breathing", "prescription"),
        15,
        "30 m flat corridor",
        "cones, watch, oximeter",
        is_effort=True,
    ),
    Candidate(
        "incremental_shuttle_walk",
        ("endurance", "prescription"),
        20,
        "10 m course",
        "cones, sound, oximeter",
        is_effort=True,
        is_maximal=True,
    ),
    Candidate(
        "two_minute_step", ("endurance",), 5, "a wall", "tape at knee height", is_effort=True
    ),
    Candidate(
        "single_stage_treadmill",
        ("endurance", "prescription"),
        10,
        "",
        "treadmill",
        is_effort=True,
        blunted_by_beta_blocker=True,
    ),
    Candidate(
        "cycle_stages",
        ("endurance", "prescription"),
        15,
        "",
        "cycle ergometer",
        is_effort=True,
        blunted_by_beta_blocker=True,
    ),
    Candidate(
        "peak_oxygen_uptake",
        ("endurance", "breathing", "prescription"),
        5,
        "",
        "the report of an exercise test",
    ),
    Candidate("peak_work", ("endurance", "prescription"), 5, "", "the report of an exercise test"),
    Candidate("ve_vco2_slope", ("breathing",), 2, "", "the report of an exercise test"),
    Candidate(
        "chronotropic_index", ("endurance", "prescription"), 2, "", "the report of an exercise test"
    ),
    Candidate("heart_rate_recovery", ("endurance",), 2, "", "the report of an exercise test"),
    Candidate(
        "five_times_sit_to_stand",
        ("leg_strength", "self_care"),
        3,
        "",
        "chair, 43 cm",
        is_effort=True,
    ),
    Candidate(
        "chair_stand_30s", ("leg_strength", "self_care"), 3, "", "chair, 43 cm", is_effort=True
    ),
    Candidate(
        "stair_climb", ("stairs", "leg_strength"), 5, "a flight of stairs", "watch", is_effort=True
    ),
    Candidate(
        "one_repetition_maximum",
        ("leg_strength", "arm_strength", "prescription"),
        15,
        "",
        "weights or machine",
        is_effort=True,
        strains=frozenset({"sternum", "pocket", "radial"}),
    ),
    Candidate(
        "grip_strength", ("arm_strength",), 5, "", "dynamometer", strains=frozenset({"radial"})
    ),
    Candidate("gait_speed", ("walking_speed", "self_care"), 3, "8 m for a rolling start", "watch"),
    Candidate("fast_gait_speed", ("walking_speed",), 3, "8 m and room to stop", "watch"),
    Candidate("timed_up_and_go", ("balance", "walking_speed"), 3, "3 m", "chair, watch"),
    Candidate("four_stances", ("balance",), 3, "", "watch, somebody beside"),
    Candidate("single_leg_stance", ("balance",), 3, "", "watch, somebody beside"),
    Candidate(
        "maximal_inspiratory_pressure",
        ("breathing",),
        10,
        "",
        "mouth pressure meter",
        strains=frozenset({"sternum"}),
    ),
    Candidate(
        "maximal_expiratory_pressure",
        ("breathing",),
        10,
        "",
        "mouth pressure meter",
        strains=frozenset({"sternum"}),
    ),
    Candidate("phq9", ("mood",), 5),
    Candidate("gad7", ("anxiety",), 4),
    Candidate("activity_status", ("self_care", "endurance"), 4),
    Candidate("physical_functioning", ("self_care",), 4),
    Candidate("mediterranean_diet", ("diet",), 5),
    Candidate("activity_minutes", ("activity",), 3),
    Candidate("tobacco", ("tobacco",), 2),
    Candidate("medicine_adherence", ("medicines",), 3),
    Candidate("waist", ("risk_factors",), 2, "", "tape"),
    Candidate("body_mass_index", ("risk_factors",), 2, "", "scales, height rod"),
    Candidate("non_hdl_cholesterol", ("risk_factors", "diet"), 2, "", "laboratory report"),
    Candidate("hba1c", ("risk_factors", "diet"), 2, "", "laboratory report"),
    Candidate("filtration_rate", ("risk_factors",), 2, "", "laboratory report"),
)
TEST_OF: dict[str, Candidate] = {test.key: test for test in TESTS}


@dataclass(frozen=True)
class OnRecord:
    """What the record says that may speak against a test; None is not on record."""

    days_since_mi: int | None = None
    resting_bpm: float | None = None
    systolic_mmhg: float | None = None
    diastolic_mmhg: float | None = None
    spo2_percent: float | None = None
    on_beta_blocker: bool = False
    detection_bpm: int | None = None  # of a defibrillator
    has_icd: bool = False
    precautions: frozenset[str] = frozenset()  # kinds that are not lifted


@dataclass(frozen=True)
class Against:
    """A reason not to do a test today, or to take care."""

    words: str
    source: str
    is_absolute: bool = False


@dataclass(frozen=True)
class Reason:
    """One line of the list of what speaks against a test of effort."""

    holds: Callable[[OnRecord], bool]
    words: str
    source: str
    is_absolute: bool = False


def _above(value: float | None, limit: float) -> bool:
    return value is not None and value > limit


EFFORT: tuple[Reason, ...] = (
    Reason(lambda r: r.days_since_mi is not None and r.days_since_mi <= 5,
           "heart attack within 3 to 5 days", ERS_ATS, is_absolute=True),
    Reason(lambda r: r.days_since_mi is not None and 5 < r.days_since_mi < 30,
           "heart attack within a month", ATS_MEMORY),
    Reason(lambda r: r.spo2_percent is not None and r.spo2_percent <= 85,
           "saturation 85 % or less at rest", ERS_ATS, is_absolute=True),
    Reason(lambda r: _above(r.systolic_mmhg, 200) or _above(r.diastolic_mmhg, 120),
           "resting pressure above 200/120", ERS_ATS),
    Reason(lambda r: _above(r.systolic_mmhg, 180) or _above(r.diastolic_mmhg, 100),
           "resting pressure above 180/100", ATS_MEMORY),
    Reason(lambda r: _above(r.resting_bpm, 120), "resting heart rate above 120", ATS_MEMORY),
)  # fmt: skip


def against(test: Candidate, record: OnRecord) -> list[Against]:
    """What on record speaks against a test, the absolute first.

    Parameters
    ----------
    test : the test asked about.
    record : what is on record of the person; None there speaks against nothing.

    Returns
    -------
    Reasons with their sources, empty where none is on record: no promise that the test is safe.
    """
    found = []
    if test.is_effort:
        found += [Against(r.words, r.source, r.is_absolute) for r in EFFORT if r.holds(record)]
    if test.is_maximal and record.has_icd:
        rate = f" at {record.detection_bpm} /min" if record.detection_bpm else ", rate not noted"
        found.append(Against(f"defibrillator detects{rate}: stay below it", PRACTICE))
    if test.blunted_by_beta_blocker and record.on_beta_blocker:
        words = "beta-blocker: the estimate would be wrong and is refused"
        found.append(Against(words, "Ebbeling 1991; from memory", is_absolute=True))
    for kind in sorted(test.strains & record.precautions):
        found.append(Against(f"precaution in force: {kind}", PRACTICE))
    return sorted(found, key=lambda a: not a.is_absolute)


def not_on_record(test: Candidate, record: OnRecord) -> list[str]:
    """What would have to be known before a test of effort, in words.

    Parameters
    ----------
    test : the test asked about.
    record : what is on record of the person.

    Returns
    -------
    Names of resting values that are missing, empty for a test without effort.
    """
    if not test.is_effort:
        return []
    asked = {
        "resting heart rate": record.resting_bpm,
        "resting pressure": record.systolic_mmhg,
        "saturation": record.spo2_percent,
    }
    return [words for words, value in asked.items() if value is None]


@dataclass(frozen=True)
class Suggestion:
    test: Candidate
    because: list[str]  # what it would confirm or refute
    against: list[Against]
    unknown: list[str]

    @property
    def is_refused(self) -> bool:
        """True when a reason against it is absolute."""
        return any(reason.is_absolute for reason in self.against)


def suggest(limits: Collection[str], record: OnRecord) -> list[Suggestion]:
    """Tests that would confirm or refute what seems to limit somebody, the most telling first.

    Parameters
    ----------
    limits : keys of ``LIMITS``; others are passed over.
    record : what is on record of the person.

    Returns
    -------
    Suggestions: refused ones last, then by how many limits they answer, else as in the table.
    """
    found = [
        Suggestion(
            test,
            [LIMIT_WORDS[key] for key in test.answers if key in limits],
            against(test, record),
            not_on_record(test, record),
        )
        for test in TESTS
        if set(test.answers) & set(limits)
    ]
    return sorted(found, key=lambda s: (s.is_refused, -len(s.because)))  # else as in the table


def minutes_of(keys: Iterable[str]) -> int:
    """Time the tests take together.

    Parameters
    ----------
    keys : keys of measures; those not in ``TESTS`` count nothing.

    Returns
    -------
    Time. [min]
    """
    return sum(TEST_OF[key].minutes for key in keys if key in TEST_OF)
