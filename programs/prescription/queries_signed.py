"""A stored prescription as pure numbers, and what was signed last."""

from programs.enrolment.models import Enrolment
from programs.prescription.calc.dose import Bounds, Dose, Signed
from programs.prescription.models import Prescription


def dose_of(row: Prescription) -> Dose:
    """The numbers that a signature bounds."""
    return Dose(
        rpe_high=row.rpe_high,
        minutes=row.minutes,
        per_week=row.per_week,
        high_bpm=row.high_bpm,
        upper_limit_bpm=row.upper_limit_bpm,
        mets=row.target_mets,
        strength=row.strength,
        home_minutes=row.home_minutes or 0,
        home_days=row.home_days or 0,
    )


def bounds_of(row: Prescription) -> Bounds:
    """How far it may be raised, as it was written."""
    return Bounds(
        rpe=row.most_rpe,
        bpm=row.most_bpm,
        mets=row.most_mets,
        minutes=row.most_minutes,
        per_week=row.most_per_week,
        strength=row.most_strength,
    )


def signed_row(enrolment: Enrolment) -> Prescription | None:
    """The prescription a physician signed last; its limits hold for whatever follows it."""
    found: Prescription | None = enrolment.prescriptions.signed().first()
    return found


def signed_of(row: Prescription | None) -> Signed | None:
    """What was signed, as numbers."""
    return None if row is None else Signed(dose_of(row), bounds_of(row))
