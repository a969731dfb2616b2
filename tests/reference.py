"""Reading the published check values; imports nothing of Django."""

import csv
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "fixtures" / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(cell: str) -> float | None:
    return float(cell) if cell else None
