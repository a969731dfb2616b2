"""A long list goes in by batches: few queries, short transactions, and no row lost or doubled."""

from datetime import date
from io import StringIO

import pytest
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import OperationalError, connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from patients.models import AuditEvent, Condition, Patient
from programs.enrolment.lists import judging, services, storing
from programs.enrolment.models import Referral, ReferralList
from programs.enrolment.referrals.services import refer
from tests.factories.enrolment import ReferralFactory
from tests.factories.patients import PatientFactory
from tests.programs.test_referral_lists import FILE
from tests.programs.test_two_at_once import together

pytestmark = pytest.mark.django_db
AT_MOST_A_HUNDRED = 40  # queries
HEAD = "MRN,Given name,Family name,DOB,Dx,Event date,Referral date\n"


@pytest.fixture(autouse=True)
def _no_pauses(monkeypatch):
    """Nobody else writes in these tests."""
    monkeypatch.setattr(services, "_let_others_in", lambda: None)


@pytest.fixture
def receive(site, clinician):
    def run(text, name="long.csv"):
        return services.receive(site, name, text.encode(), by=clinician)

    return run


def family(n):
    """A name for each number, none of them one letter from another of the same birth date."""
    letters = "abcdefghij"
    return "Long" + "".join(letters[int(d)] * 2 for d in f"{n:04}")


def line(n, number=None, event="2026-01-10"):
    number = f"L{n}" if number is None else number
    return f"{number},Ada,{family(n)},1950-01-{n % 28 + 1:02},PCI,{event},2026-01-20\n"


def lines(n):
    return HEAD + "".join(line(i) for i in range(n))


def counts(listed):
    return listed.n_added, listed.n_known, len(listed.rejected)


# --- how much it asks of the database ------------------------------------------------------


def queries(job):
    with CaptureQueriesContext(
        connection,
    ) as seen:
        job()
    return len(seen)


def test_queries_a_hundred_rows_are_few_and_do_not_grow(receive, clinician, site):
    for n in [*range(0, 500, 10), *range(1000, 2000, 10)]:  # the tenth is on record
        ReferralFactory(
            patient__site=site,
            patient__record_number=f"L{n}",
            patient__family_name=family(n),
            patient__born_on=f"1950-01-{n % 28 + 1:02}",
        )
    used = {}
    for n, first in [(500, 0), (1000, 1000)]:
        listed = receive(HEAD + "".join(line(i) for i in range(first, first + n)))
        used[n] = queries(lambda one=listed: services.take_in(one, by=clinician))
    assert Referral.objects.count() == 500 + 1000  # the tenth as before
    assert used[500] / 5 <= AT_MOST_A_HUNDRED
    assert used[1000] / 10 <= AT_MOST_A_HUNDRED
    assert abs(used[1000] / 10 - used[500] / 5) < 1


def test_preview_looks_people_up_by_the_hundred(receive):
    used = {}
    for n in (500, 1000):
        listed = receive(lines(n))
        used[n] = queries(lambda one=listed: services.preview(one))
    assert used[500] / 5 <= 3
    assert used[1000] / 10 <= 3


def test_one_transaction_is_one_batch(receive, clinician):
    listed = receive(lines(250))
    seen = []
    for _ in range(3):
        listed = services.take_in(listed, by=clinician, seconds=0)
        seen.append((Referral.objects.count(), listed.state))
    assert seen == [(100, "preview"), (200, "preview"), (250, "done")]
    assert judging.BATCH == 100


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("way", ["page", "command"])
def test_others_see_each_batch_before_the_next_begins(
    way, site, clinician, client, receive, monkeypatch, tmp_path
):
    """No transaction around the batches: what was taken in is stored, and the lock is free."""
    seen = []

    def look():
        assert not connection.in_atomic_block
        seen.extend(together(lambda: Referral.objects.count()))

    monkeypatch.setattr(services, "_let_others_in", look)
    if way == "page":
        client.force_login(clinician)
        client.post(reverse("enrolment:take-in", args=[receive(lines(250)).pk]))
    else:
        file = tmp_path / "long.csv"
        file.write_text(lines(250))
        by = ["--site", site.code, "--by", clinician.username]
        call_command("import_referrals", file, *by, stdout=StringIO())
    assert seen == [100, 200]
    assert Referral.objects.count() == 250


