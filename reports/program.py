"""The program's page: five answers, the way from referral to exit, and what lies behind them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from patients.calc.limits import NotScorable
from programs.enrolment.calc.way import STEP_NAMES, Step
from programs.enrolment.models import Enrolment, Referral
from programs.enrolment.models.course import month_of
from reports import figures, targets
from reports import program_drawing as drawing
from reports.asking import Question
from reports.calc import control
from reports.calc.proportion import Proportion
from reports.calc.retention import Level, Stay, incidence, kaplan_meier, level_on, log_rank
from reports.calc.small_cells import may_tell_share, told
from reports.calc.spread import Spread, quantile
from reports.figures import TWELVE_WEEKS, Asked, Stage

# Days after a month of referral until it is judged: while people of it still wait or come, the
# share would only seem lower, or the wait shorter (project choice).
YOUNG = {"got_in": 60, "wait": 60, "stayed": 60 + TWELVE_WEEKS, "finished": 60 + 140}
GOOD = {"got_in": "higher", "wait": "lower", "stayed": "higher", "finished": "higher"}
WORDS = {
    "got_in": ("More get in", "Fewer get in"),
    "wait": ("Getting slower", "Getting faster"),
    "stayed": ("More stay", "Fewer stay"),
    "finished": ("More finish", "Fewer finish"),
}
NOBODY = Proportion(0, 0)
REASONS = dict(Enrolment.Outcome.choices) | dict(Referral.WhyNot.choices)


@dataclass(frozen=True)
class Verdict:
    """Better, worse or no change against the year before."""

    mark: str  # a shape beside the words
    words: str
    sentence: str
    is_worse: bool = False


@dataclass(frozen=True)
class Answer:
    """One of the answers of the first screen."""

    name: str
    verdict: Verdict
    drawing: drawing.RunDrawing
    n_young: int  # months too young to count


def verdict_of(name: str, run: control.Run) -> Verdict:
    """A run in words: which way it goes, and whether that is better."""
    if run.word in {"", "no change", "unsteady"}:
        words = {"": "Not judged", "no change": "No change", "unsteady": "Unsteady"}[run.word]
        return Verdict("", words, run.sentence, run.word == "unsteady")
    higher = run.word == "higher"
    words = WORDS[name][0 if higher else 1]
    is_good = run.word == GOOD[name]
    return Verdict("▲" if is_good else "▼", words, run.sentence, not is_good)


def with_year_before(asked: Asked) -> Asked:
    """The months that are judged and the twelve before, which set their limits."""
    return replace(asked, since=asked.before.since.replace(day=1))


def runs_of(question: Question, waited: dict[int, dict[int, int]]) -> dict[str, Any]:
    """Each answer's run of months beside the year before, and the wait as a chart: one query."""
    asked, first = question.asked, month_of(question.asked.since)
    span = range(first - 12, month_of(asked.until) + 1)
    months = {m.month: m for m in figures.by_month(with_year_before(asked), question.by)}
    found: dict[str, Any] = {}
    for name in ("got_in", "stayed", "finished"):
        rows = [(m, getattr(months[m], name) if m in months else NOBODY) for m in span]
        before, judged, n_young = _split(rows, first, asked.today, YOUNG[name])
        found[name] = _answer(name, control.shares(before, judged), n_young, percent=True)
    medians = [(m, quantile(waited.get(m, {}), 0.5), sum(waited.get(m, {}).values())) for m in span]
    before, judged, n_young = _split(medians, first, asked.today, YOUNG["wait"])
    run = control.values(before, judged)
    found["wait"] = _answer("wait", run, n_young, percent=False)
    words = [f"{_first_day(m):%b %y}" for m, *_ in (*before, *judged)]
    return {"answers": found, "run": drawing.run_chart(run, words)}


def _days_of(asked: Asked, waited: dict[int, dict[int, int]]) -> dict[int, int]:
    """Days waited by those of the span itself; months cut in two are read once more."""
    if asked.since.day == 1:
        return figures.merged(c for m, c in waited.items() if m >= month_of(asked.since))
    return figures.merged(figures.waits(asked).values())


