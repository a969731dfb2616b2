"""A proposed step taken, taken with changes, or left."""

import uuid
from typing import NamedTuple

from django.core.exceptions import ValidationError
from django.db import transaction

from patients.claims import claim
from patients.history import save_as
from patients.models import BodyWeight
from programs.enrolment.courses.services import open_or_refuse
from programs.enrolment.models import Enrolment
from programs.prescription import services
from programs.prescription.calc.lifts import Lift, stored
from programs.prescription.models import Prescription, StepAnswer
from programs.review.calc.progression import VERSION, Proposal
from programs.review.progression.queries import Line, lines_of
from programs.staff.models import User

Answer = StepAnswer.Answer


class Numbers(NamedTuple):
    """What a step changes. Minutes [min], work [METs], stage and lifts of resistance."""

    minutes: int
    mets: float | None
    strength: str = ""
    lifts: tuple[Lift, ...] = ()


# What belongs to one prescription alone; everything else the next one takes over.
OWN = frozenset(
    ["id", "valid_from", "replaced_on", "is_waiting", "covered_by_id", "beyond", "basis", "by_id",
     "at", "signed_by_id", "signed_at", "formula_version"]
)  # fmt: skip


@transaction.atomic
def take(
    enrolment: Enrolment,
    numbers: Numbers | None = None,
    *,
    seen: int,
    key: uuid.UUID | None = None,
    by: User,
) -> StepAnswer:
    """The step as proposed, or with other numbers: the next prescription, as signed limits allow.

    ``seen`` is the dose the step was shown upon; without ``numbers`` it is taken as proposed.

    Raises
    ------
    AlreadyTaken : this very press was stored before.
    ValidationError : another dose was written meanwhile, nothing is proposed, the same dose was
        typed, or the numbers do not fit; nothing is stored.
    """
    claim(key, by=by)
    dose, proposal = _standing(enrolment, seen)
    offered = Numbers(proposal.minutes, proposal.mets, proposal.strength, proposal.lifts)
    wanted = numbers or offered
    if wanted == Numbers(dose.minutes, dose.target_mets, dose.strength, dose.lift_rows):
        raise ValidationError("That is the dose in force. Leave the step instead, with a reason.")
    weight = BodyWeight.objects.latest_kg(enrolment.patient_id)
    new = services.prescribe(_next(dose, wanted), weight, by=by)
    answer = Answer.TAKEN if wanted == offered else Answer.CHANGED
    return _keep(enrolment, proposal, answer, by=by, prescription=new)


@transaction.atomic
def leave(
    enrolment: Enrolment, because: str, *, seen: int, key: uuid.UUID | None = None, by: User
) -> StepAnswer:
    """The dose stays; the step comes again after a week if it still holds.

    Raises
    ------
    AlreadyTaken : this very press was stored before.
    ValidationError : as ``take``; or no reason was given.
    """
    claim(key, by=by)
    _, proposal = _standing(enrolment, seen)
    if not because.strip():
        raise ValidationError({"because": "Say why not now."})
    return _keep(enrolment, proposal, Answer.LEFT, by=by, because=because.strip())


def _standing(enrolment: Enrolment, seen: int) -> tuple[Prescription, Proposal]:
    """The dose and the proposal upon it as they are now, nobody else writing meanwhile."""
    row = open_or_refuse(enrolment)
    line: Line = lines_of([row], row.patient.site.today())[0]
    if line.dose is None or line.dose.pk != seen:
        raise ValidationError("Another dose was written meanwhile; this is what stands now.")
    if line.proposal is None or not line.is_open:
        raise ValidationError("Nothing is proposed any more; this is what stands now.")
    return line.dose, line.proposal


def _next(dose: Prescription, wanted: Numbers) -> Prescription:
    """The next prescription: the same but for its time, work and lifts."""
    names = [f.attname for f in Prescription._meta.concrete_fields if f.attname not in OWN]
    new = Prescription(**{name: getattr(dose, name) for name in names})
    new.enrolment = dose.enrolment
    new.valid_from = dose.enrolment.patient.site.today()
    new.minutes, new.target_mets = wanted.minutes, wanted.mets
    new.strength, new.lifts = wanted.strength, stored(wanted.lifts)
    new.loads = _shared_out(dose, wanted.minutes)
    return new


def _shared_out(dose: Prescription, minutes: int) -> list[dict[str, object]]:
    """The machines' minutes so that they add up; what is more or less falls to the longest."""
    loads = [dict(load) for load in dose.loads]
    timed = [load for load in loads if load.get("minutes")]
    if timed:
        longest = max(timed, key=lambda load: load["minutes"])
        longest["minutes"] += minutes - dose.minutes
        if longest["minutes"] < 1:
            raise ValidationError("The machines' minutes do not add up; write a prescription.")
    return loads


def _keep(
    enrolment: Enrolment, shown: Proposal, answer: str, *, by: User, **more: object
) -> StepAnswer:
    row = StepAnswer(
        enrolment=enrolment,
        on=enrolment.patient.site.today(),
        step=shown.step,
        minutes=shown.minutes,
        mets=shown.mets,
        strength=shown.strength,
        lifts=stored(shown.lifts),
        reasons="\n".join(shown.reasons),
        formula_version=VERSION,
        answer=answer,
        by=by,
        **more,
    )
    save_as(row, by=by, reason=f"step {row.get_answer_display()}")
    return row
