"""Bundles that are refused by name, and what a bundle brings that no row of the corpus shows."""

import json
from datetime import date

import pytest

from programs.enrolment.calc.lists.fhir import looks_like_fhir, table_of_bundle
from programs.enrolment.calc.lists.letters import UnreadableFile
from programs.enrolment.calc.lists.reading import read_list

TODAY = date(2026, 11, 25)
PATIENT = {
    "resourceType": "Patient",
    "id": "p",
    "name": [{"family": "Venn", "given": ["Ada"]}],
    "birthDate": "1960-01-02",
    "gender": "female",
}
REQUEST = {
    "resourceType": "ServiceRequest",
    "id": "s",
    "status": "active",
    "subject": {"reference": "Patient/p"},
    "authoredOn": "2026-10-01",
    "reasonCode": [{"text": "CABG"}],
}


def bundle(*resources, **more):
    entries = [{"resource": r} for r in resources]
    return json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries} | more)


def row(*resources, patient=(), **request):
    """The row of one request, with what else the bundle holds."""
    whole = bundle(PATIENT | dict(patient), REQUEST | request, *resources)
    (found,) = read_list(table_of_bundle(whole.encode()), {}, TODAY).rows
    return found


def mine(kind, **more):
    return {"resourceType": kind, "subject": {"reference": "Patient/p"}} | more


def concept(code, system="http://loinc.org", **more):
    return {"coding": [{"system": system, "code": code}]} | more


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"resourceType": "Bundle",', "breaks in line 1, column 27"),
        ('{"a": 1, "a": 2}', "'a' stands twice"),
        ('{"a": NaN}', "NaN is no number"),
        ("[]", "resourceType is missing"),
        ('{"resourceType": 3}', "resourceType is missing"),
        ('{"a": ' + "9" * 5000 + "}", "number that no bundle needs"),
        ("[" * 100_000, "nested too deeply"),
        ('{"resourceType": "Bundle"}', "no entries"),
        (bundle(PATIENT), "no ServiceRequest"),
        (bundle({"resourceType": "ReferralRequest"}), "STU3"),
        (bundle(REQUEST | {"reason": []}), "R5"),
        (bundle(REQUEST | {"code": {"concept": {}}}), "R5"),
        (bundle(mine("Encounter", actualPeriod={})), "R5"),
        (bundle(mine("Procedure", occurrenceDateTime="2026")), "R5"),
        (bundle(REQUEST, REQUEST | {"status": "draft"}), "neither is newer"),
        (bundle(*[REQUEST | {"id": f"{n}"} for n in range(5001)]), "5001 requests; at most 5000"),
        (json.dumps({"resourceType": "Bundle", "entry": [{}] * 60_001}), "more than 60000"),
    ],
)
def test_what_is_no_r4_bundle_is_refused_by_name(text, words):
    assert looks_like_fhir(text.encode())
    with pytest.raises(UnreadableFile, match=words):
        table_of_bundle(text.encode())


def test_a_bundle_in_other_letters_is_refused():
    with pytest.raises(UnreadableFile, match="not UTF-8"):
        table_of_bundle(b'{"a": "\xe9"}')


def test_wrong_shapes_are_empty_and_never_break():
    for wrong in (None, 3, True, "x", [], {}, [[]], [{}], {"coding": 3}, [{"reference": 3}]):
        for name in [*PATIENT, "identifier", "telecom", "link"]:
            if name != "resourceType":
                row(patient={name: wrong})
        for name in [*REQUEST, "reasonReference", "encounter", "requester", "note", "contained"]:
            if name not in {"resourceType", "subject"}:
                row(**{name: wrong})
    assert json.loads(bundle({}, 3))["entry"]
    table = table_of_bundle(bundle(REQUEST, {}, 3).encode())
    assert table.asides == ["entry 2 holds no resource", "entry 3 holds no resource"]


