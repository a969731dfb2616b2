"""Questions of a list and their answers. Whatever is not literally in the file is asked.

Keys, kinds of answers and their words are a project choice.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

LEAVE_OUT = "leave-out"
A_DAY = "a day such as 2026-11-20"


@dataclass(frozen=True)
class Question:
    """What has to be known before a file, or one row of it, can be stored."""

    key: str  # what an answer is given to
    subject: str  # questions of one subject can be answered together
    words: str
    choices: tuple[tuple[str, str], ...]  # (answer, in words)
    takes_day: bool = False  # a day is an answer too
    examples: tuple[str, ...] = ()
    line: int = 0  # 0: asked of the whole file

    def accepts(self, answer: str) -> bool:
        """Whether an answer is one of those offered.

        Parameters
        ----------
        answer : as given.

        Returns
        -------
        True for a choice, and for a day where one is asked for.
        """
        if any(answer == value for value, _ in self.choices):
            return True
        return self.takes_day and day_of(answer) is not None

    @property
    def accepted(self) -> str:
        """Every accepted answer in one line."""
        found = [f"{value} ({words})" for value, words in self.choices]
        return "; ".join(found + ([A_DAY] if self.takes_day else []))


def day_of(answer: str) -> date | None:
    """The day an answer names.

    Parameters
    ----------
    answer : as given.

    Returns
    -------
    The day for "2026-11-20" and nothing else; None otherwise.
    """
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", answer):
        return None
    try:
        return date.fromisoformat(answer)
    except ValueError:
        return None


class Asker:
    """Asks, and knows what was answered; what is open stays in ``open``."""

    def __init__(self, answers: Mapping[str, str]) -> None:
        self.answers = answers
        self.open: list[Question] = []
        self.asked: dict[str, Question] = {}  # answered or not, by key

    def ask(self, question: Question) -> str:
        """The answer given to a question.

        Parameters
        ----------
        question : with the answers it accepts.

        Returns
        -------
        The answer; "" when there is none that is accepted, and the question is open then.
        """
        self.asked[question.key] = question
        given = self.answers.get(question.key, "")
        if question.accepts(given):
            return given
        self.open.append(question)
        return ""
