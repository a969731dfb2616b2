"""Every row that belongs to a site is found through one door, ``visible_to``."""

import pytest
from django.apps import apps
from django.urls import reverse

from patients.history import ClinicalModel
from programs.staff.models import Credential
from tests.factories.enrolment import EnrolmentFactory, PlannedSessionFactory
from tests.factories.staff import SiteFactory, UserFactory

OURS = {"patients", "staff", "enrolment", "assessments", "prescription", "attendance", "reports"}
SCOPED = [m for m in apps.get_models() if m._meta.app_label in OURS and hasattr(m, "of_site")]
CLINICAL = [m for m in apps.get_models() if issubclass(m, ClinicalModel)]


def test_every_clinical_row_knows_its_way_to_a_site():
    assert set(CLINICAL) <= set(SCOPED)
    assert len(SCOPED) > 40


@pytest.mark.django_db
@pytest.mark.parametrize("model", [*SCOPED, Credential], ids=lambda m: m._meta.label)
def test_rows_are_asked_for_by_the_sites_of_a_person(model):
    here, elsewhere = SiteFactory(), SiteFactory()
    seen = model.objects.visible_to(UserFactory(sites=[here]))
    assert str(seen.query) != str(model.objects.visible_to(UserFactory(sites=[elsewhere])).query)
    assert not seen.exists()


@pytest.mark.django_db
def test_a_course_and_its_sessions_are_seen_at_their_own_site_only(client):
    planned = PlannedSessionFactory(enrolment=EnrolmentFactory())
    mine = UserFactory(role="clinician", sites=[planned.enrolment.patient.site])
    other = UserFactory(role="clinician", sites=[SiteFactory()])
    for model, row in [(type(planned), planned), (type(planned.enrolment), planned.enrolment)]:
        assert row in model.objects.visible_to(mine)
        assert row not in model.objects.visible_to(other)
    client.force_login(other)
    assert client.get(reverse("reports:journey", args=[row.patient_id])).status_code == 404
