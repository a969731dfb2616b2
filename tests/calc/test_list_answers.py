"""What answers do to rows, and what the whole-file questions are asked of."""

from datetime import date

import pytest

from programs.enrolment.calc.alike import days_alike, folded, names_alike, one_apart
from programs.enrolment.calc.lists.cells import yes_or_no
from programs.enrolment.calc.lists.delimited import read_lines
from programs.enrolment.calc.lists.grid import table_of
from programs.enrolment.calc.lists.letters import UnreadableFile, decode
from programs.enrolment.calc.lists.reading import read_list

TODAY = date(2026, 11, 25)
HEAD = (
    "MRN,Last name,First name,DOB,Sex,Dx,ICD-10,Event date,Discharge date,Referral date,EF,NYHA\n"
)
GOOD = {
    "MRN": "1", "Last name": "Venn", "First name": "Ada", "DOB": "1960-01-02", "Sex": "F",
    "Dx": "CABG", "ICD-10": "", "Event date": "2026-09-01", "Discharge date": "2026-09-05",
    "Referral date": "2026-09-10", "EF": "", "NYHA": "",
}  # fmt: skip


def read(text, **answers):
    table = table_of(read_lines(decode(text.encode())))
    return read_list(table, answers, TODAY)


def row(answers=None, **cells):
    """One good row with some cells changed, by the names of columns with a blank for a _."""
    changed = {name.replace("_", " ").replace("ICD 10", "ICD-10"): c for name, c in cells.items()}
    assert changed.keys() <= GOOD.keys()
    text = HEAD + ",".join(f'"{cell}"' for cell in (GOOD | changed).values()) + "\n"
    (found,) = read(text, **(answers or {})).rows
    return found


def subjects(found):
    return [question.subject for question in found.open]


# --- answers of rows -----------------------------------------------------------------------


def test_a_row_left_out_is_refused_with_the_question():
    found = row({"age@2": "leave-out"}, DOB="2012-01-02")
    assert found.problems == ["left out: Born 2 Jan 2012: 14 years old. Is that right?"]
    assert not found.is_good


@pytest.mark.parametrize(
    ("answers", "cells", "values"),
    [
        ({"age@2": "right"}, {"DOB": "2012-01-02"}, {"born_on": date(2012, 1, 2)}),
        ({"age@2": "1962-01-02"}, {"DOB": "2012-01-02"}, {"born_on": date(1962, 1, 2)}),
        ({"born_on@2": "1922-03-04"}, {"DOB": "soon"}, {"born_on": date(1922, 3, 4)}),
        ({"event_on@2": "empty"}, {"Event_date": "spring"}, {"event_on": None}),
        ({"event_on@2": "2026-09-02"}, {"Event_date": "spring"}, {"event_on": date(2026, 9, 2)}),
        ({"stay@2": "event_on"}, {"Event_date": "2026-09-07"}, {"event_on": None}),
        ({"stay@2": "discharged_on"}, {"Event_date": "2026-09-07"}, {"discharged_on": None}),
        ({"icd10:121.4": "empty"}, {"ICD_10": "121.4"}, {}),
        ({"nyha:II-III": "3"}, {"NYHA": "II-III"}, {"nyha_class": 3}),
        ({"nyha:II-III": "empty"}, {"NYHA": "II-III"}, {"nyha_class": None}),
        ({"lvef:see echo": "empty"}, {"EF": "see echo"}, {"lvef_reported": "see echo"}),
        ({"lvef:99": "empty"}, {"EF": "99"}, {"lvef_percent": None}),
        ({"lvef_fraction": "text"}, {"EF": "0.35"}, {"lvef_reported": "0.35"}),
        ({"lvef_words@2": "number"}, {"EF": "60 severe"}, {"lvef_percent": 60}),
        ({"lvef_words@2": "text"}, {"EF": "60 severe"}, {"lvef_reported": "60 severe"}),
        ({"sex:purple": "female"}, {"Sex": "purple"}, {"sex": "female"}),
        ({"sex:purple": "none"}, {"Sex": "purple"}, {"sex": ""}),
        ({"name@2": "single"}, {"First_name": ""}, {"given_name": "", "family_name": "Venn"}),
        ({"name@2": "yes"}, {"First_name": "R2D2"}, {"given_name": "R2D2"}),
        ({"length@2": "cut"}, {"MRN": "9" * 50}, {"record_number": "9" * 40}),
        ({"referred_on@2": "2026-09-09"}, {"Referral_date": ""}, {"referred_on": date(2026, 9, 9)}),
    ],
)
def test_an_answer_is_stored_and_what_came_is_kept(answers, cells, values):
    found = row(answers, **cells)
    assert subjects(found) == []
    assert found.problems == []
    assert {name: getattr(found, name) for name in values} == values
    if "empty" in answers.values():
        assert any("as received" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("cells", "subject"),
    [
        ({"Discharge_date": "2029-01-01"}, "discharged_on"),
        ({"Dx": "CABG, EF 20%", "EF": "55"}, "lvef_words"),
        ({"Dx": "CABG 2026-08-01"}, "event_differs"),
        ({"First_name": "NÃºria"}, "letters"),
    ],
)
def test_what_a_person_would_ask_is_asked(cells, subject):
    assert subjects(row(**cells)) == [subject]


