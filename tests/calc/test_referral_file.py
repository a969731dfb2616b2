import time
from datetime import date

import pytest

from programs.enrolment.calc import columns
from programs.enrolment.calc.file_text import UnreadableFile, decode, read_table, refuse_size
from programs.enrolment.calc.referral_cells import (
    DAY_FIRST,
    MONTH_FIRST,
    guess_date_order,
    kind_of,
    read_date,
    read_height_cm,
    read_lvef,
    read_nyha,
    read_weight_kg,
    split_name,
    unit_in,
)
from programs.enrolment.calc.referral_row import read_row
from tests.reference import rows

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ("name;né".encode("utf-8-sig"), "name;né"),
        ("name;né".encode(), "name;né"),
        ("name;né".encode("latin-1"), "name;né"),
        ("name;né".encode("utf-16"), "name;né"),
    ],
)
def test_encodings_are_recognised(data, text):
    assert decode(data) == text


@pytest.mark.parametrize("data", [b"PK\x03\x04xx", b"%PDF-1.7", b"\xd0\xcf\x11\xe0", b"a\x00b"])
def test_other_kinds_of_file_are_refused(data):
    with pytest.raises(UnreadableFile, match="not a text file"):
        decode(data)


def test_forty_megabytes_are_refused_with_the_size():
    with pytest.raises(UnreadableFile, match=r"40\.0 MB"):
        refuse_size(40 * 1024 * 1024)


def test_old_line_ends_and_giant_cells_are_read_or_refused_in_words():
    assert read_table(b"a;b\r1;2\r").rows == [["1", "2"]]
    with pytest.raises(UnreadableFile, match="not a table"):
        read_table(b"a;b\n1;" + b"x" * 140_000)
    with pytest.raises(UnreadableFile, match="breaks off"):
        decode("a;b".encode("utf-16")[:-1])


@pytest.mark.parametrize("data", [b"", b"\n \n", b"a;b\n", b"just one column\nx\n"])
def test_files_without_a_table_are_refused(data):
    with pytest.raises(UnreadableFile):
        read_table(data)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_separator_is_found(separator):
    table = read_table(
        separator.join(["a", "b", "c"]).encode() + b"\n" + separator.join("123").encode()
    )
    assert (table.headers, table.rows) == (["a", "b", "c"], [["1", "2", "3"]])


def test_trailing_blanks_and_blank_rows_go():
    table = read_table(b"\n\na ; b\n 1 ; 2  \n;\n\n")
    assert table.rows == [["1", "2"]]
    assert table.first_line == 4


def test_columns_are_guessed_from_usual_headers():
    headers = ["MRN", "Last Name", "First name", "DOB", "Sex", "Dx", "Event date"]
    headers += ["Discharge Date", "Referral date", "EF", "Wt (lb)", "Height"]
    found = columns.guess(headers)
    names = {headers[index]: field for field, index in found.items()}
    assert names == {
        "MRN": "record_number",
        "Last Name": "family_name",
        "First name": "given_name",
        "DOB": "born_on",
        "Sex": "sex",
        "Dx": "diagnosis",
        "Event date": "event_on",
        "Discharge Date": "discharged_on",
        "Referral date": "referred_on",
        "EF": "lvef_percent",
        "Wt (lb)": "weight",
        "Height": "height",
    }
    assert columns.missing(found) == []


def test_lacking_columns_are_named():
    assert columns.missing(columns.guess(["Surname", "Diagnosis"])) == [
        "Name",
        "Date of birth",
        "Referral date",
    ]


def test_unit_in_a_header_is_found():
    headers = ["Wt (lb)", "Weight in lb", "Weight in kg", "Height [cm]", "Height in", "Weight"]
    assert [unit_in(h) for h in headers] == ["lb", "lb", "kg", "cm", "in", ""]


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["25/12/2025", "01/02/2026"], DAY_FIRST),
        (["12/25/2025", "01/02/2026"], MONTH_FIRST),
        (["01/02/2026"], ""),
        (["25/12/2025", "12/25/2025"], ""),
        (["2026-01-02"], ""),
    ],
)
def test_date_order_is_proved_or_left_open(cells, order):
    assert guess_date_order(cells) == order


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("2026-02-03", "", date(2026, 2, 3)),
        ("03/02/2026", DAY_FIRST, date(2026, 2, 3)),
        ("02/03/2026", MONTH_FIRST, date(2026, 2, 3)),
        ("25.12.2025", "", date(2025, 12, 25)),
        ("12/25/2025", DAY_FIRST, date(2025, 12, 25)),
        ("05/05/2026", "", date(2026, 5, 5)),
        ("3 Feb 2026", "", date(2026, 2, 3)),
        ("29/02/2024", DAY_FIRST, date(2024, 2, 29)),
        ("2026-02-03T00:00:00", "", date(2026, 2, 3)),
    ],
)
def test_dates_are_read(cell, order, day):
    assert read_date(cell, order) == day


