"""Where a general library computes the same, ours must agree with it.

scipy.constants (CODATA, exact definitions), numpy.polyfit, dateutil.relativedelta. The share with
its Wilson interval is held against statsmodels in test_proportion.py, waiting for a seat against
Erlang C in test_start_outlook.py. No library was found for the reference equations themselves.
"""

from datetime import date

import numpy as np
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from assessments.calc.submaximal import power_at_peak_w
from patients.calc import units
from patients.calc.age import age_on
from programs.enrolment.calc.eligibility import add_months

DAYS = st.dates(date(1930, 1, 1), date(2030, 12, 31))


def test_units_are_those_of_scipy():
    assert units.kg_from_lb(1) == pytest.approx(constants.pound, rel=1e-12)
    assert units.lb_from_kg(constants.pound) == pytest.approx(1, rel=1e-12)
    assert units.inches_from_cm(100 * constants.inch) == pytest.approx(1, rel=1e-12)
    assert units.cm_from_feet_inches(1) == pytest.approx(100 * constants.foot, rel=1e-12)
    assert units.mph_from_kmh(1) == pytest.approx(constants.kmh / constants.mph, rel=1e-12)
    per_minute = constants.mph * constants.minute
    assert units.metres_per_minute_from_mph(1) == pytest.approx(per_minute, rel=1e-12)


@given(DAYS, DAYS)
def test_age_is_that_of_dateutil(born, day):
    if day >= born:
        assert age_on(born, day) == relativedelta(day, born).years


@given(DAYS, st.integers(-24, 36))
def test_months_end_with_the_month_as_in_dateutil(day, months):
    assert add_months(day, months) == day + relativedelta(months=months)


@given(
    st.floats(20, 80),
    st.floats(10, 60),
    st.floats(110, 125),
    st.floats(10, 20),
    st.floats(165, 190),
)
def test_the_line_through_two_stages_is_that_of_polyfit(watts, more, rate, faster, peak):
    stages = ((watts, rate), (watts + more, rate + faster))
    if stages[1][1] > 0.85 * peak:
        return
    slope, start = np.polyfit([rate, rate + faster], [watts, watts + more], 1)
    assert power_at_peak_w(stages, peak) == pytest.approx(slope * peak + start, rel=1e-6)