def test_an_answer_that_cannot_be_right_either_is_asked_again():
    for key, cells in [("born_on", {"DOB": "soon"}), ("age", {"DOB": "2012-01-02"})]:
        found = row({f"{key}@2": "2030-01-02"}, **cells)
        assert "The answer 2 Jan 2030 cannot be right either." in found.open[0].words
    text = HEAD.replace(",Referral date", "") + "1,Venn,Ada,1960-01-02,F,CABG,,,,,\n"
    (found,) = read(text, referred_on="2030-01-02").rows
    assert subjects(found) == ["referred_on"]
    (found,) = read(text, referred_on="rows").rows
    assert subjects(found) == ["referred_on"]


@pytest.mark.parametrize(
    ("wording", "answers", "kinds"),
    [
        ("HT", {"abbreviation:HT": "transplant"}, ["transplant"]),
        ("HT", {"abbreviation:HT": "unclear"}, ["unclear"]),
        ("No MI, PCI", {"denied:No MI, PCI": "yes"}, ["pci"]),
        ("No MI, PCI", {"denied:No MI, PCI": "no"}, ["unclear"]),
    ],
)
def test_answers_about_conditions(wording, answers, kinds):
    found = row(answers, Dx=wording)
    assert subjects(found) == []
    assert [named.kind for named in found.conditions] == kinds


@pytest.mark.parametrize(
    ("said", "kinds"),
    [("words", ["cabg"]), ("code", ["mi"]), ("both", ["cabg", "mi"]), ("unclear", ["unclear"])],
)
def test_words_or_code_as_answered(said, kinds):
    found = row({"words_or_code:CABG I21.4": said}, ICD_10="I21.4")
    assert [named.kind for named in found.conditions] == kinds


@pytest.mark.parametrize(
    ("said", "day"),
    [("2026-08-01", date(2026, 8, 1)), ("empty", date(2026, 8, 1)), ("2026-09-01",
      date(2026, 9, 1))],
)  # fmt: skip
def test_the_day_of_an_event_as_answered(said, day):
    found = row({"event_differs@2": said}, Dx="CABG 2026-08-01")
    assert found.main.happened_on == day


def test_cells_that_wait_for_the_file_are_not_asked_about_twice():
    found = read(
        "Last,First,DOB,Referral date,EF\nVenn,Ada,01/02/1960,2026-09-01,0.35\n"
        "Lomax,Bo,13/13/1950,2026-09-01,40\n"
    )
    assert {q.key for q in found.plan.open} == {"dates", "lvef_fraction"}
    assert [subjects(row) for row in found.rows] == [[], ["born_on"]]


def test_further_codes_and_days_are_kept():
    found = row(Dx="CABG", ICD_10="Z95.1; I25.10; E11.9")
    assert "further codes received: I25.10, E11.9" in found.remarks
    found = row(Dx="NSTEMI; CABG 2026-09-01")
    assert [(n.kind, n.happened_on) for n in found.conditions] == [
        ("cabg", date(2026, 9, 1)), ("mi", None),
    ]  # fmt: skip


# --- columns -------------------------------------------------------------------------------


