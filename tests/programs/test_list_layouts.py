"""How the lists of one sender are read, kept by a site and used for the next list."""

from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import CommandError, call_command
from django.urls import reverse

from patients.models import Patient
from programs.enrolment.lists import layouts, services
from programs.enrolment.models import ListLayout
from tests.factories.staff import SiteFactory

pytestmark = pytest.mark.django_db
HEAD = "Name,DOB,Referral date,Sex,Dx\n"
FIRST = HEAD + '"Venn, Ada",03/04/1960,05/06/2026,2,PCI\n'
NEXT = HEAD + '"Lomax, Bo",03/05/1950,05/07/2026,1,CABG\n'
ANSWERS = {"dates": "month-first", "sex.1": "male", "sex.2": "female"}


@pytest.fixture
def receive(site, clinician):
    return lambda text: services.receive(site, "x.csv", text.encode(), by=clinician)


@pytest.fixture
def kept(receive, clinician):
    """A layout of the answers to a first list."""
    listed = receive(FIRST)
    listed.answers = ANSWERS | {"referred_on": "2026-06-05", "age@2": "right"}
    listed.save()
    table = services.preview(listed).table
    return layouts.keep(listed, table, "Ward 5", by=clinician)


def test_a_kept_layout_reads_the_next_list_and_asks_what_it_does_not_know(kept, receive):
    assert kept.answers == ANSWERS  # a day or a row is of one list only
    listed = receive(NEXT)
    assert listed.layout == kept
    seen = services.preview(listed)
    assert seen.of_file == []
    assert (seen.rows[0].row.sex, seen.rows[0].row.born_on.month) == ("male", 3)
    seen = services.preview(receive(HEAD + '"Orr, Cy",03/05/1950,05/07/2026,0,CABG\n'))
    assert [q.key for q in seen.of_file] == ["sex.0"]


def test_other_columns_another_site_and_a_layout_out_of_use_are_asked_anew(
    kept, receive, clinician
):
    assert receive(NEXT.replace("Dx", "Reason")).layout is None
    elsewhere = services.draft(SiteFactory(), "x.csv", NEXT.encode(), by=clinician)
    assert elsewhere.layout is None
    layouts.change(kept, "Ward 5", [], False, seen=kept.version, by=clinician)
    assert receive(NEXT).layout is None


def test_two_layouts_of_the_same_columns_are_never_chosen_between(kept, receive, clinician):
    listed = receive(NEXT)
    layouts.keep(listed, services.preview(listed).table, "Ward 6", by=clinician)
    assert receive(NEXT).layout is None


def test_kept_again_under_its_name_it_changes(kept, receive, clinician):
    listed = receive(NEXT)
    listed.answers = {"dates": "day-first"}
    layouts.keep(listed, services.preview(listed).table, "Ward 5", by=clinician)
    assert ListLayout.objects.get().answers == {"dates": "day-first"}
    assert ListLayout.objects.get().version == 2
    with pytest.raises(ValidationError, match="changed this layout meanwhile"):
        layouts.change(kept, "Ward 7", [], True, seen=1, by=clinician)


def test_nothing_answered_is_nothing_to_keep(receive, clinician):
    listed = receive(FIRST)
    with pytest.raises(ValidationError, match="Nothing of this file"):
        layouts.keep(listed, services.preview(listed).table, "Ward 5", by=clinician)


def test_by_page_it_is_kept_used_and_edited(receive, client, clinician):
    client.force_login(clinician)
    listed = receive(FIRST)
    listed.answers = ANSWERS
    listed.save()
    page = reverse("enrolment:list", args=[listed.pk])
    form = client.get(page).context["keep"]
    given = {"layout_name": "Ward 5", "keep": "1", "edition": form.initial["edition"]}
    client.post(page, given)
    kept = ListLayout.objects.get()
    other = client.get(reverse("enrolment:list", args=[receive(NEXT).pk])).content.decode()
    assert "Read as the layout Ward 5 says" in other
    address = reverse("enrolment:list-layout", args=[kept.pk])
    assert f'href="{address}"' in client.get(reverse("enrolment:upload")).content.decode()
    given = {"layout_name": "Ward 6", "is_active": "on", "forget": ["dates"], "seen_version": "1"}
    client.post(address, given)
    kept.refresh_from_db()
    assert (kept.name, "dates" in kept.answers) == ("Ward 6", False)


def test_command_reads_by_a_layout_and_refuses_one_nobody_kept(kept, site, clinician, tmp_path):
    file = tmp_path / "next.csv"
    file.write_text(NEXT)
    by = ["--site", site.code, "--by", clinician.username]
    with pytest.raises(CommandError, match="keeps no layout 'Ward 9'"):
        call_command("import_referrals", file, *by, "--layout", "Ward 9")
    out = StringIO()
    call_command("import_referrals", file, *by, "--layout", "Ward 5", stdout=out)
    assert "Read as the layout Ward 5 says." in out.getvalue()
    assert f"{Patient.objects.get(family_name='Lomax').born_on}" == "1950-03-05"
