"""A class's next steps on one page, and one person's step taken, changed or left."""

import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import F
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from patients.models import Precaution
from programs.attendance.models import Bout, Visit
from programs.attendance.visit.bouts import planned_bouts
from programs.prescription.models import Prescription, StepAnswer
from programs.prescription.queries_known import basis_now, record_for
from programs.review.progression import queries, services
from tests.easy_week import an_easy_week
from tests.factories.assessments import AssessmentFactory, MeasurementFactory
from tests.factories.attendance import (
    BoutFactory,
    FindingFactory,
    InterruptionFactory,
    VisitFactory,
)
from tests.factories.enrolment import ClassSlotFactory, EnrolmentFactory
from tests.factories.patients import DeviceFactory, MedicineFactory, PrecautionFactory

pytestmark = pytest.mark.django_db


def line_of(course):
    return queries.lines_of([course], course.patient.site.today())[0]


@pytest.fixture
def easy(course, physician):
    return an_easy_week(course, physician)


def test_a_step_is_taken_by_one_press_and_counts_once(client, course, easy, clinician):
    slot = ClassSlotFactory(site=course.patient.site)
    course.slots.add(slot)
    client.force_login(clinician)
    page = client.get(reverse("review:progression"), {"class": slot.pk}).content.decode()
    assert "30 → 34 min" in page
    sent = {"dose": easy.pk, "submission_key": str(uuid.uuid4())}
    to = reverse("review:take-step", args=[course.pk])
    for _ in range(2):
        assert client.post(to, sent).status_code == 302
    new = course.prescriptions.in_force(course.patient.site.today()).get()
    assert (new.minutes, new.target_mets, new.rpe_low, new.method) == (34, 3.0, 12, "exertion")
    assert new.covered_by == easy  # inside what is signed: nobody has to sign again
    answer = StepAnswer.objects.get()
    assert (answer.answer, answer.prescription, answer.by) == ("taken", new, clinician)
    page = client.get(reverse("review:progression"), {"class": slot.pk}).content.decode()
    assert "0 to decide" in page
    assert "Taken" in page


def test_other_numbers_are_kept_as_a_change_and_beyond_the_limits_they_wait(
    client, course, easy, clinician
):
    client.force_login(clinician)
    url = reverse("review:step", args=[course.pk])
    form = client.get(url).context["taking"]
    assert (form.initial["minutes"], form.initial["mets"]) == (34, 3.0)
    refused = client.post(url, {"dose": easy.pk, "minutes": "", "mets": "3"})
    assert "data-refused" in refused.content.decode()
    assert client.post(url, {"dose": easy.pk, "minutes": "42", "mets": "3"}).status_code == 302
    answer = StepAnswer.objects.get()
    assert answer.answer == "changed"
    assert answer.prescription.is_waiting
    assert course.prescriptions.in_force(course.patient.site.today()).get() == easy


def test_a_step_is_left_with_a_reason_and_comes_again_after_a_week(client, course, easy, clinician):
    client.force_login(clinician)
    url = reverse("review:step", args=[course.pk])
    assert "data-refused" in client.post(url, {"dose": easy.pk, "because": ""}).content.decode()
    assert client.post(url, {"dose": easy.pk, "because": "sore knee"}).status_code == 302
    assert not line_of(course).is_open
    StepAnswer.objects.update(on=course.patient.site.today() - timedelta(days=7))
    assert line_of(course).is_open


def test_a_dose_written_meanwhile_is_not_overrun(course, easy, clinician):
    with pytest.raises(ValidationError, match="Another dose"):
        services.take(course, seen=easy.pk - 1, by=clinician)
    services.take(course, seen=easy.pk, by=clinician)
    with pytest.raises(ValidationError, match="Another dose"):
        services.take(course, seen=easy.pk, by=clinician)
    assert Prescription.objects.count() == 2


def test_the_dose_in_force_is_no_step(course, easy, clinician):
    with pytest.raises(ValidationError, match="Leave the step"):
        services.take(course, services.Numbers(30, 3.0), seen=easy.pk, by=clinician)


def test_machines_keep_adding_up(course, physician, clinician):
    kinds = [("treadmill", 20), ("cycle", 10)]
    loads = [{"kind": kind, "name": kind, "minutes": n} for kind, n in kinds]
    easy = an_easy_week(course, physician, loads=loads)
    new = services.take(course, seen=easy.pk, by=clinician).prescription
    assert {load["kind"]: load["minutes"] for load in new.loads if load["minutes"]} == {
        "treadmill": 24,
        "cycle": 10,
    }


def a_hold_that_was_cleared(course, last):
    FindingFactory(visit=last, level=3, cleared_at=last.arrived_at)