# --- what is kept of each row --------------------------------------------------------------


def test_each_row_has_its_version_with_who_and_why(receive, clinician, site):
    services.take_in(receive(lines(3)), by=clinician)
    alone = refer(
        PatientFactory.build(site=site),
        Condition(kind="pci", happened_on=site.today()),
        Referral(referred_on=site.today()),
        by=clinician,
    )
    for model, why in [(Patient, "registered"), (Condition, "added"), (Referral, "received")]:
        rows = model.objects.all()
        versions = [v for row in rows for v in row.history.all()]
        assert len(versions) == len(rows) == 4
        kept = {(v.history_type, v.history_user, v.history_change_reason) for v in versions}
        assert kept == {("+", clinician, why)}
        for row in rows:
            (version,) = row.history.all()
            assert all(
                getattr(version, f.attname) == getattr(row, f.attname)
                for f in model._meta.concrete_fields
            )
    assert alone.version == Referral.objects.first().version == 1


@pytest.mark.parametrize("batch", [1, 7, 100])
def test_batches_change_nothing_of_the_result(batch, site, clinician, monkeypatch):
    monkeypatch.setattr(services, "BATCH", batch)
    monkeypatch.setattr(judging, "BATCH", batch)
    listed = services.receive(site, "x.csv", FILE.read_bytes(), by=clinician)
    seen = services.preview(listed)
    foretold = tuple(seen.count(fate) for fate in ("new", "known", "bad"))
    listed = services.take_in(listed, by=clinician)
    assert counts(listed) == foretold == (52, 2, 1)
    assert listed.fates.count(".") == 5


def test_a_line_a_diagnosis_is_one_referral_until_somebody_says_two(receive, clinician):
    listed = receive(HEAD + line(1) + line(1, event="2026-01-12"))
    (asked,) = services.preview(listed).groups[0].asked
    given = {asked.question.key: "another"}
    services.answer(listed, given, seen=services.edition(listed), by=clinician)
    assert [row.fate for row in services.preview(listed).rows] == ["new", "new"]
    services.take_in(listed, by=clinician)
    assert Patient.objects.get(record_number="L1").referrals.count() == 2


@pytest.mark.parametrize("batch", [1, 2, 100])
def test_people_of_the_file_are_told_apart(batch, receive, clinician, site, monkeypatch):
    monkeypatch.setattr(services, "BATCH", batch)
    monkeypatch.setattr(judging, "BATCH", batch)
    ReferralFactory(  # the same person as line 6, who has no number on record
        patient__site=site,
        patient__record_number="",
        patient__given_name="ÖRN",
        patient__family_name="Åberg",
        patient__born_on="1950-05-05",
    )
    listed = receive(
        HEAD
        + line(1)
        + line(1, event="2026-01-12")  # the same person, referred on the same day once more
        + line(1)  # stands twice
        + line(1, number="OTHER")  # same name and birth date, another number: one person or two?
        + "NEW,Örn,åberg,1950-05-05,MI,2026-01-10,2026-01-20\n"
        + "NEW,Bo,Lomax,1951-01-02,PCI,2026-01-10,2026-01-20\n"  # the number of another
    )
    seen = services.preview(listed)
    assert [row.fate for row in seen.rows] == ["new", "asked", "known", "asked", "new", "asked"]
    assert sorted(group.subject for group in seen.groups) == ["beside", "number", "person"]
    listed = services.take_in(listed, by=clinician)
    assert counts(listed) == (2, 1, 0)
    assert listed.fates == "a.k.a."
    assert Patient.objects.count() == 2
    assert Patient.objects.get(record_number="L1").referrals.count() == 1


