"""Twenty people counted on paper (fixtures/reference/cohort.csv) are what each figure says."""

from collections import defaultdict
from datetime import date
from types import SimpleNamespace

import pytest
from django.db import transaction

from programs.enrolment.calc.way import Step
from programs.enrolment.models import ReferralTotals
from reports import figures, referral_totals
from reports.calc.completion import BY_KEY as DEFINITION
from reports.calc.completion import DEFINITIONS
from reports.calc.quality import MEASURES
from reports.calc.retention import kaplan_meier, level_on
from reports.calc.spread import spread_of
from tests.cohort import cohort_of
from tests.factories.staff import SiteFactory
from tests.reference import rows

pytestmark = pytest.mark.django_db
TODAY = date(2025, 1, 31)
STEPS = dict(
    zip(["referred", "eligible", "reached", "enrolled", "first", "12", "24", "36", "exit"], Step,
        strict=True)
)  # fmt: skip


@pytest.fixture(scope="module")
def cohort(django_db_setup, django_db_blocker):
    """Stored once for all tests of this file, which only read it."""
    with django_db_blocker.unblock(), transaction.atomic():
        here = SiteFactory(name="Here")
        keys = cohort_of(here, SiteFactory(name="Before"))
        asked = figures.Asked({here.pk: "Here"}, date(2024, 1, 1), date(2024, 12, 31), TODAY)
        yield SimpleNamespace(asked=asked, keys=keys, site=here)
        transaction.set_rollback(True)


def who(cell):
    """P01-P09 P16: people by their names on paper."""
    found = set()
    for part in cell.split():
        first, _, last = part.partition("-")
        found |= {f"P{n:02}" for n in range(int(first[1:]), int((last or first)[1:]) + 1)}
    return found


def test_every_figure_is_what_was_counted_on_paper(cohort):
    assert not list(referral_totals.differences())
    asked = cohort.asked
    counted = {}
    for stage in figures.way(asked):
        name = next(k for k, v in STEPS.items() if v == stage.step)
        counted[f"step-{name}"] = (stage.reached, 20)
    short = figures.way(asked)[:-1]
    counted["lost"] = (sum(s.lost for s in short), 20)
    counted["completed-short"] = (sum(s.done for s in short), 20)
    for rate in figures.rates(asked):
        if rate.share is not None:
            counted[rate.measure.key] = (rate.share.numerator, rate.share.denominator)
    for by, share in figures.every_definition(asked)[0]:
        counted[by.key] = (share.numerator, share.denominator)
    lines = rows("cohort_rates")
    paper = {r["figure"]: (int(r["numerator"]), int(r["denominator"])) for r in lines}
    assert counted == paper


def test_the_people_in_each_numerator_are_those_on_paper(cohort):
    conditions = {m.key: figures.met(m, TODAY) for m in MEASURES if m.is_computable}
    conditions |= {by.key: figures.completed(by) for by in DEFINITIONS}
    for line in rows("cohort_rates"):
        if line["figure"] in conditions:
            found = figures.referred(cohort.asked).filter(conditions[line["figure"]])
            people = {cohort.keys[pk] for pk in found.values_list("pk", flat=True)}
            assert people == who(line["who"]), line["figure"]


def test_the_statement_of_a_measure_and_its_query_count_the_same_people(cohort):
    every = list(ReferralTotals.objects.values())
    for measure in filter(lambda m: m.is_computable, MEASURES):
        stated = {
            row["referral_id"]
            for row in every
            if measure.counts(row, (TODAY - row["event_on"]).days if row["event_on"] else None)
        }
        rows_of = figures.referred(cohort.asked).filter(figures.population(measure, TODAY))
        assert set(rows_of.values_list("pk", flat=True)) == stated, measure.key


def test_everybody_stands_in_one_place_of_each_figure(cohort):
    asked = cohort.asked
    stages = figures.way(asked)
    assert sum(s.lost + s.done + s.waiting for s in stages) == stages[0].reached == 20
    for dimension in figures.DIMENSIONS:
        assert sum(g.n for _, g in figures.groups(asked, dimension, DEFINITIONS[0])) == 20
        stays = figures.stays(asked, dimension)
        assert sum(s.n for group in stays.values() for s in group) == 14


def test_waits_and_retention_are_what_was_worked_by_hand(cohort):
    # 8 8 12 13 14 15 16 16 18 18 19 20 20 21: median 16, quartiles 13 + 1/4 and 18 + 3/4
    spread = spread_of(figures.merged(figures.waits(cohort.asked).values()))
    assert (spread.n, spread.lower, spread.median, spread.upper) == (14, 13.25, 16, 18.75)
    early = figures.in_time(figures.event_waits(cohort.asked))
    assert (early.numerator, early.denominator) == (9, 13)  # as QM-1
    stays = [s for group in figures.stays(cohort.asked, "sex").values() for s in group]
    # Lost on days 18 18 30 39 56 65 66 and 90; six completed or are on the way.
    levels = kaplan_meier(stays)
    assert [(one.day, one.lost) for one in levels if one.lost] == [
        (18, 2), (30, 1), (39, 1), (56, 1), (65, 1), (66, 1), (90, 1)
    ]  # fmt: skip
    assert level_on(levels, 84).share == pytest.approx(7 / 14)


def test_months_add_up_and_filters_narrow(cohort):
    asked = cohort.asked
    months = figures.by_month(asked, DEFINITION["36-in-36"])
    totals = defaultdict(int)
    for month in months:
        for name in ("n", "started", "ended", "completed", "lost_early", "followed"):
            totals[name] += getattr(month, name)
    assert dict(totals) == {
        "n": 20, "started": 14, "ended": 13, "completed": 4, "lost_early": 7, "followed": 14,
    }  # fmt: skip
    narrow = figures.replace(asked, condition="mi", sex="male")
    assert figures.way(narrow)[0].reached == 4  # P11 P12 P17 P20
    assert figures.way(figures.replace(asked, age="75-"))[0].reached == 3  # P05 P15 P18
