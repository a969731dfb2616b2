"""What stands on every sheet that is made here."""

from typing import Any

from patients.calc.days import in_words
from patients.models import Patient
from programs.staff.models import Site

CAUTION = (
    "Numbers and limits support, and never replace, the judgement of the licensed clinician. "
    "Local protocol, local law and the physician’s order come first."
)


def head_of(patient: Patient) -> dict[str, Any]:
    """Whose sheet it is, from where and of when."""
    site = patient.site
    record = f", record {patient.record_number}" if patient.record_number else ""
    whose = (
        f"{patient}, date of birth {in_words(patient.born_on)}{record} · {site.name} · "
        f"made {in_words(site.today())}"
    )
    return {"whose": whose, "caution": CAUTION, "paper": paper_of(site)}


def paper_of(site: Site) -> str:
    """The paper in use there: letter in the Americas, else A4 (project choice)."""
    return "us-letter" if site.timezone.startswith(("America/", "US/")) else "a4"
