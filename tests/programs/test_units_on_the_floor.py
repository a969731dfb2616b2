"""Speed, load, temperature and QRS on the floor: typed and shown in the reader's own units.

Factors of NIST SP 811, appendix B.8: 1 mi = 1.609344 km, 1 lb = 0.45359237 kg.
"""

import uuid

import pytest
from django.urls import reverse

from programs.attendance.models import Bout, ClassMeeting, Reading, Visit
from programs.enrolment.models import PlannedSession
from programs.staff import services
from tests.factories.attendance import BoutFactory, ReadingFactory, VisitFactory
from tests.factories.enrolment import PlannedSessionFactory
from tests.factories.prescription import PrescriptionFactory

pytestmark = pytest.mark.django_db
SECOND = ["shows_pounds", "shows_mph", "shows_fahrenheit", "shows_mmoll", "shows_feet"]


@pytest.fixture
def visit(course):
    planned = PlannedSessionFactory(enrolment=course)
    meeting = ClassMeeting.objects.get(slot=planned.slot)
    visit = VisitFactory(enrolment=course, meeting=meeting, state="exercising", has_ecg=True)
    ReadingFactory(visit=visit, weight_kg=82.55381134, temperature_c=36.94, glucose_mgdl=99.0858)
    BoutFactory(visit=visit, place=1, activity="treadmill", speed_kmh=5.2, grade_percent=2)
    return visit


@pytest.fixture
def imperial(nurse):
    services.choose_settings(nurse, dict.fromkeys(SECOND, True))
    return nurse


def boxes(client, visit):
    """The sheet as a browser would send it back."""
    form = client.get(reverse("attendance:sheet", args=[visit.pk])).context["form"]
    found = {}
    for bound in form:
        value = bound.value()
        if isinstance(value, list | tuple) or value not in (None, "", False):
            found[bound.name] = value
    return found


def save(client, visit, **typed):
    data = boxes(client, visit) | {"step": "save", "shows": "all"} | typed
    return client.post(reverse("attendance:sheet", args=[visit.pk]), data)


def refusal(answer):
    """Why a sheet was not saved."""
    form = answer.context["form"]
    return form.errors, form.asks, dict(form.data.items())


def stored(visit):
    rows = [*Reading.objects.filter(visit=visit), *Bout.objects.filter(visit=visit)]
    return [(row.history.count(), row.__dict__ | {"_state": None}) for row in rows]


def test_a_sheet_saved_untouched_in_any_units_changes_nothing(client, visit, nurse):
    client.force_login(nurse)
    save(client, visit)
    before = stored(visit)
    for name in SECOND:
        services.choose_settings(nurse, {name: True})
        answer = save(client, visit)
        assert answer.status_code == 302, refusal(answer)
        assert stored(visit) == before, name


def test_the_sheet_shows_and_takes_the_readers_units(client, visit, imperial):
    client.force_login(imperial)
    shown = boxes(client, visit)
    assert shown["bout1_speed_kmh"] == "3.23"
    assert shown["before_weight_kg"] == "182"
    assert shown["before_temperature_c"] == "98.5"
    page = client.get(reverse("attendance:sheet", args=[visit.pk])).content.decode()
    assert ">mph</label>" in page
    assert ">Load lb</label>" in page
    typed = {"bout1_speed_kmh": "3", "before_temperature_c": "100.4", "because": "read again"}
    assert save(client, visit, **typed).status_code == 302
    assert Bout.objects.get(visit=visit).speed_kmh == pytest.approx(4.828032, abs=1e-9)
    assert Reading.objects.get(visit=visit).temperature_c == 38
    assert save(client, visit, bout1_speed_kmh="5,2 km/h").status_code == 302
    assert Bout.objects.get(visit=visit).speed_kmh == 5.2


def test_a_sheet_open_while_its_reader_chooses_other_units_is_read_as_shown(client, visit, nurse):
    client.force_login(nurse)
    data = boxes(client, visit) | {"step": "save", "bout1_speed_kmh": "5.6"}
    services.choose_settings(nurse, dict.fromkeys(SECOND, True))
    assert client.post(reverse("attendance:sheet", args=[visit.pk]), data).status_code == 302
    assert Bout.objects.get(visit=visit).speed_kmh == 5.6


def test_another_machine_keeps_no_setting_of_the_one_before(client, visit, nurse):
    client.force_login(nurse)
    typed = {"bout1_activity": "strength", "bout1_exercise": "leg_press", "bout1_load_kg": "20"}
    assert save(client, visit, **typed, because="typed wrongly").status_code == 302
    bout = Bout.objects.get(visit=visit)
    assert (bout.activity, bout.load_kg) == ("strength", 20)
    assert (bout.speed_kmh, bout.grade_percent) == (None, None)


