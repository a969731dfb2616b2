"""From bytes to a table, from cells to values: what ``fixtures/lists`` leaves out."""

import time
from datetime import date

import pytest

from programs.enrolment.calc.lists.asking import Asker, Question, day_of
from programs.enrolment.calc.lists.cells import (
    DAY_FIRST,
    MONTH_FIRST,
    codes_in,
    is_no_name,
    is_unknown,
    looks_like_day,
    read_day,
    read_sex,
)
from programs.enrolment.calc.lists.delimited import read_lines
from programs.enrolment.calc.lists.diagnoses import read_diagnoses
from programs.enrolment.calc.lists.fields import plain, pointed, unit_in
from programs.enrolment.calc.lists.grid import table_of
from programs.enrolment.calc.lists.letters import UnreadableFile, decode, refuse_size
from programs.enrolment.calc.lists.measures import read_height, read_lvef_words, read_weight
from programs.enrolment.calc.lists.names import needs_order, split_name
from programs.enrolment.calc.lists.reading import read_list
from programs.enrolment.calc.referral_cells import family_of, is_lvef_range, read_lvef, read_nyha
from tests.reference import rows

TODAY = date(2026, 11, 25)
FIRST = date(1900, 1, 1)


def table(data):
    return table_of(read_lines(decode(data)))


def read(text, **answers):
    return read_list(table(text.encode()), answers, TODAY)


# --- bytes ---------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-8", "latin-1", "utf-16", "utf-16-le",
                                      "utf-16-be", "utf-32"])  # fmt: skip
def test_encodings_are_recognised(encoding):
    assert decode("name;né".encode(encoding)).text == "name;né"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04xx", "packed file"),
        (b"%PDF-1.7", "PDF"),
        (b"\xd0\xcf\x11\xe0", "without a password"),
        (b"\x89PNG", "picture"),
        (b"{\\rtf1 hello}", "word processor"),
        (b"<html><table>", "web page"),
        (b"a\x00\x00\x00b", "not a text file"),
    ],
)
def test_other_kinds_of_file_are_refused_with_advice(data, words):
    with pytest.raises(UnreadableFile, match=words):
        decode(data)


def test_forty_megabytes_are_refused_with_the_size():
    with pytest.raises(UnreadableFile, match=r"40\.0 MB"):
        refuse_size(40 * 1024 * 1024)


def test_a_file_that_breaks_off_inside_a_letter_is_refused():
    with pytest.raises(UnreadableFile, match="breaks off"):
        decode("a;b".encode("utf-16")[:-1])


def test_lines_in_another_encoding_are_named():
    data = "a;é\n".encode() + b"b;\xe9\r\n" + b"c;\x81\xe9\rd;e"  # 0x81 is nothing in cp1252
    letters = decode(data)
    assert letters.text == "a;é\nb;é\nc;\x81é\nd;e"
    assert letters.odd_lines == {2, 3}


# --- tables --------------------------------------------------------------------------------

HEAD = b"MRN;Surname;First name;DOB\n"


@pytest.mark.parametrize("data", [b"", b"\n \n", HEAD, b"just one column\nx\n", b"a;\nb;\n"])
def test_files_without_a_table_are_refused(data):
    with pytest.raises(UnreadableFile):
        table(data)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_separator_is_found(separator):
    found = table((HEAD + b"1;Venn;Ada;1960-01-02").replace(b";", separator.encode()))
    assert (found.headers[0], found.lines[0].cells[1]) == ("MRN", "Venn")


def test_old_line_ends_are_read():
    assert table(HEAD.replace(b"\n", b"\r") + b"1;Venn;Ada;1960-01-02\r").lines[0].number == 2


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (HEAD + b"1;" + b"x" * 140_000 + b";a;b", "more than 10000 letters"),
        (HEAD + b"1;" + b"x" * 240_000 + b";a;b", "too long"),
        (HEAD + b"1;Venn;Ada;1960-01-02\n" * 5001, "has 5001 rows; at most 5000"),
        (HEAD + b"1;Venn;Ada;1960-01-02\n" * 5300, "more than 5000 rows"),
        (b";".join([b"x"] * 401) + b"\n1;2\n", "has 401 columns; .* at most 400"),
        (HEAD + b";" * 1_500_000, "too long"),
    ],
)
def test_giants_are_refused_before_they_cost_anything(data, words):
    """Project choice: 5000 rows, 400 columns, 10 000 letters."""
    began = time.process_time()
    with pytest.raises(UnreadableFile, match=words):
        table(data)
    assert time.process_time() - began < 2


