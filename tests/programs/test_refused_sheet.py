"""A sheet that was refused or asks a question: every finding stands, the field asked about is
marked, and what was typed elsewhere on the sheet stays too."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from programs.attendance.models import ClassMeeting
from tests.factories.attendance import VisitFactory
from tests.factories.enrolment import PlannedSessionFactory
from tests.factories.patients import BodyWeightFactory

pytestmark = pytest.mark.django_db
ODD = {"before_heart_rate_bpm": "72", "before_pressure": "190/112", "before_weight_kg": "95"}


@pytest.fixture
def visit(course):
    planned = PlannedSessionFactory(enrolment=course)
    BodyWeightFactory(
        patient=course.patient, kg=80, on=course.patient.site.today() - timedelta(days=3)
    )
    return VisitFactory(enrolment=course, meeting=ClassMeeting.objects.get(slot=planned.slot))


def send(client, nurse, visit, route="attendance:sheet", **data):
    client.force_login(nurse)
    answer = client.post(reverse(route, args=[visit.pk]), data)
    assert answer.status_code == 200
    return answer.content.decode()


def box(page, name):
    return re.search(rf'<input[^>]*name="{name}"[^>]*>', page)[0]


def test_question_about_a_weight_hides_no_hold(client, nurse, visit):
    page = send(client, nurse, visit, step="save", shows="before", **ODD)
    assert not visit.readings.exists()
    live = page[page.index('id="live"') : page.index('id="sheet"')]
    # Resting pressure above 180 or 110 absolute: doi:10.2147/IBPC.S449086 (2024), Table 1.
    assert "190" in live
    assert "Not saved." in live
    assert "No alerts from the readings taken" not in live


def test_question_marks_the_box_it_is_about(client, nurse, visit):
    page = send(client, nurse, visit, step="save", shows="before", **ODD)
    asked = box(page, "before_weight_kg")
    assert 'aria-invalid="true"' in asked
    described = re.search(r'aria-describedby="([^"]+)"', asked)[1]
    beside = page[page.index(f'id="{described}"') :][:200]
    assert "weight 95 kg, last time 80 kg: is that right?" in beside.lower()
    assert "aria-invalid" not in box(page, "before_heart_rate_bpm")


def test_odd_value_goes_on_counting_while_it_is_asked_about(client, nurse, visit):
    """A systolic of 235 is asked about and is a hold all the same."""
    page = send(client, nurse, visit, step="save", shows="before", before_pressure="235/100")
    assert 'aria-invalid="true"' in box(page, "before_pressure")
    live = page[page.index('id="live"') : page.index('id="sheet"')]
    assert "235" in live


def test_what_cannot_be_read_refutes_no_hold(client, nurse, visit):
    hot = {"before_heart_rate_bpm": "70", "before_pressure": "124/76"}
    send_ok = {"step": "save", "shows": "before", "before_temperature_c": "38.5"} | hot
    client.force_login(nurse)
    url = reverse("attendance:sheet", args=[visit.pk])
    seen = client.get(url).context["form"]["seen_version"].value()
    assert client.post(url, send_ok | {"seen_version": seen}).status_code == 302
    page = client.get(url).content.decode()
    assert "Temperature 38.5 °C is above 38" in page
    page = send(client, nurse, visit, step="save", shows="before", before_temperature_c="39c5")
    assert "Temperature 38.5 °C is above 38" in page
    assert "No longer so" not in page


@pytest.mark.parametrize(
    ("route", "data", "kept"),
    [
        ("attendance:correct-arrival", {"at": "25:10", "seen_version": "1"}, "25:10"),
        ("attendance:take-back", {"reason": "wrong person", "seen_version": "1"}, "wrong person"),
        ("attendance:carbohydrate", {"grams": "900", "what": "juice"}, "juice"),
        ("attendance:recheck", {"recheck_mgdl": "9999"}, "9999"),
    ],
)
def test_what_was_typed_beside_the_sheet_stays(client, nurse, visit, route, data, kept):
    page = send(client, nurse, visit, route, **data)
    assert f'value="{kept}"' in page
    assert 'class="wrong"' in page or 'class="refused"' in page


def test_stale_correction_is_shown_again_and_can_be_sent_again(client, nurse, visit):
    data = {"at": "00:00", "seen_version": "0"}
    page = send(client, nurse, visit, "attendance:correct-arrival", **data)
    assert "Somebody else saved this visit meanwhile" in page
    assert f'name="seen_version" value="{visit.version}"' in page


def test_what_was_confirmed_once_is_not_asked_again(client, nurse, visit):
    client.force_login(nurse)
    url = reverse("attendance:sheet", args=[visit.pk])

    def typed(**more):
        form = client.get(url + "?correct=before").context["form"]
        return {
            "step": "save", "shows": "before", "because": "typed wrong",
            "seen_version": form["seen_version"].value(),
            **{name: form[name].value() or "" for name in form.fields if name.startswith("before_")
               and name not in {"before_asked", "before_ticks"}},
        } | more  # fmt: skip

    odd = {"before_heart_rate_bpm": "72", "before_pressure": "124/76", "before_weight_kg": "95"}
    page = client.post(url, typed(**odd))
    asked = page.context["form"]["confirmed"].value()
    assert "95" in asked
    assert client.post(url, typed(**odd, confirmed=asked)).status_code == 302
    # Saved again with another pulse: the weight stands as it was confirmed.
    assert client.post(url, typed(before_heart_rate_bpm="75")).status_code == 302
    assert visit.readings.get().heart_rate_bpm == 75
    # Another odd weight is another question.
    assert client.post(url, typed(before_weight_kg="99")).status_code == 200
    assert visit.readings.get().weight_kg == 95
