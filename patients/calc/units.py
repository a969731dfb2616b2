"""Exact unit conversions; nothing here rounds.

The pound, inch and mile are exact by definition (international yard and pound agreement, 1959).
"""

KG_PER_LB = 0.45359237
CM_PER_INCH = 2.54
METRES_PER_MILE = 1609.344
# Molar mass of glucose 180.156 g/mol, hence mg/dL per mmol/L (from memory; 18.016-18.018 seen too).
GLUCOSE_MGDL_PER_MMOLL = 18.0156


def kg_from_lb(pounds: float) -> float:
    """Mass in kilograms [kg] from pounds [lb]."""
    return pounds * KG_PER_LB


def cm_from_feet_inches(feet: float, inches: float = 0.0) -> float:
    """Length in centimetres [cm] from feet and inches."""
    return (feet * 12 + inches) * CM_PER_INCH


def metres_per_minute_from_kmh(kmh: float) -> float:
    """Speed in metres per minute [m/min] from kilometres per hour [km/h]."""
    return kmh * 1000 / 60


def kmh_from_metres_per_minute(metres_per_minute: float) -> float:
    """Speed in kilometres per hour [km/h] from metres per minute [m/min]."""
    return metres_per_minute * 60 / 1000


def metres_per_minute_from_mph(mph: float) -> float:
    """Speed in metres per minute [m/min] from miles per hour [mph]; 1 mph is 26.8224 m/min."""
    return mph * METRES_PER_MILE / 60


def glucose_mmoll(mgdl: float) -> float:
    """Glucose in mmol/L from mg/dL."""
    return mgdl / GLUCOSE_MGDL_PER_MMOLL


def glucose_mgdl(mmoll: float) -> float:
    """Glucose in mg/dL from mmol/L."""
    return mmoll * GLUCOSE_MGDL_PER_MMOLL


def lb_from_kg(kg: float) -> float:
    """Mass in pounds [lb] from kilograms [kg]."""
    return kg / KG_PER_LB


# As laboratories print them; triglycerides have a factor of their own.
CHOLESTEROL_MGDL_PER_MMOLL = 38.67
TRIGLYCERIDES_MGDL_PER_MMOLL = 88.57
CREATININE_UMOLL_PER_MGDL = 88.4


def inches_from_cm(cm: float) -> float:
    """Length in inches [in] from centimetres [cm]."""
    return cm / CM_PER_INCH


def mph_from_kmh(kmh: float) -> float:
    """Speed in miles per hour [mph] from kilometres per hour [km/h]."""
    return kmh * 1000 / METRES_PER_MILE
