"""What changed between two versions of a plan, word by word (a project choice of presentation).

Words are told apart by Python's difflib. Nothing is summed up: what was there before is every run
but the new ones, what is there now every run but the gone ones.
"""

import re
from collections.abc import Sequence
from difflib import SequenceMatcher
from enum import StrEnum
from typing import NamedTuple

_WORDS = re.compile(r"\s+|[^\s]+")


class Kind(StrEnum):
    SAME = "same"
    GONE = "gone"
    NEW = "new"


class Run(NamedTuple):
    kind: Kind
    text: str


class Row(NamedTuple):
    """One line of a plan: a key that never changes, its heading, what stands there."""

    key: str
    label: str
    text: str


class Change(NamedTuple):
    """One line of a plan beside the same line of an earlier version."""

    key: str
    label: str
    runs: tuple[Run, ...]

    @property
    def is_changed(self) -> bool:
        """Something was added or removed."""
        return any(run.kind is not Kind.SAME for run in self.runs)

    @property
    def is_empty(self) -> bool:
        """Nothing stands there, before or now."""
        return not self.runs


def runs_between(old: str, new: str) -> tuple[Run, ...]:
    """Two texts as runs of words that stayed, went and came.

    Parameters
    ----------
    old, new : the text before and now; either may be empty.

    Returns
    -------
    Runs in order; what went stands before what came in its place. Space between two changes is
    part of both, so that a changed sentence is not cut into words.
    """
    before, after = _WORDS.findall(old), _WORDS.findall(new)
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    steps = [
        ["", "", "".join(before[a:b])] if step == "equal"
        else ["".join(before[a:b]), "".join(after[c:d]), ""]
        for step, a, b, c, d in matcher.get_opcodes()
    ]  # fmt: skip
    found: list[Run] = []
    for gone, new_text, same in _joined(steps):
        parts = ((Kind.SAME, same), (Kind.GONE, gone), (Kind.NEW, new_text))
        found += [Run(kind, text) for kind, text in parts if text]
    return tuple(found)


def _joined(steps: list[list[str]]) -> list[list[str]]:
    """Changes with nothing but space between them are one change."""
    found: list[list[str]] = []
    for n, (gone, new, same) in enumerate(steps):
        between = same and not same.strip() and 0 < n < len(steps) - 1
        if found and between:
            found[-1] = [found[-1][0] + same, found[-1][1] + same, ""]
        elif found and not found[-1][2] and not same:
            found[-1] = [found[-1][0] + gone, found[-1][1] + new, ""]
        else:
            found.append([gone, new, same])
    return found


def changes_between(old: Sequence[Row], new: Sequence[Row]) -> tuple[Change, ...]:
    """Each line of a version beside the same line of an earlier one.

    Parameters
    ----------
    old : lines of the earlier version; empty when there is none.
    new : lines of the later version.

    Returns
    -------
    The lines of the later version in their order; what only the earlier one has comes after the
    line that stood before it there. Without an earlier version nothing counts as changed.
    """
    if not old:
        return tuple(
            Change(row.key, row.label, (Run(Kind.SAME, row.text),) if row.text else ())
            for row in new
        )
    before = {row.key: row for row in old}
    here = {row.key for row in new}
    order = [row.key for row in new]
    for place, row in enumerate(old):
        if row.key not in here:
            at = order.index(old[place - 1].key) + 1 if place else 0
            order.insert(at, row.key)
    after = {row.key: row for row in new}
    return tuple(
        Change(
            key,
            (after.get(key) or before[key]).label,
            runs_between(
                before[key].text if key in before else "", after[key].text if key in after else ""
            ),
        )
        for key in order
    )


def block_of(key: str) -> str:
    """To which block of a plan a line belongs: the dose stands with exercise.

    Parameters
    ----------
    key : of a line, such as "lipids.goal".

    Returns
    -------
    Key of the block, such as "lipids".
    """
    first = key.partition(".")[0]
    return "exercise" if first == "dose" else first


def changed_blocks(changes: Sequence[Change]) -> list[str]:
    """Which blocks of a plan changed.

    Parameters
    ----------
    changes : lines beside their earlier version.

    Returns
    -------
    Keys of the blocks in which something was added or removed, each once, in order.
    """
    return list(dict.fromkeys(block_of(change.key) for change in changes if change.is_changed))
