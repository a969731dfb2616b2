"""Lists that look plain and are not: nothing of them is stored without a question.

What each row means was written down before, as a hospital's clerk would say it; the meanings of
ICD-10-CM codes are of ``fixtures/reference/icd10_families.csv``.
"""

from datetime import date

import pytest

from programs.enrolment.calc.lists.cells import read_day
from programs.enrolment.calc.lists.delimited import read_lines
from programs.enrolment.calc.lists.fields import plain, pointed, unit_in
from programs.enrolment.calc.lists.grid import table_of
from programs.enrolment.calc.lists.letters import decode
from programs.enrolment.calc.lists.names import needs_order, split_name
from programs.enrolment.calc.lists.reading import read_list

TODAY = date(2026, 11, 27)


def read(text, answers=None):
    return read_list(table_of(read_lines(decode(text.encode()))), answers or {}, TODAY)


def kinds(row):
    return [(one.kind, one.happened_on) for one in row.conditions]


def test_a_yes_is_of_the_condition_only_where_the_column_is():
    first, second = read(
        "MRN,Last Name,First Name,DOB,Sex,Diagnosis,Family history of MI,HF education,"
        "Planned CABG date,Prior PCI,Referral Date\n"
        "B1,Karsmo,Ann,1950-03-15,F,Stable angina,Yes,No,,No,2026-11-20\n"
        "B2,Obrmo,Ben,1951-04-16,M,chest pain,No,Yes,11/25/2026,Yes,2026-11-20\n"
    ).rows
    assert kinds(first) == [("stable_angina", None)]
    assert kinds(second) == [("pci", None)]
    assert not first.open
    assert not second.open


def test_a_line_longer_than_its_names_is_asked_about():
    rows = read(
        "MRN,Last Name,First Name,DOB,Sex,Referral Date,Diagnosis,Referrer\n"
        "C1,Karsto,Ann,1950-03-16,F,2026-11-20,chest pain, s/p CABG x3,Dr Ash\n"
        "C2,Obrto,Ben,1951-04-17,M,2026-11-20,NSTEMI,Dr Ash\n"
    ).rows
    assert [[q.subject for q in row.open] for row in rows] == [["long"], []]


@pytest.mark.parametrize(
    ("codes", "main", "asks"),
    [
        ("I25.2; Z95.5", None, {"event_differs"}),  # both are of before
        ("I25.2", None, {"event_differs"}),
        ("Z951, I214", ("mi", date(2026, 11, 1)), set()),
        ("Z95.1", ("cabg", date(2026, 11, 1)), set()),  # the only one: this operation
    ],
)
def test_the_event_is_never_an_old_infarct_or_a_state_after(codes, main, asks):
    (row,) = read(
        "MRN,Last Name,First Name,DOB,Sex,ICD-10,Event Date,Referral Date\n"
        f'D1,Karslo,Ann,1950-03-17,F,"{codes}",2026-11-01,2026-11-20\n'
    ).rows
    assert {q.subject for q in row.open} == asks
    if main:
        assert kinds(row)[0] == main


@pytest.mark.parametrize(
    ("name", "fields"),
    [
        ("Planned discharge date", set()),
        ("Actual discharge date", {"discharged_on"}),
        ("Previous discharge date", set()),
        ("Emergency contact phone", set()),
        ("Next of kin phone", set()),
        ("Home phone", {"phone"}),
        ("Visit ID", set()),
        ("Encounter ID", set()),
        ("Post code", set()),
        ("Ward code", set()),
        ("Reason not enrolled", set()),
        ("Reason", {"diagnosis"}),
        ("Procedure planned", set()),
        ("Hosp No", {"record_number"}),
        ("Record #", {"record_number"}),
        ("Date of PCI", {"event_on"}),
        ("Emergency PCI date", {"event_on"}),
        ("Patient Family Name", {"family_name"}),
        ("Family name (last)", {"family_name"}),
        ("Name (family, given)", {"full_name"}),
        ("Emergency contact name", set()),
    ],
)
def test_words_beside_a_name_can_make_it_another_thing(name, fields):
    assert pointed(plain(name)).keys() == fields


