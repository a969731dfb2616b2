"""The dose as sheets and letters tell it: read in one place, so that it can grow with its model."""

from dataclasses import dataclass
from datetime import date

from patients.calc.days import in_words
from programs.enrolment.models import Enrolment
from programs.prescription.calc.intensity import heart_rate_words, rpe_words


@dataclass(frozen=True)
class PaperDose:
    """What is on record of the prescription in force; what is not is None."""

    since: date
    minutes: int
    per_week: int
    low_bpm: int | None
    high_bpm: int | None
    limit_bpm: int | None
    rpe_low: int
    rpe_high: int
    home_days: int | None
    home_minutes: int | None
    is_signed: bool  # by itself, or inside limits that are

    @property
    def words(self) -> str:
        """To a doctor, in one line."""
        limit = f"upper limit {self.limit_bpm}/min" if self.limit_bpm else ""
        parts = [
            heart_rate_words(self.low_bpm, self.high_bpm),
            rpe_words(self.rpe_low, self.rpe_high),
            f"{self.minutes} min, {self.per_week} times a week",
            limit,
        ]
        signed = "signed by a physician" if self.is_signed else "not signed by a physician"
        said = ", ".join(part for part in parts if part)
        return f"{said} (from {in_words(self.since)}, {signed})"


def dose_of(course: Enrolment) -> PaperDose | None:
    """The prescription in force today, None without one."""
    row = course.prescriptions.in_force(course.patient.site.today()).first()
    if row is None:
        return None
    return PaperDose(
        row.valid_from,
        row.minutes,
        row.per_week,
        row.low_bpm,
        row.high_bpm,
        row.upper_limit_bpm,
        row.rpe_low,
        row.rpe_high,
        row.home_days,
        row.home_minutes,
        not row.needs_signature,
    )
