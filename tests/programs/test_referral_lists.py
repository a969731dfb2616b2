"""A hospital's file, from bytes to referrals: by page and by command."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse

from patients.models import AuditEvent, Patient
from programs.enrolment.lists import services as lists
from programs.enrolment.models import Referral, ReferralList

pytestmark = pytest.mark.django_db
FILE = Path("fixtures/demo/hospital_list.csv")
UTF8 = Path("fixtures/demo/hospital_list_utf8.csv")


@pytest.fixture
def take(site, clinician):
    def run(data=None, name="list.csv"):
        listed = lists.receive(site, name, data or FILE.read_bytes(), by=clinician)
        return lists.take_in(listed, by=clinician)

    return run


def test_preview_stores_nothing(site, clinician):
    listed = lists.receive(site, "x.csv", FILE.read_bytes(), by=clinician)
    seen = lists.preview(listed)
    assert len(seen.rows) == 60
    assert (seen.count("new"), seen.count("known"), seen.count("bad")) == (52, 2, 6)
    assert seen.date_order == "day-first"
    assert seen.missing == []
    assert not Patient.objects.exists()


def test_good_rows_go_in_and_bad_rows_come_back(take):
    listed = take()
    assert (listed.n_added, listed.n_known, len(listed.rejected)) == (52, 2, 6)
    reasons = " | ".join(" ".join(bad["reasons"]) for bad in listed.rejected)
    for words in ["date of birth", "event on", "before the event", "formula", "shape", "future"]:
        assert words in reasons
    assert [bad["line"] for bad in listed.rejected] == [56, 57, 58, 59, 60, 61]


def test_values_arrive_converted(take):
    take()
    first = Referral.objects.get(patient__record_number="TV4001")
    assert "ö" in "".join(Patient.objects.values_list("given_name", flat=True))
    assert first.reported_weight_kg == pytest.approx(
        0.45359237 * round(first.reported_weight_kg / 0.45359237)
    )
    assert 150 < first.reported_height_cm < 215


def test_missing_and_unclear_things_are_noted_not_lost(take):
    take()
    assert Referral.objects.filter(discharged_on=None).count() == 3
    unclear = Referral.objects.filter(condition__kind="unclear")
    assert {r.condition.wording for r in unclear} == {"see letter", "chest wall pain?"}
    ranged = Referral.objects.get(note__contains="range")
    assert ranged.lvef_percent is None


def test_same_file_twice_adds_nothing(take):
    take()
    again = take()
    assert (again.n_added, again.n_known) == (0, 54)
    assert Referral.objects.count() == 52


def test_taking_in_twice_counts_once(take, clinician):
    listed = take()
    lists.take_in(listed, by=clinician)
    assert Referral.objects.count() == 52
    assert AuditEvent.objects.filter(kind="import").count() == 1


def test_byte_order_mark_and_full_names_are_read(take):
    assert take(UTF8.read_bytes()).n_added == 2
    assert Patient.objects.filter(given_name="Petra", family_name="Thistledown").exists()


def test_refused_rows_download_is_defused(take):
    text = lists.rejected_csv(take())
    assert "'=1+1" in text
    assert ",=1+1" not in text


def test_ambiguous_dates_wait_for_the_order(site, clinician):
    data = b"Name,DOB,Referral date,Dx\nAda Venn,03/04/1960,05/06/2026,PCI\n"
    listed = lists.receive(site, "x.csv", data, by=clinician)
    assert lists.preview(listed).count("bad") == 1
    lists.change_mapping(listed, listed.mapping, "month-first")
    (row,) = lists.preview(listed).rows
    assert (row.fate, row.row.born_on.month) == ("new", 3)


def test_same_number_for_two_people_is_refused(take):
    data = (
        b"MRN,Name,DOB,Referral date,Dx\n"
        b"7,Ada Venn,1960-01-02,2026-06-05,PCI\n7,Bo Lomax,1950-01-02,2026-06-05,PCI\n"
    )
    listed = take(data)
    assert (listed.n_added, len(listed.rejected)) == (1, 1)


# --- by page -------------------------------------------------------------------------------


@pytest.fixture
def upload(client, clinician):
    client.force_login(clinician)

    def run(data, name="list.csv"):
        return client.post(reverse("enrolment:upload"), {"file": SimpleUploadedFile(name, data)})

    return run


def test_page_goes_from_upload_to_done(client, upload):
    response = upload(FILE.read_bytes())
    page = client.get(response.url)
    assert "Add 52 referrals" in page.content.decode()
    listed = ReferralList.objects.get()
    client.post(reverse("enrolment:take-in", args=[listed.pk]))
    done = client.get(response.url).content.decode()
    assert "Download refused rows" in done
    refused = client.get(reverse("enrolment:refused-rows", args=[listed.pk]))
    assert refused["Content-Type"].startswith("text/csv")
    assert len(refused.content.decode("utf-8-sig").strip().splitlines()) == 7


def test_forty_megabytes_are_refused_at_once(upload):
    response = upload(b"x" * 40_000_000, "scan.csv")
    assert response.status_code == 413
    assert "at most 5 MB" in response.content.decode()
    assert not ReferralList.objects.exists()


def test_picture_is_refused_with_advice(upload):
    response = upload(b"PK\x03\x04 not a csv", "list.xlsx")
    assert "Save the list as CSV" in response.content.decode()


def test_unnamed_columns_can_be_corrected(client, upload):
    response = upload(b"a,b,c,d\nAda Venn,1960-01-02,2026-06-05,PCI\n")
    assert "Which column holds" in client.get(response.url).content.decode()
    mapping = {"column_full_name": "0", "column_born_on": "1", "column_referred_on": "2"}
    client.post(response.url, mapping | {"column_diagnosis": "3", "date_order": ""})
    assert "Add 1 referral" in client.get(response.url).content.decode()


# --- by command ----------------------------------------------------------------------------


def run(site, by, *args, file=FILE):
    out = StringIO()
    call_command(
        "import_referrals", file, "--site", site.code, "--by", by.username, *args, stdout=out
    )
    return out.getvalue()


def test_command_imports_and_writes_the_refused(site, clinician, tmp_path):
    target = tmp_path / "refused.csv"
    text = run(site, clinician, "--rejected", str(target))
    assert "Added 52, already known 2, refused 6." in text
    assert target.read_text(encoding="utf-8-sig").count("\n") == 7


def test_dry_run_stores_nothing(site, clinician):
    assert "Would add 52" in run(site, clinician, "--dry-run")
    assert not ReferralList.objects.exists()


def test_command_refuses_with_advice(site, clinician, nurse, tmp_path):
    big = tmp_path / "big.csv"
    big.write_bytes(b"x" * 40_000_000)
    with pytest.raises(CommandError, match="at most 5 MB"):
        run(site, clinician, file=big)
    with pytest.raises(CommandError, match="Cannot read"):
        run(site, clinician, file=tmp_path / "none.csv")
    with pytest.raises(CommandError, match="may not add"):
        run(site, nurse)
