"""Outcomes: every day of a measure, what was corrected, and no exit value that is none."""

from datetime import timedelta

import plotly.graph_objects as go
import pytest
from django.urls import reverse

from assessments import services
from programs.enrolment.courses import services as enrolments
from reports import charts
from reports.calc.completion import CompletionRow
from reports.calc.proportion import Proportion, wilson
from reports.drawing import ON_PAGE, values_svg
from reports.outcomes import outcomes_of
from reports.queries import comparison
from tests.factories.assessments import AssessmentFactory, MeasurementFactory

pytestmark = pytest.mark.django_db


def result(course, kind, number, days, value, **more):
    on = course.starts_on + timedelta(days=days)
    assessment = AssessmentFactory(enrolment=course, kind=kind, number=number, performed_on=on)
    return MeasurementFactory(assessment=assessment, value=value, **more)


def test_a_result_in_error_is_told_as_that_and_a_lone_one_is_shown(client, course, clinician):
    stand = "chair_stand_30s"
    m = result(course, "six_weeks", 2, 42, 12.0, key=stand)
    MeasurementFactory(assessment=m.assessment, value=66.0, key="resting_heart_rate")
    result(course, "baseline", 1, 1, 10.0, key=stand)
    lone = result(course, "exit", 3, 80, 168.0, key="non_hdl_cholesterol", unit="mg/dL")
    client.force_login(clinician)
    page = client.get(reverse("reports:journey", args=[course.patient_id])).content.decode()
    row = page[page.index("Non-HDL cholesterol <") :].split("</tr>")[0]
    assert "168" in row
    assert "no baseline" in row
    assert lone.shown == "168"
    services.mark_in_error(m, "another person's", by=clinician)
    told = repr(outcomes_of(course, "six_weeks"))
    assert "(entered in error)" in told


def drawn(figure):
    """Plotly's own classes refuse a name or a value that the script would not know."""
    return go.Figure(figure)


def test_trend_holds_every_day_in_order(course):
    result(course, "informal", 4, 12, 430)
    result(course, "baseline", 1, 0, 400)
    result(course, "informal", 2, 6, 410)
    (row,) = comparison(course)
    assert [p.value for p in row.trend] == [400, 410, 430]
    assert [p.name for p in row.trend] == ["Baseline assessment", *["Progress check"] * 2]


def line_of(course, n=0):
    return outcomes_of(course).lines[n]


def test_the_small_line_leaves_out_what_does_not_compare(course):
    result(course, "baseline", 1, 0, 400)
    result(course, "informal", 2, 6, 480, inputs={"distance_m": 480.0, "course_m": 20.0})
    drawn = values_svg(line_of(course), ON_PAGE)
    assert "<path" not in drawn  # one point joins nothing
    assert (drawn.count('class="head"'), drawn.count('class="open"')) == (1, 1)
    result(course, "informal", 4, 12, 430)
    assert values_svg(line_of(course), ON_PAGE).count("L") == 1


def test_a_measure_tried_in_vain_draws_nothing(course):
    result(course, "baseline", 1, 0, None)
    assert values_svg(line_of(course), ON_PAGE) == ""


def test_an_early_leavers_last_value_is_named_as_such(course, client, clinician):
    result(course, "baseline", 1, 0, 400)
    result(course, "informal", 2, 6, 431)
    client.force_login(clinician)
    url = reverse("reports:outcomes", args=[course.patient_id])
    assert "not an exit value" not in client.get(url).content.decode()
    enrolments.close(course, course.patient.site.today(), "work", by=clinician)
    page = client.get(url).content.decode()
    assert "431 m, progress check; not an exit value" in page
    assert page.count("missing") >= 2


def test_a_corrected_result_says_what_it_was(course, client, clinician):
    row = AssessmentFactory(enrolment=course)
    for bpm in (66, 76):
        row.refresh_from_db()
        entries = {"resting_heart_rate": {"heart_rate_bpm": bpm}}
        services.record(row, course.starts_on, entries, seen=row.version, key=None, by=clinician)
    client.force_login(clinician)
    for url in (
        reverse("assessments:record", args=[row.pk]),
        reverse("reports:outcomes", args=[course.patient_id]),
    ):
        assert "corrected, was 66" in client.get(url).content.decode()


def test_the_equation_of_the_results_is_named(course, client, clinician):
    result(course, "baseline", 1, 0, 400, reference="Enright 1998")
    result(course, "six_weeks", 1, 12, 460, reference="Troosters 1999")
    client.force_login(clinician)
    page = client.get(reverse("reports:outcomes", args=[course.patient_id])).content.decode()
    assert "Scored by: Enright 1998; Troosters 1999." in page