def test_columns_without_cells_beyond_the_limit_do_no_harm():
    assert len(table(HEAD.rstrip() + b";" * 500 + b"\n1;Venn;Ada;1960-01-02").headers) == 4


def test_names_of_columns_nobody_knows_are_names_still():
    found = table(b"Apple;Pear\nVenn;1960-01-02\nLomax;1961-01-02\n")
    assert (found.headers, len(found.lines)) == (["Apple", "Pear"], 2)
    assert table(b"1;2\n3;4\n").headers == ["", ""]


def test_a_long_quoted_cell_is_an_open_quote():
    text = HEAD + b'1;"Venn;Ada;1960-01-02\n' + b"2;Lomax;Bo;1961-01-02\n" * 40 + b'3;a";b;c\n'
    found = table(text)
    assert [line.number for line in found.lines if line.faults] == [2]
    found = table(HEAD + b'1;"Venn";"Ada;1960-01-02\n2;"Lomax";Bo;1961-01-02\n')
    assert found.lines[0].faults == ("quote",)
    assert found.lines[1].cells[1] == "Lomax"


# --- names of columns ----------------------------------------------------------------------


def test_unit_in_a_name_is_found():
    names = ["Wt (lb)", "Weight in lb", "Weight in kg", "Height [cm]", "Height in", "Ht (ft)",
             "Ht ft/in", "Weight"]  # fmt: skip
    assert [unit_in(n) for n in names] == ["lb", "lb", "kg", "cm", "in", "ft", "ft.in", ""]


def test_names_point_to_fields():
    def best(name):
        found = pointed(plain(name))
        return max(found, key=lambda f: found[f]) if found else ""

    assert best("Patient Surname") == "family_name"
    assert best("Nombre y apellidos") == "full_name"
    assert best("Fecha de Nacimiento") == "born_on"
    assert best("Their DOB here") == "born_on"
    assert best("Refund") == ""


# --- cells ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "order", "day"),
    [
        ("2026-02-03", "", date(2026, 2, 3)),
        ("03/02/2026", DAY_FIRST, date(2026, 2, 3)),
        ("02/03/2026", MONTH_FIRST, date(2026, 2, 3)),
        ("25.12.2025", "", date(2025, 12, 25)),
        ("12/25/2025", "", date(2025, 12, 25)),
        ("05/05/2026", "", date(2026, 5, 5)),
        ("3 Feb 2026", "", date(2026, 2, 3)),
        ("Feb 3rd, 2026", "", date(2026, 2, 3)),
        ("Tue, 3 Feb 2026 2:15 PM", "", date(2026, 2, 3)),
        ("4 de marzo de 1950", "", date(1950, 3, 4)),
        ("29/02/2024", DAY_FIRST, date(2024, 2, 29)),
        ("2026-02-03T00:00:00Z", "", date(2026, 2, 3)),
        ("19500203", "", date(1950, 2, 3)),
        ("03021950", DAY_FIRST, date(1950, 2, 3)),
        ("25-12-38", "", date(1938, 12, 25)),
    ],
)
def test_days_are_read(cell, order, day):
    assert read_day(cell, order, FIRST, TODAY).day == day


@pytest.mark.parametrize(
    ("cell", "order", "fault", "n"),
    [
        ("03/02/2026", "", "open", 2),
        ("12/25/2025", DAY_FIRST, "order", 1),
        ("29/02/2025", "", "unreadable", 0),
        ("soon", "", "unreadable", 0),
        ("3 Foo 2026", "", "unreadable", 0),
        ("32 Jan 26", "", "unreadable", 0),
        ("2026-13-45", "", "unreadable", 0),
        ("30-01-22", "", "century", 2),
        ("2026-03", "", "partial", 0),
        ("March 2026", "", "partial", 0),
        ("45992", "", "unreadable", 0),
    ],
)
def test_days_that_cannot_be_trusted_are_not_read(cell, order, fault, n):
    read_ = read_day(cell, order, FIRST, TODAY)
    assert (read_.day, read_.fault, len(read_.may_be)) == (None, fault, n)


