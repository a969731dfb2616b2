"""The few facts about a person that scoring needs, free of the database (project choice)."""

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
        """Completed years on a day, as ``patients.calc.age.age_on`` counts them.

        Parameters
        ----------
        day : day on which the age is wanted, not before the birth date.

        Returns
        -------
        Age. [years], 0 or more

        Raises
        ------
        OutOfRange : the day lies before the birth date.
        """
        return age_on(self.born_on, day)