def _first_day(month: int) -> date:
    return date(month // 12, month % 12 + 1, 1)


def _split(rows: Sequence[Any], first: int, today: date, young_days: int) -> Any:
    """Months before, months to judge, and how many are too young for that."""
    old = [r for r in rows if _first_day(r[0] + 1) + timedelta(days=young_days) <= today]
    n_young = sum(row[0] >= first for row in rows) - sum(row[0] >= first for row in old)
    return [r for r in old if r[0] < first], [r for r in old if r[0] >= first], n_young


def _answer(name: str, run: control.Run, n_young: int, *, percent: bool) -> Answer:
    return Answer(name, verdict_of(name, run), drawing.spark(run, percent), n_young)


# --- the way ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """A step with its place in the staircase, and what was lost before it."""

    stage: Stage
    name: str
    bar: drawing.Bar
    share: float | None  # of those referred [%]
    before: Stage | None  # the step before: who was lost or waits there
    reason: str  # the main reason of the lost with its number; "" for none, or for too few


def staircase(stages: Sequence[Stage], sees_names: bool) -> list[Row]:
    """The steps as they are drawn."""
    places = drawing.bars(
        [s.reached for s in stages],
        [s.lost for s in stages],
        [s.done for s in stages],
        [s.waiting for s in stages],
    )
    found = []
    for n, (stage, bar) in enumerate(zip(stages, places, strict=True)):
        before = stages[n - 1] if n else None
        share = 100 * stage.reached / stages[0].reached if stages[0].reached else None
        reason = _main_reason(before, sees_names) if before else ""
        found.append(Row(stage, STEP_NAMES[stage.step], bar, share, before, reason))
    return found


def _main_reason(stage: Stage, sees_names: bool) -> str:
    if not stage.reasons:
        return ""
    key, n = stage.reasons[0]
    # The only one to leave is known by the reason; of two alike neither is the main one.
    may_tell = sees_names or told([m for _, m in stage.reasons])[0]
    is_alone = all(m < n for _, m in stage.reasons[1:])
    return f"{reason_words(key)}, {n}" if may_tell and is_alone else ""


def reason_words(key: str) -> str:
    return str(REASONS.get(key, key) or "no reason noted")


@dataclass(frozen=True)
class Reason:
    """Why people left the program."""

    words: str
    n: int
    by_week_12: float  # share of those who began, lost for this reason [%]


def reasons_of(
    stages: Sequence[Stage], stays: Sequence[Stay], sees_names: bool
) -> tuple[list[Reason], list[str]]:
    """Why those who began left, the commonest first, and which reasons are too few to be told."""
    counts: dict[str, int] = {}
    for stage in stages:
        if stage.step >= Step.FIRST_SESSION:
            for key, n in stage.reasons:
                counts[key] = counts.get(key, 0) + n
    lost = incidence(stays, TWELVE_WEEKS)
    rows = sorted(counts.items(), key=lambda kn: (-kn[1], kn[0]))
    may = [True] * len(rows) if sees_names else told([n for _, n in rows])
    found = [
        Reason(reason_words(key), n, 100 * lost.get(key, 0.0))
        for (key, n), is_told in zip(rows, may, strict=True)
        if is_told
    ]
    few = [reason_words(key) for (key, _), is_told in zip(rows, may, strict=True) if not is_told]
    return found, few


# --- groups and measures ------------------------------------------------------------------------


@dataclass(frozen=True)
class Shown:
    """A share that may be told, or that it may not."""

    share: Proportion
    is_told: bool

    @property
    def percent(self) -> str:
        return f"{self.share.percent:.0f} %" if self.share.percent is not None else "–"

    @property
    def of(self) -> str:
        return f"{self.share.numerator} of {self.share.denominator}"

    @property
    def interval(self) -> str:
        span = self.share.percent_interval
        return f"{span[0]:.0f}–{span[1]:.0f}" if span else "–"


def shown(share: Proportion, sees_names: bool) -> Shown:
    return Shown(share, sees_names or may_tell_share(share.numerator, share.denominator))


@dataclass(frozen=True)
class GroupRow:
    """A group as a line; what is too small is left out with its partner."""

    key: Any
    group: figures.Group
    is_told: bool
    got_in: Shown
    in_time: Shown
    finished: Shown
    week_12: float | None  # not yet lost by then [%]


def group_rows(
    groups: Sequence[tuple[Any, figures.Group]], stays: dict[Any, list[Stay]], sees_names: bool
) -> list[GroupRow]:
    """The groups compared; of hidden numbers none can be worked out from the others."""
    everybody = [group for _, group in groups]
    whole = [True] * len(groups) if sees_names else told([g.n for g in everybody])
    parts = {
        name: told_shares([getattr(g, name) for g in everybody], sees_names)
        for name in ("got_in", "in_time", "finished")
    }
    found = []
    for n, (key, group) in enumerate(groups):
        level = level_on(kaplan_meier(stays.get(key, [])), TWELVE_WEEKS)
        is_told = whole[n]
        found.append(
            GroupRow(
                key,
                group,
                is_told,
                Shown(group.got_in, is_told and parts["got_in"][n]),
                Shown(group.in_time, is_told and parts["in_time"][n]),
                Shown(group.finished, is_told and parts["finished"][n]),
                100 * level.share if level and is_told and parts["got_in"][n] else None,
            )
        )
    return found


def told_shares(shares: Sequence[Proportion], sees_names: bool) -> list[bool]:
    """Which shares of the groups of one total may be told."""
    if sees_names:
        return [True] * len(shares)
    sides = [
        [p.numerator for p in shares],
        [p.denominator - p.numerator for p in shares],
    ]
    return [all(cells) for cells in zip(*(told(side) for side in sides), strict=True)]


def difference(stays: dict[Any, list[Stay]]) -> str:
    """Whether the groups' curves differ, in words."""
    try:
        found = log_rank({str(key): people for key, people in stays.items()})
    except NotScorable:
        return "Whether who stays differs between the groups cannot be asked yet."
    p = f"{100 * found.p:.0f} of 100" if found.p >= 0.01 else "fewer than 1 of 100"
    degrees = "1 degree" if found.degrees == 1 else f"{found.degrees} degrees"
    return (
        "If the groups stayed alike, chance would make them differ as much in "
        f"{p} such comparisons (log-rank {found.chi_square:.2f}, {degrees} of freedom)."
    )


def level_words(level: Level | None) -> tuple[str, str] | None:
    """A share still coming with its interval."""
    if level is None or level.low is None or level.high is None:
        return None
    return f"{100 * level.share:.0f} %", f"{100 * level.low:.0f}–{100 * level.high:.0f}"


def half_words(spread: Spread | None) -> str:
    """Between which days half of the people lie."""
    return f"{spread.lower:.0f}–{spread.upper:.0f}" if spread else ""


@dataclass(frozen=True)
class RateRow:
    """A published measure as a line."""

    rate: figures.Rate
    shown: Shown | None


def _beside(
    question: Question, week_12: Level | None, **shares: Shown
) -> dict[str, targets.Beside]:
    """The site's targets beside the shares that may be told."""
    told_shares = {name: one.share for name, one in shares.items() if one.is_told}
    return targets.beside_all(question, told_shares, week_12)


def _waits_of(asked: Asked, waited: dict[int, dict[int, int]], sees_names: bool) -> dict[str, Any]:
    """Days from the referral, and from discharge or event, to the first session."""
    event_days = figures.event_waits(asked)
    spread, event_spread = figures.half(_days_of(asked, waited)), figures.half(event_days)
    return {
        "spread": spread,
        "half_of": half_words(spread),
        "event_spread": event_spread,
        "event_half_of": half_words(event_spread),
        "early": shown(figures.in_time(event_days), sees_names),
        "dots": drawing.day_dots(event_days, figures.TARGET_DAYS),
    }


def page_of(question: Question, *, sees_names: bool) -> dict[str, Any]:
    """Everything the page shows: ten queries, whatever the number of people."""
    asked, by = question.asked, question.by
    waited = figures.waits(with_year_before(asked))
    stages = figures.way(asked)
    by_group = figures.stays(asked, question.dimension)
    stays = [stay for people in by_group.values() for stay in people]
    levels = kaplan_meier(stays)
    every, n_noted, n_going = figures.every_definition(asked)
    finished = next(share for one, share in every if one == by)
    started = stages[Step.FIRST_SESSION].reached
    reasons, few = reasons_of(stages, stays, sees_names)
    week_12 = level_on(levels, TWELVE_WEEKS)
    got_in = Shown(Proportion(started, stages[0].reached), is_told=True)
    fast = _waits_of(asked, waited, sees_names)
    done = shown(finished, sees_names)
    return {
        "targets": _beside(question, week_12, got_in=got_in, in_time=fast["early"], finished=done),
        **fast,
        **runs_of(question, waited),
        "got_in": got_in,
        "n_waiting": sum(s.waiting for s in stages if s.step < Step.FIRST_SESSION),
        "n_going": n_going,
        "week_12": week_12,
        "week_12_words": level_words(week_12),
        "finished": done,
        "rows": staircase(stages, sees_names),
        "reasons": reasons,
        "few": few,
        "curve": drawing.curve(levels, stays),
        "half_lost_in": next((one.day // 7 for one in levels if one.share <= 0.5), None),
        "n_stays": sum(s.n for s in stays),
        "every": [(one, shown(share, sees_names)) for one, share in every],
        "noted": shown(Proportion(n_noted, finished.denominator), sees_names),
        "groups": group_rows(figures.groups(asked, question.dimension, by), by_group, sees_names),
        "difference": difference(by_group),
        "dimensions": [
            (key, words, question.with_(by=key)) for key, (words, _) in figures.DIMENSIONS.items()
        ],
        "rates": [
            RateRow(rate, shown(rate.share, sees_names) if rate.share else None)
            for rate in figures.rates(asked)
        ],
    }
