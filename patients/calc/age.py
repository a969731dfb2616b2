"""Age on a day (common practice, no source)."""

from datetime import date

from patients.calc.limits import OutOfRange

EARLIEST_BIRTH = date(1900, 1, 1)  # nobody alive was born before


def age_on(born_on: date, day: date) -> int:
    """Completed years on a day.

    Somebody born on 29 February reaches the next year on 1 March of a common year, the reading
    most jurisdictions use; local law may say 28 February.

    Parameters
    ----------
    born_on : birth date.
    day : day on which the age is wanted, not before the birth date.

    Returns
    -------
    Age. [years], 0 or more

    Raises
    ------
    OutOfRange : the day lies before the birth date.
    """
    if day < born_on:
        raise OutOfRange("Days since birth", (day - born_on).days, 0, 40_000, "days")
    return day.year - born_on.year - ((day.month, day.day) < (born_on.month, born_on.day))
