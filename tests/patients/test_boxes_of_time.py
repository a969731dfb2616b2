"""Boxes of days and hours: written in the site's way, read in the way they were shown."""

import zoneinfo
from datetime import UTC, date, datetime, time

import pytest
from django import forms
from django.utils import timezone

from patients.boxes_of_time import DayField, HourField, MomentField
from patients.wall import Wall, written_as

US, UK, ISO = Wall(True, "mdy"), Wall(False, "dmy"), Wall(False, "iso")
NEW_YORK = zoneinfo.ZoneInfo("America/New_York")


class Sample(forms.Form):
    day = DayField(required=False)
    hour = HourField(required=False)
    at = MomentField(required=False)


def sent_back(form):
    """What a browser sends: the boxes, and beside each the way it is written in."""
    data = {}
    for name in form.fields:
        widget = form[name].subwidgets[0].data
        data |= {name: widget["value"] or "", widget["beside_name"]: widget["beside"]}
    return data


@pytest.fixture(autouse=True)
def here():
    with timezone.override(NEW_YORK):
        yield


@pytest.mark.parametrize("wall", [US, UK, ISO])
@pytest.mark.parametrize("later", [US, UK, ISO])
def test_a_form_open_while_the_site_changes_is_read_as_it_was_shown(wall, later):
    at = datetime(2026, 4, 3, 18, 5, 59, 123456, tzinfo=UTC)
    stored = {"day": date(2026, 4, 3), "hour": time(2, 5), "at": at}
    with written_as(wall):
        data = sent_back(Sample(initial=stored))
    with written_as(later):
        form = Sample(data)
        assert form.is_valid(), form.errors
        assert form.cleaned_data == stored  # to the second, though no second is shown


def test_boxes_are_written_in_the_sites_way():
    stored = {"day": date(2026, 4, 3), "hour": time(14, 5),
              "at": datetime(2026, 4, 3, 18, 5, tzinfo=UTC)}  # fmt: skip
    shown = {
        US: ("04/03/2026", "2:05 pm", "04/03/2026 2:05 pm"),
        UK: ("03/04/2026", "14:05", "03/04/2026 14:05"),
        ISO: ("2026-04-03", "14:05", "2026-04-03 14:05"),
    }
    for wall, texts in shown.items():
        with written_as(wall):
            data = sent_back(Sample(initial=stored))
        assert (data["day"], data["hour"], data["at"]) == texts


def test_a_refused_box_stands_as_typed_and_keeps_its_way():
    with written_as(US):
        data = sent_back(Sample()) | {"day": "26/11/2026", "hour": "2:30"}
    with written_as(UK):
        form = Sample(data)
        assert not form.is_valid()
        html = str(form["day"])
    assert "If it is 26 Nov 2026, write 11/26/2026." in form.errors["day"][0]
    assert "2:30 am or 2:30 pm?" in form.errors["hour"][0]
    assert 'value="26/11/2026"' in html
    assert 'name="day-as" value="mdy-12"' in html


@pytest.mark.parametrize(
    ("wall", "text", "stored"),
    [
        (US, "4/3/2026 2:05 pm", "2026-04-03T14:05-04:00"),
        (US, "4/3/2026, 2:05 pm", "2026-04-03T14:05-04:00"),
        (US, "3 Apr 2026 2:05p", "2026-04-03T14:05-04:00"),
        (US, "2026-04-03T02:05", "2026-04-03T02:05-04:00"),  # as machines write it: of 24 hours
        (UK, "3/4/2026 1405", "2026-04-03T14:05-04:00"),
        (ISO, "2026-04-03 12:00 midnight", "2026-04-03T00:00-04:00"),
        (US, "11/1/2026 1:30 am EDT", "2026-11-01T01:30-04:00"),
        (US, "11/1/2026 1:30 am EST", "2026-11-01T01:30-05:00"),
        (US, "4/3/2026 2:05 PM EDT", "2026-04-03T14:05-04:00"),
    ],
)
def test_a_moment_is_on_the_clock_on_the_wall(wall, text, stored):
    with written_as(wall):
        assert MomentField().clean(text) == datetime.fromisoformat(stored)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        # US clocks in 2026: forward on 8 March, back on 1 November (15 U.S.C. 260a).
        ("3/8/2026 2:30 am", "there was no such time on 8 Mar 2026"),
        ("11/1/2026 1:30 am", "came twice on 1 Nov 2026, when clocks went back: write EDT or EST"),
        ("4/3/2026 2:05 PM EST", "EST is not the time of this site"),
        ("26/11/2026 2:30 pm", "If it is 26 Nov 2026, write 11/26/2026."),
        ("11/26/2026", "write a day and a time"),
        ("2:30 pm", "write a day and a time"),
        ("11/26/2026 2:30", "2:30 am or 2:30 pm?"),
        ("soon", "write a day and a time, such as 11/26/2026 2:30 pm"),
    ],
)
def test_a_moment_that_is_none_or_two_is_refused(text, words):
    with written_as(US), pytest.raises(forms.ValidationError) as refused:
        MomentField().clean(text)
    assert words in refused.value.messages[0]


def test_a_moment_in_the_hour_that_comes_twice_is_saved_again_unchanged():
    second = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)  # 1:30 EST
    with written_as(US):
        form = Sample(sent_back(Sample(initial={"at": second})))
        assert form.is_valid(), form.errors
    assert form.cleaned_data["at"] == second


@pytest.mark.parametrize("beside", ["mdy-12 yesterday", "xyz-12", "", "mdy-13"])
def test_a_way_nobody_knows_is_the_sites(beside):
    with written_as(UK):
        form = Sample({"day": "3/4/2026", "day-as": beside.replace("mdy-12", "dmy-24")})
        assert form.is_valid()
    assert form.cleaned_data["day"] == date(2026, 4, 3)
