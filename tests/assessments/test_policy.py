"""What a site may choose: how often, the longest course, who answers, targets."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from assessments import services_policy
from assessments.models import AssessmentPolicy, SiteTarget
from patients.history import StaleVersion
from tests.factories.assessments import MeasurementFactory, SiteTargetFactory
from tests.factories.staff import SiteFactory, UserFactory

pytestmark = pytest.mark.django_db


def test_policy_is_changed_with_a_reason_and_every_version_shown(client, people, site):
    client.force_login(people["administrator"])
    url = reverse("assessments:policy")
    given = {
        "informal_every_days": "7",
        "longest_course_m": "20",
        "concern_owner": people["physician"].pk,
        "reason": "a shorter corridor",
        "seen_version": "0",
    }
    assert (
        "valid choice" in client.post(url, given | {"informal_every_days": "15"}).content.decode()
    )
    assert not AssessmentPolicy.objects.exists()
    client.post(url, given)
    row = AssessmentPolicy.objects.get()
    assert (row.informal_every_days, row.longest_course_m) == (7, 20)
    client.post(url, given | {"reason": "weekly is too often", "informal_every_days": "14",
                              "seen_version": f"{row.version}"})  # fmt: skip
    assert AssessmentPolicy.objects.get().informal_every_days == 14
    page = client.get(url).content.decode()
    assert "a shorter corridor" in page
    assert "checks every 7 days" in page
    assert f"concerns to {people['physician']}" in page
    shown = client.get(reverse("assessments:test-sets")).content.decode()
    assert "weekly is too often" in shown


def test_two_people_change_the_policy(site, people):
    by = people["administrator"]

    def change(seen, days):
        row = AssessmentPolicy(site=site, informal_every_days=days, reason="because")
        return services_policy.change_policy(row, seen=seen, by=by)

    first = change(0, 7)
    with pytest.raises(StaleVersion):
        change(0, 14)
    second = change(first.version, 14)
    assert AssessmentPolicy.objects.get().informal_every_days == second.informal_every_days == 14
    assert AssessmentPolicy.history.count() == 2


def test_an_owner_of_another_site_or_without_the_right_is_refused(site, people):
    stranger = UserFactory(role="physician", sites=[SiteFactory()])
    for owner in (stranger, people["floor"]):
        row = AssessmentPolicy(site=site, concern_owner=owner, reason="because")
        with pytest.raises(ValidationError, match="cannot close"):
            services_policy.change_policy(row, seen=0, by=people["administrator"])
    blank = AssessmentPolicy(site=site, reason=" ")
    with pytest.raises(ValidationError, match="Say why"):
        services_policy.change_policy(blank, seen=0, by=people["administrator"])


def test_target_is_changed_inside_its_bounds(client, people, site):
    client.force_login(people["administrator"])
    url = reverse("assessments:change-target", args=["ldl"])
    given = {"amount": "55", "reason": "as the cardiologists ask", "seen_version": "0"}
    assert "outside 40 to 116" in client.post(url, given | {"amount": "20"}).content.decode()
    client.post(url, given)
    assert SiteTarget.objects.get().amount == 55
    assert (
        "changed this meanwhile" in client.post(url, given | {"seen_version": "7"}).content.decode()
    )
    page = client.get(reverse("assessments:test-sets")).content.decode()
    assert "LDL under 55 mg/dL" in page
    assert client.get(reverse("assessments:change-target", args=["tobacco"])).status_code == 404
    assert client.get(reverse("assessments:change-target", args=["luck"])).status_code == 404


def test_results_name_the_sites_own_target(client, people, site, course):
    SiteTargetFactory(site=site, key="hba1c", amount=8)
    row = MeasurementFactory(
        assessment__enrolment=course, key="hba1c", value=7.6, unit="%", inputs={"percent": 7.6}
    )
    client.force_login(people["clinician"])
    record = client.get(reverse("assessments:record", args=[row.assessment_id])).content.decode()
    assert "◆ met: HbA1c under 8 %" in record
    outcomes = client.get(reverse("reports:outcomes", args=[course.patient_id])).content.decode()
    assert "HbA1c under 8 %: baseline met, six weeks not measured" in outcomes
