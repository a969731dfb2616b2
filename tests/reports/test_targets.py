"""What a site wants stands beside what the page counts, and says how sure that is."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from statsmodels.stats.proportion import proportion_confint

from patients.history import StaleVersion
from programs.staff.services import save_setting
from reports.calc.completion import DEFINITIONS
from reports.calc.proportion import Proportion
from reports.models import ProgramTargets
from reports.targets import judged
from tests.cohort import cohort_of
from tests.factories.staff import SiteFactory
from tests.reports.test_program import YEAR, words

SHARES = [
    (n, of, percent) for of in (1, 12, 200) for n in range(of + 1) for percent in (1, 60, 100)
]


@pytest.mark.parametrize(("n", "of", "percent"), SHARES[::7])
def test_whether_a_target_is_reached_and_how_sure_that_is(n, of, percent):
    """The interval is statsmodels' (Wilson), not ours."""
    low, high = proportion_confint(n, of, method="wilson")
    share = Proportion(n, of)
    found = judged(percent, share.percent, *share.percent_interval)
    assert found.words.startswith("reached") == (n * 100 >= percent * of)
    is_open = 100 * low < percent <= 100 * high
    assert ("leaves it open" in found.words) == is_open


@pytest.fixture
def wanted(site, people):
    row = ProgramTargets(site=site, got_in=50, in_time=90, stayed=80, finished=70, source="board")
    save_setting(row, seen=0, by=people["manager"])
    return row


@pytest.mark.django_db
def test_targets_stand_beside_the_figures_of_their_site(client, people, site, wanted):
    cohort_of(site, SiteFactory())
    page = words(client, people["clinician"], **YEAR, site=site.pk)
    for target in (50, 90, 80, 70):
        assert f"Target {target} %:" in page
    other = next(d.key for d in DEFINITIONS if d.key != wanted.finished_by)
    page = words(client, people["clinician"], **YEAR, site=site.pk, definition=other)
    assert "Target 70 %" not in page  # another definition has no target
    assert "Target 50 %" in page
    second = SiteFactory()
    people["clinician"].sites.add(second)
    assert "Target" not in words(client, people["clinician"], **YEAR)  # two sites share none


@pytest.mark.django_db
def test_a_share_of_few_people_is_not_given_away_by_its_target(client, people, site, wanted):
    cohort_of(site, SiteFactory())
    page = words(client, people["manager"], **YEAR, site=site.pk, age="85-")
    assert page.count('class="spark"') == 3  # nor by its months
    assert "Target 70 %" not in page
    assert "Target 90 %" not in page


@pytest.mark.django_db
def test_a_target_outside_a_share_and_a_change_unseen_are_refused(site, people, wanted):
    wanted.got_in = 101
    with pytest.raises(ValidationError):
        save_setting(wanted, seen=wanted.version, by=people["manager"])
    wanted.got_in = 55
    with pytest.raises(StaleVersion):
        save_setting(wanted, seen=0, by=people["manager"])
    empty = ProgramTargets(site=SiteFactory(), source="board")
    with pytest.raises(ValidationError, match="at least one"):
        save_setting(empty, seen=0, by=people["manager"])
    assert ProgramTargets.objects.get().got_in == 50


@pytest.mark.django_db
def test_another_sites_targets_are_not_read(client, people, wanted):
    elsewhere = SiteFactory()
    people["manager"].sites.set([elsewhere])
    client.force_login(people["manager"])
    page = client.get(reverse("reports:program-targets"))
    assert page.context["form"].instance.pk is None
    assert page.context["site"] == elsewhere
    assert (
        client.get(f"{reverse('reports:program-targets')}?site={wanted.site_id}").status_code == 404
    )
