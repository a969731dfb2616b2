"""Two distributions that the standard library lacks: chi-square and Student's t.

References
----------
M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions," 1964: 26.4.4-5, 26.7.3-4.
"""

from math import atan, cos, erfc, exp, gamma, pi, sin, sqrt

from patients.calc.limits import OutOfRange

MOST_DEGREES = 60  # beyond, the expansion is exact to seven digits
Z_975 = 1.959963984540054


def chi_square_tail(x: float, degrees: int) -> float:
    """Probability of a chi-square value of this size or larger.

    Parameters
    ----------
    x : the value. [1], 0 or more
    degrees : degrees of freedom. [1], 1 or more

    Returns
    -------
    The probability. [1], 0 to 1

    Raises
    ------
    OutOfRange : a value outside these limits.
    """
    if x < 0:
        raise OutOfRange("Chi-square", x, 0, float("inf"))
    if degrees < 1:
        raise OutOfRange("Degrees of freedom", degrees, 1, 1000)
    half = x / 2
    if degrees % 2:
        found, a = erfc(sqrt(half)), 0.5
    else:
        found, a = exp(-half), 1.0
    while a < degrees / 2:
        found += half**a * exp(-half) / gamma(a + 1)
        a += 1
    return min(1.0, found)


def t_975(degrees: int) -> float:
    """97.5th percentile of Student's t.

    Parameters
    ----------
    degrees : degrees of freedom. [1], 1 or more

    Returns
    -------
    The percentile: 12.71 for 1, 1.96 for very many. [1]

    Raises
    ------
    OutOfRange : no degree of freedom.
    """
    if degrees < 1:
        raise OutOfRange("Degrees of freedom", degrees, 1, 1_000_000)
    if degrees > MOST_DEGREES:
        return _expanded(degrees)
    low, high = Z_975, 13.0
    for _ in range(60):
        middle = (low + high) / 2
        if _inside(middle, degrees) < 0.95:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _inside(t: float, degrees: int) -> float:
    """Probability between -t and t (26.7.3 for odd, 26.7.4 for even degrees)."""
    angle = atan(t / sqrt(degrees))
    if degrees % 2:
        term = total = cos(angle) if degrees > 1 else 0.0
        for n in range(3, degrees - 1, 2):
            term *= cos(angle) ** 2 * (n - 1) / n
            total += term
        return 2 / pi * (angle + sin(angle) * total)
    term = total = 1.0
    for n in range(2, degrees - 1, 2):
        term *= cos(angle) ** 2 * (n - 1) / n
        total += term
    return sin(angle) * total


def _expanded(n: int) -> float:
    """Expansion in 1/n around the normal percentile (26.7.5)."""
    z = Z_975
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    fourth = (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160
    return z + first / n + second / n**2 + third / n**3 + fourth / n**4
