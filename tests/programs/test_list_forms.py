"""Any table of people, in any of the forms a list may have, comes back the same."""

import csv
import io
import json
from datetime import date, timedelta

import openpyxl
from hypothesis import given, settings
from hypothesis import strategies as st

from programs.enrolment.calc.lists.reading import read_list
from programs.enrolment.lists.source import read_source

TODAY = date(2026, 11, 25)
LETTERS = "abcdefghijklmnopqrstuvwxyzáéíñöüåøçł"
LATIN = "abcdefghijklmnopqrstuvwxyzáéíñöüåç"
WORDS = {
    "NSTEMI": "mi", "s/p CABG x3": "cabg", "PCI with DES to LAD": "pci", "TAVR": "valve",
    "Stable angina": "stable_angina", "HFrEF": "heart_failure", "Heart transplant": "transplant",
}  # fmt: skip
CODES = {"mi": "I21.4", "cabg": "Z95.1", "pci": "Z95.5", "heart_failure": "I50.22"}
ENGLISH = [
    "MRN", "Last name", "First name", "DOB", "Sex", "Diagnosis", "ICD-10", "Event date",
    "Referral date", "Weight (kg)", "Height (cm)",
]  # fmt: skip
SPANISH = [
    "NHC", "Apellidos", "Nombre", "Fecha de nacimiento", "Sexo", "Diagnóstico", "CIE-10",
    "Fecha del evento", "Fecha de derivación", "Peso (kg)", "Talla (cm)",
]  # fmt: skip
DAYS = {
    "iso": ("%Y-%m-%d", {}),
    "day-first": ("%d/%m/%Y", {"dates": "day-first"}),
    "month-first": ("%m/%d/%Y", {"dates": "month-first"}),
    "dots": ("%d.%m.%Y", {"dates": "day-first"}),
    "words": ("%d %b %Y", {}),
    "with an hour": ("%Y-%m-%d 08:30", {}),
    "run together": ("%Y%m%d", {}),
}
SEXES = {
    "letters": ({"female": "F", "male": "M"}, {"sex.m": "male"}),
    "words": ({"female": "Female", "male": "male"}, {}),
    "mujer": ({"female": "M", "male": "H"}, {"sex.m": "female"}),
    "codes": ({"female": "2", "male": "1"}, {"sex.1": "male", "sex.2": "female"}),
}


# Marks of a name that is not known, which are rightly no name; a search may hit upon one.
NO_NAMES = {"unk", "fnu", "lnu", "nfn", "nmn", "unknown", "desconocido"}


def names(letters):
    found = st.text(letters, min_size=3, max_size=9).map(str.capitalize)
    return found.filter(lambda name: name.lower() not in NO_NAMES)


@st.composite
def people(draw, letters=LETTERS):
    words = draw(st.sampled_from(sorted(WORDS)))
    event = TODAY - timedelta(days=draw(st.integers(30, 300)))
    kind = WORDS[words]
    return {
        "number": f"A{draw(st.integers(1, 10**6))}",
        "family": draw(names(letters)),
        "given": draw(names(letters)),
        "born": date(1930, 1, 1) + timedelta(days=draw(st.integers(0, 25_000))),
        "sex": draw(st.sampled_from(["female", "male"])),
        "words": words,
        "code": draw(st.sampled_from(["", CODES.get(kind, "")])),
        "event": event,
        "referred": event + timedelta(days=draw(st.integers(0, 25))),
        "kg": draw(st.integers(45, 150)),
        "cm": draw(st.integers(145, 200)),
    }


def tables(letters=LETTERS):
    return st.lists(people(letters), min_size=1, max_size=12)


def rows_of(found, day, sexes):
    return [
        [p["number"], p["family"], p["given"], p["born"].strftime(day), sexes[p["sex"]],
         p["words"], p["code"], p["event"].strftime(day), p["referred"].strftime(day),
         f"{p['kg']}", f"{p['cm']}"]
        for p in found
    ]  # fmt: skip