def test_days_of_a_spreadsheet_are_counted_from_its_own_first_day():
    # ECMA-376 part 1, 18.17.4.1: 1 January 2008 is 39448 in the 1900 and 37986 in the 1904 system
    assert read_day("39448", "", FIRST, TODAY, "1900").day == date(2008, 1, 1)
    assert read_day("37986", "", FIRST, TODAY, "1904").day == date(2008, 1, 1)


def test_shapes_and_marks():
    assert looks_like_day("3 Feb 2026")
    assert not looks_like_day("3 cups 2026")
    assert all(map(is_unknown, ["", "--", "N/A", "unk", "not done", "k.A.", "s/d"]))
    assert not is_unknown("0")
    assert is_no_name("FNU")
    assert not is_no_name("Na")


@pytest.mark.parametrize(
    ("cell", "sex"),
    [("F", "female"), ("Mujer", "female"), ("H", "male"), ("m", "open"), ("1", "open"),
     ("U", "none"), ("", "none"), ("purple", "")],
)  # fmt: skip
def test_sex_is_never_guessed(cell, sex):
    assert read_sex(cell) == sex


@pytest.mark.parametrize(
    ("cell", "codes", "rest"),
    [
        ("I21.4; I2510 / Z95.5", ["I21.4", "I25.10", "Z95.5"], []),
        ("I21.4 - NSTEMI", ["I21.4"], []),
        ("i214 I21.4 Z951", ["I21.4", "Z95.1"], []),
        ("121.4", [], ["121.4"]),
        ("I21.4, see letter", ["I21.4"], []),
        ("see letter, I21.4", ["I21.4"], []),
        ("see letter", [], ["see letter"]),
        ("I21.4, 121.4", ["I21.4"], ["121.4"]),
    ],
)
def test_codes_are_found(cell, codes, rest):
    assert codes_in(cell) == (codes, rest)


@pytest.mark.parametrize(
    ("cell", "unit", "kg"),
    [("82.5 kg", "", 82.5), ("180 lb", "", 81.6466), ("180", "lb", 81.6466), ("82,5", "kg", 82.5),
     ("182#", "kg", 82.5538)],
)  # fmt: skip
def test_weights_are_converted(cell, unit, kg):
    # International pound: 0.45359237 kg
    assert read_weight(cell, unit) == pytest.approx(kg, abs=1e-3)


@pytest.mark.parametrize("cell", ["80", "heavy", "20 kg", "900 lb"])
def test_weights_without_unit_or_sense_are_refused(cell):
    with pytest.raises(ValueError):
        read_weight(cell, "")


@pytest.mark.parametrize(
    ("cell", "unit", "cm"),
    [("175", "", 175), ("175 cm", "", 175), ("1.75 m", "", 175), ("1.75", "", 175),
     ("5'11\"", "", 180.34), ("5 ft 11 in", "", 180.34), ("6'", "", 182.88), ("71 in", "", 180.34),
     ("5’ 11”", "", 180.34), ("71", "in", 180.34), ("5.11", "ft.in", 180.34), ("5.5", "ft", 167.64),
     ("6", "ft.in", 182.88), ("5'10 1/2\"", "", 179.07), ("70½\"", "", 179.07)],
)  # fmt: skip
def test_heights_are_converted(cell, unit, cm):
    # International inch: 2.54 cm
    assert read_height(cell, unit) == pytest.approx(cm, abs=1e-6)


@pytest.mark.parametrize(
    ("cell", "unit"),
    [("71", ""), ("tall", ""), ("9'", ""), ("5'14", ""), ("5.13", "ft.in"), ("9.1", "ft.in"),
     ("400", "")],
)  # fmt: skip
def test_heights_without_unit_or_sense_are_refused(cell, unit):
    with pytest.raises(ValueError):
        read_height(cell, unit)


