"""Boxes of forms, drawn without a template each.

A session sheet has two hundred boxes, and a template for the box and another for what stands around
it cost two thirds of the page. The commonest of Django's widgets are written here as it writes
them, but for line breaks (``tests/patients/test_rendering.py`` holds them to Django's own);
any other goes through its template as always.
"""

from collections.abc import Callable, Iterable
from html import escape
from typing import Any

from django.forms.renderers import DjangoTemplates
from django.template import TemplateDoesNotExist
from django.template.backends.base import BaseEngine
from django.utils.html import conditional_escape, format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from patients.addresses import to

Widget = dict[str, Any]


def attributes(attrs: dict[str, Any]) -> str:
    """Attributes of a tag: False leaves one out, True stands without a value."""
    return "".join(
        f" {name}" if value is True else f' {name}="{conditional_escape(str(value))}"'
        for name, value in attrs.items()
        if value is not False
    )


def text_of(value: Any) -> str:
    """As ``stringformat:"s"`` writes it: what is safe stays as it is."""
    return conditional_escape(value if isinstance(value, SafeString) else str(value))


def box(widget: Widget) -> str:
    value = widget["value"]
    held = "" if value is None else f' value="{text_of(value)}"'
    name = conditional_escape(widget["name"])
    return f'<input type="{widget["type"]}" name="{name}"{held}{attributes(widget["attrs"])}>'


def option(widget: Widget) -> str:
    attrs, value = attributes(widget["attrs"]), text_of(widget["value"])
    return f'<option value="{value}"{attrs}>{conditional_escape(widget["label"])}</option>'


def choice(widget: Widget) -> str:
    """A radio button or a tick, with its words."""
    if not widget.get("wrap_label"):
        return box(widget)
    key = widget["attrs"].get("id")
    to = f' for="{conditional_escape(key)}"' if key else ""
    return f"<label{to}>{box(widget)} {conditional_escape(widget['label'])}</label>"


def chooser(widget: Widget) -> str:
    parts = [f'<select name="{conditional_escape(widget["name"])}"{attributes(widget["attrs"])}>']
    for group, options, _ in widget["optgroups"]:
        if group:
            parts.append(f'\n  <optgroup label="{conditional_escape(group)}">')
        parts += [f"\n  {option(one)}" for one in options]
        if group:
            parts.append("\n  </optgroup>")
    return "".join([*parts, "\n</select>"])


def choices(widget: Widget) -> str:
    """Radio buttons or ticks below each other."""
    attrs = widget["attrs"]
    key, css = attrs.get("id"), attrs.get("class")
    parts = [
        "<div",
        f' id="{conditional_escape(key)}"' if key else "",
        f' class="{conditional_escape(css)}"' if css else "",
        ">",
    ]
    for group, options, _ in widget["optgroups"]:
        if group:
            parts.append(f"\n  <div><label>{conditional_escape(group)}</label>")
        parts += [f"<div>\n    {choice(one)}</div>" for one in options]
        if group:
            parts.append("\n  </div>")
    return "".join([*parts, "\n</div>"])


def writing(widget: Widget) -> str:
    value = conditional_escape(widget["value"]) if widget["value"] else ""
    name = conditional_escape(widget["name"])
    return f'<textarea name="{name}"{attributes(widget["attrs"])}>\n{value}</textarea>'


def written(widget: Widget) -> str:
    """A day or an hour, with the way it is written in."""
    beside, name = conditional_escape(widget["beside"]), conditional_escape(widget["beside_name"])
    return f'{box(widget)}<input type="hidden" name="{name}" value="{beside}">'


PREFIX = "django/forms/widgets/"
DRAWN: dict[str, Callable[[Widget], str]] = {
    **{
        f"{PREFIX}{name}.html": box
        for name in ["input", "text", "number", "date", "time", "hidden", "checkbox", "password"]
    },
    f"{PREFIX}select.html": chooser,
    f"{PREFIX}radio.html": choices,
    f"{PREFIX}checkbox_select.html": choices,
    f"{PREFIX}textarea.html": writing,
    "house/written.html": written,
}


class FormRenderer(DjangoTemplates):
    """Django's renderer, with the commonest widgets drawn by the functions above."""

    def render(self, template_name: str, context: dict[str, Any], request: Any = None) -> str:
        draw = DRAWN.get(template_name)
        return draw(context["widget"]) if draw else super().render(template_name, context, request)


# --- what stands around a box -------------------------------------------------------------------


