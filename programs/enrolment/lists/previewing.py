"""A list as it stands: its questions first, then every row beside what came. Nothing is stored."""

from collections import Counter
from dataclasses import dataclass, field

from programs.enrolment.calc.lists.asking import Question
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.reading import Reading, read_list
from programs.enrolment.calc.lists.rows import ListedRow
from programs.enrolment.lists.judging import ASKED, Judge, JudgedRow, in_batches
from programs.enrolment.lists.source import Source, read_source
from programs.enrolment.models import ReferralList
from programs.enrolment.models.referral_list import REFUSED, WAITING

# What the questions of a subject are about, as headings say it.
SUBJECTS = {
    "person": "People who look alike",
    "number": "Record numbers of somebody else",
    "age": "Unusual ages",
    "born_on": "Dates of birth",
    "referred_on": "Referral dates",
    "event_on": "Event dates",
    "admitted_on": "Admission dates",
    "discharged_on": "Discharge dates",
    "stay": "Days that contradict each other",
    "event_differs": "Event dates beside the diagnosis",
    "event": "Events close to one on record",
    "twice": "The same event twice in this list",
    "beside": "The same person referred twice on one day",
    "changes": "Corrections of referrals on record",
    "words_or_code": "Words against codes",
    "abbreviation": "Abbreviations with more than one meaning",
    "denied": "Conditions that may be denied",
    "icd10": "Codes",
    "lvef": "Ejection fractions",
    "lvef_words": "Ejection fractions beside other words",
    "nyha": "NYHA classes",
    "weight": "Weights",
    "height": "Heights",
    "sex": "Sex",
    "name": "Names",
    "marks": "Invisible marks",
    "letters": "Letters",
    "quote": "Open quotes",
    "request": "What is asked for",
    "reference": "What is referred to and was not sent",
    "deceased": "People recorded as deceased or inactive",
    "length": "Long cells",
    "long": "Lines longer than the names of columns",
    "record_number_digits": "Record numbers whose digits are lost",
    "phone_digits": "Phones whose digits are lost",
}


@dataclass
class Asked:
    """One question of rows, with the rows that wait for it."""

    question: Question
    rows: list[JudgedRow]

    @property
    def lines(self) -> str:
        shown = ", ".join(str(row.row.line) for row in self.rows[:8])
        return f"{shown} and {len(self.rows) - 8} more" if len(self.rows) > 8 else shown


@dataclass
class Group:
    """The open questions of one subject: one answer may do for all."""

    subject: str
    asked: list[Asked] = field(default_factory=list)

    @property
    def words(self) -> str:
        return SUBJECTS.get(self.subject, self.subject)

    @property
    def in_common(self) -> list[tuple[str, str]]:
        """The answers that each of the questions accepts."""
        every = [dict(one.question.choices) for one in self.asked]
        return [
            (value, words)
            for value, words in self.asked[0].question.choices
            if all(value in choices for choices in every)
        ]


@dataclass
class Preview:
    source: Source
    reading: Reading | None = None
    rows: list[JudgedRow] = field(default_factory=list)  # those that wait
    asked: dict[str, Question] = field(default_factory=dict)  # answered or not, by key

    @property
    def table(self) -> Table | None:
        return self.source.table

    @property
    def of_file(self) -> list[Question]:
        """What is open for the whole file; nothing is taken in before."""
        return [*self.source.open, *(self.reading.plan.open if self.reading else [])]

    @property
    def groups(self) -> list[Group]:
        """The open questions of rows by subject, each question once."""
        groups: dict[str, Group] = {}
        by_key: dict[str, Asked] = {}
        for row in self.rows:
            for question in row.questions:
                if question.key in by_key:
                    by_key[question.key].rows.append(row)
                    continue
                one = by_key[question.key] = Asked(question, [row])
                groups.setdefault(question.subject, Group(question.subject)).asked.append(one)
        order = list(SUBJECTS)
        return sorted(groups.values(), key=lambda g: (g.subject not in order, order.index(g.subject)
                                                      if g.subject in order else 0))  # fmt: skip

    def count(self, fate: str) -> int:
        return Counter(row.fate for row in self.rows)[fate]

    @property
    def n_ready(self) -> int:
        """Rows that can be taken in now, refused ones included."""
        return len(self.rows) - self.count(ASKED)

    @property
    def unread(self) -> list[str]:
        """Columns with cells that nothing is read from."""
        if self.reading is None:
            return []
        return [self.reading.table.name(n) for n in self.reading.plan.columns.unread()]


def preview(listed: ReferralList) -> Preview:
    """Every row that waits and what would become of it."""
    source = read_source(bytes(listed.data), listed.answers)
    result = Preview(source, asked=dict(source.asked))
    if source.table is None:
        return result
    reading = read_list(source.table, listed.answers, listed.site.today())
    result.reading = reading
    went_in, waiting = split(listed, reading)
    judge = Judge(listed.site, reading.reader, went_in)
    for batch in in_batches(waiting):
        result.rows += judge.judge(batch)
    result.asked |= reading.plan.asked | reading.reader.asked
    return result


def split(listed: ReferralList, reading: Reading) -> tuple[list[ListedRow], list[ListedRow]]:
    """Rows that went in before, and rows that wait."""
    fates = [listed.fate(place) for place in range(len(reading.rows))]
    pairs = list(zip(fates, reading.rows, strict=True))
    went_in = [row for fate, row in pairs if fate not in {WAITING, REFUSED}]
    return went_in, [row for fate, row in pairs if fate == WAITING]
