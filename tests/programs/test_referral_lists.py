"""A hospital's file, from bytes to referrals: by page and by command."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError
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
    def run(data=None, name="list.csv", **answers):
        listed = lists.receive(site, name, data or FILE.read_bytes(), by=clinician)
        listed.answers = answers
        listed.save()
        return lists.take_in(listed, by=clinician)

    return run


def counts(listed):
    return listed.n_added, listed.n_known, len(listed.rejected)


def test_preview_stores_nothing(site, clinician):
    listed = lists.receive(site, "x.csv", FILE.read_bytes(), by=clinician)
    seen = lists.preview(listed)
    assert len(seen.rows) == 60
    assert [seen.count(fate) for fate in ("new", "known", "asked", "bad")] == [52, 2, 5, 1]
    assert seen.reading.plan.order == "day-first"
    assert seen.of_file == []
    assert not Patient.objects.exists()


def test_good_rows_go_in_and_those_with_a_question_wait(take, site, clinician):
    listed = take()
    assert counts(listed) == (52, 2, 1)
    assert listed.state == "preview"
    subjects = [group.subject for group in lists.preview(listed).groups]
    assert sorted(subjects) == ["event_on", "icd10", "name", "referred_on", "stay"]


def test_rows_left_out_come_back_and_can_be_fed_again(take, site, clinician):
    listed = take()
    asked = [a.question for g in lists.preview(listed).groups for a in g.asked]
    leave_out = {question.key: "leave-out" for question in asked}
    lists.answer(listed, leave_out, seen=lists.edition(listed), by=clinician)
    listed = lists.take_in(listed, by=clinician)
    assert (listed.state, counts(listed)) == ("done", (52, 2, 6))
    assert [bad["line"] for bad in listed.rejected] == [56, 57, 58, 59, 60, 61]
    reasons = [bad["reasons"][0] for bad in listed.rejected]
    assert reasons[0] == "the date of birth is missing"
    assert all(reason.startswith("left out: ") for reason in reasons[1:])
    text = lists.rejected_csv(listed)
    assert "'=1+1" in text
    assert ",=1+1" not in text
    again = take(text.encode("utf-8-sig"))
    assert [row.cells[2:] for row in lists.preview(again).reading.rows] == [
        bad["cells"] for bad in listed.rejected
    ]
    assert [g.subject for g in lists.preview(again).groups] == [
        g.subject for g in lists.preview(take()).groups
    ]


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
    ranged = Referral.objects.get(lvef_reported__contains="-")
    assert ranged.lvef_percent is None


def test_same_file_twice_adds_nothing(take):
    take()
    again = take()
    assert (again.n_added, again.n_known) == (0, 54)
    assert Referral.objects.count() == 52


def test_taking_in_twice_counts_once(take, clinician):
    listed = take(UTF8.read_bytes(), names="given-first")
    lists.take_in(listed, by=clinician)
    assert Referral.objects.count() == 2
    assert AuditEvent.objects.filter(kind="import").count() == 1


def test_byte_order_mark_and_full_names_are_read(take):
    assert take(UTF8.read_bytes(), names="given-first").n_added == 2
    assert Patient.objects.filter(given_name="Petra", family_name="Thistledown").exists()


AMBIGUOUS = b'Name,DOB,Referral date,Dx\n"Venn, Ada",03/04/1960,05/06/2026,PCI\n'


def test_nothing_is_taken_in_while_the_file_leaves_something_open(take, site, clinician):
    with pytest.raises(ValidationError, match="In which order are days written"):
        take(AMBIGUOUS)
    assert not Patient.objects.exists()
    assert take(AMBIGUOUS, dates="month-first").n_added == 1
    assert Patient.objects.get().born_on.month == 3


def test_several_conditions_go_in_with_their_days_and_versions(take):
    take(
        b"Name,DOB,Referral date,Event date,Dx,ICD\n"
        b'"Venn, Ada",1960-01-02,2026-06-05,2026-05-01,"NSTEMI; CABG 2026-05-09","I21.4, Z95.1"\n'
    )
    referral = Referral.objects.get()
    (other,) = referral.others.all()
    assert (referral.condition.kind, f"{referral.condition.happened_on}") == ("mi", "2026-05-01")
    assert (other.kind, f"{other.happened_on}", other.icd10) == ("cabg", "2026-05-09", "Z95.1")
    newest = referral.history.first()
    assert [link.condition_id for link in newest.others.all()] == [other.pk]


def test_number_of_somebody_else_is_asked_about(take, clinician):
    data = (
        b"MRN,Name,DOB,Referral date,Dx\n"
        b'7,"Venn, Ada",1960-01-02,2026-06-05,PCI\n7,"Lomax, Bo",1950-01-02,2026-06-05,PCI\n'
    )
    listed = take(data)
    assert (listed.n_added, listed.state) == (1, "preview")
    lists.answer(listed, {"number@3": "without"}, seen=lists.edition(listed), by=clinician)
    assert lists.take_in(listed, by=clinician).n_added == 2
    assert Patient.objects.get(family_name="Lomax").record_number == ""


LATER = (
    b"MRN,Name,DOB,Referral date,Event date,Discharge date,EF,Dx\n"
    b'7,"Venn, Ada",1960-01-02,2026-06-05,2026-05-01,%s,%s,PCI\n'
)


@pytest.mark.parametrize(("said", "percent"), [("change", 45), ("keep", 40)])
def test_a_corrected_list_shows_what_changes_and_changes_it_when_told(
    take, clinician, said, percent
):
    take(LATER % (b"2026-05-04", b"40"))
    listed = take(LATER % (b"2026-05-06", b"45"))
    assert counts(listed) == (0, 0, 0)
    (group,) = lists.preview(listed).groups
    assert group.asked[0].question.words == (
        "Already referred. This list says otherwise: discharge date 6 May 2026 instead of "
        "4 May 2026; LVEF, % 45 instead of 40."
    )
    lists.answer(listed, {"changes@2": said}, seen=lists.edition(listed), by=clinician)
    listed = lists.take_in(listed, by=clinician)
    assert (listed.state, listed.n_changed, listed.n_known) == (
        ("done", 1, 0) if said == "change" else ("done", 0, 1)
    )
    assert Referral.objects.get().lvef_percent == percent
    assert Referral.objects.get().version == (2 if said == "change" else 1)


def test_an_event_moved_a_little_is_asked_about(take, clinician):
    take(LATER % (b"2026-05-04", b"40"))
    listed = take((LATER % (b"2026-05-04", b"40")).replace(b"2026-05-01", b"2026-05-02"))
    assert [g.subject for g in lists.preview(listed).groups] == ["event"]
    given = {"event@2": "same", "changes@2": "change"}
    lists.answer(listed, given, seen=lists.edition(listed), by=clinician)
    assert lists.take_in(listed, by=clinician).n_changed == 1
    assert f"{Referral.objects.get().condition.happened_on}" == "2026-05-02"


# --- answers -------------------------------------------------------------------------------


def test_an_answer_of_the_whole_file_forgets_those_of_rows(site, clinician):
    listed = lists.receive(site, "x.csv", AMBIGUOUS, by=clinician)
    given = {"dates": "day-first", "age@2": "right"}
    listed.answers = given
    listed.save()
    lists.answer(listed, {"dates": "month-first"}, seen=lists.edition(listed), by=clinician)
    assert listed.answers == {"dates": "month-first"}
    lists.answer(listed, {}, again=["dates"], seen=lists.edition(listed), by=clinician)
    assert listed.answers == {}


def test_answers_of_two_people_never_overwrite_each_other(site, clinician):
    listed = lists.receive(site, "x.csv", AMBIGUOUS, by=clinician)
    seen = lists.edition(listed)
    lists.answer(listed, {"dates": "month-first"}, seen=seen, by=clinician)
    with pytest.raises(ValidationError, match="answered meanwhile"):
        lists.answer(listed, {"dates": "day-first"}, seen=seen, by=clinician)


# --- by page -------------------------------------------------------------------------------


@pytest.fixture
def upload(client, clinician):
    client.force_login(clinician)

    def run(data, name="list.csv"):
        return client.post(reverse("enrolment:upload"), {"file": SimpleUploadedFile(name, data)})

    return run


def test_page_goes_from_upload_through_questions_to_done(client, upload):
    response = upload(FILE.read_bytes())
    page = client.get(response.url)
    text = " ".join(page.content.decode().split())
    assert "Add 52 referrals" in text
    assert "The 5 rows with a question wait here." in text
    listed = ReferralList.objects.get()
    client.post(reverse("enrolment:take-in", args=[listed.pk]))
    page = client.get(response.url)
    form = page.context["answers"]
    left_out = dict.fromkeys(form.questions, "leave-out")
    hidden = {n: form.initial[n] for n in ("edition", "submission_key")}
    client.post(response.url, left_out | hidden | {"answer": "1"})
    client.post(reverse("enrolment:take-in", args=[listed.pk]))
    done = client.get(response.url).content.decode()
    assert "Download refused rows" in done
    refused = client.get(reverse("enrolment:refused-rows", args=[listed.pk]))
    assert refused["Content-Type"].startswith("text/csv")
    assert len(refused.content.decode("utf-8-sig").strip().splitlines()) == 7


def test_one_answer_does_for_all_rows_of_a_kind(client, upload):
    head = "MRN,Last name,First name,DOB,Referral date,Dx\n"
    rows = [f"{n},Fam{chr(65 + n)}x,Kim,201{n % 10}-01-02,2026-06-05,PCI\n" for n in range(25)]
    response = upload((head + "".join(rows)).encode())
    form = client.get(response.url).context["answers"]
    assert len(form.questions) == 20
    hidden = {n: form.initial[n] for n in ("edition", "submission_key")}
    first = next(iter(form.questions))
    given = {"all_age": "right", first: "leave-out", "answer": "1"}
    client.post(response.url, given | hidden)
    answers = ReferralList.objects.get().answers
    assert sorted(answers.values()) == ["leave-out", *["right"] * 24]


def test_a_list_that_waits_is_found_again(client, upload):
    response = upload(FILE.read_bytes())
    page = client.get(reverse("enrolment:upload")).content.decode()
    assert f'href="{response.url}"' in page


def test_names_with_markup_are_shown_as_text(client, upload):
    response = upload(
        b"MRN,Last name,First name,DOB,Referral date,Dx,Note\n"
        b"1,<b>x</b>,{{ user }},2015-01-02,2026-06-05,<i>PCI</i>,<script>1</script>\n"
    )
    page = client.get(response.url).content.decode()
    assert "<b>x</b>" not in page
    assert "<script>1" not in page
    assert "{{ user }}" in page


def test_forty_megabytes_are_refused_at_once(upload):
    response = upload(b"x" * 40_000_000, "scan.csv")
    assert response.status_code == 413
    assert "at most 5 MB" in response.content.decode()
    assert not ReferralList.objects.exists()


def test_packed_file_is_refused_with_advice(upload):
    response = upload(b"PK\x03\x04 not a csv", "list.xlsx")
    assert "Save the list as xlsx or as CSV" in response.content.decode()


def test_unnamed_columns_are_asked_and_can_be_chosen(client, upload):
    response = upload(b"a,b,c,d\nAda Venn,1960-01-02,2026-06-05,PCI\n")
    text = client.get(response.url).content.decode()
    assert "Which column holds the name" in text
    chosen = {"column_1": "full_name", "column_2": "born_on", "column_3": "referred_on"}
    form = client.get(response.url).context["columns"]
    chosen |= {"column_4": "diagnosis", "columns": "1", "edition": form.initial["edition"]}
    client.post(response.url, chosen)
    form = client.get(response.url).context["answers"]
    assert [q.key for q in form.questions.values()] == ["names"]
    (name,) = form.questions
    given = {name: "given-first", "answer": "1", "edition": form.initial["edition"]}
    client.post(response.url, given)
    assert "Add 1 referral" in client.get(response.url).content.decode()


# --- by command ----------------------------------------------------------------------------


def run(site, by, *args, file=FILE):
    out = StringIO()
    call_command(
        "import_referrals", file, "--site", site.code, "--by", by.username, *args, stdout=out
    )
    return out.getvalue()


def test_command_imports_and_lists_what_waits(site, clinician, tmp_path):
    target = tmp_path / "refused.csv"
    text = run(site, clinician, "--rejected", str(target), "--answer", "event_on@57=leave-out")
    assert "Added 52, changed 0, already known 2, refused 2, waiting for answers 4." in text
    assert target.read_text(encoding="utf-8-sig").count("\n") == 3
    assert "? name@59 (lines 59): Is this the name of a person: =1+1?" in text
    assert "accepted: yes (yes, store it as it stands); leave-out (leave this row out)" in text
    assert f"list {ReferralList.objects.get().pk} on the page" in text


def test_dry_run_stores_nothing(site, clinician):
    assert "Would add 52" in run(site, clinician, "--dry-run")
    assert not ReferralList.objects.exists()


def test_command_stores_nothing_before_the_file_is_understood(site, clinician, tmp_path):
    file = tmp_path / "x.csv"
    file.write_bytes(AMBIGUOUS)
    with pytest.raises(CommandError, match="answer what is asked"):
        run(site, clinician, file=file)
    assert "? dates: In which order" in run(site, clinician, "--dry-run", file=file)
    told = json.loads(run(site, clinician, "--answer", "dates=day-first", "--json", file=file))
    assert (told["stored"], told["counts"]["new"], told["questions"]) == (True, 1, [])


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ("dates=sideways", "accepted are day-first"),
        ("moon=full", "Nothing asks for 'moon'"),
        ("column.2=moon", "accepted are record_number"),
        ("dates", "give KEY=VALUE"),
    ],
)
def test_command_refuses_answers_that_nothing_asks_for(site, clinician, tmp_path, answer, words):
    file = tmp_path / "x.csv"
    file.write_bytes(AMBIGUOUS)
    with pytest.raises(CommandError, match=words):
        run(site, clinician, "--answer", answer, file=file)


def test_command_reads_workbooks_by_content(site, clinician, tmp_path):
    file = tmp_path / "no_ending"
    file.write_bytes(Path("fixtures/lists/ward.xlsx").read_bytes())
    assert "Added 149, changed 0" in run(site, clinician, file=file)


def test_command_refuses_with_advice(site, clinician, nurse, tmp_path):
    big = tmp_path / "big.csv"
    big.write_bytes(b"x" * 40_000_000)
    with pytest.raises(CommandError, match="at most 5 MB"):
        run(site, clinician, file=big)
    with pytest.raises(CommandError, match="Cannot read"):
        run(site, clinician, file=tmp_path / "none.csv")
    with pytest.raises(CommandError, match="may not add"):
        run(site, nurse)


def test_refused_rows_of_a_bundle_can_be_fed_again(take, site, clinician):
    data = Path("fixtures/lists/fhir_denied.json").read_bytes()
    bundle = json.loads(data)
    bundle["entry"] = [e for e in bundle["entry"] if e["resource"]["id"] in {"p1", "s1", "c1"}]
    procedure = {
        "resourceType": "Procedure", "id": "x", "status": "completed",
        "subject": {"reference": "Patient/p1"}, "code": {"text": "PCI"},
        "performedDateTime": "2026-09-03",
    }  # fmt: skip
    bundle["entry"].append({"resource": procedure})
    bundle["entry"][0]["resource"]["birthDate"] = "1950"
    listed = take(json.dumps(bundle).encode())
    left_out = {"born_on@1": "leave-out"}
    lists.answer(listed, left_out, seen=lists.edition(listed), by=clinician)
    listed = lists.take_in(listed, by=clinician)
    text = lists.rejected_csv(listed).replace(",1950,", ",1950-01-01,")
    again = take(text.encode("utf-8-sig"))
    assert again.n_added == 1
    referral = Referral.objects.get()
    assert [(c.kind, f"{c.happened_on}", c.icd10) for c in referral.conditions()] == [
        ("mi", "2026-09-01", "I21.4"),
        ("pci", "2026-09-03", ""),
    ]


def test_command_tells_how_far_it_is(take, site, clinician):
    listed = lists.receive(site, "x.csv", FILE.read_bytes(), by=clinician)
    heard = []
    lists.take_in(listed, by=clinician, tell=lambda done, of: heard.append((done, of)))
    assert heard == [(60, 60)]


TWICE = (
    b"MRN,Last name,First name,DOB,Sex,Referral date,Event date,Discharge date,Phone,Dx\n"
    b"7,Venn,Ada,1960-01-02,F,2026-06-05,2026-05-01,2026-05-04,,PCI\n"
    b"7,Venn,Ada,1960-01-02,%s,2026-06-05,2026-05-%s,2026-05-%s,%s,PCI\n"
)


def test_one_event_twice_with_other_days_is_asked_about(take, clinician):
    listed = take(TWICE % (b"F", b"01", b"06", b""))
    (group,) = lists.preview(listed).groups
    assert group.asked[0].question.words == (
        "The same event as in line 2, with another discharge date."
    )
    lists.answer(listed, {"twice@3": "first"}, seen=lists.edition(listed), by=clinician)
    assert counts(lists.take_in(listed, by=clinician)) == (1, 1, 0)


def test_a_person_on_record_under_another_sex_is_asked_about(take):
    take((TWICE % (b"F", b"01", b"04", b"")).rsplit(b"\n", 2)[0])
    second = TWICE.splitlines()[0] + b"\n" + (TWICE % (b"M", b"29", b"30", b"")).splitlines()[2]
    (group,) = lists.preview(take(second)).groups
    assert "recorded as female, here as male" in group.asked[0].question.words


def test_a_phone_the_record_does_not_know_stays_in_the_note(take):
    take((TWICE % (b"F", b"01", b"04", b"")).rsplit(b"\n", 2)[0])
    second = (
        TWICE.splitlines()[0] + b"\n" + (TWICE % (b"F", b"29", b"30", b"555-2")).splitlines()[2]
    )
    listed = take(second.replace(b"PCI", b"CABG"))
    assert listed.n_added == 1
    assert "phone as received: 555-2" in Referral.objects.get(condition__kind="cabg").note
    assert Patient.objects.get().phone == ""


def test_a_list_kept_by_another_version_and_not_read_any_more_says_so(client, clinician, site):
    listed = ReferralList.objects.create(site=site, by=clinician, name="old.csv", data=b"x")
    client.force_login(clinician)
    page = client.get(reverse("enrolment:list", args=[listed.pk]), follow=True)
    assert "old.csv: No columns were found" in page.content.decode()
    page = client.post(reverse("enrolment:take-in", args=[listed.pk]), follow=True)
    assert page.status_code == 200
    assert client.get(reverse("enrolment:refused-rows", args=[listed.pk])).status_code == 200