@pytest.mark.parametrize(
    ("cell", "percent", "fraction", "is_report"),
    [("45", 45, None, False), ("45 %", 45, None, False), ("32,5%", 32.5, None, False),
     ("0.35", None, 0.35, False), ("0.5 %", 0.5, None, False), ("35-40", None, None, True),
     ("30 to 35 %", None, None, True), (">55%", None, None, True),
     ("mildly reduced", None, None, True), ("20-25% (severe)", None, None, True),
     ("60 % (normal)", 60, None, False),
     ("EF: 40", 40, None, False), ("see echo", None, None, False)],
)  # fmt: skip
def test_an_ejection_fraction_is_read_or_kept_as_reported(cell, percent, fraction, is_report):
    found = read_lvef_words(cell)
    assert (found.percent, found.fraction, found.is_report) == (percent, fraction, is_report)


@pytest.mark.parametrize(("cell", "value"), [("45", 45), ("45 %", 45), ("32,5%", 32.5)])
def test_lvef_of_the_form_is_read(cell, value):
    assert read_lvef(cell) == value


@pytest.mark.parametrize("cell", ["35-40", "35 – 40 %", "0.35", "normal", "nan", "99"])
def test_lvef_that_needs_a_clinician_is_refused(cell):
    with pytest.raises(ValueError):
        read_lvef(cell)


def test_ranges_and_classes():
    assert is_lvef_range("35 to 40 %")
    assert [read_nyha(c) for c in ["II", "NYHA III", "class iv", "1"]] == [2, 3, 4, 1]
    with pytest.raises(ValueError):
        read_nyha("II-III")


@pytest.mark.parametrize(
    ("name", "order", "parts"),
    [
        ("Osei-Tannen, Marguerite", "", ("Marguerite", "Osei-Tannen")),
        ("Marguerite Osei-Tannen", "given-first", ("Marguerite", "Osei-Tannen")),
        ("Noa van der Bell", "given-first", ("Noa", "van der Bell")),
        ("Ana Ruiz Ortega", "two-last", ("Ana", "Ruiz Ortega")),
        ("van der Bell Noa", "family-first", ("Noa", "van der Bell")),
        ("ARDEN Kim", "", ("Kim", "ARDEN")),
        ("Kim ARDEN", "", ("Kim", "ARDEN")),
        ("Kim Arden", "", ("", "")),
        ("Suharto", "", ("", "Suharto")),
    ],
)
def test_names_are_parted(name, order, parts):
    assert split_name(name, order) == parts


@pytest.mark.parametrize("name", ["KIM ARDEN", "Kim Arden", "JP Smith", "Ana RUIZ Ortega"])
def test_words_alone_do_not_tell_the_family_name(name):
    assert needs_order(name)


# --- conditions ----------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("icd10_families"))
def test_codes_point_to_their_condition(row):
    assert (family_of(row["code"]) or "unclear") == row["kind"]