def test_the_patient_gets_plain_words_and_the_clinician_next_steps(course, client, clinician):
    result(course, "baseline", 1, 0, 400)
    result(course, "six_weeks", 1, 12, 460)
    client.force_login(clinician)
    page = client.get(reverse("reports:outcomes", args=[course.patient_id])).content.decode()
    assert "The distance you walk in six minutes: 400 metres at the start" in page
    assert reverse("enrolment:stratify", args=[course.patient_id]) in page
    assert reverse("prescription:prescribe", args=[course.pk]) in page


def test_journey_outcomes_and_the_patient_read_one_verdict(course, client, clinician):
    """A walk on another corridor: nothing is concluded, on whichever page."""
    result(course, "baseline", 1, 0, 400)
    result(course, "six_weeks", 1, 12, 456, inputs={"distance_m": 456.0, "course_m": 20.0})
    client.force_login(clinician)
    for name in ("journey", "outcomes"):
        page = client.get(reverse(f"reports:{name}", args=[course.patient_id])).content.decode()
        assert "not compared: not the same variant of the test" in page
        assert "better, " not in page
        assert "+56" not in page
    assert "nothing is concluded from them" in page


def test_a_gain_between_two_populations_says_so(course, client, clinician):
    result(course, "baseline", 1, 0, 400)
    result(course, "six_weeks", 1, 12, 430)
    client.force_login(clinician)
    said = "better, as much as has mattered to patients; measuring twice can differ by as much"
    for name in ("journey", "outcomes"):
        page = client.get(reverse(f"reports:{name}", args=[course.patient_id])).content.decode()
        assert said in page
    assert "chance" not in page
    assert "The two were found in different people" in page


def test_tobacco_is_told_in_words_and_drawn_on_no_axis(course, client, clinician):
    result(course, "baseline", 1, 0, 3, key="tobacco", inputs={"status": 3}, unit="")
    result(course, "six_weeks", 1, 12, 1, key="tobacco", inputs={"status": 1}, unit="")
    client.force_login(clinician)
    page = client.get(reverse("reports:outcomes", args=[course.patient_id])).content.decode()
    assert values_svg(line_of(course), ON_PAGE) == ""
    assert "every day" in page
    assert "former" in page
    row = course.assessments.get(kind="six_weeks").measurements.get()
    assert row.shown == "former"


def test_update_risk_hands_a_tested_capacity_over(course, client, clinician):
    row = AssessmentFactory(enrolment=course)
    entries = {"peak_oxygen_uptake": {"vo2": 17.5}}
    services.record(row, course.starts_on, entries, seen=row.version, key=None, by=clinician)
    client.force_login(clinician)
    page = client.get(reverse("assessments:record", args=[row.pk])).content.decode()
    assert "?occasion=test&amp;has_test=yes&amp;capacity_mets=5.0" in page
    url = reverse("enrolment:stratify", args=[course.patient_id])
    form = client.get(f"{url}?occasion=test&has_test=yes&capacity_mets=5.0&icd=yes").context["form"]
    assert form.initial["capacity_mets"] == "5.0"  # 17.5 / 3.5, by definition of the MET
    assert "icd" not in form.initial


def test_the_journey_of_an_early_leaver_asks_for_exit_results(course, client, clinician):
    client.force_login(clinician)
    url = reverse("reports:journey", args=[course.patient_id])
    assert "exit results to be obtained" not in client.get(url).content.decode()
    enrolments.close(course, course.patient.site.today(), "work", by=clinician)
    assert "exit results to be obtained" in client.get(url).content.decode()
    result(course, "exit", 1, 14, 420)
    assert "exit results to be obtained" not in client.get(url).content.decode()


def test_plotly_knows_the_figure_of_completion():
    rows = [
        CompletionRow("Jan 2026", Proportion(3, 10), 2, 1),
        CompletionRow("Feb 2026", Proportion(0, 0), 4, 0),
    ]
    figure = drawn(charts.completion_by_month(rows))
    assert list(figure.data[0].x) == ["Jan 2026"]  # nobody ended yet: no bar, not one of zero
    assert list(figure.data[0].y) == [30]
    low, high = wilson(3, 10)
    assert list(figure.data[0].error_y.array) == [100 * (high - 0.3)]
    assert list(figure.data[0].error_y.arrayminus) == [100 * (0.3 - low)]
