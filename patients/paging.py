"""Lists paged by key: a page costs what it shows, however many rows lie before it.

The address of a page names a row, ``?after=…`` or ``?before=…``; the page is what follows or leads
up to it in the list's order. Nothing is counted, and nobody is skipped or shown twice when rows
come in meanwhile.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q
from django.http import HttpRequest

from patients.typed import whole

PAGE = 40


@dataclass
class KeyPage:
    """The rows of a page, and the addresses of the ones beside it; "" where there is none."""

    rows: list[Any]
    earlier: str = ""
    later: str = ""

    @property
    def is_part(self) -> bool:
        """There is more than this page."""
        return bool(self.earlier or self.later)


def page_of(request: HttpRequest, *strands: Any, order: Sequence[str], size: int = PAGE) -> KeyPage:
    """A page of one or several query sets of a kind, in an order of columns that ends in the key.

    Each column may have a leading minus. Several query sets are for what one index cannot find:
    each is asked for no more than a page. A row named by the address that none of them holds, such
    as another site's, is as good as none: the list begins anew.
    """
    after, before = whole(request.GET.get("after")), whole(request.GET.get("before"))
    mark = _mark(strands, after or before, order)
    backwards = mark is not None and not after
    asked = [_turned(o) for o in order] if backwards else list(order)
    beyond = Q() if mark is None else _beyond(asked, mark)
    found = {row.pk: row for s in strands for row in s.filter(beyond).order_by(*asked)[: size + 1]}
    got = list(found.values()) if len(strands) == 1 else _sorted(found.values(), asked)
    more, got = len(got) > size, got[:size]
    if backwards:
        got.reverse()
    has_earlier = more if backwards else mark is not None
    has_later = bool(got) if backwards else more
    return KeyPage(
        got,
        _address(request, before=got[0].pk) if has_earlier and got else "",
        _address(request, after=got[-1].pk) if has_later else "",
    )


def part_of(request: HttpRequest, rows: Sequence[Any], size: int = PAGE) -> KeyPage:
    """A page of rows that were worked out, each with its ``key``, under the same addresses.

    Where the row that the address names is gone the list begins anew.
    """
    after, before = request.GET.get("after", ""), request.GET.get("before", "")
    keys = [row.key for row in rows] if after or before else []
    first = 0
    if after in keys:
        first = keys.index(after) + 1
    elif before in keys:
        first = max(0, keys.index(before) - size)
    shown = list(rows[first : first + size])
    more = first + size < len(rows)
    return KeyPage(
        shown,
        _address(request, before=shown[0].key) if shown and first else "",
        _address(request, after=shown[-1].key) if more else "",
    )


def _mark(strands: Sequence[Any], pk: int | None, order: Sequence[str]) -> dict[str, Any] | None:
    """The columns of the row that the address names."""
    columns = [_column(o) for o in order]
    marks = (strand.filter(pk=pk).values(*columns).first() for strand in strands if pk)
    return next((mark for mark in marks if mark), None)


def _sorted(rows: Iterable[Any], order: Sequence[str]) -> list[Any]:
    """Rows of several query sets in one order; the columns hold something in each."""
    found = list(rows)
    for one in reversed(order):
        found.sort(key=attrgetter(_column(one)), reverse=one.startswith("-"))
    return found


def _column(order: str) -> str:
    return order.removeprefix("-")


def _turned(order: str) -> str:
    return _column(order) if order.startswith("-") else f"-{order}"


def _beyond(order: list[str], mark: dict[str, Any]) -> Q:
    """Rows after the mark: beyond in the first column, or the same there and beyond in the next.

    The first column is bounded apart, which is what lets a database begin there in an index.
    """
    beyond = Q()
    for column in reversed(order):
        name = _column(column)
        further = Q(**{f"{name}__{'lt' if column.startswith('-') else 'gt'}": mark[name]})
        beyond = further | Q(**{name: mark[name]}) & beyond if beyond else further
    first = _column(order[0])
    side = "lte" if order[0].startswith("-") else "gte"
    return Q(**{f"{first}__{side}": mark[first]}) & beyond


def _address(request: HttpRequest, **place: Any) -> str:
    """The same search at another place."""
    kept = [(k, v) for k, v in request.GET.items() if k not in {"after", "before"}]
    return f"?{urlencode([*kept, *place.items()])}"