def test_columns_of_kinds_say_what_was_when():
    found = read(
        "Last,First,DOB,MI date,PCI date,TAVR,HF,Dx,Referral date\n"
        "Venn,Ada,1960-01-02,2026-09-01,2026-09-02,Y,N,NSTEMI,2026-10-01\n"
        "Lomax,Bo,1950-01-02,,unk,No,Yes,CABG 2026-09-03,2026-10-01\n"
        "Orr,Cy,1950-02-03,2026-09-01,,no,no,NSTEMI 2026-09-01,2026-10-01\n"
    )
    assert [[(c.kind, f"{c.happened_on}") for c in row.conditions] for row in found.rows] == [
        [("mi", "2026-09-01"), ("valve", "None"), ("pci", "2026-09-02")],
        [("cabg", "2026-09-03"), ("heart_failure", "None")],
        [("mi", "2026-09-01")],
    ]
    assert [yes_or_no(c) for c in ["Sí", "N.", "x"]] == ["yes", "no", ""]


def test_chosen_columns_go_before_names():
    text = "Last,First,DOB,Dx,When,Other\nVenn,Ada,1960-01-02,PCI,2026-09-01,x\n"
    found = read(text, **{"column.5": "referred_on", "column.4": "none", "column.6": "note"})
    assert found.rows[0].referred_on == date(2026, 9, 1)
    assert (found.rows[0].main.kind, found.rows[0].note) == ("unclear", "x")
    assert read(text).plan.columns.unread() == [4, 5]


def test_a_name_beside_a_family_name_is_the_given_one_or_the_whole():
    head = "Surname,Name,DOB,Dx,Referral date\n"
    (found,) = read(head + "Venn,Ada,1960-01-02,PCI,2026-09-01\n").rows
    assert (found.given_name, found.family_name) == ("Ada", "Venn")
    (found,) = read(head + 'Venn,"Venn, Ada",1960-01-02,PCI,2026-09-01\n').rows
    assert (found.given_name, found.family_name) == ("Ada", "Venn")
    (found,) = read('Surname,DOB,Referral date\n"Venn, Ada",1960-01-02,2026-09-01\n').rows
    assert (found.given_name, found.family_name) == ("Ada", "Venn")
    text = "Name,Surname,First name,DOB,Referral date\nx y,Venn,Ada,1960-01-02,2026-09-01\n"
    assert read(text).rows[0].family_name == "Venn"


def test_two_columns_of_one_name_that_differ_are_asked_about():
    text = "Last,First,DOB,DOB,Dx,Referral date\nVenn,Ada,1960-01-02,1961-01-02,PCI,2026-09-01\n"
    assert [q.key for q in read(text).plan.open] == ["which.born_on"]
    found = read(text, **{"which.born_on": "column 4"})
    assert found.rows[0].born_on == date(1961, 1, 2)
    same = text.replace("1961", "1960")
    assert read(same).plan.open == []


def test_a_column_whose_cells_deny_its_name_is_not_read():
    text = "Last,First,DOB,Diagnosis,Sex,Code,Name,Referral date\n"
    text += "Venn,Ada,1960-01-02,2026-08-01,83702,83702,7,2026-09-01\n" * 3
    assert read(text).plan.columns.of.keys() == {
        "family_name", "given_name", "born_on", "referred_on",
    }  # fmt: skip
    text = "DOB,x,Referral date\n1960-01-02,Ada,2026-09-01\n1961-01-02,Bo,2026-09-01\n"
    assert [q.key for q in read(text).plan.open] == ["full_name"]
    text = 'Apple,Name,Referral date\nx,"Venn, Ada",2026-09-01\n'
    question = read(text).plan.open[0]
    assert (question.key, len(question.choices)) == ("born_on", 3)
    assert read(text, born_on="column 1").plan.column("born_on") == [0]


def test_feet_and_inches_in_two_columns():
    text = "Last,First,DOB,Height ft,Height in,Referral date\n"
    found = read(text + "Venn,Ada,1960-01-02,5,4,2026-09-01\nLomax,Bo,1950-01-02,6,,2026-09-01\n")
    assert found.rows[0].reported_height_cm == pytest.approx(162.56)
    assert subjects(found.rows[1]) == ["height"]


