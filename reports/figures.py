"""The figures of people referred in a span of days, each one query over one narrow row a referral.

What a measure or a definition asks for is stated in ``reports.calc``; here it becomes a condition
of the database. ``manage.py verify_totals`` proves the rows.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import reduce
from operator import add
from typing import Any

from django.db.models import BigIntegerField, Case, Count, F, Q, QuerySet, Sum, Value, When
from django.db.models.lookups import GreaterThanOrEqual

from programs.enrolment.calc.start_clock import TARGET_DAYS
from programs.enrolment.calc.way import Step
from programs.enrolment.models import Enrolment, ReferralTotals
from programs.enrolment.models.course import month_of
from reports.calc.completion import DEFINITIONS, Definition
from reports.calc.proportion import Proportion
from reports.calc.quality import AGE_BANDS, MEASURES, Condition, QualityMeasure
from reports.calc.retention import Stay
from reports.calc.spread import Spread, spread_of

STARTED = Q(sessions__gt=0)
ENDED = STARTED & Q(is_over=True)
LOOKUPS = {"is": "exact", "is not": "exact", "at least": "gte", "at most": "lte", "among": "in"}
COMPLETED = Enrolment.Outcome.COMPLETED


@dataclass(frozen=True)
class Asked:
    """Whose figures: the sites by key with their names, the days of referral, and the filters."""

    sites: Mapping[int, str]
    since: date
    until: date
    today: date
    condition: str = ""
    source: str = ""
    payer: str = ""  # its name; sites have rows of their own
    sex: str = ""
    age: str = ""  # a band of ``quality.AGE_BANDS``, such as 55-64

    @property
    def before(self) -> "Asked":
        """The twelve months before."""
        return replace(self, since=_year_earlier(self.since), until=self.since - timedelta(days=1))


def _year_earlier(day: date) -> date:
    return day.replace(year=day.year - 1, day=28 if (day.month, day.day) == (2, 29) else day.day)


def referred(asked: Asked) -> QuerySet[Any, Any]:
    """The rows of the people asked about; the months bound what is read, the days are exact."""
    months = (month_of(asked.since), month_of(asked.until))
    mine = ReferralTotals.objects.filter(site__in=list(asked.sites), referred_in__range=months)
    mine = mine.filter(referred_on__range=(asked.since, asked.until))
    for name in ("condition", "source", "sex"):
        if value := getattr(asked, name):
            mine = mine.filter(**{name: value})
    if asked.payer:
        mine = mine.filter(payer__name=asked.payer)
    if asked.age:
        mine = mine.filter(_in_band(asked.age))
    return mine.order_by()


def _in_band(band: str) -> Q:
    low, _, high = band.partition("-")
    return Q(age__gte=low, age__lte=high) if high else Q(age__gte=low)


def number(condition: Q) -> Sum:
    """How many rows meet a condition; cheaper than a count of keys with a filter."""
    return Sum(Case(When(condition, then=Value(1)), default=Value(0)))


def completed(by: Definition) -> Q:
    """The definition as a condition on rows of people who began and whose course has ended."""
    wanted = F("planned") * by.of_planned + by.least
    enough = Q(GreaterThanOrEqual(F(by.counts) * by.times, wanted))
    if by.needs_exit:
        enough &= Q(has_exit=True)
    return ENDED & enough


def condition_of(one: Condition) -> Q:
    """A condition of a measure as one of the database."""
    found = Q(**{f"{one.column}__{LOOKUPS[one.how]}": one.value})
    return ~found if one.how == "is not" else found


def population(measure: QualityMeasure, today: date) -> Q:
    """Who is counted by a measure."""
    found = Q(pk__isnull=False)
    for condition in measure.of:
        found &= condition_of(condition)
    if measure.matured_days is not None:
        found &= Q(event_on__lte=today - timedelta(days=measure.matured_days))
    return found


def met(measure: QualityMeasure, today: date) -> Q:
    """Who is in the numerator of a measure."""
    found = population(measure, today)
    for condition in measure.met:
        found &= condition_of(condition)
    return found


# --- the way ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Stage:
    """One step of the way: who reached it, and what became of those who came no further."""

    step: Step
    reached: int
    lost: int  # here for good, short of the next step
    done: int  # completed here, short of the next step: no loss
    waiting: int  # here, and still on the way
    reasons: tuple[tuple[str, int], ...]  # of the lost, the commonest first


def way(asked: Asked) -> list[Stage]:
    """Every step with its people; each person stands at one: one query."""
    rows = referred(asked).values_list("step", "is_over", "reason").annotate(n=Count("*"))
    lost: dict[int, dict[str, int]] = defaultdict(dict)
    waiting: dict[int, int] = defaultdict(int)
    done: dict[int, int] = defaultdict(int)
    here: dict[int, int] = defaultdict(int)
    for step, is_over, reason, n in rows:
        here[step] += n
        if is_over and reason == COMPLETED:
            done[step] += n
        elif is_over:
            lost[step][reason] = n
        else:
            waiting[step] += n
    found = []
    for step in Step:
        reasons = tuple(sorted(lost[step].items(), key=lambda kn: (-kn[1], kn[0])))
        reached = sum(n for place, n in here.items() if place >= step)
        n_lost = sum(n for _, n in reasons)
        found.append(Stage(step, reached, n_lost, done[step], waiting[step], reasons))
    return found


# --- months -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class MonthOfReferral:
    """People referred in one month, counted. [people]"""

    month: int
    n: int
    started: int
    ended: int
    completed: int  # by the definition asked for
    lost_early: int  # began, and were lost inside twelve weeks
    followed: int  # began so long ago that twelve weeks are over

    @property
    def got_in(self) -> Proportion:
        return Proportion(self.started, self.n)

    @property
    def finished(self) -> Proportion:
        return Proportion(self.completed, self.ended)

    @property
    def stayed(self) -> Proportion:
        """Of those who began twelve weeks ago or more, who was not lost in them."""
        return Proportion(self.followed - self.lost_early, self.followed)


TWELVE_WEEKS = 84


def by_month(asked: Asked, by: Definition) -> list[MonthOfReferral]:
    """Each month's people, in order: one query."""
    old = STARTED & Q(first_on__lte=asked.today - timedelta(days=TWELVE_WEEKS))
    lost = old & Q(is_over=True, stay_days__lt=TWELVE_WEEKS) & ~Q(reason=COMPLETED)
    rows = (
        referred(asked)
        .values_list("referred_in")
        .annotate(
            n=Count("*"),
            started=number(STARTED),
            ended=number(ENDED),
            completed=number(completed(by)),
            lost=number(lost),
            followed=number(old),
        )
    )
    return [MonthOfReferral(*row) for row in sorted(rows)]


