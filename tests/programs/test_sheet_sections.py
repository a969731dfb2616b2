"""The parts of a session sheet: boxes where something is to be entered, values where it is done,
and what is not shown kept as it is stored."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.attendance.models import Bout, Visit
from programs.attendance.sheet import layout, sections
from programs.attendance.sheet.forms import SheetForm
from programs.attendance.sheet.stored import initial_of
from programs.attendance.visit.queries import stored_sheet, with_detail
from programs.staff.models import User
from tests.factories.attendance import BoutFactory, ReadingFactory, RhythmFactory, VisitFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(planned, nurse):
    """Somebody exercises: a bout is over, one runs, everything before it is on record."""
    began = timezone.now() - timedelta(minutes=20)
    visit = VisitFactory(
        enrolment=planned.enrolment, state="exercising", arrived_at=began, started_at=began,
        answers={"dizzy": True}, symptoms="light-headed", has_ecg=True,
    )  # fmt: skip
    ReadingFactory(visit=visit, phase="before", weight_kg=80.04, glucose_mgdl=111.3)
    RhythmFactory(visit=visit, before="sinus")
    BoutFactory(visit=visit, place=1, minutes=12, heart_rate_bpm=112, rpe=13)
    Bout.objects.create(visit=visit, place=2, activity="cycle", power_w=40, began_at=began)
    return visit


@pytest.fixture
def sheet(client, nurse, visit):
    client.force_login(nurse)
    address = reverse("attendance:sheet", args=[visit.pk])

    def ask(query="", **typed):
        if not typed:
            return client.get(address + query).content.decode()
        typed = {"step": "save", "seen_version": visit.version, **typed}
        return client.post(address + query, typed)

    return ask


def stored(visit):
    return stored_sheet(with_detail(Visit.objects.get(pk=visit.pk))[0])


def test_every_box_stands_in_one_section():
    form = SheetForm(initial={}, version=0, with_exercise=True, plan=[])
    for name in form.fields:
        section = sections.section_of(name)
        assert (section == "") == (name in sections.ALWAYS), name
        assert section in {"", *sections.SECTIONS}, name


def test_a_part_that_is_done_tells_every_box_of_it():
    """What has no box on the page is told, or somebody looks for it in vain."""
    form = SheetForm(initial={}, version=0, with_exercise=True, plan=[])
    told = {
        "before": {*layout.TOLD_BEFORE, "before_ticks"},
        "exercise": {*layout.TOLD_EXERCISE, "during_ticks", "monitor_ticks"},
        "after": {*layout.TOLD_AFTER, "after_ticks"},
    }
    for section, names in told.items():
        assert names == {name for name in form.fields if sections.section_of(name) == section}


def test_boxes_stand_only_where_something_is_to_be_entered(sheet):
    page = sheet()
    for name in ["bout2_heart_rate_bpm", "bout3_activity", "during_asked", "recovery_pressure"]:
        assert f'name="{name}"' in page
    for name in ["before_pressure", "bout1_heart_rate_bpm", "bout4_activity"]:
        assert f'name="{name}"' not in page
    assert "<dt>Weight</dt><dd>80.04 kg</dd>" in page
    assert "Dizzy or light-headed (not all asked)" in page
    assert "<td>112</td>" in page


@pytest.mark.parametrize(
    ("state", "opened"),
    [
        ("arrived", {"before"}),
        ("held", set()),
        ("exercising", {"exercise", "after", "bout2", "bout3"}),
        ("stopped", {"exercise", "after", "bout2"}),
        ("finished", set()),
    ],
)
def test_the_state_opens_what_it_needs(visit, state, opened):
    visit.state = state
    with_exercise = state not in {"arrived", "held"}
    assert sections.open_sections(visit, 1, with_exercise=with_exercise) == opened


def test_what_is_not_shown_is_kept(sheet, visit):
    was = stored(visit)
    answer = sheet(shows="bout2 after", bout2_activity="cycle", bout2_power_w="45")
    assert answer.status_code == 302
    now = stored(visit)
    assert now.bouts[1].power_w == 45
    assert now.bouts[0] == was.bouts[0]
    assert (now.before, now.symptoms, now.rhythm) == (was.before, was.symptoms, was.rhythm)
    assert now.answers["dizzy"] is True
    assert replace(now, bouts=was.bouts) == was


def test_what_is_not_shown_is_kept_in_other_units(sheet, visit, nurse):
    """Shown as 176.5 lb and 6.2 mmol/L, a weight would come back as another number of kg."""
    User.objects.filter(pk=nurse.pk).update(shows_pounds=True, shows_mmoll=True)
    was = stored(visit).before
    data = {"shows": "after", "weight_unit": "lb", "glucose_unit": "mmol/L", "note": "fine"}
    assert sheet(**data).status_code == 302
    assert stored(visit).before == was


def test_a_correction_of_a_bout_leaves_the_others(sheet, visit):
    page = sheet("?correct=bout1")
    assert 'name="bout1_heart_rate_bpm"' in page
    answer = sheet(
        shows="bout1", bout1_activity="treadmill", bout1_minutes="11",
        bout1_heart_rate_bpm="110", bout1_rpe="13", because="read from the wrong line",
    )  # fmt: skip
    assert answer.status_code == 302
    rows = {b.place: b for b in visit.bouts.all()}
    assert (rows[1].heart_rate_bpm, rows[1].minutes, rows[2].power_w) == (110, 11, 40)


def test_lifted_sets_are_told_with_what_was_left_in_reserve(sheet, visit):
    answer = sheet(
        shows="bout2", bout2_activity="strength", bout2_exercise="Leg press", bout2_sets="2",
        bout2_repetitions="12", bout2_load_kg="40", bout2_in_reserve="5", bout2_rpe="12",
    )  # fmt: skip
    assert answer.status_code == 302
    row = visit.bouts.get(place=2)
    assert (row.repetitions, row.load_kg, row.in_reserve) == (12, 40.0, 5)
    page = sheet()
    assert "2 × 12 40 kg, 5 in reserve" in page


def test_the_rhythm_monitor_of_last_time_is_confirmed_only_where_it_is_shown(sheet, visit):
    Visit.objects.filter(pk=visit.pk).update(has_ecg=None)
    VisitFactory(
        enrolment=visit.enrolment, finished=True, has_ecg=True, on=visit.on - timedelta(days=2)
    )
    assert sheet(shows="after", note="fine").status_code == 302
    assert Visit.objects.get(pk=visit.pk).has_ecg is None


def test_a_refused_box_of_another_part_stands_open(sheet, visit):
    """A bout that has no minutes refuses the finish; it is there to be corrected."""
    visit.bouts.filter(place=1).update(minutes=None)
    answer = sheet(shows="bout2 after", step="finish", minutes="40", bout2_activity="cycle")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="bout1_minutes"' in page
    assert "How many minutes?" in page
    assert 'name="shows" value="bout1 bout2 after"' in page


def test_an_odd_value_on_record_is_not_asked_about_again(sheet, visit):
    """235/100 was confirmed before exercise; saving what comes after asks about its own boxes."""
    visit.readings.update(systolic_mmhg=235, diastolic_mmhg=100)
    assert sheet(shows="after", note="fine").status_code == 302
    asked = sheet(shows="after", recovery_pressure="235/100", seen_version=visit.version + 1)
    assert "Is that right?" in asked.content.decode()


def test_sent_twice_counts_once_though_the_record_moved_on(sheet, visit):
    """The key is of what was typed, not of what is stored beside it by then."""
    data = {
        "shows": "after", "recovery_heart_rate_bpm": "78",
        "submission_key": "6f6e8f0e-6bb1-4d4c-8f3a-7f1c3f0f8a11",
    }  # fmt: skip
    assert sheet(**data).status_code == 302
    visit.bouts.filter(place=1).update(heart_rate_bpm=111)
    assert sheet(**data).status_code == 302
    assert visit.readings.filter(phase="recovery").count() == 1


def test_finished_the_form_has_no_boxes_and_every_part_its_correction(sheet, visit):
    Visit.objects.filter(pk=visit.pk).update(state="finished", minutes=32)
    visit.bouts.filter(place=2).update(minutes=20, rpe=12)
    page = sheet()
    assert 'name="step" value="save"' not in page
    for part in ["before", "exercise", "after", "bout1", "bout2"]:
        assert f"?correct={part}" in page
    more = sheet("?correct=exercise")
    assert 'name="bout3_activity"' in more
    assert 'name="bout2_activity"' not in more


def test_what_was_not_taken_is_named(sheet, visit):
    visit.readings.update(phase="recovery")
    page = sheet()
    assert "<dt>HR</dt><dd>not taken</dd>" in page
    assert "<dt>BP</dt><dd>not taken</dd>" in page


def test_who_may_only_look_gets_no_correction(client, visit, people):
    client.force_login(people["manager"])
    answer = client.get(reverse("attendance:sheet", args=[visit.pk]))
    assert "?correct=" not in answer.content.decode()


def test_the_stored_form_is_unchanged_by_being_shown(visit):
    form = SheetForm(
        initial=initial_of(visit, frozenset()), version=1, with_exercise=True, plan=[],
        shown=frozenset(["after"]),
    )  # fmt: skip
    assert form.initial["shows"] == "after"
    assert form.shows_slug == "after"
