"""Passing a reading by: named, with a reason kept whole, and some with a clinician."""

from uuid import uuid4

import pytest

from programs.attendance.calc.effort import Load
from programs.attendance.calc.questions import ASKED_AFTER, ASKED_BEFORE, SEEN_DURING
from programs.attendance.calc.rhythm import Rhythm
from programs.attendance.calc.sheet import Sheet, Vitals
from programs.attendance.findings.not_taken import StillLacking
from programs.attendance.meeting import services as services_meeting
from programs.attendance.models import NotTaken
from programs.attendance.sheet.services import go_on_without, save_sheet
from programs.attendance.visit import services
from tests.factories.enrolment import EntryScreenFactory
from tests.factories.patients import MedicineFactory

pytestmark = pytest.mark.django_db

CALM = Vitals(68, 126, 78, 97)
ALL_NO = {q.id: False for q in ASKED_BEFORE}
LONG = "the cuff of the large arm is at the workshop until Friday, and the other one slips; " * 2


def may_start(patient, *, by):
    """An entry screen that asked about what stands on record, and found nothing of it."""
    answers = dict.fromkeys(["E-08", "E-08b", "E-11", "E-12", "E-21"], False)
    EntryScreenFactory(
        patient=patient, by=by, answers=answers, found="nothing", decision="may_start"
    )


@pytest.fixture
def visit(planned, nurse):
    may_start(planned.enrolment.patient, by=nurse)
    return services.arrive(planned, by=nurse)


@pytest.fixture
def save(nurse):
    def run(visit, sheet, step="save", **more):
        visit.refresh_from_db()
        options = {"seen": visit.version, "key": None, "by": nurse} | more
        return save_sheet(visit, sheet, step, **options)

    return run


def whole(**more):
    """A sheet before exercise that leaves nothing to ask for."""
    return Sheet(**({"before": CALM, "answers": ALL_NO, "has_ecg": False} | more))


def what(result):
    return [one.what for one in result.lacking]


def test_start_with_everything_taken_asks_nothing(visit, save):
    result = save(visit, whole(), "start")
    assert (what(result), result.visit.state) == ([], "exercising")
    assert not NotTaken.objects.exists()


def test_start_names_what_was_not_taken_and_keeps_what_was_typed(visit, save):
    result = save(visit, whole(before=Vitals(68)), "start")
    assert what(result) == ["blood pressure", "oxygen saturation"]
    assert result.visit.state == "arrived"
    assert [r.heart_rate_bpm for r in visit.readings.all()] == [68]


def test_reasons_are_kept_whole_and_the_step_goes_on(visit, save, nurse):
    save(visit, whole(before=Vitals(68)), "start")
    visit.refresh_from_db()
    reasons = {"blood pressure": LONG[:200], "": "the clip is broken"}
    result = go_on_without(visit, "start", reasons, seen=visit.version, key=None, by=nurse)
    assert result.visit.state == "exercising"
    kept = {row.what: row.because for row in NotTaken.objects.all()}
    assert kept == {
        "blood pressure": LONG[:200].strip(),
        "oxygen saturation": "the clip is broken",
    }


def test_one_reason_missing_keeps_nothing_until_it_is_there(visit, save, nurse):
    save(visit, whole(before=Vitals(68)), "start")
    visit.refresh_from_db()
    key = uuid4()
    with pytest.raises(StillLacking) as left:
        go_on_without(
            visit, "start", {"blood pressure": "no cuff"}, seen=visit.version, key=key, by=nurse
        )
    assert [one.what for one in left.value.lacking] == ["oxygen saturation"]
    visit.refresh_from_db()
    assert visit.state == "arrived"
    reasons = {"blood pressure": "no cuff", "oxygen saturation": "no clip"}
    again = go_on_without(visit, "start", reasons, seen=visit.version, key=key, by=nurse)
    assert again.visit.state == "exercising"
    assert NotTaken.objects.count() == 2


@pytest.mark.parametrize("without", ["questions", "glucose"])
def test_questions_and_glucose_on_insulin_need_a_clinician(visit, save, nurse, clinician, without):
    sheet = whole()
    if without == "questions":
        sheet = whole(answers={"chest_pain": False})
    else:
        MedicineFactory(
            patient=visit.enrolment.patient, name="insulin lispro", drug_class="insulin"
        )
    save(visit, sheet, "start")

    def go(by, decided_by=""):
        visit.refresh_from_db()
        return go_on_without(
            visit, "start", {"": "in a hurry"}, decided_by, seen=visit.version, key=None, by=by
        )

    with pytest.raises(StillLacking) as left:
        go(nurse)
    assert len(left.value.lacking) == 1
    assert go(nurse, "Dr Lind").visit.state == "exercising"
    assert NotTaken.objects.get().decided_by == "Dr Lind"


def test_a_clinician_needs_nobody_elses_name(visit, save, clinician):
    save(visit, whole(answers={}), "start")
    visit.refresh_from_db()
    result = go_on_without(
        visit, "start", {"": "asked on the phone"}, seen=visit.version, key=None, by=clinician
    )
    assert result.visit.state == "exercising"


def test_finish_asks_for_what_came_after_and_not_again_for_what_was_passed_by(visit, save):
    save(visit, whole(before=Vitals(68, 126, 78)), "start", not_taken={"": "no clip"})
    done = (Load("treadmill", 35, speed_kmh=4, heart_rate_bpm=96, systolic_mmhg=150,
                 diastolic_mmhg=80, spo2_percent=96, angina=0, dyspnoea=0),)  # fmt: skip
    seen = {q.id: False for q in (*ASKED_BEFORE, *SEEN_DURING)}
    sheet = Sheet(before=Vitals(68, 126, 78), answers=seen, bouts=done, minutes=40, has_ecg=False)
    result = save(visit, sheet, "finish")
    assert result.visit.state == "exercising"
    assert what(result) == [
        "blood pressure in recovery",
        "heart rate in recovery",
        "symptoms in recovery",
    ]
    answers = seen | {q.id: False for q in ASKED_AFTER}
    over = Sheet(before=Vitals(68, 126, 78), answers=answers, bouts=done, minutes=40,
                 has_ecg=False, recovery=Vitals(80, 124, 76), rhythm=Rhythm())  # fmt: skip
    assert save(visit, over, "finish").visit.state == "finished"


def test_start_all_leaves_out_whoever_lacks_something(visit, save, nurse):
    save(visit, whole(before=Vitals(68, 126, 78)))
    started, left = services_meeting.start_ready(visit.meeting, by=nurse)
    assert started == []
    assert [why for _, why in left] == ["not taken yet: oxygen saturation"]
