"""The lists of ``fixtures/lists`` with what must become of each row; imports nothing of Django."""

import csv
import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "fixtures" / "lists"
TODAY = date(2026, 11, 25)
VALUES = [
    "given", "family", "born", "sex", "number", "conditions", "referred", "admitted", "discharged",
    "lvef", "reported", "nyha", "kg", "cm",
]  # fmt: skip


@dataclass
class Sent:
    """One file, what it must ask as a whole, and its rows by line."""

    name: str
    asks: set[str]
    answers: dict[str, str]
    rows: dict[int, dict[str, str]]

    @property
    def data(self) -> bytes:
        return (FOLDER / self.name).read_bytes()

    def __str__(self) -> str:
        return self.name


def every_file():
    for path in sorted(FOLDER.glob("*.expected.json")):
        said = json.loads(path.read_text(encoding="utf-8"))
        with path.with_suffix(".csv").open(encoding="utf-8", newline="") as file:
            rows = {int(row["line"]): row for row in csv.DictReader(file)}
        yield Sent(said["file"], set(said["asks"]), said["answers"], rows)


def as_written(row):
    """A row that was read, in the words of the expected file."""
    conditions = [f"{c.kind} {c.happened_on or '-'} {c.icd10}".strip() for c in row.conditions]
    found = [
        row.given_name, row.family_name, row.born_on, row.sex, row.record_number,
        " | ".join(conditions), row.referred_on, row.admitted_on, row.discharged_on,
        row.lvef_percent, row.lvef_reported, row.nyha_class, row.reported_weight_kg,
        row.reported_height_cm,
    ]  # fmt: skip
    return dict(zip(VALUES, map(_shown, found), strict=True))


def _shown(value):
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return "" if value is None else str(value)
