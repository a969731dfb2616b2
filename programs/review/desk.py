"""One plan as somebody reads it to sign it: its lines by component, with what changed in place."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from programs.enrolment.models import Enrolment
from programs.prescription.models import Prescription, TreatmentPlan
from programs.review.calc.bars import Figure, figure_of
from programs.review.calc.components import COMPONENTS
from programs.review.calc.differences import Change, Row, block_of
from programs.review.calc.parts import missing_parts
from programs.review.document import compared, parts_of, rows_of_plan
from programs.review.queries import facts_of, next_draft
from programs.review.queue import Line
from programs.review.since import Since, happened_since
from programs.review.writing import begin, goals_met, record_of, written


@dataclass
class Block:
    """The lines of one component, the goal apart; ``n`` counts the changed blocks."""

    name: str
    goal: Change | None = None
    lines: list[tuple[str, Change]] = field(default_factory=list)
    n: int = 0

    @property
    def is_changed(self) -> bool:
        goals = [self.goal] if self.goal else []
        return any(change.is_changed for change in [*goals, *(c for _, c in self.lines)])

    @property
    def is_empty(self) -> bool:
        return not self.lines and (self.goal is None or self.goal.is_empty)


BESIDE = {
    "diagnosis": "Diagnosis",
    "goals": "The person’s own goals",
    "risk_factors": "In general",
    "outcomes": "Outcomes",
}
ORDER = ["diagnosis", "goals", *[one.key for one in COMPONENTS], "risk_factors", "outcomes"]
NAMES = BESIDE | {one.key: one.name for one in COMPONENTS}


def blocks_of(changes: Sequence[Change]) -> list[Block]:
    """Lines of a plan by component; the dose stands with exercise, people and signatures apart."""
    found = {key: Block(NAMES[key]) for key in ORDER}
    for change in changes:
        box = change.key.partition(".")[2]
        block = found.get(block_of(change.key))
        if block is None or change.is_empty:
            continue
        if box == "goal":
            block.goal = change
        else:
            block.lines.append((_heading(change.label) if box else "", change))
    blocks = [block for key, block in found.items() if key in ORDER]
    for n, block in enumerate((b for b in blocks if b.is_changed), start=1):
        block.n = n
    return blocks


def _heading(label: str) -> str:
    """The heading inside its component: "Lipids: what is done" stands under Lipids."""
    words = label.partition(": ")[2] or label
    return words[0].upper() + words[1:]


@dataclass(frozen=True)
class Desk:
    """Everything that stands on the page of one plan to be signed."""

    enrolment: Enrolment
    plan: TreatmentPlan  # unsaved where nobody has written a draft
    before: TreatmentPlan | None
    dose: Prescription | None
    blocks: list[Block]
    since: Since
    figure: Figure | None
    missing: list[str]  # what the plan lacks

    @property
    def n_changes(self) -> int:
        """Changed components; none can be told without an earlier version."""
        return max((block.n for block in self.blocks), default=0)


def signed_dose_of(enrolment: Enrolment) -> Prescription | None:
    """The dose that was signed last."""
    signed = enrolment.prescriptions.filter(signed_at__isnull=False)
    found: Prescription | None = signed.order_by("-signed_at", "-pk").first()
    return found


def rows_before(before: TreatmentPlan | None, signed_dose: Prescription | None) -> list[Row]:
    """The lines of an earlier version; none where there is none."""
    return rows_of_plan(before, signed_dose) if before is not None else []


def desk_of(line: Line) -> Desk:
    """A draft beside the version signed last, and what happened since."""
    enrolment, before, dose, signed_dose = (
        line.enrolment, line.before, line.dose, line.signed_dose,
    )  # fmt: skip
    record, plan = record_of(enrolment), line.draft
    if plan is None:  # as the program would write it
        plan = next_draft(enrolment, before)
        begin(plan, record)
        plan.content = written(plan, record)
    changes = compared(rows_before(before, signed_dose), rows_of_plan(plan, dose))
    since_on = before.signed_on if before and before.signed_on else enrolment.starts_on
    met = goals_met(before or plan, record, before.signed_on if before else None)
    since = happened_since(enrolment, since_on, record, signed_dose, met)
    figure = figure_of(
        since.bars, _range(signed_dose), _range(dose) if dose != signed_dose else None,
        enrolment.patient.site.today(),
    )  # fmt: skip
    missing = missing_parts(facts_of(enrolment, dose), parts_of(plan))
    return Desk(enrolment, plan, before, dose, blocks_of(changes), since, figure, missing)


def _range(dose: Prescription | None) -> tuple[int, int] | None:
    if dose is None or dose.low_bpm is None or dose.high_bpm is None:
        return None
    return dose.low_bpm, dose.high_bpm