@pytest.mark.parametrize(
    ("cell", "word"),
    [
        ("03/02/2026", "choose the date order"),
        ("03/02/26", "two-digit"),
        ("29/02/2025", "day"),
        ("soon", "not a date"),
        ("3 Foo 2026", "not a date"),
    ],
)
def test_dates_that_cannot_be_trusted_are_refused(cell, word):
    with pytest.raises(ValueError, match=word):
        read_date(cell, "")


@pytest.mark.parametrize(
    ("cell", "unit", "kg"),
    [("82.5 kg", "", 82.5), ("180 lb", "", 81.6466), ("180", "lb", 81.6466), ("82,5", "kg", 82.5)],
)
def test_weights_are_converted(cell, unit, kg):
    # International pound: 0.45359237 kg
    assert read_weight_kg(cell, unit) == pytest.approx(kg, abs=1e-3)


@pytest.mark.parametrize("cell", ["80", "heavy", "20 kg", "900 lb"])
def test_weights_without_unit_or_sense_are_refused(cell):
    with pytest.raises(ValueError):
        read_weight_kg(cell)


@pytest.mark.parametrize(
    ("cell", "cm"),
    [("175", 175), ("175 cm", 175), ("1.75 m", 175), ("1.75", 175), ("5'11\"", 180.34),
     ("5 ft 11 in", 180.34), ("6'", 182.88), ("71 in", 180.34), ("5’ 11”", 180.34)],
)  # fmt: skip
def test_heights_are_converted(cell, cm):
    # International inch: 2.54 cm
    assert read_height_cm(cell) == pytest.approx(cm, abs=1e-6)


@pytest.mark.parametrize("cell", ["71", "tall", "9'", "5.9 ft"])
def test_heights_without_unit_or_sense_are_refused(cell):
    with pytest.raises(ValueError):
        read_height_cm(cell)


@pytest.mark.parametrize(("cell", "value"), [("45", 45), ("45 %", 45), ("32,5%", 32.5)])
def test_lvef_is_read(cell, value):
    assert read_lvef(cell) == value


@pytest.mark.parametrize("cell", ["35-40", "35 – 40 %", "0.35", "normal", "nan", "99"])
def test_lvef_that_needs_a_clinician_is_refused(cell):
    with pytest.raises(ValueError):
        read_lvef(cell)


def test_nyha_is_read():
    assert [read_nyha(c) for c in ["II", "NYHA III", "class iv", "1"]] == [2, 3, 4, 1]
    with pytest.raises(ValueError):
        read_nyha("II-III")


@pytest.mark.parametrize("row", rows("icd10_families"))
def test_codes_point_to_their_condition(row):
    assert kind_of("", row["code"]) == row["kind"]


@pytest.mark.parametrize(
    ("wording", "kind"),
    [
        ("NSTEMI", "mi"),
        ("Inferior STEMI 2/26", "mi"),
        ("DES to LAD", "pci"),
        ("s/p CABG x3", "cabg"),
        ("TAVR", "valve"),
        ("HFrEF", "heart_failure"),
        ("Stable angina", "stable_angina"),
        ("unstable angina", "unclear"),
        ("orthotopic heart transplant", "transplant"),
        ("chest wall pain", "unclear"),
        ("limitation of movement", "unclear"),
        ("no heart failure, r/o MI", "unclear"),
        ("renal transplant", "unclear"),
        ("gastric bypass", "unclear"),
        ("carotid stent", "unclear"),
        ("cardiac transplant", "transplant"),
    ],
)
def test_wordings_point_to_their_condition(wording, kind):
    assert kind_of(wording, "") == kind


def test_names_are_split_either_way():
    assert split_name("Osei-Tannen, Marguerite") == ("Marguerite", "Osei-Tannen")
    assert split_name("Marguerite Osei-Tannen") == ("Marguerite", "Osei-Tannen")
    assert split_name("Cher") == ("", "Cher")


GOOD = {
    "given_name": "Ada",
    "family_name": "Venn",
    "born_on": "1960-05-04",
    "referred_on": "2026-11-20",
    "diagnosis": "NSTEMI",
    "event_on": "2026-11-10",
    "discharged_on": "2026-11-14",
    "sex": "F",
}


def read(**changes):
    return read_row(7, GOOD | changes, "", TODAY, {})


