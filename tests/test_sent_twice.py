"""The same form counts once; a refused one, corrected, is stored; another one is never dropped."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse

from patients.claims import claim
from patients.submissions import key_in, key_of, new_key
from programs.attendance.models import ClassMeeting
from programs.enrolment.models import ReferralList
from tests.factories.attendance import SafetyEventFactory, VisitFactory
from tests.factories.enrolment import PlannedSessionFactory

pytestmark = pytest.mark.django_db


def send(client, user, route, key, pk=None, **data):
    client.force_login(user)
    address = reverse(route, args=[pk] if pk else [])
    return client.post(address, {"submission_key": key} | data)


def test_recheck_of_a_visit_that_is_not_open_is_refused_in_words(client, nurse, course):
    """It answered with an error of the server, and had taken the key."""
    planned = PlannedSessionFactory(enrolment=course)
    meeting = ClassMeeting.objects.get(slot=planned.slot)
    visit = VisitFactory(enrolment=course, meeting=meeting, state="expected")
    answer = send(client, nurse, "attendance:recheck", new_key(), visit.pk, recheck_mgdl="110")
    assert answer.status_code == 200
    assert "A recheck is noted on the day" in answer.content.decode()
    assert 'value="110"' in answer.content.decode()


def test_refused_line_of_an_event_is_stored_once_corrected(client, nurse, site):
    event, key = SafetyEventFactory(site=site), new_key()
    ahead = {"words": "Ambulance here", "at": "2999-01-01T10:00"}
    assert send(client, nurse, "attendance:add-entry", key, event.pk, **ahead).status_code == 200
    for _ in range(2):
        send(client, nurse, "attendance:add-entry", key, event.pk, words="Ambulance here")
    assert list(event.entries.values_list("words", flat=True)) == ["Ambulance here"]


def test_what_was_changed_after_a_save_is_never_dropped_for_a_known_key(client, nurse, site):
    """Back to the page of a saved form, another line typed: both lines are there."""
    event, key = SafetyEventFactory(site=site), new_key()
    for words in ["Pulse regular", "Pulse regular", "Talks again"]:
        send(client, nurse, "attendance:add-entry", key, event.pk, words=words)
    assert sorted(event.entries.values_list("words", flat=True)) == ["Pulse regular", "Talks again"]


def test_emergency_pressed_twice_is_one_time_line(client, nurse, site):
    key = new_key()
    first = send(client, nurse, "attendance:start-event", key)
    second = send(client, nurse, "attendance:start-event", key)
    assert site.events.count() == 1
    assert first.url == second.url == reverse("attendance:event", args=[site.events.get().pk])


def test_every_page_gives_the_emergency_a_key_of_its_own(client, nurse):
    client.force_login(nurse)
    pages = [client.get(reverse("attendance:events")).content.decode() for _ in range(2)]
    for page in pages:
        start = page[page.index('id="emergency"') :]
        assert 'name="submission_key"' in start[: start.index("Start the time line")]
    assert pages[0] != pages[1]


def test_key_belongs_to_the_values_typed():
    shown = new_key()
    same = [{"a": "1", "csrfmiddlewaretoken": t, "submission_key": shown} for t in "xy"]
    assert key_of(shown, same[0]) == key_of(shown, same[1])
    assert key_of(shown, {"a": "2"}) != key_of(shown, {"a": "1"})
    assert key_of(new_key(), {"a": "1"}) != key_of(shown, {"a": "1"})
    assert key_in({"submission_key": "no key"}) is None


@pytest.mark.django_db(transaction=True)
def test_key_is_not_taken_outside_the_save_it_stands_for(nurse):
    with pytest.raises(transaction.TransactionManagementError):
        claim(new_key(), by=nurse)


def test_list_sent_twice_is_one_list_and_another_file_is_another(client, clinician):
    client.force_login(clinician)
    key = new_key()

    def upload(text):
        file = SimpleUploadedFile("list.csv", text)
        return client.post(reverse("enrolment:upload"), {"submission_key": key, "file": file})

    ada, ben = (f"Name;DOB;Referral date\n{n};1960-01-01;2026-01-01" for n in ["A A", "B B"])
    first, second = upload(ada.encode()), upload(ada.encode())
    assert ReferralList.objects.count() == 1
    assert first.url == second.url
    upload(ben.encode())
    assert ReferralList.objects.count() == 2
