"""In which part of life a measure stands, in the order of the pages (project choice)."""

from assessments.calc import catalogue as of
from assessments.calc.activity_status import ACTIVITY_STATUS
from assessments.calc.anxiety import GAD7
from assessments.calc.diet import DIET
from assessments.calc.lifestyle import ACTIVITY, ADHERENCE, TOBACCO_USE
from assessments.calc.measure import Measure
from assessments.calc.mood import PHQ9
from assessments.calc.physical_function import PHYSICAL_FUNCTION
from assessments.calc.vitals import BLOOD_PRESSURE, BODY_SIZE, HEART_RATE, SATURATION, WAIST

DOMAINS: tuple[tuple[str, tuple[Measure, ...]], ...] = (
    ("Endurance", (*of.ENDURANCE, *of.EXERCISE_TEST)),
    ("Walking and standing up", of.FUNCTION),
    ("Strength and balance", of.BALANCE_AND_STRENGTH),
    ("Breathing muscles", of.BREATHING),
    ("Mood", (PHQ9, GAD7)),
    ("Daily life", (ACTIVITY_STATUS, PHYSICAL_FUNCTION)),
    ("Risk factors", (BLOOD_PRESSURE, *of.LABORATORY, TOBACCO_USE, WAIST, BODY_SIZE)),
    (
        "Habits",
        (ACTIVITY, DIET, ADHERENCE),
    ),
    ("At rest", (HEART_RATE, SATURATION)),
)
DOMAIN_OF = {measure.key: name for name, measures in DOMAINS for measure in measures}
