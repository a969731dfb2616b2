"""The program's page: what it says of nobody, of few, and to whom it tells whose names."""

import csv
import io
from datetime import date

import pytest
from django.db import transaction
from django.urls import reverse
from openpyxl import load_workbook

from patients.models import AuditEvent
from programs.enrolment.calc.way import Step
from programs.enrolment.models.course import month_of
from reports import exports, figures, program
from reports.asking import question_of
from reports.calc import control
from reports.figures import Stage
from reports.program import page_of, runs_of
from tests.cohort import cohort_of
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.enrolment import EnrolmentFactory, PayerFactory, ReferralFactory
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db
YEAR = {"since": "2024-01-01", "until": "2024-12-31"}


@pytest.fixture(scope="module")
def there(django_db_setup, django_db_blocker):
    """A site with twenty people, stored once; nothing here changes them."""
    with django_db_blocker.unblock(), transaction.atomic():
        site = SiteFactory()
        cohort_of(site, SiteFactory())
        yield site
        transaction.set_rollback(True)


@pytest.fixture
def twenty(there, people):
    """The people of the house work there too."""
    for user in people.values():
        user.sites.add(there)
    return there


def words(client, user, **asked):
    client.force_login(user)
    page = client.get(reverse("reports:program"), asked)
    assert page.status_code == 200
    return " ".join(page.content.decode().split())


def test_nobody_is_said_to_be_nobody(client, people):
    page = words(client, people["manager"])
    assert "Nobody was referred in these days." in page
    assert "Nobody has begun." in page
    assert "None" not in page


@pytest.mark.parametrize("n", [1, 3])
def test_few_people_make_a_page(client, people, site, n):
    for _ in range(n):
        EnrolmentFactory(patient__site=site)
    page = words(client, people["manager"])
    assert f"0 of {n} began" in page
    assert "Drawn from 20 people on" in page or "Nobody with a day of discharge" in page


def test_the_first_screen_answers(client, people, twenty):
    page = words(client, people["clinician"], **YEAR)
    assert "14 of 20 began" in page
    assert "half of them within 16 days" in page
    assert "4 of 13 whose course has ended finished." in page
    assert "50 % <small>still came in week 12" in page


def test_a_manager_sees_no_name_and_no_small_cell(client, people, twenty):
    page = words(client, people["manager"], **YEAR)
    assert reverse("reports:program-people") not in page
    assert "fewer than 11" in page
    assert "2 of 17" not in page  # achievement
    assert "Too few to be told" in page
    told = words(client, people["clinician"], **YEAR)
    assert "2 of 17" in told
    assert "Too few to be told" not in told


def test_who_is_behind_a_figure_is_asked_by_its_own_condition(client, people, twenty):
    client.force_login(people["clinician"])
    url = reverse("reports:program-people")
    asked = {
        "met-achievement": 2, "not-achievement": 15, "not-qm-1": 4, "lost-4": 3, "done-7": 1,
        "here-0": 1, "finished": 4, "began": 14, "early": 9,
    }  # fmt: skip
    for of, n in asked.items():
        page = client.get(url, YEAR | {"of": of})
        assert len(page.context["lines"]) == n, of
    looks = AuditEvent.objects.filter(kind="look", what__startswith="program: Achievement")
    assert looks.count() == 16  # two courses are of one person
    for of in ["met-nothing", "lost-99", "met-pm-5a", "x"]:
        assert client.get(url, YEAR | {"of": of}).status_code == 404


def test_a_question_is_kept_in_the_address(client, people, site):
    payer = PayerFactory(site=site)
    ReferralFactory(patient__site=site, payer=payer, source="ward")
    ReferralFactory(patient__site=site)
    page = words(client, people["clinician"], payer=payer.name, source="ward", by="payer")
    assert "0 of 1 began" in page
    assert "hospital ward" in page
    assert f"payer={payer.name.replace(' ', '+')}&amp;source=ward" in page or "source=ward" in page


def test_what_is_no_choice_is_said(client, people, site):
    ReferralFactory(patient__site=site)
    page = words(client, people["clinician"], sex="both", since="soon")
    assert "is no choice; the figures are of all" in page
    assert "Referred from:" in page
    assert "0 of 1 began" in page


def test_other_sites_are_in_no_figure(client, people, site):
    ReferralFactory()
    assert "Nobody was referred" in words(client, people["manager"])


def test_the_same_number_of_queries_for_nobody_and_for_many(
    rf, people, twenty, django_assert_num_queries
):
    request = rf.get("/", YEAR)
    request.user = people["clinician"]
    question = question_of(request)
    with django_assert_num_queries(9):
        page_of(question, sees_names=True)


