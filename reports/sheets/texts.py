"""What a sheet says to a patient, in their language: one source of text for all languages.

The texts stand in ``texts.toml``, each in English and Spanish with who reviewed the translation.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from assessments.calc.catalogue import MEASURES

SOURCE = Path(__file__).with_name("texts.toml")
ENGLISH, SPANISH = "en", "es"
LANGUAGES = {ENGLISH: "English", SPANISH: "Spanish"}
# How people and hospitals write it; the first word of what is on record decides.
NAMES = {
    ENGLISH: {"english", "inglés", "ingles", "en", "eng"},
    SPANISH: {"spanish", "español", "espanol", "castellano", "castilian", "es", "spa"},
}


@dataclass(frozen=True)
class Text:
    """One text in each language; ``reviewed`` says who checked the translation, "" nobody."""

    words: Mapping[str, str]
    reviewed: str


@cache
def texts() -> dict[str, Text]:
    """Every text by its key."""
    found: dict[str, Text] = {}
    _gather("", tomllib.loads(SOURCE.read_text("utf-8")), found)
    return found


def _gather(prefix: str, table: dict[str, Any], found: dict[str, Text]) -> None:
    plain = {f"measure.{measure.key}": measure.plain for measure in MEASURES if measure.plain}
    for name, entry in table.items():
        key = f"{prefix}{name}"
        if SPANISH in entry:
            words = {ENGLISH: entry.get(ENGLISH) or plain[key], SPANISH: entry[SPANISH]}
            found[key] = Text(words, entry["reviewed"])
        else:
            _gather(f"{key}.", entry, found)


def n_unreviewed() -> int:
    """How many texts are translated and not reviewed."""
    return sum(not text.reviewed for text in texts().values())


def language_of(spoken: str) -> str:
    """The language of a sheet for somebody who speaks this; "" where we have no text in it.

    Nothing recorded is English, as the clinic speaks.
    """
    words = spoken.casefold().replace(",", " ").replace("/", " ").replace("(", " ").split()
    if not words:
        return ENGLISH
    return next((code for code, names in NAMES.items() if words[0] in names), "")


class Speaker:
    """Says texts in one language, and remembers whether anything said was not reviewed."""

    def __init__(self, language: str) -> None:
        self.language = language
        self.has_unreviewed = False

    def __call__(self, key: str, **values: object) -> str:
        """One text, filled in."""
        text = texts()[key]
        if self.language != ENGLISH and not text.reviewed:
            self.has_unreviewed = True
        return text.words[self.language].format(**values)

    def parts(self, key: str) -> list[str]:
        """A text of several parts."""
        return self(key).split("|")

    def day(self, on: date) -> str:
        """A day in words."""
        return self("day", day=on.day, month=self.month(on.month), year=on.year)

    def month(self, number: int) -> str:
        """The name of a month, 1 to 12."""
        return self.parts("months")[number - 1]

    def amount(self, number: str, unit: str) -> str:
        """A number with its unit, in words where it is one: of one and of many."""
        words = self.parts(f"unit.{unit}") if f"unit.{unit}" in texts() else [unit]
        return f"{number} {words[0] if number == '1' else words[-1]}".strip()

    def both(self, key: str) -> str:
        """A text also in English, for whoever helps and reads nothing else."""
        own, english = self(key), texts()[key].words[ENGLISH]
        return own if self.language == ENGLISH else f"{own} / {english}"

    def warning(self) -> list[str]:
        """That the translation was not reviewed, in both languages; nothing where it was."""
        if not self.has_unreviewed:
            return []
        words = texts()["unreviewed"].words
        return [words[self.language], words[ENGLISH]]