def test_a_number_of_the_other_unit_is_refused_and_stays_as_typed(client, visit, nurse):
    client.force_login(nurse)
    page = save(client, visit, before_temperature_c="98.6").content.decode()
    assert "Is 98.6 in °F? Then write 98.6 °F." in page
    assert 'value="98.6"' in page


@pytest.mark.parametrize(("typed", "ms"), [("0.12", 120), ("110 ms", 110), ("0,1 s", 100)])
def test_a_qrs_is_taken_in_seconds_too(client, visit, nurse, typed, ms):
    client.force_login(nurse)
    assert save(client, visit, qrs_before_ms=typed).status_code == 302
    visit.refresh_from_db()
    assert visit.rhythm.qrs_before_ms == ms


def test_a_qrs_that_could_be_either_is_refused_by_name(client, visit, nurse):
    client.force_login(nurse)
    page = save(client, visit, qrs_before_ms="12").content.decode()
    assert "QRS duration: &#x27;12&#x27; is neither milliseconds nor seconds" in page


def press(client, visit, **more):
    planned = PlannedSession.objects.get(enrolment=visit.enrolment)
    data = {"stage": "exercise", "step": "save", "place": "1", "bout_activity": "treadmill",
            "was_bout_activity": "treadmill", "submission_key": str(uuid.uuid4())}  # fmt: skip
    url = reverse("attendance:line", args=[planned.pk])
    return client.post(url, data | more, headers={"HX-Request": "true"}).content.decode()


def test_a_line_shows_and_takes_speed_in_the_readers_unit(client, visit, imperial):
    client.force_login(imperial)
    page = client.get(reverse("attendance:today") + "?stage=exercise").content.decode()
    assert 'name="bout_load" value="3.23 mph 2 %"' in page
    assert 'name="speed_unit" value="mph"' in page
    assert 'name="weight_unit" value="lb"' in page  # of a strength load
    assert 'name="glucose_unit"' not in page  # there is no box for it
    shown = {"speed_unit": "mph", "weight_unit": "lb", "was_bout_load": "3.23 mph 2 %"}
    press(client, visit, bout_load="3.23 mph 4 %", **shown)
    bout = Bout.objects.get(visit=visit)
    assert (bout.speed_kmh, bout.grade_percent) == (5.2, 4)  # what was not touched is not rounded
    shown["was_bout_load"] = "3.23 mph 4 %"
    press(client, visit, bout_load="3 4", **shown)
    assert Bout.objects.get(visit=visit).speed_kmh == pytest.approx(4.828032, abs=1e-9)
    press(client, visit, bout_load="5\u00a0km/h 4", **shown)
    assert Bout.objects.get(visit=visit).speed_kmh == 5


def test_what_was_planned_is_not_rounded_by_being_shown(client, course, imperial):
    PrescriptionFactory(enrolment=course, treadmill_kmh=5.2, treadmill_grade_percent=2)
    planned = PlannedSessionFactory(enrolment=course)
    meeting = ClassMeeting.objects.get(slot=planned.slot)
    visit = VisitFactory(enrolment=course, meeting=meeting, state="exercising")
    client.force_login(imperial)
    data = boxes(client, visit)
    assert data.get("bout1_speed_kmh") == "3.23", data
    save(client, visit, bout1_minutes="20")
    assert Bout.objects.get(visit=visit).speed_kmh == 5.2


def test_paper_and_history_tell_the_readers_units(client, visit, imperial, people):
    client.force_login(imperial)
    page = client.get(reverse("attendance:session-record", args=[visit.pk])).content.decode()
    assert "3.23 mph" in page
    clinician = people["clinician"]
    services.choose_settings(clinician, {"shows_mph": True, "shows_pounds": True})
    save(client, visit, bout1_speed_kmh="3", before_weight_kg="180 lb", because="typed wrongly")
    client.force_login(clinician)
    page = client.get(reverse("reports:changes", args=[visit.enrolment.patient_id]))
    told = {(f.before, f.after) for line in page.context["lines"] for f in line.fields}
    assert ("5.2 km/h (3.23 mph)", "4.82803 km/h (3 mph)") in told
    assert ("82.5538 kg (182 lb)", "81.6466 kg (180 lb)") in told


def test_two_readers_of_one_visit_see_one_value(client, visit, nurse, people):
    """A nurse types pounds, a clinician reads and saves kilograms."""
    client.force_login(nurse)
    save(client, visit, before_weight_kg="181 lb", because="typed wrongly")
    kept = Reading.objects.get(visit=visit)
    client.force_login(people["clinician"])
    assert boxes(client, visit)["before_weight_kg"] == "82.1"
    save(client, visit)
    assert Reading.objects.get(visit=visit).weight_kg == kept.weight_kg
    assert kept.weight_kg == pytest.approx(181 * 0.45359237)
    assert Visit.objects.count() == 1
