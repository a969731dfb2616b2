"""The time line of an event: one press a line, undone at once, corrected afterwards."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from programs.attendance.calc.time_line import ONE_PRESS
from programs.attendance.events import services
from programs.attendance.models import EventEntry
from tests.factories.attendance import EventEntryFactory, SafetyEventFactory

pytestmark = pytest.mark.django_db
KEY = "6f6e8f0e-6bb1-4d4c-8f3a-7f1c3f0f8a12"


@pytest.fixture
def event(site):
    return SafetyEventFactory(site=site)


@pytest.fixture
def floor(client, nurse):
    client.force_login(nurse)
    return client


def press(client, event, words, key=KEY):
    address = reverse("attendance:add-entry", args=[event.pk])
    assert client.post(address, {"press": words, "submission_key": key}).status_code == 302


def test_one_press_is_a_line_of_this_moment(floor, event, nurse):
    before = timezone.now()
    press(floor, event, "Shock delivered")
    entry = event.entries.get()
    assert (entry.words, entry.by) == ("Shock delivered", nurse)
    assert before <= entry.at <= timezone.now()


def test_a_double_press_is_one_line_and_another_button_another(floor, event):
    for words in ["Help called", "Help called", "Defibrillator on"]:
        press(floor, event, words)
    assert sorted(e.words for e in event.entries.all()) == ["Defibrillator on", "Help called"]


def test_the_same_press_later_is_another_line(floor, event):
    press(floor, event, "Shock delivered")
    press(floor, event, "Shock delivered", key="6f6e8f0e-6bb1-4d4c-8f3a-7f1c3f0f8a13")
    assert event.entries.count() == 2


def test_words_nobody_offered_are_no_press(floor, event):
    address = reverse("attendance:add-entry", args=[event.pk])
    page = floor.post(address, {"press": "Gave 5 mg of something"}).content.decode()
    assert not event.entries.exists()
    assert 'aria-invalid="true"' in page


def test_every_press_stands_on_the_page_until_the_review(floor, event, clinician):
    page = floor.get(reverse("attendance:event", args=[event.pk])).content.decode()
    assert all(f'value="{words}"' in page for words in ONE_PRESS)


def test_the_last_press_is_undone_with_one_and_comes_back(floor, event):
    press(floor, event, "Ambulance here")
    entry = event.entries.get()
    page = floor.get(reverse("attendance:event", args=[event.pk])).content.decode()
    assert "Undo" in page
    address = reverse("attendance:withdraw-entry", args=[entry.pk])
    for data, withdrawn in [({}, True), ({"back": "1"}, False), ({"back": "1"}, False)]:
        assert floor.post(address, data).status_code == 302
        entry.refresh_from_db()
        assert entry.is_withdrawn is withdrawn
    assert entry.history.count() == 3


def test_a_line_of_an_hour_ago_is_corrected_not_undone(floor, event, nurse):
    EventEntryFactory(event=event, by=nurse, at=timezone.now() - timedelta(hours=1))
    page = floor.get(reverse("attendance:event", args=[event.pk])).content.decode()
    assert "Undo" not in page
    assert "Correct" in page


def test_a_correction_keeps_what_stood_there(event, nurse):
    at = timezone.now() - timedelta(minutes=9)
    entry = EventEntryFactory(event=event, by=nurse, at=at, words="Shock delivered")
    earlier = at - timedelta(minutes=2)
    services.correct_entry(
        entry, "Shock delivered, 200 J", earlier, seen=services.stamp_of(entry), by=nurse
    )
    entry.refresh_from_db()
    assert (entry.words, entry.at) == ("Shock delivered, 200 J", earlier)
    assert [h.words for h in entry.history.all()][-1] != entry.words


def test_the_seconds_of_a_press_stay_when_only_the_words_change(event, nurse):
    at = timezone.now().replace(second=41, microsecond=0) - timedelta(minutes=5)
    entry = EventEntryFactory(event=event, by=nurse, at=at)
    whole_minute = at.replace(second=0)
    services.correct_entry(entry, "Lay down", whole_minute, seen=services.stamp_of(entry), by=nurse)
    entry.refresh_from_db()
    assert entry.at == at


def test_two_who_correct_the_same_line(floor, event, nurse):
    entry = EventEntryFactory(event=event, by=nurse)
    shown = services.stamp_of(entry)
    EventEntry.objects.filter(pk=entry.pk).update(words="Sat down, pale.")
    answer = floor.post(
        reverse("attendance:correct-entry", args=[entry.pk]),
        {"words": "Fell", "at": "2026-01-02T10:00", "stamp": shown},
    )
    page = answer.content.decode()
    assert "Somebody else changed this line meanwhile" in page
    assert 'value="Fell"' in page
    entry.refresh_from_db()
    assert entry.words == "Sat down, pale."


def test_a_time_ahead_is_refused_and_what_was_typed_stays(floor, event, nurse):
    entry = EventEntryFactory(event=event, by=nurse)
    data = {"words": "Fell", "at": "2999-01-01T10:00", "stamp": services.stamp_of(entry)}
    page = floor.post(reverse("attendance:correct-entry", args=[entry.pk]), data).content.decode()
    assert "holds what has happened" in page
    assert 'value="Fell"' in page