def test_good_row_has_no_problem():
    row = read()
    assert row.is_good
    assert (row.kind, row.sex, row.line) == ("mi", "female", 7)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"given_name": ""}, "both needed"),
        ({"born_on": ""}, "date of birth is missing"),
        ({"born_on": "1860-01-01"}, "cannot be right"),
        ({"referred_on": ""}, "referral date is missing"),
        ({"event_on": "2026-12-24"}, "future"),
        ({"discharged_on": "2026-11-01"}, "before the event"),
        ({"icd10": "121.4"}, "shape"),
        ({"given_name": "=HYPERLINK(1)"}, "formula"),
        ({"weight": "80"}, "no unit"),
        ({"phone": "=1+1"}, "formula"),
        ({"event_on": "1955-01-01", "discharged_on": ""}, "before the date of birth"),
        ({"admitted_on": "2026-11-15"}, "before admission"),
        ({"given_name": "A" * 81}, "longer than 80 letters"),
        ({"height": "17 parsecs"}, "not a length"),
    ],
)
def test_bad_rows_say_why(changes, words):
    assert any(words in problem for problem in read(**changes).problems)


def test_faults_that_need_a_clinician_are_remarks():
    row = read(lvef_percent="35-40", diagnosis="?", discharged_on="")
    assert row.is_good
    assert row.lvef_percent is None
    assert len(row.remarks) == 3


@pytest.mark.parametrize(
    ("born", "asked"),
    # on 26 Nov 2026 18 to 110 years are 26 Nov 2008 to 27 Nov 1915 (project choice)
    [("2008-11-27", True), ("2008-11-26", False), ("1915-11-27", False), ("1915-11-26", True)],
)
def test_an_unusual_age_is_a_question_and_no_refusal(born, asked):
    row = read_row(7, GOOD | {"born_on": born}, "", date(2026, 11, 26), {})
    assert row.is_good
    assert any("is the date of birth right?" in remark for remark in row.remarks) is asked


def test_code_without_a_dot_gets_one():
    assert read(icd10="i214").icd10 == "I21.4"


def test_letters_that_no_spreadsheet_writes_are_read_as_latin_1():
    assert decode(b"n\x81\xe9") == "n\x81é"  # 0x81 is nothing in cp1252


def test_empty_lines_at_the_end_are_no_rows():
    assert read_table(b"a;b\n1;2\n;\n\n").rows == [["1", "2"]]


def test_a_row_may_lack_sex_and_bring_a_full_name_and_numbers():
    row = read(sex="", full_name="Osei-Tannen, Marguerite", lvef_percent="35", weight="80 kg")
    assert (row.given_name, row.family_name) == ("Marguerite", "Osei-Tannen")
    assert (row.lvef_percent, row.lvef_reported, row.reported_weight_kg) == (35, "", 80)
    assert any("sex not given" in remark for remark in row.remarks)


def test_a_discharge_to_come_is_a_remark():
    row = read(discharged_on="2026-12-01")
    assert row.is_good
    assert "discharge is planned for 1 Dec 2026" in row.remarks


def test_a_length_in_a_columns_own_unknown_unit_is_refused():
    with pytest.raises(ValueError, match="not a length"):
        read_height_cm("175", "parsec")


def test_too_many_rows_are_refused_with_their_number():
    with pytest.raises(UnreadableFile, match="has 5001 rows; at most 5000"):
        read_table(b"a;b\n" + b"1;2\n" * 5001)


@pytest.mark.parametrize("width", [201, 1_500_000])
@pytest.mark.parametrize("above", [b"", b"a;b\n1;2\n"])
def test_wide_files_are_refused_before_they_cost_anything(above, width):
    """Project choice: 200 columns. Padded to its headers, the wide one would be 4 billion cells."""
    data = above + b";" * (width - 1) + b"\n" + b"1;2\n" * 3000
    began = time.process_time()
    with pytest.raises(UnreadableFile, match=rf"has {width} columns; .* at most 200"):
        read_table(data)
    assert time.process_time() - began < 2


def test_two_hundred_columns_are_read():
    table = read_table(b";".join([b"x"] * 200) + b"\n1;2\n")
    assert (len(table.headers), len(table.rows[0])) == (200, 200)


def test_a_list_without_names_lacks_them():
    found = columns.guess(["DOB", "Referral date"])
    assert columns.missing(found) == ["Name"]


def test_a_hint_inside_a_header_is_found_as_a_whole_word_only():
    found = columns.guess(["Their DOB here", "Refund", "The order date of it"])
    assert found["born_on"] == 0
    assert found["referred_on"] == 2