def waits(asked: Asked) -> dict[int, dict[int, int]]:
    """Days from referral to first session, by month of referral: people by days. One query."""
    rows = referred(asked).filter(STARTED).values_list("referred_in", "wait_days")
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for month, days, n in rows.annotate(n=Count("*")):
        found[month][days] = n
    return found


def event_waits(asked: Asked) -> dict[int, int]:
    """Days from discharge, else event, to the first session: people by days. One query."""
    rows = referred(asked).filter(STARTED, event_days__isnull=False).values_list("event_days")
    return dict(rows.annotate(n=Count("*")))


def merged(counts: Iterable[Mapping[int, int]]) -> dict[int, int]:
    """Counts of several groups together."""
    found: dict[int, int] = defaultdict(int)
    for group in counts:
        for value, n in group.items():
            found[value] += n
    return found


def in_time(counts: Mapping[int, int]) -> Proportion:
    """Who began by the target day, that day included."""
    early = sum(n for days, n in counts.items() if days <= TARGET_DAYS)
    return Proportion(early, sum(counts.values()))


# --- retention ----------------------------------------------------------------------------------

DIMENSIONS = {
    "site": ("Site", "site"),
    "sex": ("Sex", "sex"),
    "age": ("Age at the event", "band"),
    "condition": ("Condition", "condition"),
    "source": ("Referral source", "source"),
    "payer": ("Payer", "payer__name"),
}


def _grouped(asked: Asked, dimension: str) -> tuple[QuerySet[Any, Any], str]:
    rows, column = referred(asked), DIMENSIONS[dimension][1]
    if column == "band":
        bands = [
            When(_in_band(f"{low}-{high or ''}"), then=Value(f"{low}-{high or ''}"))
            for low, high in AGE_BANDS
        ]
        rows = rows.annotate(band=Case(*bands, default=Value("under-18")))
    return rows, column


def stays(asked: Asked, dimension: str) -> dict[Any, list[Stay]]:
    """Who stayed how long, by group: two queries.

    Lost is who left without completing; everybody else is followed until today.
    """
    rows, column = _grouped(asked, dimension)
    left = rows.filter(ENDED).exclude(reason=COMPLETED)
    found: dict[Any, list[Stay]] = defaultdict(list)
    for group, days, reason, n in left.values_list(column, "stay_days", "reason").annotate(
        n=Count("*")
    ):
        found[group].append(Stay(max(0, days), reason, n))
    rest = rows.filter(STARTED & (Q(is_over=False) | Q(reason=COMPLETED)))
    for group, first_on, n in rest.values_list(column, "first_on").annotate(n=Count("*")):
        found[group].append(Stay(max(0, (asked.today - first_on).days), "", n))
    return found


# --- groups and measures ------------------------------------------------------------------------


@dataclass(frozen=True)
class Group:
    """People of one group: how many came how far."""

    name: str
    n: int
    got_in: Proportion
    in_time: Proportion
    finished: Proportion