def test_units_wait_for_the_file_and_what_is_no_number_does_not():
    text = "Last,First,DOB,Weight,Height,Referral date\n"
    found = read(
        text + "Venn,Ada,1960-01-02,80,70,2026-09-01\nLomax,Bo,1950-01-02,fat,tall,2026-09-01\n"
    )
    assert [q.key for q in found.plan.open] == ["weight_unit", "height_unit"]
    assert [subjects(row) for row in found.rows] == [[], ["weight", "height"]]


def test_names_wait_for_their_order():
    text = "Patient,DOB,Referral date\nAda Venn,1960-01-02,2026-09-01\n,1961-01-02,2026-09-01\n"
    found = read(text)
    assert [q.key for q in found.plan.open] == ["names"]
    assert [row.problems for row in found.rows] == [[], ["the name is missing"]]


def test_a_long_column_is_understood_from_its_first_cells():
    lines = [f"Venn,Ada,19{n % 60 + 10}-01-02,2026-09-01\n" for n in range(400)]
    found = read("Last,First,DOB,Referral date\n" + "".join(lines))
    assert len(found.rows) == 400


# --- days of a whole file ------------------------------------------------------------------


def days(*pairs):
    lines = [f"V{chr(97 + n)},Ada,{a},{b}\n" for n, (a, b) in enumerate(pairs)]
    return "Last,First,DOB,Referral date\n" + "".join(lines)


def test_columns_may_have_orders_of_their_own():
    pairs = [(f"{13 + n}/01/1960", f"09/{13 + n}/2026") for n in range(4)]
    found = read(days(*pairs))
    assert found.plan.open == []
    assert (found.rows[0].born_on, found.rows[0].referred_on) == (
        date(1960, 1, 13), date(2026, 9, 13),
    )  # fmt: skip


def test_a_file_of_both_orders_is_asked_about():
    pairs = [("13/01/1960", "09/01/2026"), ("01/14/1960", "09/15/2026"), ("16/01/1960", "")]
    (question,) = read(days(*pairs)).plan.open
    assert question.words.endswith("The file has both.")
    found = read(days(*pairs), dates="day-first")
    assert [subjects(row) for row in found.rows] == [
        [],
        ["born_on", "referred_on"],
        ["referred_on"],
    ]


def test_one_proof_among_very_many_that_fit_both_proves_nothing():
    pairs = [(f"0{n % 9 + 1}/0{n % 8 + 1}/1960", "2026-09-01") for n in range(20)]
    (question,) = read(days(*pairs, ("25/01/1960", "2026-09-01"))).plan.open
    assert question.words.endswith("Nearly every one fits both orders.")


def test_an_order_stated_by_a_name_or_below_it_needs_no_question():
    text = "Last,First,DOB (MM/DD/YYYY),Referral date\nVenn,Ada,01/02/1960,03/04/2026\n"
    assert read(text).rows[0].born_on == date(1960, 1, 2)
    assert read(text.replace("MM/DD", "DD/MM")).rows[0].born_on == date(1960, 2, 1)
    text = (
        "Last,First,DOB,Referral date,Weight\n,,dd/mm/yyyy,,kg\nVenn,Ada,01/02/1960,03/04/2026,80\n"
    )
    found = read(text)
    assert found.plan.open == []
    assert found.rows[0].reported_weight_kg == 80
    text = "Last,First,DOB (m/d/y),Referral date (d/m/y)\nVenn,Ada,01/02/1960,03/04/2026\n"
    assert [q.key for q in read(text).plan.open] == ["dates"]


def test_a_name_that_only_begins_like_a_day_gives_way_to_the_cells():
    text = "Last,First,DOB,Admit Dx,Referral date\nVenn,Ada,1960-01-02,NSTEMI,2026-10-01\n"
    assert read(text).rows[0].main.kind == "mi"


def test_serial_days_are_asked_about():
    text = days(("21917", "46296"))
    (question,) = read(text).plan.open
    assert question.examples[0] == "line 2: 21917"
    assert read(text, serials="1900").rows[0].born_on == date(1960, 1, 2)
    assert read(text, serials="no").rows[0].born_on is None


# --- tables --------------------------------------------------------------------------------