def test_months_are_judged_by_the_year_before(rf, people, site, monkeypatch):
    """Twelve months in which half began, then three in which nobody did."""
    first = month_of(date(2025, 1, 1))
    half = [figures.MonthOfReferral(first - n, 12, 6, 6, 3, 1, 6) for n in range(1, 13)]
    nobody = [figures.MonthOfReferral(first + n, 12, 0, 0, 0, 0, 0) for n in range(3)]
    monkeypatch.setattr(figures, "by_month", lambda asked, by: [*half, *nobody])
    request = rf.get("/", {"since": "2025-01-01", "until": "2025-03-31"})
    request.user = people["clinician"]
    answers = runs_of(question_of(request), {})["answers"]
    verdict = answers["got_in"].verdict
    assert (verdict.mark, verdict.words, verdict.is_worse) == ("▼", "Fewer get in", True)
    assert verdict.sentence == "3 months under the limit from the year before."
    assert answers["finished"].verdict.sentence == "No month to judge yet."
    assert answers["wait"].verdict.words == "Not judged"


def test_a_month_is_judged_once_it_is_old_enough(rf, people, site):
    """A month of referral is judged 60 days after its end; faster is better."""
    today = date(2025, 5, 31)
    rows = [(month_of(date(2025, month, 1)), None, 0) for month in (2, 3, 4)]
    before, judged, n_young = program._split(rows, rows[0][0], today, 60)
    assert (before, len(judged), n_young) == ([], 2, 1)  # 60 days after 1 April
    lower = control.Run("lower", "x", 30, (), ())
    assert program.verdict_of("wait", lower).words == "Getting faster"
    assert not program.verdict_of("wait", lower).is_worse
    assert program.verdict_of("stayed", lower).is_worse


# --- exports ------------------------------------------------------------------------------------


def test_figures_leave_with_their_definitions_and_without_small_cells(client, people, twenty):
    client.force_login(people["clinician"])  # who sees every count on the page
    answer = client.get(reverse("reports:program-export"), YEAR)
    text = answer.content.decode("utf-8-sig")
    lines = list(csv.reader(text.splitlines()))
    figures_told = {(row[0], row[1]): row for row in lines if len(row) == 9}
    assert figures_told["step", "0"][3:5] == ["20", "20"]
    assert figures_told["measure", "achievement"][3:6] == ["", "", ""]
    assert "fewer than 11" in figures_told["measure", "achievement"][8]
    assert figures_told["measure", "pm-1-2"][8].startswith("not computable here, because")
    assert ["Definitions"] in lines
    assert any(row[0] == "achievement" and "36 sessions" in row[3] for row in lines if row)
    assert "attachment" in answer["Content-Disposition"]
    event = AuditEvent.objects.get(kind="export")
    assert event.user == people["clinician"]
    assert "since=2024-01-01" in event.what


def test_a_workbook_says_the_same_as_the_text(client, people, twenty):
    client.force_login(people["manager"])
    url = reverse("reports:program-export")
    book = load_workbook(io.BytesIO(client.get(url, YEAR | {"as": "xlsx"}).content))
    assert book.sheetnames == ["Figures", "Definitions", "Question"]
    text = client.get(url, YEAR).content.decode("utf-8-sig")
    lines = [row for row in csv.reader(text.splitlines()) if len(row) == 9]
    found = [[str(c) if c is not None else "" for c in row] for row in book["Figures"].values]
    assert [row[:5] for row in found] == [row[:5] for row in lines]


def test_people_leave_without_names_and_with_moved_dates(client, people, twenty):
    from programs.enrolment.models import ReferralTotals

    oldest = ReferralTotals.objects.get(condition="valve", outcome="died")
    ReferralTotals.objects.filter(pk=oldest.pk).update(age=93)
    client.force_login(people["manager"])
    answer = client.get(reverse("reports:program-export-people"), YEAR)
    lines = list(csv.reader(answer.content.decode("utf-8-sig").splitlines()))
    rows_told = [dict(zip(lines[1], row, strict=True)) for row in lines[2:22]]
    assert len(rows_told) == 20
    text = answer.content.decode()
    for person in ReferralTotals.objects.filter(site=twenty).select_related("patient"):
        assert person.patient.family_name not in text
        assert person.patient.record_number not in text
    assert [row["age"] for row in rows_told].count("90+") == 1
    assert "93" not in {row["age"] for row in rows_told}
    true = sorted(
        (row.first_on - row.referred_on).days
        for row in ReferralTotals.objects.filter(site=twenty, sessions__gt=0)
    )
    moved = sorted(
        (date.fromisoformat(r["first session on"]) - date.fromisoformat(r["referred on"])).days
        for r in rows_told
        if r["first session on"]
    )
    assert moved == true  # distances hold
    conditions = {row["condition"] for row in rows_told}
    assert conditions == {"other"}  # no condition has eleven people
    for row in ReferralTotals.objects.filter(site=twenty):
        assert 0 < abs(exports.shift_of(row.patient_id)) <= 182
    assert AuditEvent.objects.filter(kind="export", what__startswith="program-people").exists()


