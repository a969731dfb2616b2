"""Forms of a hospital's list: the file, its questions, its columns."""

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from crispy_forms.layout import HTML, Div, Field, Layout
from django import forms
from django.utils.html import escape

from patients.forms import DayField, OnceForm
from patients.submissions import key_of
from programs.enrolment.calc.lists.asking import Question
from programs.enrolment.calc.lists.fields import FIELDS
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.letters import MAX_BYTES
from programs.enrolment.lists.previewing import Asked, Group

SHOWN = 20  # questions of one subject on a page; the next ones follow once these are answered
NOT_YET = ("", "not answered yet")
KINDS = ".csv,.txt,.tsv,.xlsx,.xlsm,.json,text/csv"


class ListForm(OnceForm):
    file = forms.FileField(label="List", widget=forms.FileInput(attrs={"accept": KINDS}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].widget.attrs["data-max-bytes"] = MAX_BYTES
        self.helper.layout = Layout("submission_key", "file")

    @property
    def key(self) -> uuid.UUID | None:
        """The file chosen is what is typed here."""
        file = self.cleaned_data["file"]
        file.seek(0)
        digest = hashlib.sha256(file.read()).hexdigest()
        file.seek(0)
        return key_of(self.cleaned_data.get("submission_key"), {"name": file.name, "file": digest})


class EditionForm(OnceForm):
    """A form that knows which answers it was made from."""

    edition = forms.CharField(widget=forms.HiddenInput, required=False, max_length=16)

    def __init__(self, *args: Any, edition: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial["edition"] = edition


class AnswersForm(EditionForm):
    """Answers to questions, each a choice and where it may be one, a day."""

    def __init__(
        self,
        *args: Any,
        of_file: Sequence[Question] = (),
        groups: Sequence[Group] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.questions: dict[str, Question] = {}
        self.of_all: dict[str, Group] = {}
        pieces: list[Any] = [self._ask(question, "") for question in of_file]
        for group in groups:
            pieces += self._group(group)
        self.helper.layout = Layout("submission_key", "edition", *pieces)

    def _group(self, group: Group) -> list[Any]:
        n, shown = len(group.asked), group.asked[:SHOWN]
        more = f", the first {SHOWN} of them here" if n > SHOWN else ""
        rows = f"{n} question{'s' if n > 1 else ''}{more}"
        found: list[Any] = [
            HTML(f"<h3>{escape(group.words)} <span class='dim small'>{rows}</span></h3>")
        ]
        if n > 1 and group.in_common:
            name = f"all_{group.subject}"
            self.of_all[name] = group
            choices = [("", "each by itself"), *group.in_common]
            self.fields[name] = forms.ChoiceField(
                choices=choices, required=False, label=f"The same answer for all {n}"
            )
            found.append(Div(name, css_class="fields wide"))
        return found + [self._ask(one.question, _told(one)) for one in shown]

    def _ask(self, question: Question, told: str) -> Div:
        name = name_of(question.key)
        self.questions[name] = question
        text = " ".join(filter(None, [told, question.words]))
        examples = f"In the file: {'; '.join(question.examples)}." if question.examples else ""
        is_short = len(question.choices) <= 5
        self.fields[name] = forms.ChoiceField(
            choices=question.choices if is_short else [NOT_YET, *question.choices],
            widget=forms.RadioSelect() if is_short else forms.Select(),
            required=False,
            label=text,
            help_text=examples,
        )
        parts: list[Any] = [name]
        if question.takes_day:
            self.fields[f"{name}_day"] = DayField(required=False, label="or on this day")
            parts.append(f"{name}_day")
        return Div(*[Field(part) for part in parts], css_class="asked")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name in self.questions:
            if data.get(name) and data.get(f"{name}_day"):
                self.add_error(f"{name}_day", "Choose an answer or give a day, not both.")
        return data

    def answers(self) -> dict[str, str]:
        """What was answered, by key; one answer for all counts where a row has none of its own."""
        found: dict[str, str] = {}
        for name, group in self.of_all.items():
            if said := self.cleaned_data.get(name):
                found |= {one.question.key: said for one in group.asked}
        for name, question in self.questions.items():
            day = self.cleaned_data.get(f"{name}_day")
            if said := self.cleaned_data.get(name) or (f"{day}" if day else ""):
                found[question.key] = said
        return found


def _told(one: Asked) -> str:
    """Which rows a question is about."""
    row = one.rows[0].row
    name = f"{row.given_name} {row.family_name}".strip()
    if len(one.rows) > 1:
        return f"Lines {one.lines}:"
    return f"Line {row.line}{f', {name}' if name else ''}:"


def name_of(key: str) -> str:
    """A key as the name of a box."""
    return f"q{hashlib.sha256(key.encode()).hexdigest()[:12]}"


class ColumnsForm(EditionForm):
    """What each column of the file holds, first as it was understood."""

    def __init__(self, *args: Any, table: Table, chosen: Mapping[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.chosen = chosen
        choices = [("none", "not read"), *[(f, words) for f, (words, _) in FIELDS.items()]]
        for n in range(len(table.headers)):
            if table.column(n):
                self.fields[f"column_{n + 1}"] = forms.ChoiceField(
                    choices=choices,
                    required=False,
                    label=table.name(n)[:90],
                    initial=chosen.get(n, "none"),
                )
        names = [name for name in self.fields if name.startswith("column_")]
        self.helper.layout = Layout(
            "submission_key", "edition", Div(*names, css_class="fields columns")
        )

    def answers(self) -> dict[str, str]:
        """What columns hold, and which are not read though they were understood."""
        found = {}
        for name in self.fields:
            if name.startswith("column_") and (said := self.cleaned_data.get(name)):
                n = int(name.removeprefix("column_"))
                if said != "none" or n - 1 in self.chosen:
                    found[f"column.{n}"] = said
        return found


class AgainForm(EditionForm):
    """Answers given before; those ticked are asked once more."""

    again = forms.MultipleChoiceField(
        required=False, label="Ask again", widget=forms.CheckboxSelectMultiple()
    )

    def __init__(self, *args: Any, given: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        again: Any = self.fields["again"]
        again.choices = [(name_of(key), words) for key, words in given]
        self.key_of = {name_of(key): key for key, _ in given}
        self.helper.layout = Layout("submission_key", "edition", "again")

    def keys(self) -> list[str]:
        """The keys of the answers taken back."""
        return [self.key_of[name] for name in self.cleaned_data["again"]]


class KeepForm(EditionForm):
    """A name under which the answers of a file are kept for the next one of its sender."""

    layout_name = forms.CharField(
        max_length=80,
        label="Keep how this list is read, as",
        help_text="The next list with the same columns is read so. A layout of this name changes.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.layout = Layout(
            "submission_key", "edition", Div("layout_name", css_class="fields wide")
        )


class LayoutForm(OnceForm):
    """A layout: its name, whether it is in use, and answers to forget."""

    layout_name = forms.CharField(max_length=80, label="Name")
    is_active = forms.BooleanField(required=False, label="In use")
    forget = forms.MultipleChoiceField(
        required=False, label="Ask again in the next list", widget=forms.CheckboxSelectMultiple()
    )

    def __init__(self, *args: Any, answers: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        forget: Any = self.fields["forget"]
        forget.choices = [(key, f"{key}: {value}") for key, value in sorted(answers.items())]
        self.helper.layout = Layout(
            "submission_key", "seen_version", "layout_name", "is_active", "forget"
        )