def test_what_is_not_read_is_listed():
    found = row(
        mine("MedicationStatement"),
        mine("MedicationStatement", id="m2"),
        mine("Condition", id="c", code=concept("410.9", "http://hl7.org/fhir/sid/icd-9-cm")),
        mine("Condition", id="d", code={"text": "CABG"}, modifierExtension=[{"url": "x"}]),
        mine("Observation", id="e", status="preliminary", code=concept("10230-1")),
        mine("Encounter", id="f", **{"class": {"code": "IMP"}}),
        mine("Encounter", id="g", **{"class": {"code": "IMP"}}),
        mine("Encounter", id="h", status="cancelled", **{"class": {"code": "IMP"}}),
        reasonReference=[{"reference": "MedicationStatement/m2"}],
        note=[{"text": "Lives alone"}],
        patient={"link": [{"other": {}}], "active": False},
    )
    for words in [
        "also sent and not read: MedicationStatement (2)",
        "code of ICD-9 not read: 410.9",
        "not read, it has a modifier: Condition CABG",
        "lvef not read: preliminary",
        "2 stays in hospital were sent; none is taken",
        "reason not read: MedicationStatement a resource without words",
        "the record of the person is linked to another one",
    ]:
        assert words in found.remarks
    assert found.note == "Lives alone"
    assert [q.subject for q in found.open] == ["deceased"]


def test_values_in_words_and_units_nobody_knows():
    weight = {"value": 12, "unit": "stone", "comparator": ">"}
    found = row(
        mine("Observation", id="a", status="final", code=concept("29463-7"), valueQuantity=weight),
        mine("Observation", id="b", status="final", code=concept("88020-3"), valueCodeableConcept={
            "coding": [{"display": "II"}]}),
        mine("Observation", id="c", status="final", code=concept("10230-1"), valueInteger=45),
    )  # fmt: skip
    assert [q.words for q in found.open] == ["Weight: >12 stone cannot be read."]
    assert (found.nyha_class, found.lvef_percent) == (2, 45)


@pytest.mark.parametrize(
    ("identifiers", "number"),
    [
        ([{"value": "1"}], "1"),
        ([{"value": "1"}, {"value": "2"}], ""),
        ([{"value": "1", "use": "old"}, {"value": "2"}], "2"),
        ([{"value": "1"}, {"value": "2", "type": concept("MR")}], "2"),
    ],
)
def test_the_record_number_is_the_one_of_its_type_or_the_only_one(identifiers, number):
    assert row(patient={"identifier": identifiers}).record_number == number


def test_who_refers_and_by_which_phone():
    found = row(
        {"resourceType": "Organization", "id": "o", "name": "Ward 5"},
        requester={"reference": "Organization/o"},
        patient={"telecom": [
            {"system": "email", "value": "x"}, {"system": "phone", "value": "1", "use": "old"},
            {"system": "phone", "value": "555-2010"},
        ]},
    )  # fmt: skip
    assert (found.referrer, found.phone) == ("Ward 5", "555-2010")


def test_other_names_and_codes():
    found = row(
        patient={"name": [{"use": "anonymous"}, {"use": "usual", "text": "Venn, Ada"}]},
        code=concept("395698004", "http://snomed.info/sct"),
        reasonCode=[concept("I21.4", "urn:oid:2.16.840.1.113883.6.90"), {"text": "NSTEMI"}],
    )
    assert (found.given_name, found.family_name) == ("Ada", "Venn")
    assert [(c.kind, c.icd10) for c in found.conditions] == [("mi", "I21.4")]
    assert row(code=concept("1", "x")).open[0].words.startswith("The request is for 1.")
    assert row(status="draft").open[0].subject == "request"
    reasons = [concept("999", "http://snomed.info/sct"), {"text": "CABG"}]
    assert "also received: SNOMED CT 999" in row(reasonCode=reasons).remarks


def test_an_older_version_behind_the_newer_one_changes_nothing():
    older = REQUEST | {"meta": {"versionId": "1"}, "authoredOn": "2026-09-01"}
    newer = REQUEST | {"meta": {"versionId": "2"}}
    (found,) = read_list(table_of_bundle(bundle(PATIENT, newer, older).encode()), {}, TODAY).rows
    assert found.referred_on == date(2026, 10, 1)
    assert row(reasonCode=[{"coding": [{"system": "x"}], "text": "CABG"}]).main.kind == "cabg"


# --- whose it is, when it was, whether it holds still ---------------------------------------------

EF = concept("10230-1")


def ef(percent, **more):
    return mine("Observation", status="final", code=EF, **{
        "valueQuantity": {"value": percent, "unit": "%"}} | more)  # fmt: skip