def test_a_discharge_that_was_only_planned_gives_way_to_the_true_one():
    (row,) = read(
        "MRN,Last Name,First Name,DOB,Sex,Diagnosis,Planned discharge date,Actual discharge date,"
        "Referral Date\nE1,Karsdo,Ann,1950-03-17,F,NSTEMI,2026-11-12,2026-11-18,2026-11-20\n"
    ).rows
    assert row.discharged_on == date(2026, 11, 18)


def test_h_beside_v_is_asked_about():
    """Varón and hembra, both usual in Spanish lists; hombre begins with the same letter."""
    text = (
        "NHC,Apellidos,Nombre,Fecha de nacimiento,Sexo,Diagnóstico,Fecha derivación\n"
        "1,Ruiz Ortega,Elena,15/03/1950,{},IAM,20/11/2026\n"
        "2,Sanz Mora,Luis,16/04/1951,V,IAM,20/11/2026\n"
    )
    assert {q.key for q in read(text.format("H")).plan.open} == {"sex.h"}
    rows = read(text.format("H"), {"sex.h": "female"}).rows
    assert [row.sex for row in rows] == ["female", "male"]
    assert [row.sex for row in read(text.format("Hembra")).rows] == ["female", "male"]


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("John Karswick Jr.", ("John", "Karswick Jr.")),
        ("Walt Quelwick, Jr.", ("Walt", "Quelwick Jr.")),
        ("Robert Obrwick III", ("Robert", "Obrwick III")),
        ("Ann Pellworth MD", ("Ann", "Pellworth")),
        ("Quelwick, Walt Jr.", ("Walt", "Quelwick Jr.")),
        ("Kim Do", ("Kim", "Do")),
        ("Aiko Ii", ("Aiko", "Ii")),
    ],
)
def test_a_suffix_is_no_family_name(name, parts):
    assert split_name(name, "given-first") == parts
    assert needs_order(name) is (not name.startswith("Quelwick,"))


@pytest.mark.parametrize(
    ("name", "unit"),
    [("Weight (kg/lb)", ""), ("Height (cm/in)", ""), ("Weight (lb)", "lb"), ("Height in", "in")],
)
def test_two_units_in_a_name_state_none(name, unit):
    assert unit_in(name) == unit


def test_a_year_first_of_two_digits_is_asked_about():
    def day(cell):
        return read_day(cell, "day-first", date(1976, 1, 1), TODAY)

    assert day("26/10/14").may_be == (date(2026, 10, 14), date(2014, 10, 26))
    assert day("14/10/26").day == date(2026, 10, 14)
    assert day("26/10/25").day == date(2025, 10, 26)
    assert day("26/10/98").day == date(1998, 10, 26)


def test_numbers_whose_digits_a_spreadsheet_lost_are_asked_about():
    text = (
        "MRN,Last Name,First Name,DOB,Sex,Phone,Diagnosis,Referral Date\n"
        "1.23457E+11,Karsdo,Ann,1950-03-17,F,########,NSTEMI,2026-11-20\n"
    )
    (row,) = read(text).rows
    assert [q.subject for q in row.open] == ["record_number_digits", "phone_digits"]
    assert (row.record_number, row.phone) == ("", "")
    (row,) = read(text, {q.key: "empty" for q in row.open}).rows
    assert not row.open
    assert any("1.23457E+11" in words for words in row.remarks)


def test_days_that_a_spreadsheet_turned_round_are_asked_about():
    text = "MRN,Last Name,First Name,DOB,Sex,Diagnosis,Referral Date\n" + "".join(
        f"{n},Kars{name},Ann,{born},F,NSTEMI,2026-11-20\n"
        for n, (name, born) in enumerate(
            [("do", "1950-05-04"), ("lo", "1951-02-03"), ("mo", "1949-11-12"),
             ("no", "28/05/1952"), ("po", "30/07/1948"), ("ro", "17/01/1950")]
        )
    )  # fmt: skip
    assert {q.key for q in read(text).plan.open} == {"turned"}
    births = [row.born_on for row in read(text, {"turned": "turned"}).rows]
    assert births[:4] == [
        date(1950, 4, 5), date(1951, 3, 2), date(1949, 12, 11), date(1952, 5, 28),
    ]  # fmt: skip
    assert read(text, {"turned": "right"}).rows[0].born_on == date(1950, 5, 4)
    plain_iso = text.replace("1950-05-04", "1950-05-24")
    assert read(plain_iso).plan.open == []