def test_header_lines_in_two_and_lines_that_are_none():
    text = "x,\nPatient,Patient,Date of\nLast name,First name,birth\nVenn,Ada,1960-01-02\n"
    table = table_of(read_lines(decode(text.encode())))
    assert table.headers == ["Patient Last name", "Patient First name", "Date of birth"]
    text = "MRN,Last name,First name,DOB\n,Surname,Forename,Birth date\n1,Venn,Ada,1960-01-02\n"
    assert len(table_of(read_lines(decode(text.encode()))).lines) == 1
    text = "a,,,\n1,2,3,4\nVenn,Ada,x,1960-01-02\n"
    assert len(table_of(read_lines(decode(text.encode()))).lines) == 2
    text = "MRN,Last name,First name,DOB,Dx\nx,Venn,Ada,soon,PCI\n"
    assert len(table_of(read_lines(decode(text.encode()))).lines) == 1
    text = "Kim,,,,,\n" * 3 + ",Ada,,,,\n"
    assert len(table_of(read_lines(decode(text.encode()))).lines) == 4


@pytest.mark.parametrize(("text", "words"), [("a,b\n" * 200_001, "200000 lines"),
                                             ('"a,b\n' * 201, "open a quote")])  # fmt: skip
def test_endless_files_are_refused(text, words):
    with pytest.raises(UnreadableFile, match=words):
        read_lines(decode(text.encode()))


# --- who is alike --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "words"),
    [
        (("Ivo", "Müller"), ("Ivo", "Mueller"), "other letters"),
        (("Ivo", "Müller"), ("IVO", "Muller"), "other letters"),
        (("Jun", "Kato"), ("Kato", "Jun"), "swapped"),
        (("Anna", "Venn"), ("Anne", "Venn"), "given name"),
        (("Mary", "Venn"), ("Mary Ann", "Venn"), "given name"),
        (("M.", "Venn"), ("Mary", "Venn"), "given name"),
        (("Ada", "Lomax"), ("Ada", "Lomas"), "family name differs"),
        (("Ada", "Venn"), ("Bo", "Venn"), ""),
        (("", "Venn"), ("Bo", "Venn"), ""),
        (("Mary Lou", "Venn"), ("Mary Ann", "Venn"), ""),
        (("Ada", "Venn"), ("Bo", "Lomax"), ""),
    ],
)
def test_names_that_resemble_each_other(a, b, words):
    assert words in names_alike(a, b)
    assert bool(names_alike(a, b)) == bool(words) == bool(names_alike(b, a))


def test_letters_and_days_that_resemble_each_other():
    assert folded("Straße-Öhr") == folded("strasse oehr")
    pairs = [("abc", "abd"), ("abc", "abcd"), ("abcd", "acd"), ("abc", "abc"), ("ab", "abc"),
             ("abc", "xyz"), ("abc", "abcde")]  # fmt: skip
    assert [one_apart(*pair) for pair in pairs] == [True, True, True, False, False, False, False]
    assert "swapped" in days_alike(date(1950, 3, 4), date(1950, 4, 3))
    assert "one digit" in days_alike(date(1950, 3, 4), date(1951, 3, 4))
    assert days_alike(date(1950, 3, 4), date(1950, 3, 4)) == ""
    assert days_alike(date(1950, 3, 4), date(1962, 3, 4)) == ""


TWO = HEAD + (
    "1,Venn,Ada,06/25/1960,F,CABG,,09/20/2026,09/24/2026,10/28/2026,,\n"
    "2,Venn,Rosa,30.09.1966,F,CABG,,05.11.2026,,18.11.2026,,\n"
    "3,Venn,Eli,30.09.1966,M,CABG,,09/20/2026,,10/11/2026,,\n"
)


def test_a_row_that_proves_the_other_order_has_its_open_days_asked_about():
    """Two days over 12 are day first: who wrote them may have written the third so."""
    plain, other, mixed = read(TWO, dates="month-first").rows
    assert subjects(plain) == []
    assert set(subjects(other)) == {"born_on", "event_on", "referred_on"}
    assert other.event_on is None  # 5 November or 11 May: nobody has said
    assert set(subjects(mixed)) == {"born_on"}  # another day of it proves the order of the file
    assert mixed.referred_on == date(2026, 10, 11)