def came_back(data, answers):
    table = read_source(data, answers).table
    reading = read_list(table, answers, TODAY)
    assert reading.plan.open == []
    found = []
    for row in reading.rows:
        assert row.problems == []
        assert [q for q in row.open if q.subject != "age"] == []
        (one,) = row.conditions
        found.append(
            {"number": row.record_number, "family": row.family_name, "given": row.given_name,
             "born": row.born_on, "sex": row.sex, "words": one.wording, "code": one.icd10,
             "event": one.happened_on, "referred": row.referred_on,
             "kg": row.reported_weight_kg, "cm": row.reported_height_cm}
        )  # fmt: skip
    return found


@settings(max_examples=150, deadline=None)
@given(
    found=tables(LATIN),
    headers=st.sampled_from([ENGLISH, SPANISH]),
    separator=st.sampled_from(";,\t|"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le"]),
    days=st.sampled_from(sorted(DAYS)),
    sexes=st.sampled_from(sorted(SEXES)),
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    titles=st.sampled_from(["", "A list of the ward\n\n", "sep=\n"]),
    feet=st.sampled_from(["", "Total;;;\n"]),
)
def test_a_delimited_list_comes_back(
    found, headers, separator, encoding, days, sexes, ends, quoting, titles, feet
):
    if sexes == "mujer":
        headers = SPANISH  # under English names a lone M is a man
    (form, ordered), (codes, told) = DAYS[days], SEXES[sexes]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator, quoting=quoting, lineterminator="\n")
    writer.writerows([headers, *rows_of(found, form, codes)])
    titles = f"sep={separator}\n" if titles == "sep=\n" else titles
    text = titles + out.getvalue() + feet.replace(";", separator)
    data = text.replace("\n", ends).encode(encoding)
    assert came_back(data, ordered | told) == found


@settings(max_examples=40, deadline=None)
@given(found=tables(), is_true_day=st.booleans())
def test_a_workbook_comes_back(found, is_true_day):
    book = openpyxl.Workbook()
    book.active.append(["A ward's list"])
    book.active.append(ENGLISH)
    for row, p in zip(rows_of(found, "%Y-%m-%d", SEXES["words"][0]), found, strict=True):
        if is_true_day:
            row[3], row[7], row[8] = p["born"], p["event"], p["referred"]
        row[9], row[10] = p["kg"], float(p["cm"])
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    assert came_back(out.getvalue(), {}) == found


@settings(max_examples=60, deadline=None)
@given(found=tables(), is_urn=st.booleans(), as_code=st.booleans())
def test_a_bundle_comes_back(found, is_urn, as_code):
    entries = []
    for n, p in enumerate(found):
        patient = f"urn:uuid:{n}" if is_urn else f"Patient/{n}"
        icd = [{"system": "http://hl7.org/fhir/sid/icd-10-cm", "code": p["code"]}]
        resources = [
            {"resourceType": "Patient", "id": f"{n}", "birthDate": f"{p['born']}",
             "name": [{"family": p["family"], "given": [p["given"]]}], "gender": p["sex"],
             "identifier": [{"value": p["number"]}]},
            {"resourceType": "ServiceRequest", "id": f"s{n}", "status": "active",
             "subject": {"reference": patient}, "authoredOn": f"{p['referred']}",
             "reasonReference": [{"reference": f"Condition/c{n}"}]},
            {"resourceType": "Condition", "id": f"c{n}", "subject": {"reference": patient},
             "code": {"text": p["words"], "coding": icd if p["code"] else []},
             "onsetDateTime": f"{p['event']}"},
            *[{"resourceType": "Observation", "status": "final", "subject": {"reference": patient},
               "code": {"coding": [{"system": "http://loinc.org", "code": code}]},
               "valueQuantity": {"value": p[name], "code": name}}
              for code, name in [("29463-7", "kg"), ("8302-2", "cm")]],
        ]  # fmt: skip
        entries += [{"fullUrl": patient if r["resourceType"] == "Patient" else "", "resource": r}
                    for r in resources]  # fmt: skip
    whole = {"resourceType": "Bundle", "type": "collection", "entry": entries}
    assert came_back(json.dumps(whole, ensure_ascii=not as_code).encode(), {}) == found
