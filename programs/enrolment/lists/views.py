"""A hospital's list of referrals: upload, questions, preview, take in, bad rows back."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from patients import audit
from patients.models import AuditEvent
from patients.paging import part_of
from patients.submissions import AlreadyTaken
from programs.enrolment.calc.lists.letters import UnreadableFile, refuse_size
from programs.enrolment.lists import layouts, services
from programs.enrolment.lists.access import get_layout_for, get_referral_list_for
from programs.enrolment.lists.forms import (
    AgainForm,
    AnswersForm,
    ColumnsForm,
    KeepForm,
    LayoutForm,
    ListForm,
)
from programs.enrolment.lists.judging import ASKED, BAD, CHANGED, NEW, SAME_AS_BEFORE
from programs.enrolment.lists.previewing import Preview
from programs.enrolment.lists.queries import layouts_of, lists_that_wait
from programs.enrolment.models import ReferralList
from programs.staff.access import current_site
from programs.staff.request import StaffRequest

SECONDS_A_REQUEST = 15  # half of what a worker may take; the page then says what is left
ROWS_A_PAGE = 50


@permission_required("enrolment.add_referral", raise_exception=True)
def upload(request: StaffRequest) -> HttpResponse:
    """Take a file for preview; nothing of it becomes a referral yet."""
    user = request.user
    form = ListForm(request.POST or None, request.FILES or None)
    context: dict[str, Any] = {"form": form}
    status = 200
    if request.method == "POST":
        try:
            refuse_size(getattr(request, "refused_upload_bytes", 0))
            if form.is_valid():
                file = form.cleaned_data["file"]
                site = current_site(request)
                listed = services.receive(site, file.name, file.read(), key=form.key, by=user)
                return redirect("enrolment:list", listed.pk)
        except AlreadyTaken as taken:
            return redirect("enrolment:list", taken.made)
        except UnreadableFile as error:
            context = {"form": ListForm(), "refusal": str(error)}
            status = 413 if hasattr(request, "refused_upload_bytes") else 400
    context["waiting"], context["layouts"] = lists_that_wait(user), layouts_of(user)
    return render(request, "enrolment/upload.html", context, status=status)


@permission_required("enrolment.add_referral", raise_exception=True)
def preview(request: StaffRequest, pk: int) -> HttpResponse:
    """What is open, and what would become of every row."""
    listed = get_referral_list_for(request.user, pk)
    if listed.state == listed.State.DONE:
        return render(request, "enrolment/list_done.html", {"listed": listed})
    try:
        seen = services.preview(listed)
    except UnreadableFile as error:  # kept when another version read it otherwise
        messages.error(request, f"{listed.name}: {error}")
        return redirect("enrolment:upload")
    forms = _forms(request, listed, seen)
    if request.method == "POST":
        name, form = next(
            ((n, f) for n, f in forms.items() if f is not None and f.is_bound), ("", None)
        )
        if form is not None and form.is_valid():
            try:
                _answer(request, listed, seen, name, form)
                return redirect("enrolment:list", pk)
            except AlreadyTaken:
                return redirect("enrolment:list", pk)
            except ValidationError as error:
                form.add_error(None, error)
    page = part_of(request, seen.rows, ROWS_A_PAGE)
    counts = {fate: seen.count(fate) for fate in (NEW, CHANGED, SAME_AS_BEFORE, BAD, ASKED)}
    context = {"listed": listed, "seen": seen, "counts": counts, "page": page, **forms}
    return render(request, "enrolment/list_preview.html", context)


def _forms(request: StaffRequest, listed: ReferralList, seen: Preview) -> dict[str, Any]:
    """The forms of the page; the one that was sent is bound."""
    edition = services.edition(listed)

    def sent(name: str) -> Any:
        return request.POST if request.method == "POST" and name in request.POST else None

    of_file = seen.of_file
    groups = [] if of_file else seen.groups
    answers = AnswersForm(sent("answer"), edition=edition, of_file=of_file, groups=groups)
    columns = None
    if seen.reading is not None and not listed.n_taken:
        chosen = {n: f for f, found in seen.reading.plan.columns.of.items() for n in found}
        columns = ColumnsForm(
            sent("columns"), edition=edition, table=seen.reading.table, chosen=chosen
        )
    given = [
        (key, f"{_asked_words(seen, key)} {value}")
        for key, value in sorted(listed.answers.items())
        if services.is_of_rows(key) or not listed.n_taken
    ]
    again = AgainForm(sent("again_please"), edition=edition, given=given) if given else None
    keep = None
    if seen.table is not None and not of_file and layouts.worth_keeping(listed):
        keep = KeepForm(sent("keep"), edition=edition, initial=_name_now(listed))
    return {"answers": answers, "columns": columns, "again": again, "keep": keep}


def _name_now(listed: ReferralList) -> dict[str, str]:
    return {"layout_name": listed.layout.name} if listed.layout else {}


def _asked_words(seen: Preview, key: str) -> str:
    if key in seen.asked:
        question = seen.asked[key]
        where = f"Line {question.line}: " if question.line else ""
        return f"{where}{question.words}"[:160]
    if key.startswith("column."):
        return f"Column {key.partition('.')[2]} holds:"
    return f"{key}:"


def _answer(
    request: StaffRequest, listed: ReferralList, seen: Preview, name: str, form: Any
) -> None:
    if name == "keep":
        assert seen.table is not None
        name = form.cleaned_data["layout_name"]
        services.keep_layout(listed, seen.table, name, key=form.key, by=request.user)
        messages.success(request, f"Kept as {name}.")
        return
    given = {} if name == "again" else form.answers()
    again = form.keys() if name == "again" else []
    if not (given or again):
        return
    services.answer(
        listed,
        given,
        again=again,
        seen=form.cleaned_data["edition"],
        key=form.key,
        by=request.user,
    )


@permission_required("enrolment.add_referral", raise_exception=True)
def layout(request: StaffRequest, pk: int) -> HttpResponse:
    """A layout that a site keeps: its name, its answers, whether it is in use."""
    kept = get_layout_for(request.user, pk)
    initial = {"layout_name": kept.name, "is_active": kept.is_active}
    form = LayoutForm(
        request.POST or None, answers=kept.answers, version=kept.version, initial=initial
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            services.change_layout(
                kept,
                data["layout_name"],
                data["forget"],
                data["is_active"],
                seen=form.seen,
                key=form.key,
                by=request.user,
            )
            return redirect("enrolment:upload")
        except AlreadyTaken:
            return redirect("enrolment:upload")
        except ValidationError as error:
            form.add_error(None, ValidationError(error.messages))
    return render(request, "enrolment/list_layout.html", {"layout": kept, "form": form})


@require_POST
@permission_required("enrolment.add_referral", raise_exception=True)
def take_in(request: StaffRequest, pk: int) -> HttpResponse:
    """Take the rows in; what one request has no time for waits for the next."""
    listed = get_referral_list_for(request.user, pk)
    before = listed.n_taken
    try:
        listed = services.take_in(listed, by=request.user, seconds=SECONDS_A_REQUEST)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    except UnreadableFile as error:
        messages.error(request, f"{listed.name}: {error}")
    else:
        if listed.state != listed.State.DONE:
            n = listed.n_taken - before
            messages.success(request, f"{n} row{'' if n == 1 else 's'} taken in; the rest waits.")
    return redirect("enrolment:list", pk)


@permission_required("enrolment.add_referral", raise_exception=True)
def rejected(request: StaffRequest, pk: int) -> HttpResponse:
    """The refused rows as CSV, each with its reasons."""
    listed = get_referral_list_for(request.user, pk)
    audit.record(AuditEvent.Kind.EXPORT, f"refused rows of {listed.name}", by=request.user)
    response = HttpResponse(
        "\ufeff" + services.rejected_csv(listed), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = f'attachment; filename="refused-rows-{listed.pk}.csv"'
    return response
