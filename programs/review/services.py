"""Writes to treatment plans: prepared by the team, signed or sent back by who may."""

import uuid
from datetime import date

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils import timezone

from patients import audit
from patients.calc.days import in_words
from patients.claims import claim
from patients.history import StaleVersion, save_as
from patients.models import AuditEvent
from programs.enrolment.models import Enrolment
from programs.prescription.models import Prescription, TreatmentPlan
from programs.prescription.services import sign_prescription
from programs.prescription.signing import may_sign
from programs.review.calc.canonical import digest_of
from programs.review.document import signed_rows
from programs.review.queries import draft_of
from programs.review.writing import begin, record_of, written
from programs.staff.models import User


@transaction.atomic
def prepare_plan(
    plan: TreatmentPlan, *, seen: int = 0, key: uuid.UUID | None = None, by: User
) -> TreatmentPlan:
    """Store a draft, or a changed draft; a signed version is never touched.

    What the program tells from the record is written anew. A draft that was sent back waits for
    its signature again.

    Raises
    ------
    AlreadyTaken : this very form was stored before.
    StaleVersion : somebody else changed the draft after this form was opened.
    ValidationError : the version was signed meanwhile, or another draft waits already.
    """
    claim(key, by=by)
    Enrolment.objects.select_for_update().get(pk=plan.enrolment_id)
    if plan.pk is not None:
        stored = TreatmentPlan.objects.select_for_update().get(pk=plan.pk)
        stored.check_version(seen)
        if stored.signed_on is not None:
            raise ValidationError("This version was signed meanwhile; prepare a new one.")
    plan.content = written(plan, record_of(plan.enrolment))
    plan.prepared_by = by
    _forget_sending_back(plan)
    save_as(plan, by=by, reason="prepared")
    return plan


@transaction.atomic
def write_draft(enrolment: Enrolment, *, key: uuid.UUID | None = None, by: User) -> TreatmentPlan:
    """The next version as the program writes it: what was signed last, and what is on record.

    Gives the draft that waits already, if there is one. Raises as ``prepare_plan``.
    """
    plan = draft_of(enrolment)
    if plan.pk is not None:
        return plan
    begin(plan, record_of(enrolment))
    return prepare_plan(plan, key=key, by=by)


def _forget_sending_back(plan: TreatmentPlan) -> None:
    plan.sent_back_at, plan.sent_back_by = None, None
    plan.sent_back_because, plan.sent_back_words = "", ""


def _locked(plan: TreatmentPlan, seen: int) -> TreatmentPlan:
    """The draft that was read, nobody else writing to it or to its dose meanwhile."""
    Enrolment.objects.select_for_update().get(pk=plan.enrolment_id)
    row = (
        TreatmentPlan.objects.select_for_update(of=("self",))
        .select_related(
            "enrolment__patient__site", "enrolment__referral__condition", "prepared_by", "signed_by"
        )
        .get(pk=plan.pk)
    )
    if row.signed_on is not None:
        words = f"This version is already signed, by {row.signed_by} on {in_words(row.signed_on)}."
        raise ValidationError(words)
    row.check_version(seen)
    return row


def _dose_that_was_read(row: TreatmentPlan, seen_dose: int) -> Prescription | None:
    """A plan is signed with its dose, so the dose too must be the one that was shown."""
    dose: Prescription | None = row.enrolment.prescriptions.to_sign().first()
    if (dose.pk if dose else 0) != seen_dose:
        raise StaleVersion(dose or row)
    return dose


@transaction.atomic
def sign_plan(
    plan: TreatmentPlan, *, seen: int, seen_dose: int, key: uuid.UUID | None = None, by: User
) -> None:
    """Sign the very version that was read and the dose beside it, with today's date at the site.

    ``seen_dose`` is the dose that was shown, 0 where there was none: the one that waits for a
    signature, else the one in force.

    Raises
    ------
    AlreadyTaken : this very press was taken before.
    StaleVersion : the draft or its dose changed after it was shown.
    PermissionDenied : the person may not sign here (42 CFR 410.49).
    ValidationError : the version is already signed; says by whom.
    """
    if not may_sign(by, plan.enrolment.patient.site):
        raise PermissionDenied("Only a physician signs a treatment plan.")
    claim(key, by=by)
    row = _locked(plan, seen)
    dose = _dose_that_was_read(row, seen_dose)
    seal(row, dose, signer=by, on=row.enrolment.patient.site.today(), scan="", by=by)
    if dose is not None and dose.signed_at is None:
        sign_prescription(dose, by=by)


