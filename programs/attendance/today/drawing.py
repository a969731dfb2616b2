"""Lines drawn once: the class is asked for every few seconds, and most of it is as it was."""

import re
import uuid
from functools import lru_cache

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from patients.calc.measuring import Units
from programs.attendance.today.lines import Line

# Stand in a drawn line for what differs at each showing: the token of the session, and the key
# by which a form counts once.
TOKEN, KEY = "\u2016token\u2016", "\u2016key\u2016"

# White space around these is never seen; forty lines of it are.
_BLOCK = re.compile(r" ?(</?(?:tbody|tr|td|div|form|details|summary|select|option)\b[^>]*>) ?")


@lru_cache(maxsize=4096)
def _drawn(line: Line, units: Units) -> str:
    context = {"line": line, "units": units, "TOKEN": TOKEN, "KEY": KEY}
    html = render_to_string("attendance/_line.html", context)
    return _BLOCK.sub(r"\1", re.sub(r"\s+", " ", html)).replace(" >", ">")


def drawn(line: Line, units: Units, token: str) -> SafeString:
    """A line as HTML. Equal lines are drawn alike: a line holds texts and nothing else."""
    html = _drawn(line, units).replace(TOKEN, token)
    while KEY in html:
        html = html.replace(KEY, str(uuid.uuid4()), 1)
    return mark_safe(html)  # noqa: S308  (drawn by a template, which escapes)