def groups(asked: Asked, dimension: str, by: Definition) -> list[tuple[Any, Group]]:
    """The groups of one dimension, by size: one query."""
    rows, column = _grouped(asked, dimension)
    known = STARTED & Q(event_days__isnull=False)
    counted = rows.values_list(column).annotate(
        n=Count("*"),
        started=number(STARTED),
        known=number(known),
        early=number(known & Q(event_days__lte=TARGET_DAYS)),
        ended=number(ENDED),
        done=number(completed(by)),
    )
    found = [
        (
            key,
            Group(
                group_name(asked, dimension, key),
                n,
                Proportion(started, n),
                Proportion(early, known),
                Proportion(done, ended),
            ),
        )
        for key, n, started, known, early, ended, done in counted
    ]
    return sorted(found, key=lambda one: (-one[1].n, one[1].name))


def group_name(asked: Asked, dimension: str, key: Any) -> str:
    """A group in words."""
    from patients.models import Condition as OnRecord
    from programs.enrolment.models import Referral

    if dimension == "site":
        return asked.sites[key]
    if dimension == "age":
        return band_words(key)
    labels: dict[str, Any] = {
        "sex": {"female": "women", "male": "men"},
        "condition": dict(OnRecord.Kind.choices),
        "source": dict(Referral.Source.choices),
    }
    return str(labels.get(dimension, {}).get(key, key) or "not recorded")


def band_words(band: str) -> str:
    """An age band in words."""
    low, _, high = band.partition("-")
    if low == "under":
        return "under 18"
    if low == str(AGE_BANDS[0][0]):
        return f"{low} to {high}"
    return f"{low} to {high}" if high else f"{low} and over"


@dataclass(frozen=True)
class Rate:
    """A measure counted; no share where it cannot be counted here."""

    measure: QualityMeasure
    share: Proportion | None
    n_young: int = 0  # in the population once their window is over


EVENT = "has a day of discharge or event"


def _together(
    asked: Asked, conditions: Mapping[Any, Q], of: Q | None = None
) -> list[tuple[dict[Any, bool], int]]:
    """How many people fulfil the same of some conditions: one query.

    Measures share their conditions; each is asked of a row once, and not once for every measure.
    What holds of a row is one number, a bit a condition, by which a database groups fastest.
    """
    bits = [
        Case(When(condition, then=Value(1 << n)), default=Value(0), output_field=BigIntegerField())
        for n, condition in enumerate(conditions.values())
    ]
    people = referred(asked).filter(of or Q()).annotate(bits=reduce(add, bits))
    return [
        ({key: bool(held >> n & 1) for n, key in enumerate(conditions)}, number_of)
        for held, number_of in people.values_list("bits").annotate(n=Count("*"))
    ]


def rates(asked: Asked, measures: Sequence[QualityMeasure] = MEASURES) -> list[Rate]:
    """Every published measure: one query."""
    counted = [m for m in measures if m.is_computable]
    conditions: dict[Any, Q] = {
        one: condition_of(one) for measure in counted for one in (*measure.of, *measure.met)
    }
    conditions |= {
        days: Q(event_on__lte=asked.today - timedelta(days=days))
        for measure in counted
        if (days := measure.matured_days) is not None
    }
    conditions[EVENT] = Q(event_on__isnull=False)
    people = _together(asked, conditions)
    return [_rate(m, people) if m.is_computable else Rate(m, None) for m in measures]


def _rate(measure: QualityMeasure, people: list[tuple[dict[Any, bool], int]]) -> Rate:
    met = of = young = 0
    for holds, n in people:
        if not all(holds[one] for one in measure.of):
            continue
        if measure.matured_days is not None and not holds[measure.matured_days]:
            young += n if holds[EVENT] else 0  # without a day nobody ever gets old enough
            continue
        of += n
        met += n if all(holds[one] for one in measure.met) else 0
    return Rate(measure, Proportion(met, of), young)


def every_definition(asked: Asked) -> tuple[list[tuple[Definition, Proportion]], int, int]:
    """Completed by each definition, of the same people; who noted it so; who still is on the way.

    One query.
    """
    conditions: dict[Any, Q] = {by: completed(by) for by in DEFINITIONS}
    conditions |= {"ended": ENDED, "noted": Q(reason=COMPLETED)}
    people = _together(asked, conditions, STARTED)
    of = sum(n for holds, n in people if holds["ended"])
    noted = sum(n for holds, n in people if holds["ended"] and holds["noted"])
    rows = [(by, Proportion(sum(n for h, n in people if h[by]), of)) for by in DEFINITIONS]
    return rows, noted, sum(n for _, n in people) - of


def half(counts: Mapping[int, int]) -> Spread | None:
    """Median and quartiles of days."""
    return spread_of(counts)
