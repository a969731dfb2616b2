"""What the program's figures are asked about: read from the address, so that it can be linked."""

from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError

from patients.calc.days import in_words
from programs.enrolment.models import Payer
from programs.staff.models import Site
from programs.staff.request import StaffRequest
from reports.calc.completion import BY_KEY, DEFINITIONS, Definition
from reports.figures import DIMENSIONS, Asked
from reports.forms import ProgramFilter

EARLIEST = date(1950, 1, 1)  # an earlier day is a typing slip (project choice)


@dataclass(frozen=True)
class Question:
    """People, the definition of finished, the groups to compare, and the form that says so."""

    asked: Asked
    by: Definition
    dimension: str
    form: ProgramFilter
    chosen: Site | None
    address: str  # the question as the part of an address after "?"

    def with_(self, **changes: Any) -> str:
        """The same question with something changed, as part of an address."""
        return urlencode(dict(parse_qsl(self.address)) | changes)


def question_of(request: StaffRequest) -> Question:
    """Read the question; what cannot be read is said, and the figures are of something named."""
    sites = request.user.my_sites()
    today = sites[0].today() if sites else date.today()
    paying = Payer.objects.filter(site__in=sites).order_by("name")
    payers = list(paying.values_list("name", flat=True).distinct())
    form = ProgramFilter(sites, payers)
    since = _day(request, form, "since", today.replace(year=today.year - 1, day=1))
    until = _day(request, form, "until", today)
    if since > until:
        since, until = until, since
        words = f"the figures are of {in_words(since)} to {in_words(until)}."
        messages.error(request, f"The first day lay after the last; {words}")
    chosen = [s for s in sites if str(s.pk) == request.GET.get("site")]
    site = chosen[0] if chosen else None
    if request.GET.get("site") and site is None:
        messages.error(request, "Site: not one of yours; the figures are of all your sites.")
    by = BY_KEY.get(request.GET.get("definition", ""), DEFINITIONS[0])
    dimension = request.GET.get("by", "")
    dimension = dimension if dimension in DIMENSIONS else "site"
    picked = {n: _picked(request, form, n) for n in ("condition", "source", "payer", "sex", "age")}
    shown = {"since": since, "until": until, "definition": by.key, "by": dimension}
    form.show(shown | picked | {"site": site.pk if site else ""})
    names = {s.pk: s.name for s in chosen or sites}
    told = {k: v for k, v in {"site": site.pk if site else "", **picked}.items() if v}
    address = {"since": since, "until": until, "definition": by.key, "by": dimension} | told
    return Question(
        Asked(names, since, until, today, **picked),
        by,
        dimension,
        form,
        site,
        urlencode(address),
    )


def _picked(request: StaffRequest, form: ProgramFilter, name: str) -> str:
    """A choice of the form; one that is not offered is said, and leaves everybody in."""
    field: Any = form.fields[name]
    value = request.GET.get(name, "")
    if value in {key for key, _ in field.choices}:
        return value
    messages.error(request, f"{field.label}: “{value[:40]}” is no choice; the figures are of all.")
    return ""


def _day(request: StaffRequest, form: ProgramFilter, name: str, otherwise: date) -> date:
    """The day asked for; one that cannot be read is said, and the figures are of another."""
    field: Any = form.fields[name]
    try:
        found = field.clean(field.widget.value_from_datadict(request.GET, {}, name))
    except ValidationError as error:
        words = f"{field.label}: {error.messages[0]} The figures are of {in_words(otherwise)}."
        messages.error(request, words)
        return otherwise
    if found is None:
        return otherwise
    if not EARLIEST <= found <= otherwise.replace(year=otherwise.year + 2, day=1):
        words = f"{field.label}: there is nothing to count in {found.year}."
        messages.error(request, f"{words} The figures are of {in_words(otherwise)}.")
        return otherwise
    return found
