"""Unit conversions; nothing here rounds or refuses.

The pound, inch and mile are exact by definition [1]_; other factors say beside them what they are.

References
----------
.. [1] International yard and pound agreement, 1959; A. Thompson, B. N. Taylor, "Guide for the Use
   of the International System of Units (SI)," NIST Special Publication 811, appendix B, 2008.
"""

KG_PER_LB = 0.45359237
CM_PER_INCH = 2.54
METRES_PER_MILE = 1609.344
# Molar mass of glucose 180.156 g/mol, hence mg/dL per mmol/L (from memory; 18.016-18.018 seen too).
GLUCOSE_MGDL_PER_MMOLL = 18.0156


def kg_from_lb(pounds: float) -> float:
    """Mass in kilograms from pounds.

    Parameters
    ----------
    pounds : mass. [lb], not limited here

    Returns
    -------
    Mass. [kg], unrounded
    """
    return pounds * KG_PER_LB


def cm_from_feet_inches(feet: float, inches: float = 0.0) -> float:
    """Length in centimetres from feet and inches.

    Parameters
    ----------
    feet : whole or broken feet. [ft], not limited here
    inches : added to the feet. [in], not limited here, so 12 and more are taken

    Returns
    -------
    Length. [cm], unrounded
    """
    return (feet * 12 + inches) * CM_PER_INCH


def metres_per_minute_from_kmh(kmh: float) -> float:
    """Speed in metres per minute from kilometres per hour.

    Parameters
    ----------
    kmh : speed. [km/h], not limited here

    Returns
    -------
    Speed. [m/min], unrounded
    """
    return kmh * 1000 / 60


def kmh_from_metres_per_minute(metres_per_minute: float) -> float:
    """Speed in kilometres per hour from metres per minute.

    Parameters
    ----------
    metres_per_minute : speed. [m/min], not limited here

    Returns
    -------
    Speed. [km/h], unrounded
    """
    return metres_per_minute * 60 / 1000


def metres_per_minute_from_mph(mph: float) -> float:
    """Speed in metres per minute from miles per hour; 1 mph is 26.8224 m/min.

    Parameters
    ----------
    mph : speed. [mph], not limited here

    Returns
    -------
    Speed. [m/min], unrounded
    """
    return mph * METRES_PER_MILE / 60


def glucose_mmoll(mgdl: float) -> float:
    """Glucose in mmol/L from mg/dL.

    Parameters
    ----------
    mgdl : glucose. [mg/dL], not limited here

    Returns
    -------
    Glucose. [mmol/L], unrounded
    """
    return mgdl / GLUCOSE_MGDL_PER_MMOLL


def glucose_mgdl(mmoll: float) -> float:
    """Glucose in mg/dL from mmol/L.

    Parameters
    ----------
    mmoll : glucose. [mmol/L], not limited here

    Returns
    -------
    Glucose. [mg/dL], unrounded
    """
    return mmoll * GLUCOSE_MGDL_PER_MMOLL


def lb_from_kg(kg: float) -> float:
    """Mass in pounds from kilograms.

    Parameters
    ----------
    kg : mass. [kg], not limited here

    Returns
    -------
    Mass. [lb], unrounded
    """
    return kg / KG_PER_LB


# As laboratories print them; triglycerides have a factor of their own.
CHOLESTEROL_MGDL_PER_MMOLL = 38.67
TRIGLYCERIDES_MGDL_PER_MMOLL = 88.57
CREATININE_UMOLL_PER_MGDL = 88.4


def inches_from_cm(cm: float) -> float:
    """Length in inches from centimetres.

    Parameters
    ----------
    cm : length. [cm], not limited here

    Returns
    -------
    Length. [in], unrounded
    """
    return cm / CM_PER_INCH


def mph_from_kmh(kmh: float) -> float:
    """Speed in miles per hour from kilometres per hour.

    Parameters
    ----------
    kmh : speed. [km/h], not limited here

    Returns
    -------
    Speed. [mph], unrounded
    """
    return kmh * 1000 / METRES_PER_MILE


def kmh_from_mph(mph: float) -> float:
    """Speed in kilometres per hour from miles per hour.

    Parameters
    ----------
    mph : speed. [mph], not limited here

    Returns
    -------
    Speed. [km/h], unrounded
    """
    return mph * METRES_PER_MILE / 1000


def cm_from_inches(inches: float) -> float:
    """Length in centimetres from inches.

    Parameters
    ----------
    inches : length. [in], not limited here

    Returns
    -------
    Length. [cm], unrounded
    """
    return inches * CM_PER_INCH


def celsius_from_fahrenheit(fahrenheit: float) -> float:
    """Temperature in degrees Celsius from degrees Fahrenheit, t = (f - 32) / 1.8 [1]_.

    Parameters
    ----------
    fahrenheit : temperature. [°F], not limited here

    Returns
    -------
    Temperature. [°C], unrounded
    """
    return (fahrenheit - 32) / 1.8


def fahrenheit_from_celsius(celsius: float) -> float:
    """Temperature in degrees Fahrenheit from degrees Celsius, f = 1.8 t + 32 [1]_.

    Parameters
    ----------
    celsius : temperature. [°C], not limited here

    Returns
    -------
    Temperature. [°F], unrounded
    """
    return celsius * 1.8 + 32