def test_row_refused_by_the_database_is_found_and_the_others_go_in(receive, clinician, monkeypatch):
    made = judging._referral

    def impossible(row):
        referral = made(row)
        if row.record_number in {"L5", "L77"}:
            referral.admitted_on, referral.discharged_on = "2026-01-15", "2026-01-12"
        return referral

    monkeypatch.setattr(judging, "_referral", impossible)
    text = lines(120) + line(5, event="2026-03-18").replace("L5,", ",")  # the same person again
    listed = services.take_in(receive(text), by=clinician)
    assert counts(listed) == (119, 0, 2)
    assert [(bad["line"], bad["reasons"]) for bad in listed.rejected] == [
        (7, ["Discharge lies before admission."]),
        (79, ["Discharge lies before admission."]),
    ]
    assert Patient.objects.count() == 119
    assert Patient.history.count() == 119
    assert Condition.objects.count() == Referral.objects.count() == 119


# --- cut short -----------------------------------------------------------------------------


@pytest.fixture
def cut_short(receive, clinician, monkeypatch):
    """A list of 250 rows whose third batch the database refused to store."""
    calls = []

    def store(rows, *, by):
        calls.append(rows)
        storing.store(rows, by=by)
        if len(calls) == 3:
            raise OperationalError("the disk is full")

    listed = receive(lines(250))
    with monkeypatch.context() as patch:
        patch.setattr(services, "store", store)
        with pytest.raises(OperationalError):
            services.take_in(listed, by=clinician)
    listed.refresh_from_db()
    return listed


def test_what_breaks_leaves_the_batches_before_it_in(cut_short):
    assert (counts(cut_short), cut_short.state) == ((200, 0, 0), "preview")
    assert Referral.objects.count() == Patient.objects.count() == 200
    assert not AuditEvent.objects.filter(kind="import").exists()


def test_page_says_what_is_in_and_goes_on(cut_short, client, clinician):
    client.force_login(clinician)
    page = reverse("enrolment:list", args=[cut_short.pk])
    text = " ".join(client.get(page).content.decode().split())
    assert "200 added, 0 known, 0 changed, 0 refused so far" in text
    assert "Add 50 referrals" in text
    client.post(reverse("enrolment:take-in", args=[cut_short.pk]))
    text = client.get(page).content.decode()
    assert '<div class="figure">250</div>added' in text
    assert Referral.objects.count() == 250
    assert AuditEvent.objects.get(kind="import").what == "long.csv: 250 referrals added"


def test_same_file_sent_anew_knows_what_is_in(cut_short, receive, clinician):
    again = services.take_in(receive(lines(250)), by=clinician)
    assert counts(again) == (50, 200, 0)
    assert counts(services.take_in(cut_short, by=clinician)) == (200, 50, 0)
    assert Referral.objects.count() == Patient.objects.count() == 250


def test_how_a_file_is_read_stays_once_rows_are_in(cut_short, clinician):
    given, seen = {"column.2": "note"}, services.edition(cut_short)
    with pytest.raises(ValidationError, match="how it is read stays"):
        services.answer(cut_short, given, seen=seen, by=clinician)
    stale = ReferralList.objects.get()
    stale.answers = {"age@3": "right"}
    with pytest.raises(ValidationError, match="changed meanwhile"):
        services.take_in(stale, by=clinician)
    assert Referral.objects.count() == 200


def test_somebody_registered_between_two_batches_is_known(receive, clinician, site):
    listed = services.take_in(receive(lines(150)), by=clinician, seconds=0)
    refer(
        Patient(site=site, given_name="Ada", family_name=family(120), born_on=date(1950, 1, 9)),
        Condition(kind="pci", happened_on=date(2026, 1, 10)),
        Referral(referred_on=site.today()),
        by=clinician,
    )
    assert counts(services.take_in(listed, by=clinician)) == (149, 1, 0)
    assert Patient.objects.filter(family_name=family(120)).count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_take_in_at_once_and_every_row_counts_once(receive, clinician, people):
    same = receive(lines(250))
    copy = receive(HEAD + "".join(line(i, number="") for i in range(250)))  # the same people
    results = together(
        lambda: services.take_in(same, by=clinician),
        lambda: services.take_in(same, by=people["manager"]),
        lambda: services.take_in(copy, by=clinician),
    )
    assert [r for r in results if isinstance(r, Exception)] == []
    assert Referral.objects.count() == Patient.objects.count() == 250
    assert sum(one.n_added for one in ReferralList.objects.all()) == 250