def a_caution(course, last):
    FindingFactory(visit=last, level=2)


def a_stop_without_a_finding(course, last):
    InterruptionFactory(visit=last, kind="stop", seen="Pale")


def a_stop_not_documented(course, last):
    Visit.objects.filter(pk=last.pk).update(state="stopped")


def a_hold_not_documented(course, last):
    Visit.objects.filter(pk=last.pk).update(state="held", counts_first=False, minutes=None)


def a_bout_too_hard(course, last):
    BoutFactory(visit=last, place=2, minutes=5, rpe=15)


def an_undecided_hold_today(course, last):
    """Somebody checked in with a pressure over the limit; nobody has decided yet."""
    now = VisitFactory(enrolment=course, meeting__on=course.patient.site.today())
    FindingFactory(visit=now, level=3)


def no_exertion_recorded(course, last):
    last.bouts.update(rpe=None)


def a_bout_withdrawn(course, last):
    last.bouts.update(is_withdrawn=True)


def only_strength(course, last):
    last.bouts.update(activity="strength")


def a_new_device(course, last):
    DeviceFactory(patient=course.patient, implanted_on=course.patient.site.today())


def a_new_medicine(course, last):
    MedicineFactory(patient=course.patient, started_on=course.patient.site.today())


def nothing_signed(course, last):
    Prescription.objects.update(signed_at=None, signed_by=None)


@pytest.mark.parametrize(
    "what",
    [a_hold_that_was_cleared, a_caution, a_stop_without_a_finding, a_stop_not_documented,
     a_hold_not_documented, an_undecided_hold_today, a_bout_too_hard, no_exertion_recorded,
     a_bout_withdrawn, only_strength, a_new_device, a_new_medicine, nothing_signed],
)  # fmt: skip
def test_nothing_is_raised_upon(course, physician, clinician, what):
    """H-44 for holds and cautions (common practice, no source); what is not known is not easy."""
    easy = an_easy_week(course, physician)
    now = basis_now(course, record_for(course), course.patient.site.today())
    Prescription.objects.update(basis=now.stored())
    assert line_of(course).proposal.step == "longer"
    what(course, course.visits.order_by("-on").first())
    line = line_of(course)
    assert line.proposal.step == "as it is", line.proposal
    with pytest.raises(ValidationError, match="Nothing is proposed"):
        services.take(course, seen=easy.pk, by=clinician)


def test_only_who_prescribes_decides(client, course, easy, nurse, physician):
    client.force_login(nurse)
    url = reverse("review:step", args=[course.pk])
    assert client.get(url).context["taking"] is None
    assert client.post(url, {"dose": easy.pk, "minutes": "34", "mets": "3"}).status_code == 403
    assert not StepAnswer.objects.exists()


def test_a_class_costs_the_same_for_three_and_for_nine(client, site, clinician, physician):
    slot = ClassSlotFactory(site=site)
    client.force_login(clinician)
    url, counts = reverse("review:progression"), []
    for _ in range(3):
        for _ in range(3):
            course = EnrolmentFactory(patient__site=site)
            course.slots.add(slot)
            an_easy_week(course, physician)
        with CaptureQueriesContext(connection) as asked:
            page = client.get(url, {"class": slot.pk})
        assert page.content.decode().count("→ 34 min") == 3 * (len(counts) + 1)
        counts.append(len(asked))
    assert counts[1] == counts[2]
    assert counts[2] <= 30


@pytest.mark.parametrize("state", ["arrived", "exercising"])
def test_a_session_that_is_not_over_is_not_taken_for_one_without_readings(course, easy, state):
    VisitFactory(enrolment=course, meeting__on=course.patient.site.today(), state=state)
    assert line_of(course).proposal.step == "longer"


# --- resistance ---------------------------------------------------------------------------------

PRESS = {"exercise": "Leg press", "repetitions": 12, "load_kg": 40.0}


@pytest.fixture
def lifting(course, physician):
    """Both sessions of the week with an easy set of what is prescribed; minutes rose last."""
    dose = an_easy_week(
        course, physician, strength="light", most_strength="moderate", lifts=[PRESS]
    )
    for visit in Visit.objects.filter(enrolment=course):
        BoutFactory(
            visit=visit, place=2, activity="strength", exercise="leg press", minutes=None,
            repetitions=12, load_kg=40.0, in_reserve=5, rpe=12,
        )  # fmt: skip
    StepAnswer.objects.create(
        enrolment=course, on=dose.valid_from, step="longer", minutes=30, reasons="-",
        formula_version="-", answer="taken", prescription=dose, by=physician,
    )  # fmt: skip
    StepAnswer.objects.update(at=F("at") - timedelta(days=8), on=F("on"))
    return dose


