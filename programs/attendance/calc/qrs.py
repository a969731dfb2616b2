"""A QRS duration as it is read off a strip: in milliseconds, or in seconds as on the paper."""

import re

from patients.calc.limits import QRS_MS
from patients.calc.measuring import SPACES

_TYPED = re.compile(r"(\d+(?:\.\d*)?|\.\d+) ?(ms|msec|s|sec)?\.?")


class NotAQrs(ValueError):
    """What was typed is no QRS duration, or could be one in either unit; the message says so."""


def read_qrs_ms(text: str) -> float:
    """A QRS duration from "120", "120 ms", "0.12" or "0.12 s".

    A bare number below 1 can only be seconds and one from 40 on only milliseconds, since no QRS
    lasts 40 seconds or less than a millisecond; between them it is refused (project choice).

    Parameters
    ----------
    text : a number with or without its unit, a decimal point or comma allowed.

    Returns
    -------
    QRS duration. [ms], to six decimals; not compared with the limit here

    Raises
    ------
    NotAQrs : no number, another unit, or a bare number from 1 to below 40.
    """
    plain = SPACES.sub(" ", text).strip().casefold().replace(",", ".")
    match = _TYPED.fullmatch(plain)
    low, high = f"{QRS_MS.low:g}", f"{QRS_MS.high:g}"
    both = f"{low} to {high} ms, or {QRS_MS.low / 1000:g} to {QRS_MS.high / 1000:g} s"
    if match is None:
        raise NotAQrs(f"QRS duration: {text[:20]!r} is not a number; give {both}.")
    number, unit = float(match[1]), match[2] or ""
    if not unit and 1 <= number < QRS_MS.low:
        raise NotAQrs(
            f"QRS duration: {text[:20]!r} is neither milliseconds nor seconds; give {both}."
        )
    is_seconds = unit.startswith("s") or (not unit and number < 1)
    return round(number * 1000, 6) if is_seconds else number
