"""Sheets made as PDF: tagged, on one page, in the person's language, nothing invented."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from assessments.calc.catalogue import MEASURES
from assessments.calc.targets import TARGETS
from patients.models import AuditEvent
from patients.pdf import pdf
from reports.sheets import for_patients, letters
from reports.sheets.texts import ENGLISH, SPANISH, Speaker, language_of, texts
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.prescription import PrescriptionFactory

BRACES = re.compile(r"\{(\w+)\}")


@pytest.fixture
def measured(course):
    """A course with a baseline and an exit on another corridor, and six weeks missing."""
    for kind, days, metres, corridor in (("baseline", 0, 400.0, 30.0), ("exit", 12, 456.0, 20.0)):
        on = course.starts_on + timedelta(days=days)
        assessment = AssessmentFactory(enrolment=course, kind=kind, performed_on=on)
        inputs = {"distance_m": metres, "course_m": corridor}
        MeasurementFactory(assessment=assessment, value=metres, inputs=inputs)
        gait = {"key": "gait_speed", "inputs": {}, "unit": "m/s", "formula_version": "v"}
        MeasurementFactory(assessment=assessment, value=0.9 + days / 100, **gait)
    return course


def pages(made):
    return re.findall(rb"/Type ?/Page\b", made)


def test_every_text_is_there_in_both_languages_with_the_same_blanks():
    for key, text in texts().items():
        english, spanish = text.words[ENGLISH], text.words[SPANISH]
        assert english.strip(), key
        assert spanish.strip(), key
        assert sorted(BRACES.findall(english)) == sorted(BRACES.findall(spanish)), key
        assert english.count("|") == spanish.count("|"), key
    assert {f"measure.{m.key}" for m in MEASURES if m.plain} <= texts().keys()
    assert {f"goal.{target.key}" for target in TARGETS} <= texts().keys()


def test_the_language_follows_what_is_spoken():
    spoken = {
        "": ENGLISH,
        "English": ENGLISH,
        "Spanish": SPANISH,
        "español, some English": SPANISH,
        "Castellano (Cuba)": SPANISH,
        "Polish": "",
        "Esperanto": "",
    }
    assert {words: language_of(words) for words in spoken} == spoken


def test_an_unreviewed_translation_says_so_in_both_languages():
    say = Speaker(SPANISH)
    say("home.talk")
    assert [words[:5] for words in say.warning()] == ["Ningú", "This "]
    english = Speaker(ENGLISH)
    english("home.talk")
    assert english.warning() == []
    assert (say.amount("1", "points"), say.amount("11", "stands")) == ("1 punto", "11 veces")
    assert say.amount("95", "%") == "95 %"


@pytest.mark.django_db
def test_a_dose_that_is_not_on_record_is_a_line_to_write_on(course):
    empty = dict(for_patients.home_exercise(course, Speaker(ENGLISH))["lines"])
    assert set(empty.values()) == {""}
    PrescriptionFactory(enrolment=course, rpe_low=11, rpe_high=13, upper_limit_bpm=None)
    data = for_patients.home_exercise(course, Speaker(SPANISH))
    lines = dict(data["lines"])
    assert lines["Esfuerzo, como en la clase"] == "de 11 a 13 en la escala de 6 a 20"
    assert lines["Nunca por encima de"] == ""
    assert lines["Minutos cada vez"] == ""  # those of the class are not those at home
    assert data["unsigned"].startswith("Un médico aún no ha firmado")


@pytest.mark.django_db
def test_home_days_are_those_of_the_dose_of_today(course):
    today = course.patient.site.today()
    usual = {"enrolment": course, "home_days": 3, "home_minutes": 25}
    PrescriptionFactory(**usual, replaced_on=today + timedelta(days=2))
    PrescriptionFactory(enrolment=course, valid_from=today + timedelta(days=2), home_days=5)
    lines = dict(for_patients.home_exercise(course, Speaker(ENGLISH))["lines"])
    assert list(lines.values())[1:3] == ["3", "25"]


def test_the_months_of_a_plan_begin_with_the_discharge(measured):
    plan = for_patients.maintenance_plan(measured, Speaker(SPANISH))
    assert plan["months"][0] == "1"
    walk = plan["result_rows"][0]
    apart = "456 m (medido de otra manera, no comparable)"
    assert walk == ["La distancia que camina en seis minutos", "400 m", apart]
    measured.closed_on = measured.starts_on.replace(year=2026, month=11, day=30)
    months = for_patients.maintenance_plan(measured, Speaker(SPANISH))["months"]
    assert (months[0], months[1], months[11]) == (
        *("diciembre 2026", "enero 2027", "noviembre 2027"),
    )


@pytest.mark.django_db
def test_a_card_never_says_none(course):
    course.patient.emergency_name = ""
    card = for_patients.wallet_card(course, Speaker(SPANISH))
    assert card["not_recorded"] == "sin datos / not recorded"
    assert dict(card["back"])["Alergias / Allergies"] == ""
    course.patient.has_no_allergies = True
    card = for_patients.wallet_card(course, Speaker(ENGLISH))
    assert dict(card["back"])["Allergies"] == "asked: none known"


@pytest.mark.django_db
def test_a_letter_says_what_is_missing_and_compares_only_what_is_alike(measured, clinician):
    walk, gait = letters.data_of(measured, letters.OCCASIONS["exit"], "primary_care", by=clinician)[
        "lines"
    ]
    assert walk["words"] == "not compared: not the same variant of the test"
    assert walk["change"] == ""
    assert walk["stages"][2]["why"] == "course length 20 m, was 30 m"
    assert gait["words"] == "better, meaningful and substantial"
    first = letters.data_of(measured, letters.OCCASIONS["enrolment"], "referrer", by=clinician)
    assert [len(line["stages"]) for line in first["lines"]] == [1, 1]
    assert first["lines"][0]["change"] == ""


@pytest.mark.django_db
def test_every_sheet_is_tagged_named_and_written_to_the_log(measured, client, clinician):
    measured.patient.language = "Spanish"
    measured.patient.save()
    client.force_login(clinician)
    person, course = [measured.patient_id], [measured.pk]
    asked = {
        "outcomes": reverse("reports:outcomes-pdf", args=person),
        "letter to primary care, discharge": reverse("reports:doctor-letter", args=course)
        + "?at=exit&to=primary_care",
        "home exercise, Spanish": reverse("reports:home-exercise", args=person),
        "wallet card, English": reverse("reports:wallet-card", args=person) + "?language=en",
        "maintenance plan, Spanish": reverse("reports:maintenance-plan", args=person),
    }
    for what, url in asked.items():
        answer = client.get(url)
        assert answer["Content-Type"] == "application/pdf", what
        for mark in (b"/MarkInfo", b"/StructTreeRoot", b"pdfuaid:part"):
            assert mark in answer.content, what
        name = measured.patient.family_name.encode()
        assert name not in answer["Content-Disposition"].encode()
        assert len(pages(answer.content)) == (2 if "plan" in what else 1), what
        spoken = rb"/Lang ?\(es" if "Spanish" in what else rb"/Lang ?\(en"
        assert re.search(spoken, answer.content), what
    exports = AuditEvent.objects.filter(kind="export", patient=measured.patient, user=clinician)
    assert {e.what for e in exports} == {f"{what}, PDF" for what in asked}


@pytest.mark.django_db
def test_a_letter_or_language_that_does_not_exist(measured, client, clinician):
    client.force_login(clinician)
    url = reverse("reports:doctor-letter", args=[measured.pk])
    assert client.get(f"{url}?at=never").status_code == 404
    assert client.get(f"{url}?to=press").status_code == 404
    page = reverse("reports:sheets", args=[measured.patient_id])
    assert "Go through them with an interpreter" not in client.get(page).content.decode()
    measured.patient.language = "Polish"
    measured.patient.save()
    assert "Go through them with an interpreter" in client.get(page).content.decode()


def test_data_is_text_and_never_markup():
    base = {"paper": "a4", "whose": "#panic()", "caution": "$x$", "title": "*t*"}
    letter = {
        **base,
        **dict.fromkeys(["heading", "on", "to_role", "to", "defers", "by", "role"], '#read("/x")'),
        "from": ["`a`"], "facts": [["<b>", "[c]"]], "answer": [], "heads": [], "lines": [],
        "sources": [],
    }  # fmt: skip
    assert pdf("letter", letter).startswith(b"%PDF")
