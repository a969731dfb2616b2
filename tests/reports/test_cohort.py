"""Twenty people counted on paper (fixtures/reference/cohort.csv) are what each figure says."""

from collections import defaultdict
from datetime import date, timedelta
from types import SimpleNamespace

import pytest

from patients.history import save_as
from programs.attendance.models import ClassMeeting, Visit
from programs.attendance.visit.counting import tell_totals
from programs.enrolment.calc.way import Step
from programs.enrolment.models import ReferralTotals
from reports import figures, referral_totals
from reports.calc.completion import BY_KEY as DEFINITION
from reports.calc.completion import DEFINITIONS
from reports.calc.quality import MEASURES
from reports.calc.retention import kaplan_meier, level_on
from reports.calc.spread import spread_of
from tests.factories.assessments import AssessmentFactory
from tests.factories.enrolment import (
    ClassSlotFactory,
    EligibilityAnswerFactory,
    EnrolmentFactory,
    ReferralFactory,
)
from tests.factories.patients import ConditionFactory, PatientFactory
from tests.factories.staff import SiteFactory, UserFactory
from tests.reference import rows

pytestmark = pytest.mark.django_db
TODAY = date(2025, 1, 31)
STEPS = dict(
    zip(["referred", "eligible", "reached", "enrolled", "first", "12", "24", "36", "exit"], Step,
        strict=True)
)  # fmt: skip


def day(cell):
    return date.fromisoformat(cell) if cell else None


def days_of(cell):
    """36x2024-01-15+5: 36 sessions, every five days from that one."""
    for part in filter(None, cell.split(";")):
        n, _, rest = part.partition("x")
        first, _, step = rest.partition("+")
        yield from (day(first) + timedelta(days=int(step) * k) for k in range(int(n)))


def build(line, patient, slots, by):
    condition = ConditionFactory(
        patient=patient, kind=line["condition"], happened_on=day(line["event"])
    )
    referral = ReferralFactory(
        patient=patient, condition=condition, referred_on=day(line["referred"]),
        discharged_on=day(line["discharged"]), state=line["state"], why_not=line["why_not"],
    )  # fmt: skip
    if line["answer"]:
        EligibilityAnswerFactory(
            referral=referral, decision=line["answer"], rule_said=line["answer"], by=by
        )
    if line["spoken"] == "yes":
        referral.contacts.model(referral=referral, by=by, outcome="reached").save()
    if line["state"] != "enrolled":
        return referral
    days = sorted(days_of(line["sessions"]))
    course = EnrolmentFactory(
        patient=patient, referral=referral, sessions_planned=int(line["planned"]),
        starts_on=days[0] if days else day(line["left"]), closed_on=day(line["left"]),
        outcome=line["outcome"],
    )  # fmt: skip
    visits = []
    for place, on in enumerate(days):
        second = place > 0 and days[place - 1] == on
        meeting, _ = ClassMeeting.objects.get_or_create(slot=slots[second], on=on)
        visits.append(
            Visit(enrolment=course, meeting=meeting, on=on, state="finished", minutes=60,
                  counts_first=not second, counts_second=second)
        )  # fmt: skip
    Visit.objects.bulk_create(visits)
    if line["exit"] == "yes":
        AssessmentFactory(enrolment=course, kind="exit", performed_on=day(line["left"]), by=by)
    tell_totals(course)
    return referral


@pytest.fixture
def cohort(db):
    here, before = SiteFactory(name="Here"), SiteFactory(name="Before")
    by = UserFactory(sites=[here, before])
    slots = [ClassSlotFactory(site=here), ClassSlotFactory(site=here)]
    people, referrals = {}, {}
    for line in rows("cohort"):
        person = line["person"]
        patient = people.get("P19") if person == "P20" else None
        if patient is None:
            site = before if person == "P19" else here
            patient = PatientFactory(site=site, born_on=day(line["born"]), sex=line["sex"])
        people[person] = patient
        referrals[person] = build(line, patient, slots, by)
        if person == "P19":  # transferred: the course goes along
            patient.site = here
            save_as(patient, by=by, reason="transferred")
    for patient in people.values():  # exits were stored by factories, courses told before them
        for course in patient.enrolments.all():
            from assessments.services import tell_totals as tell_exit

            for assessment in course.assessments.all():
                tell_exit(assessment)
    asked = figures.Asked({here.pk: "Here"}, date(2024, 1, 1), date(2024, 12, 31), TODAY)
    return SimpleNamespace(asked=asked, keys={r.pk: p for p, r in referrals.items()})


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
    counted["lost"] = (sum(s.lost for s in figures.way(asked)[:-1]), 20)
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
    assert sum(s.lost + s.waiting for s in stages) == stages[0].reached == 20
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