def test_rows_of_few_people_are_not_given_out(client, people, site):
    ReferralFactory(patient__site=site)
    client.force_login(people["manager"])
    answer = client.get(reverse("reports:program-export-people"), follow=True)
    assert "Fewer than 11 people" in answer.content.decode()
    assert not AuditEvent.objects.filter(kind="export").exists()


def test_a_cell_is_never_a_formula():
    sheets = [exports.Sheet("x", ("a",), (("=1+1",), ("@x",), (-3,)))]
    told = exports.as_csv(sheets).decode("utf-8-sig").splitlines()
    assert told == ["x", "a", "'=1+1", "'@x", "-3"]
    book = load_workbook(io.BytesIO(exports.as_workbook(sheets)))
    cells = [row[0] for row in book["x"].iter_rows(min_row=2)]
    assert [(c.value, c.data_type) for c in cells[:2]] == [("'=1+1", "s"), ("'@x", "s")]


def test_the_reason_of_a_few_is_told_to_nobody_who_sees_no_names():
    """Eleven is the least told (common practice, no source); of two alike none is the main one."""

    def lost(*reasons):
        return Stage(Step.REFERRED, 40, 14, 0, 0, reasons)

    assert program._main_reason(lost(("cost", 12), ("moved", 2)), sees_names=True) == "cost, 12"
    assert program._main_reason(lost(("cost", 1)), sees_names=False) == ""
    assert program._main_reason(lost(("cost", 1)), sees_names=True) == "cost, 1"
    assert program._main_reason(lost(("cost", 12), ("moved", 12)), sees_names=True) == ""
    assert program._main_reason(lost(), sees_names=True) == ""


def test_an_export_leaves_steps_of_few_people_out(client, people, site):
    for _ in range(3):
        ReferralFactory(patient__site=site)
    client.force_login(people["manager"])
    rows = client.get(reverse("reports:program-export")).content.decode().splitlines()
    steps = [row for row in rows if row.startswith("step,0")]
    assert steps
    assert all("fewer than 11 people" in row for row in steps)


# --- gains --------------------------------------------------------------------------------------


def test_gains_are_of_pairs_and_say_who_is_missing(client, people, site):
    """Twelve walk 50 m further, one has no exit, one is still on the way."""
    for n in range(14):
        course = EnrolmentFactory(patient__site=site)
        for kind, metres in [("baseline", 400.0), ("exit", 450.0)][: 1 if n == 12 else 2]:
            done = AssessmentFactory(enrolment=course, kind=kind, performed_on=course.starts_on)
            MeasurementFactory(
                assessment=done, key="six_minute_walk", value=metres,
                inputs={"distance_m": metres, "course_m": 30.0},
            )  # fmt: skip
        row = course.referral.totals
        row.refresh_from_db()
        row.sessions, row.is_over = 3, n < 13
        row.save()
    page = gains_of(client, people["clinician"])
    assert "12 of 13" in page
    assert "<b>+50.0</b>" in page
    assert "no exit 1" in page
    assert "no baseline 0" not in page
    assert "<b>100 %</b>" in page
    assert "92 % of all" in page
    hidden = gains_of(client, people["manager"])
    assert "not shown" in hidden
    assert "+50.0" not in hidden


def gains_of(client, user):
    client.force_login(user)
    return " ".join(client.get(reverse("reports:program-gains")).content.decode().split())


def test_a_month_of_few_people_is_told_to_those_who_see_names_only(client, people, twenty):
    """Twenty people in a year are under eleven in every month of it."""
    for role, is_told in (("physician", True), ("manager", False)):
        client.force_login(people[role])
        page = client.get(reverse("reports:program-running"), {**YEAR, "site": twenty.pk})
        shares = [share for _, share in page.context["months"]]
        assert any(share.share.denominator for share in shares)
        few = [share for share in shares if 0 < share.share.denominator < 11]
        assert few
        assert all(share.is_told == is_told for share in few)
        assert ("data-figure" in page.content.decode()) == is_told
        assert ("not shown</td>" in page.content.decode()) != is_told


def test_days_the_wrong_way_round_are_put_right_and_that_is_said(client, people):
    client.force_login(people["manager"])
    asked = {"since": "2024-12-31", "until": "2024-01-01"}
    page = client.get(reverse("reports:program"), asked)
    question = page.context["question"].asked
    assert (question.since, question.until) == (date(2024, 1, 1), date(2024, 12, 31))
    assert "The first day lay after the last" in page.content.decode()
