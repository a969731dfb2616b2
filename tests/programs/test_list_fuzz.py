"""Whatever bytes are sent: a table, or a refusal in words; never another error, never for long."""

import io
import json
import random
import time
import tracemalloc
import zipfile
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from programs.enrolment.calc.lists.letters import UnreadableFile
from programs.enrolment.calc.lists.reading import read_list
from programs.enrolment.lists import workbook
from programs.enrolment.lists.source import read_source
from tests.list_corpus import FOLDER, every_file

TODAY = date(2026, 11, 25)
FILES = [sent.data for sent in every_file() if len(sent.data) < 30_000]
MOST_SECONDS, MOST_MEMORY = 10, 300 * 1024 * 1024


def read(data):
    """True for a table, False for a refusal."""
    try:
        source = read_source(data, {})
        if source.table is not None:
            read_list(source.table, {}, TODAY)
    except UnreadableFile:
        return False
    return True


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=600))
def test_bytes(data):
    read(data)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(FILES), st.randoms(use_true_random=False), st.integers(1, 12))
def test_lists_with_some_bytes_changed(data, chance, n):
    changed = bytearray(data)
    for _ in range(n):
        place = chance.randrange(len(changed))
        way = chance.randrange(3)
        if way == 0:
            changed[place] = chance.randrange(256)
        elif way == 1:
            del changed[place : place + chance.randrange(1, 40)]
        else:
            changed[place:place] = bytes(chance.choices(b'",;\n\t|\x00\xff"{}[]=', k=3))
        changed = changed or bytearray(b"x")
    read(bytes(changed))


CELL = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["2026-01-02", "02/03/50", "I21.4", "CABG", "5'11\"", "0,35", "M", "1", "Name",
                     "DOB", "Sex", "Dx", "45992", "EF", "Weight", "Referral date"]),
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(CELL, max_size=9), max_size=12), st.sampled_from(",;\t|"))
def test_tables(rows, separator):
    read("\n".join(separator.join(row) for row in rows).encode("utf-8", "surrogatepass"))


NAMES = st.sampled_from(
    ["resourceType", "entry", "resource", "id", "subject", "reference", "name", "family", "given",
     "birthDate", "code", "coding", "text", "system", "reasonReference", "contained", "identifier",
     "valueQuantity", "value", "status", "period", "start", "meta", "versionId", "fullUrl"]
)  # fmt: skip
LEAF = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False),
    st.text(max_size=8),
    st.sampled_from(["Bundle", "Patient", "ServiceRequest", "Condition", "Patient/1", "#1", "1",
                     "Observation", "2026", "2026-01-02", "I21.4"]),
)  # fmt: skip
JSON = st.recursive(
    LEAF, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=6),
    max_leaves=30,
)  # fmt: skip


@settings(max_examples=400, deadline=None)
@given(st.lists(st.dictionaries(NAMES, JSON, max_size=8), max_size=4))
def test_bundles(resources):
    kinds = ["ServiceRequest", "Patient", "Condition", "Observation"]
    entries = [{"resource": {"resourceType": kind} | r}
               for kind, r in zip(kinds, resources, strict=False)]  # fmt: skip
    read(json.dumps({"resourceType": "Bundle", "entry": entries}).encode())


def sheet_of(text, times):
    """A workbook whose one sheet unpacks to a text many times over."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(FOLDER / "ward.xlsx") as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.infolist():
            body = old.read(part)
            if part.filename.endswith("sheet2.xml"):
                head, _, tail = body.partition(b"<sheetData>")
                body = head + b"<sheetData>" + text * times + tail
            new.writestr(part.filename, body)
    return out.getvalue()


FIVE = 5 * 1024 * 1024 - 100
HEAD = b"MRN,Last name,First name,DOB,Dx,Referral date\n"
OBJECTS = b'{"resourceType":"Bundle","entry":[%s{}]}'
GIANTS = {
    "quotes": lambda: b'"' * FIVE,
    "open quotes": lambda: HEAD + b'"\n' * (FIVE // 2 - 50),
    "separators": lambda: b"," * FIVE,
    "lines": lambda: b"a,b\n" * (FIVE // 4),
    "letters": lambda: b"x" * FIVE,
    "wide": lambda: (b"," * 399 + b"\n") * (FIVE // 400),
    "long words": lambda: HEAD + (b"1,A,B,1950-01-01," + b"no MI " * 1500 + b",2026-01-01\n") * 550,
    "people": lambda: HEAD + b"1,Venn,Ada,1950-01-01,NSTEMI; PCI,2026-01-01\n" * 5000,
    "noise": lambda: random.Random(1).randbytes(FIVE),
    "nested": lambda: b"[" * FIVE,
    "objects": lambda: OBJECTS % (b'{"resource":{}},' * 300_000),
    "bomb": lambda: sheet_of(b'<row><c t="str"><v>x</v></c></row>', 3_000_000),
    "rows": lambda: sheet_of(b'<row r="1000000"><c r="XFD1000000"><v>1</v></c></row>', 1),
    "damaged": lambda: (FOLDER / "ward.xlsx").read_bytes()[:-300],
}  # fmt: skip


@pytest.mark.parametrize("name", GIANTS)
def test_giants_cost_little(name):
    data = GIANTS[name]()
    tracemalloc.start()
    began = time.process_time()
    read(data)
    took, (_, most) = time.process_time() - began, tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"{name}: {took:.1f} s, {most / 1024 / 1024:.0f} MB while traced")
    assert most < MOST_MEMORY
    assert took < 3 * MOST_SECONDS  # tracing takes two thirds of it


def test_a_workbook_whose_packing_is_broken_is_refused_in_words():
    """A first block of the kind that does not exist: RFC 1951, 3.2.3."""
    data = bytearray((FOLDER / "ward.xlsx").read_bytes())
    for part in zipfile.ZipFile(io.BytesIO(data)).infolist():
        data[part.header_offset + 30 + len(part.filename)] = 0b111
    with pytest.raises(UnreadableFile, match="damaged"):
        read_source(bytes(data), {})


def test_entities_and_false_sizes_are_refused(monkeypatch):
    data = sheet_of(b'<!DOCTYPE x [<!ENTITY a "aaaa">]>', 1)
    with pytest.raises(UnreadableFile, match="entities"):
        read_source(data, {})
    monkeypatch.setattr(workbook, "MAX_PARTS", 3)
    with pytest.raises(UnreadableFile, match="parts; at most 3"):
        read_source((FOLDER / "ward.xlsx").read_bytes(), {})


@pytest.mark.django_db
@pytest.mark.parametrize("data", [FILES[n] for n in range(0, len(FILES), 4)])
def test_no_list_breaks_the_page(client, clinician, data):
    client.force_login(clinician)
    for n in (0, 60, 200):
        file = SimpleUploadedFile("x.csv", data[:n] + b'"\xff;' + data[n:])
        page = client.post(reverse("enrolment:upload"), {"file": file})
        assert page.status_code in {302, 400}
        if page.status_code == 302:
            assert client.get(page.url).status_code == 200
