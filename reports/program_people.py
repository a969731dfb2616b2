"""Who is behind a figure of the program: the same condition, asked for names."""

from dataclasses import dataclass

from django.db.models import Q

from programs.enrolment.calc.way import STEP_NAMES, Step
from reports import figures
from reports.asking import Question
from reports.calc.quality import BY_KEY

DONE = Q(is_over=True, reason=figures.COMPLETED)
ENDS = {
    "lost": ("did not go on", Q(is_over=True) & ~Q(reason=figures.COMPLETED)),
    "done": ("completed there", DONE),
    "here": ("wait or are on the way", Q(is_over=False)),
}


@dataclass(frozen=True)
class Behind:
    """A condition on the rows of referrals, and what it says."""

    words: str
    condition: Q


def behind(question: Question, of: str) -> Behind | None:
    """The people of one place of a figure; None for a place that there is not."""
    asked, by = question.asked, question.by
    plain = {
        "began": ("began", figures.STARTED),
        "lost": (
            "began, and left without completing",
            figures.ENDED & ~Q(reason=figures.COMPLETED),
        ),
        "finished": (f"finished: {by.name}", figures.completed(by)),
        "early": (
            f"began within {figures.TARGET_DAYS} days of discharge, else of the event",
            figures.STARTED & Q(event_days__lte=figures.TARGET_DAYS),
        ),
    }
    if of in plain:
        return Behind(*plain[of])
    kind, _, key = of.partition("-")
    if kind in ENDS and key.isdecimal() and int(key) in list(Step):
        step = Step(int(key))
        words, how = ENDS[kind]
        return Behind(f"came as far as “{STEP_NAMES[step]}” and {words}", Q(step=int(step)) & how)
    measure = BY_KEY.get(key)
    if kind in {"met", "not"} and measure is not None and measure.is_computable:
        counted = figures.population(measure, asked.today)
        met = figures.met(measure, asked.today)
        if kind == "met":
            return Behind(f"{measure.name}: {measure.numerator}", met)
        condition = counted & Q(pk__isnull=False)
        return Behind(f"{measure.name}: not in the numerator", condition & _not(met))
    return None


def _not(met: Q) -> Q:
    """Everybody else; what is not known is no yes, and SQL's NOT would lose it."""
    rows = figures.ReferralTotals.objects.filter(met).order_by().values("pk")
    return ~Q(pk__in=rows)