def test_lifts_are_raised_by_one_press_and_planned_for_the_next_session(
    client, course, lifting, clinician
):
    slot = ClassSlotFactory(site=course.patient.site)
    course.slots.add(slot)
    client.force_login(clinician)
    page = client.get(reverse("review:progression"), {"class": slot.pk}).content.decode()
    assert "Leg press 14 × 40 kg" in page
    assert "now Leg press 12 × 40 kg" in page
    sent = {"dose": lifting.pk, "submission_key": str(uuid.uuid4())}
    assert client.post(reverse("review:take-step", args=[course.pk]), sent).status_code == 302
    answer = StepAnswer.objects.first()
    assert (answer.step, answer.answer) == ("resistance", "taken")
    new = answer.prescription
    assert new.lifts == answer.lifts == [PRESS | {"repetitions": 14}]
    assert (new.minutes, new.target_mets, new.covered_by) == (30, 3.0, lifting)
    visit = VisitFactory(enrolment=course, meeting__on=course.patient.site.today())
    planned = planned_bouts(visit, None)
    assert [b.exercise for b in planned if b.activity == "strength"] == ["Leg press"]
    assert planned[-1].repetitions == 14


def test_other_lifts_are_asked_about_refused_and_stored(client, course, lifting, clinician):
    client.force_login(clinician)
    url = reverse("review:step", args=[course.pk])
    assert "Leg press 14 × 40 kg" in client.get(url).content.decode()

    def send(lifts, **more):
        sent = {"dose": lifting.pk, "minutes": "30", "mets": "3", "lifts": lifts}
        return client.post(url, sent | more)

    refused = send("Leg press much").content.decode()
    assert "Leg press much" in refused
    assert "repetitions × load" in refused
    assert "at most 15 repetitions" in send("Leg press 16 × 40 kg").content.decode()
    asked = send("Leg press 12 × 60 kg")
    assert "Leg press 60 kg, in force 40 kg" in asked.content.decode()
    token = asked.context["taking"].data["confirmed"]
    assert not StepAnswer.objects.filter(answer="changed").exists()
    sent = "Leg press 12 × 60 kg\nRow 10 x 22 lb"
    assert send(sent, confirmed=token).status_code == 302
    lifts = StepAnswer.objects.first().prescription.lifts
    assert [lift["exercise"] for lift in lifts] == ["Leg press", "Row"]
    assert lifts[0]["load_kg"] == 60.0
    assert lifts[1]["load_kg"] == pytest.approx(9.979, abs=0.001)


def test_no_lift_is_raised_under_a_precaution_of_the_record(course, lifting):
    held = PrecautionFactory(patient=course.patient, instruction="no more than 10 lb")
    line = line_of(course)
    assert not line.changed_lifts
    assert "no more than 10 lb" in " ".join(line.proposal.reasons)
    Precaution.objects.filter(pk=held.pk).update(lifted_on=course.patient.site.today())
    assert line_of(course).changed_lifts


def test_no_lift_is_planned_or_raised_before_resistance_begins(course, lifting, clinician):
    tomorrow = course.patient.site.today() + timedelta(days=1)
    Prescription.objects.filter(pk=lifting.pk).update(strength_from=tomorrow)
    line = line_of(course)
    assert (line.proposal.step, line.changed_lifts) == ("longer", [])
    visit = VisitFactory(enrolment=course, meeting__on=course.patient.site.today())
    assert "strength" not in [load.activity for load in planned_bouts(visit, None)]
    new = services.take(course, seen=lifting.pk, by=clinician).prescription
    assert (new.minutes, new.strength, new.lifts) == (34, "light", [PRESS])  # kept for later


def test_a_tested_maximum_of_that_exercise_bounds_the_load(course, lifting):
    """50 per cent of 80 kg: light resistance, J Clin Med 2021;10:3071, Table 4."""
    top = [PRESS | {"repetitions": 15}]
    Prescription.objects.filter(pk=lifting.pk).update(lifts=top)
    Bout.objects.filter(activity="strength").update(repetitions=15)
    assert line_of(course).proposal.lifts[0].kg == 42.0
    done = AssessmentFactory(enrolment=course)
    MeasurementFactory(
        assessment=done, key="one_repetition_maximum", value=80.0,
        inputs={"load_kg": 70.0, "reps": 5, "exercise": 1},
    )  # fmt: skip
    proposal = line_of(course).proposal
    assert proposal.lifts[0].kg == 40.0
    assert "50 % of the tested maximum" in " ".join(proposal.reasons)