def question(field: Any, wrapper_class: str = "") -> str:
    """One question: its label, its box with the unit behind it, what is wrong, what helps."""
    if field.is_hidden:
        return str(field)
    kind = "entry tick" if field.widget_type == "checkbox" else "entry"
    css = f"{kind} {wrapper_class}" if wrapper_class else kind
    return f'<div class="{css}">{_inside(field)}</div>'


def _inside(field: Any) -> str:
    label, drawn, beside = _label(field), str(field), _beside(field)
    if field.widget_type == "checkbox":
        return f'{drawn}\n<label for="{field.id_for_label}">{label}</label>{beside}'
    if field.use_fieldset:
        options = f'<div class="options">{drawn}</div>{beside}'
        if not field.label:
            return options
        said = f' aria-describedby="{field.aria_describedby}"' if field.aria_describedby else ""
        return f"<fieldset{said}><legend>{label}</legend>{options}</fieldset>"
    unit = getattr(field.field, "unit", "")
    if unit and not getattr(field.field, "names_unit", False):
        unit = conditional_escape(unit)
        drawn = f'<div class="measured">{drawn} <span class="unit">{unit}</span></div>'
    if not field.label:
        return f"{drawn}{beside}"
    to = f' for="{field.id_for_label}"' if field.id_for_label else ""
    return f"<label{to}>{label}</label>\n{drawn}{beside}"


def _label(field: Any) -> str:
    needed = '<span class="needed" aria-hidden="true">*</span>' if field.field.required else ""
    return f"{conditional_escape(field.label)}{needed}"


def _beside(field: Any) -> str:
    """What is wrong, what is asked again, and what helps."""
    parts, key = [], field.auto_id
    if field.errors:
        parts.append(f'<div class="wrong"{_id(key, "{}_error")}>')
        for n, error in enumerate(field.errors, start=1):
            parts.append(f"<p{_id(key, f'error_{n}_{{}}')}>{conditional_escape(error)}</p>")
        parts.append("</div>")
    asked = getattr(field.field, "question", "")
    if asked:
        words = conditional_escape(asked)
        parts.append(f'<div class="wrong" id="{key}_question"><p>{words}</p></div>')
    if field.help_text:
        parts.append(f'<div class="hint"{_id(key, "{}_helptext")}>{field.help_text}</div>')
    return "".join(parts)


def _id(key: str, form: str) -> str:
    return f' id="{form.format(key)}"' if key else ""


def _escaped(value: Any) -> str:
    """As ``conditional_escape``, without its way round for what is a plain text."""
    if type(value) is str:
        return escape(value)
    return value if type(value) is SafeString else conditional_escape(value)


def fill(form: str, *values: Any) -> SafeString:
    """As ``format_html``, for the lines that stand a hundred times on a page."""
    return SafeString(form.format(*map(_escaped, values)))


def fill_each(form: str, rows: Iterable[Iterable[Any]]) -> SafeString:
    """The same for each row of values, one behind the other."""
    return SafeString("".join([form.format(*map(_escaped, row)) for row in rows]))


def who(patient: Any) -> SafeString:
    """A person's name, leading to their overview."""
    return format_html(
        '<a class="who" href="{}">{}</a>', to("reports:journey", patient.pk), patient
    )


WHY = '<details class="why"><summary>Why</summary>{}</details>'


def why(*parts: object) -> SafeString:
    """The code of a rule, its source, whose limit it is: reachable, and never in the sentence.

    It is a block, so it stands in a ``div`` or a cell, not in a paragraph.
    """
    told = " · ".join(str(part) for part in parts if part)
    return fill(WHY, told) if told else SafeString("")


def why_each(rows: Iterable[tuple[str, str]]) -> SafeString:
    """The same of many lines at once, so that a form has one place more to step through."""
    lines = format_html_join("", "<li>{}: {}</li>", rows)
    return format_html(WHY, format_html('<ul class="plain">{}</ul>', lines))


class _Question:
    """What crispy-forms takes for the template of a question."""

    def render(self, context: Any = None, request: Any = None) -> SafeString:
        # Every part is escaped above, or comes from a widget that escapes.
        return mark_safe(question(context["field"], context.get("wrapper_class") or ""))  # noqa: S308


class Questions(BaseEngine):
    """A template engine of one template, ``house/field.html``: what stands around a box."""

    def __init__(self, params: dict[str, Any]) -> None:
        params = params.copy()
        params.pop("OPTIONS")
        super().__init__(params)

    def get_template(self, template_name: str) -> Any:
        if template_name != "house/field.html":
            raise TemplateDoesNotExist(template_name, backend=self)
        return _Question()