@pytest.mark.parametrize(
    ("wording", "kinds"),
    [
        ("NSTEMI", ["mi"]),
        ("Inferior STEMI 2/26", ["mi"]),
        ("DES to LAD", ["pci"]),
        ("s/p CABG x3", ["cabg"]),
        ("TAVR", ["valve"]),
        ("HFrEF", ["heart_failure"]),
        ("Stable angina", ["stable_angina"]),
        ("unstable angina", []),
        ("angina", []),
        ("orthotopic heart transplant", ["transplant"]),
        ("chest wall pain", []),
        ("limitation of movement", []),
        ("no heart failure, r/o MI", []),
        ("renal transplant", []),
        ("gastric bypass", []),
        ("carotid stent", []),
        ("cardiac transplant", ["transplant"]),
        ("aortic valve stenosis", []),
        ("hypertrophic cardiomyopathy", []),
        ("MI/PCI", ["mi", "pci"]),
        ("STEMI without heart failure", ["mi"]),
        ("MI?", []),
        ("possible MI", []),
        ("CABG cancelled; PCI done", ["pci"]),
        ("awaiting TAVR", []),
        ("Cirugía de revascularización", ["cabg"]),
        ("Trasplante cardíaco", ["transplant"]),
        ("niega infarto", []),
        ("IC con FE reducida", ["heart_failure"]),
        ("father had MI", []),
        ("NSTEMI; NSTEMI", ["mi"]),
        ("chest pain, MI unlikely", []),
        ("never had MI", []),
        ("fam hx MI", []),
        ("F/H of MI", []),
        ("mom had MI", []),
        ("grandfather had MI", []),
        ("at risk for MI", []),
        ("Padre con IAM; angina estable", ["stable_angina"]),
        ("Hermano IAM", []),
        ("A.F. de IAM", []),
        ("pre-TAVR", []),
        ("plan: AVR", []),
        ("plan CABG", []),
        ("will have CABG next week", []),
        ("to undergo CABG", []),
        ("found to have NSTEMI", ["mi"]),
        ("MI with cerebral embolism", ["mi"]),
        ("NSTEMI with airway management", ["mi"]),
        ("Pte. de TAVI", []),
        ("Pte con IAM", ["mi"]),
        ("Se programa CABG", []),
        ("s/p bilateral lung transplant", []),
        ("heart-lung transplant", ["transplant"]),
        ("bile duct stent", []),
        ("subclavian stent", []),
        ("thoracic aortic stent graft", []),
        ("ST elevation in aVR", []),
        ("AVR", ["valve"]),
    ],
)
def test_wordings_point_to_their_conditions(wording, kinds):
    found = read_diagnoses([wording], [], lambda text: None)
    assert [named.kind for named in found.named] == kinds
    assert found.doubtful == []


@pytest.mark.parametrize(
    ("wording", "doubtful"),
    [
        ("No MI, PCI", ["pci"]),
        ("denies MI, CABG, valve repair", ["cabg", "valve"]),
        ("PCI and CABG", []),
        ("MI PCI cancelled", ["mi", "pci"]),
        ("no MI, s/p PCI", []),
        ("MI (brother)", ["mi"]),
        ("MI - wife", ["mi"]),
        ("severe AS for TAVR", ["valve"]),
        ("referred for CABG", ["cabg"]),
        ("pre-op for AVR", []),
        ("will need rehab after CABG", ["cabg"]),
        ("elective PCI 2026-12-15", ["pci"]),
        ("elective PCI 2026-11-15", []),
        ("padre con IAM, angina estable", ["stable_angina"]),
    ],
)
def test_what_may_be_denied_is_doubtful(wording, doubtful):
    found = read_diagnoses([wording], [], date.fromisoformat, date(2026, 11, 27))
    assert sorted(found.doubtful) == sorted(doubtful)


def test_words_that_deny_nothing_known_are_named():
    assert read_diagnoses(["no complaints"], [], lambda text: None).denied == ["no complaints"]


def test_two_days_of_one_condition_are_two_events():
    days = {"2026-01-02": date(2026, 1, 2), "2026-03-04": date(2026, 3, 4)}
    found = read_diagnoses(["PCI 2026-01-02; PCI 2026-03-04; PCI"], [], days.get)
    assert [named.happened_on for named in found.named] == list(days.values())
    found = read_diagnoses(["PCI 2026-01-02; PCI 2026-01-02;"], [], days.get)
    assert len(found.named) == 1
    found = read_diagnoses(["PCI; PCI 2026-01-02"], [], days.get)
    assert [named.happened_on for named in found.named] == [date(2026, 1, 2)]


# --- questions -----------------------------------------------------------------------------


def test_only_accepted_answers_count():
    question = Question("k", "s", "?", (("a", "the first"),), takes_day=True)
    assert question.accepted == "a (the first); a day such as 2026-11-20"
    assert [question.accepts(x) for x in ["a", "b", "2026-11-20", "2026-02-30", ""]] == [
        True, False, True, False, False,
    ]  # fmt: skip
    assert day_of("20/11/2026") is None
    asker = Asker({"k": "b"})
    assert asker.ask(question) == ""
    assert asker.open == [question]
