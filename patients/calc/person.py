"""The few facts about a person that scoring needs, free of the database."""

from dataclasses import dataclass
from datetime import date

from patients.calc.age import age_on


@dataclass(frozen=True)
class Person:
    """Whom a test is scored for.

    ``sex`` is the sex the reference equations were derived for: "female", "male", or "" when it
    is not recorded; then sex-specific references are refused, never guessed.
    """

    born_on: date
    sex: str = ""

    def age_on(self, day: date) -> int:
        return age_on(self.born_on, day)
