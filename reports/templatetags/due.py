"""Lines of Due, written here and not by a template each: a hundred of them took a third of it.

Every value is escaped where it is filled in (``rendering.fill``); each function gives one table's
lines as HTML.
"""

from collections.abc import Iterable
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe

from assessments.calc.timing import Standing
from patients.addresses import to
from patients.rendering import fill, fill_each, who, why
from patients.templatetags.house import clock, day, due_in, hidden, in_spans, signed, weekday

register = template.Library()

PRESS = '<a class="press" href="{}">{}</a>'


def _joined(rows: Iterable[str]) -> SafeString:
    return mark_safe("".join(rows))  # noqa: S308  (each is drawn by fill)


@register.filter
def concern_lines(concerns: Iterable[Any]) -> SafeString:
    """Concerns nobody has closed."""
    row = (
        '<div class="finding stop" role="alert"><b><span aria-hidden="true">■</span> Today</b>'
        '<p>{}: {} <span class="small dim">raised {}, assigned to {}</span></p>'
        f"{PRESS}</div>"
    )
    return fill_each(
        row,
        (
            (
                who(one.assessment.enrolment.patient),
                one.sentence,
                day(one.raised_at),
                one.owner,
                to("assessments:concern", one.pk),
                "Open",
            )
            for one in concerns
        ),
    )


@register.filter
def finding_lines(findings: Iterable[Any]) -> SafeString:
    """Holds and stops without a decision."""
    row = (
        '<tr><td>{}</td><td class="nb">{}</td><td><span class="word {}">{}</span> {} {}</td>'
        f'<td class="n">{PRESS}</td></tr>'
    )
    return fill_each(
        row,
        (
            (
                who(one.visit.enrolment.patient),
                weekday(one.visit.on),
                one.level_word,
                signed(one.level_word),
                one.sentence,
                why(one.rule_id, one.source, one.origin),
                to("attendance:sheet", one.visit_id),
                "Decide",
            )
            for one in findings
        ),
    )


@register.filter
def event_lines(events: Iterable[Any]) -> SafeString:
    """Events to review."""
    row = (
        '<tr><td class="nb">{}, {}</td><td>{}</td><td>{}</td>'
        f'<td class="n">{PRESS}</td></tr>'
    )
    return fill_each(
        row,
        (
            (
                weekday(one.happened_at),
                clock(one.happened_at),
                one.get_kind_display(),
                one.patient or "not named yet",
                to("attendance:event", one.pk),
                "Review",
            )
            for one in events
        ),
    )


@register.filter
def unwritten_lines(rows: Iterable[Any]) -> SafeString:
    """Holds and stops to document."""
    row = (
        f'<tr><td>{{}}</td><td class="nb">{{}}</td><td>{{}} by {{}}</td>'
        f'<td class="n">{PRESS}</td></tr>'
    )
    return fill_each(
        row,
        (
            (
                who(one.visit.enrolment.patient),
                weekday(one.visit.on),
                one.get_kind_display(),
                one.by,
                to("attendance:sheet", one.visit_id),
                "Document",
            )
            for one in rows
        ),
    )


LATER = '<tr><td colspan="5" class="dim small">{}</td></tr>'


@register.filter
def plan_lines(lines: Iterable[Any]) -> SafeString:
    """Plans to sign: what is due now, and further ahead under a heading."""
    row = (
        '<tr><td>{}</td><td>{}{}</td><td class="nb">{}</td><td class="hide-m dim">{}</td>'
        f'<td class="n">{PRESS}</td></tr>'
    )
    draft = SafeString(' <span class="word note">draft ready</span>')
    now: list[str] = []
    later: list[str] = []
    for line in lines:
        (now if line.is_now else later).append(
            fill(
                row,
                who(line.enrolment.patient),
                line.what,
                draft if line.has_draft else "",
                due_in(line.due_on, line.days),
                line.enrolment.patient.site.name,
                to("review:plan", line.enrolment.pk),
                "Open plan",
            )
        )
    head = [fill(LATER, "Later this week")] if later else []
    return _joined(["<tbody>", *now, "</tbody><tbody>", *head, *later, "</tbody>"])


@register.simple_tag(takes_context=True)
def assessment_lines(context: Any, lines: Iterable[Any]) -> SafeString:
    """Assessments to do, under the heading of their group."""
    user, token = context["user"], csrf_token(context)
    may_assign = user.has_perm("enrolment.change_enrolment")
    may_open = user.has_perm("assessments.add_assessment")
    parts, group = [], None
    for line in lines:
        if line.group != group:
            group = line.group
            parts += [fill(LATER, group)] if group else []
        parts.append(
            fill(
                '<tr><td>{}</td><td>{}</td><td class="nb">{}</td><td data-label="With">{}</td>'
                '<td class="n">{}</td></tr>',
                who(line.enrolment.patient),
                line.what,
                in_spans(line.line.words),
                _with(line, token if may_assign else ""),
                _act(line, token if may_open else ""),
            )
        )
    return _joined(parts)


def csrf_token(context: Any) -> SafeString:
    """The token of a form, as Django's tag of this name writes it."""
    return hidden(csrfmiddlewaretoken=context["csrf_token"])


FORM = '<form method="post" action="{}">{}<button class="press{}">{}</button></form>'


def _with(line: Any, token: str) -> SafeString:
    """With whom it is; nobody's can be taken on."""
    if line.clinician:
        return fill("{}", line.clinician)
    if token and line.enrolment.is_open:
        url = to("assessments:take", line.enrolment.pk)
        return fill(FORM, url, token, " quiet", "Assign to me")
    return SafeString('<span class="dim">Unassigned</span>')


def _act(line: Any, token: str) -> SafeString:
    course = line.enrolment.pk
    if line.standing == Standing.MISSED:
        return fill(PRESS, to("assessments:course", course), "Record reason")
    if line.line.stored:
        return fill(PRESS, to("assessments:record", line.line.stored.pk), "Record")
    if token:
        told = hidden(kind=line.milestone.kind, number=line.milestone.number)
        return fill(FORM, to("assessments:open", course), token + told, "", "Record")
    return fill(PRESS, to("assessments:course", course), "Open")