def test_a_reason_or_stay_of_another_person_refuses_the_row():
    other = PATIENT | {"id": "q", "name": [{"family": "Orr", "given": ["Bo"]}]}
    theirs = {"subject": {"reference": "Patient/q"}, "code": {"text": "CABG"}}
    condition = {"resourceType": "Condition", "id": "c"} | theirs
    found = row(other, condition, reasonReference=[{"reference": "Condition/c"}], reasonCode=[])
    assert "another person" in found.problems[0]
    stay = {"resourceType": "Encounter", "id": "e", "class": {"code": "IMP"}} | theirs
    stay["period"] = {"start": "2026-09-01", "end": "2026-09-05"}
    found = row(other, stay, encounter={"reference": "Encounter/e"})
    assert "another person" in found.problems[0]
    assert found.discharged_on is None


def test_one_number_at_two_servers_is_two_people():
    north, south = "https://north.example/Patient/p", "https://south.example/Patient/p"
    entries = [
        {"fullUrl": north, "resource": PATIENT | {"meta": {"versionId": "1"}}},
        {"fullUrl": south, "resource": PATIENT | {"meta": {"versionId": "2"}, "gender": "male"}},
        {"resource": REQUEST},
    ]
    whole = json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries})
    with pytest.raises(UnreadableFile, match="two servers"):
        table_of_bundle(whole.encode())


def test_an_address_elsewhere_is_not_the_person_of_this_bundle():
    entries = [
        {"fullUrl": "https://here.example/Patient/p", "resource": PATIENT},
        {"resource": REQUEST | {"subject": {"reference": "https://there.example/Patient/p"}}},
    ]
    whole = json.dumps({"resourceType": "Bundle", "type": "collection", "entry": entries})
    (found,) = read_list(table_of_bundle(whole.encode()), {}, TODAY).rows
    assert "is not in the bundle" in found.problems[0]


@pytest.mark.parametrize(
    ("older", "newer"),
    [
        ({"effectiveDateTime": "2023-02-05"}, {"effectivePeriod": {"end": "2026-11-10"}}),
        ({"effectiveDateTime": "2023-02-05"}, {"effectiveInstant": "2026-11-10T08:00:00Z"}),
        ({"issued": "2023-02-05T08:00:00Z"}, {"issued": "2026-11-10T08:00:00Z"}),
    ],
)
def test_the_newest_ejection_fraction_counts_however_its_time_is_told(older, newer):
    """R4: effective[x] is a dateTime, a Period, a Timing or an instant; issued beside it."""
    assert row(ef(58, **older), ef(22, **newer)).lvef_percent == 22
    assert row(ef(22, **newer), ef(58, **older)).lvef_percent == 22


def test_an_ejection_fraction_in_a_component_is_read_and_two_of_one_day_are_not():
    panel = mine("Observation", status="final", code=concept("34552-0"), component=[
        {"code": EF, "valueQuantity": {"value": 31, "unit": "%"}}])  # fmt: skip
    assert row(panel).lvef_percent == 31
    assert row(panel | {"code": EF}).lvef_percent == 31
    empty = row(mine("Observation", status="final", code=EF))
    assert (empty.lvef_percent, empty.remarks[0]) == (None, "lvef not read: no value in it")
    found = row(ef(58), ef(22))
    assert found.lvef_percent is None
    assert any("58 %" in words and "22 %" in words for words in found.remarks)


@pytest.mark.parametrize(
    ("more", "kinds"),
    [
        ({"clinicalStatus": concept("resolved"), "code": {"text": "stable angina"}}, ["cabg"]),
        ({"clinicalStatus": {"text": "Inactive"}, "code": {"text": "HFrEF"}}, ["cabg"]),
        ({"clinicalStatus": concept("resolved"), "code": {"text": "NSTEMI"}}, ["cabg", "mi"]),
        ({"verificationStatus": {"text": "Refuted"}, "code": {"text": "NSTEMI"}}, ["cabg"]),
        ({"verificationStatus": {"text": "Entered in error"}, "code": {"text": "MI"}}, ["cabg"]),
    ],
)
def test_what_no_longer_holds_is_no_condition_and_an_event_stays_one(more, kinds):
    found = row(mine("Condition", **more))
    assert sorted(one.kind for one in found.conditions) == kinds


def test_a_code_of_an_unread_system_is_listed():
    cpt = concept("33533", "http://www.ama-assn.org/go/cpt")
    found = row(mine("Procedure", status="completed", code=cpt))
    assert any("33533" in words for words in found.remarks)