@transaction.atomic
def sign_on_paper(
    plan: TreatmentPlan,
    signer: User,
    on: date,
    scan: str,
    *,
    seen: int,
    seen_dose: int,
    key: uuid.UUID | None = None,
    by: User,
) -> None:
    """Note that a printed version was signed by hand on a day, and where its scan is.

    Raises
    ------
    AlreadyTaken, StaleVersion : as ``sign_plan``.
    PermissionDenied : whoever notes it may not prepare plans.
    ValidationError : the signer may not sign here, the day lies ahead or before the version that
        was printed, or nothing says where the scan is.
    """
    if not by.has_perm("prescription.add_plan"):
        raise PermissionDenied("Only who prepares plans notes a signature on paper.")
    claim(key, by=by)
    row = _locked(plan, seen)
    dose = _dose_that_was_read(row, seen_dose)
    site = row.enrolment.patient.site
    if not may_sign(signer, site):
        raise ValidationError({"signer": f"{signer} may not sign treatment plans here."})
    if on > site.today():
        raise ValidationError({"on": "A signature cannot lie ahead."})
    last = row.history.order_by("-history_date", "-history_id").first()
    written_on = last.history_date.astimezone(site.now().tzinfo).date()
    if on < written_on:
        words = f"This version was last changed on {in_words(written_on)}; that one was not signed."
        raise ValidationError({"on": words})
    if not scan.strip():
        raise ValidationError({"scan": "Say where the scan is."})
    seal(row, dose, signer=signer, on=on, scan=scan.strip(), by=by)
    if dose is not None and dose.signed_at is None:
        dose.signed_by, dose.signed_at = signer, timezone.now()
        save_as(dose, by=by, reason="signed on paper with the plan")


def seal(
    row: TreatmentPlan, dose: Prescription | None, *, signer: User, on: date, scan: str, by: User
) -> None:
    """Keep the lines that are signed, and the digest of their text."""
    rows = signed_rows(row, dose, signer, on, scan)
    row.content = {**row.content, "signed": [list(line) for line in rows]}
    row.digest = digest_of(rows)
    row.signed_by, row.signed_on = signer, on
    row.signed_how = TreatmentPlan.How.PAPER if scan else TreatmentPlan.How.SCREEN
    row.scan_reference = scan
    _forget_sending_back(row)
    save_as(row, by=by, reason="signed on paper" if scan else "signed")
    what = f"treatment plan, {row.digest[:16]}" + (f", on paper by {signer}" if scan else "")
    audit.record(AuditEvent.Kind.SIGNATURE, what, by=by, patient=row.enrolment.patient)


@transaction.atomic
def send_back(
    plan: TreatmentPlan,
    because: str,
    words: str = "",
    *,
    seen: int,
    key: uuid.UUID | None = None,
    by: User,
) -> None:
    """Give a draft back to who prepared it, with the reason; it waits until they save it again.

    Raises
    ------
    AlreadyTaken, StaleVersion, PermissionDenied : as ``sign_plan``.
    ValidationError : already signed, or another reason without its words.
    """
    if not may_sign(by, plan.enrolment.patient.site):
        raise PermissionDenied("Only who signs a plan sends it back.")
    claim(key, by=by)
    row = _locked(plan, seen)
    if because == TreatmentPlan.Back.OTHER and not words.strip():
        raise ValidationError({"words": "Say why it goes back."})
    row.sent_back_at, row.sent_back_by = timezone.now(), by
    row.sent_back_because, row.sent_back_words = because, words.strip()
    save_as(row, by=by, reason="sent back")
