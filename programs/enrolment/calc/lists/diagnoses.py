"""Conditions that the words and codes of a referral name, and those they deny.

Which words point to which condition, in English and Spanish, is a project choice; a clinician
confirms. Code families: see ``fixtures/reference/icd10_families.csv``.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from programs.enrolment.calc.lists.cells import IN_TEXT
from programs.enrolment.calc.lists.fields import plain
from programs.enrolment.calc.referral_cells import family_of

# Found in a text without accents, in small letters.
_KINDS = [
    (r"(heart|cardiac|lung).{0,12}transplant|trasplante (cardiac|de corazon)|\b(ohtx?|htx)\b",
     "transplant"),
    (r"\bcabg\b|\bbypass\b|cirugia de revascularizacion|revascularizacion quirurgica", "cabg"),
    (r"\btavr\b|\btavi\b|\b[am]vr\b|mitraclip|valvuloplast"
     r"|(valve|valvular|mitral|aortic|tricuspid).{0,25}(repair|replac|surgery)"
     r"|(repair|replacement) of .{0,20}valve"
     r"|(recambio|reparacion|sustitucion|protesis|cirugia).{0,12}(valv|mitral|aortic)", "valve"),
    (r"\b[lrb]i?vad\b|ventricular assist", "vad"),
    (r"\bstent|angioplast|\bptca\b|\bpci\b|\bdes\b|\bicp\b", "pci"),
    (r"heart attack|myocardial infarction|\b(non?-?)?n?-?stemi\b|\bami\b|\bmi\b|infarto"
     r"|\biam(cest|sest)?\b|\bscac?est\b|\bscasest\b", "mi"),
    (r"heart failure|\bhf(r|p|mr)?ef\b|\bchf\b|\bhf\b|insuficiencia cardiaca|\bicc\b|\bic con f",
     "heart_failure"),
    (r"(?<!un)stable (effort |exertional )?angina|angina( pectoris)?,? stable"
     r"|angina (de pecho )?estable|angina de esfuerzo|exertional angina", "stable_angina"),
]  # fmt: skip
_KINDS_FOUND = [(re.compile(pattern), kind) for pattern, kind in _KINDS]
# Of another part of the body: its words of bypass, stent and transplant are not the heart's.
_ELSEWHERE = re.compile(
    r"gastric|femoral|fem-?pop|carotid|renal|kidney|liver|hepatic|iliac|popliteal|ureter|biliary"
    r"|esophag|intestin|roux|\bleg\b|\barm\b|lower extremity|limb|peripheral|aorto-?\w+"
    r"|\baaa\b|evar"
)
_BEFORE = re.compile(
    r"\b(no|not|without|denies|denied|negative for|rule out|no evidence of|absence of|excluded?"
    r"|family history|family hx|fhx?|father|mother|brother|sister|sin|niega|descartar"
    r"|antecedentes familiares|possible|probable|suspected|questionable|sospecha de|posible)\b"
)
_BEHIND = re.compile(
    r"\b(ruled out|cancell?ed|not done|not performed|not confirmed|deferred|declined|refused"
    r"|excluded|postponed|aborted|descartad[oa]|cancelad[oa]|no realizad[oa]|suspendid[oa]"
    r"|failed|unsuccessful|attempted|vs|versus|likely|query|concern for|fallid[oa])\b|\?"
)
_TO_COME = re.compile(
    r"\b(planned|planning|scheduled|awaiting|awaits|candidate|consider(ed|ing)?|pending|evaluat\w+"
    r"|workup|work-up|waitlist\w*|listed for|for possible|programad[oa]|prevista?|pendiente"
    r"|en espera|candidat[oa]|needs|upcoming"
    r"|pre-?op\w*|pre-?surg\w*|pre-?procedur\w*|prior to|preoperatori[oa])\b"
)
_DONE = re.compile(r"\b(post|done|performed|status|recent|acute|realizad[oa]|history of)\b")
_EARLIER = re.compile(
    r"\b(history of|hx|prior|previous|old|remote|former|antigu[oa]|previ[oa]|antecedentes?)\b"
)
_YEAR = re.compile(r"\b(?:19|20)\d{2}\b")
_HARMLESS = re.compile(r"\b(no|without|sin)\s+(\w+\s+)?complica\w+")
# Abbreviations with two meanings: (words before it, choices).
TWO_MEANINGS: list[tuple[str, str, tuple[str, ...]]] = [
    (r"ht", "HT", ("transplant",)),
    (r"im", "IM", ("mi",)),
    (r"sa", "SA", ("stable_angina",)),
    (r".*\b(mild|moderate|severe|mod|trace|grade|leve|moderada|grave)\b.*\bmi\b.*", "MI", ("mi",)),
]
_SHORT = [
    (r"\bs/p\b", "post"), (r"\bst(atus)?[ -]post\b", "post"), (r"\br/o\b", "rule out"),
    (r"\bh/o\b", "history of"), (r"\bw/o\b", "without"), (r"\bw/", "with "), (r"\bc/o\b", ""),
    (r"\bd/c\b", "discharge"), (r"\by/o\b", ""),
]  # fmt: skip


@dataclass
class Named:
    """One condition that a row names."""

    kind: str
    happened_on: date | None = None
    icd10: str = ""
    wording: str = ""
    is_earlier: bool = False  # its words say that it was before
    years: tuple[int, ...] = ()  # years beside its words


@dataclass
class Diagnoses:
    """What words and codes of a row say."""

    named: list[Named] = field(default_factory=list)  # by words, in their order
    coded: list[tuple[str, str]] = field(default_factory=list)  # (code, kind)
    unspecific: list[str] = field(default_factory=list)  # codes that name no condition
    denied: list[str] = field(default_factory=list)  # in words
    doubtful: list[str] = field(default_factory=list)  # kinds, denied or not
    abbreviation: tuple[str, tuple[str, ...]] | None = None


@dataclass(frozen=True)
class _Part:
    words: str  # as written
    is_after_comma: bool


def kinds_in(words: str) -> list[tuple[int, str]]:
    """The conditions that some words point to, denied or not.

    Parameters
    ----------
    words : as written.

    Returns
    -------
    Place in the plain text and kind, in the order of the text, each kind once.
    """
    return list(_kinds_in(words))


@lru_cache(maxsize=20_000)
def _kinds_in(words: str) -> tuple[tuple[int, str], ...]:
    text = _plain(words)
    if _ELSEWHERE.search(text):
        return ()
    found = []
    for pattern, kind in _KINDS_FOUND:
        match = pattern.search(text)
        if match:
            found.append((match.start(), kind))
    return tuple(sorted(found))


def read_diagnoses(
    words: Sequence[str], codes: Sequence[str], day_in: Callable[[str], date | None]
) -> Diagnoses:
    """Conditions, each with its own day, from the words and codes of one row.

    Parameters
    ----------
    words : the cells of diagnoses as written.
    codes : ICD-10-CM codes in capitals with their point.
    day_in : reads a day written among the words; None where it cannot.

    Returns
    -------
    What is named, coded, unspecific, denied, doubtful, or an abbreviation of two meanings. Denied
    are what is ruled out, cancelled, planned, of the family, or only suspected.
    """
    result = Diagnoses()
    for cell in words:
        carries = False
        for part in _parts(cell):
            carries = _read_part(part, carries and part.is_after_comma, result, day_in)
    sure = {named.kind for named in result.named}
    result.doubtful = [kind for kind in dict.fromkeys(result.doubtful) if kind not in sure]
    for code in codes:
        if family := family_of(code):
            result.coded.append((code, family))
        else:
            result.unspecific.append(code)
    return result


def _plain(words: str) -> str:
    text = _HARMLESS.sub("", words.lower())
    for short, long in _SHORT:
        text = re.sub(short, long, text)
    return " ".join(plain(piece) + ("?" if "?" in piece else "") for piece in text.split())


def _parts(cell: str) -> list[_Part]:
    """Split at what parts conditions; days and abbreviations with a stroke stay whole."""
    text = cell
    for short, long in _SHORT:
        text = re.sub(short, long, text, flags=re.IGNORECASE)
    pieces = re.split(
        r"(;|\n|\||\+|•|(?<![\d])\.(?=\s|$)|,(?!\s?\d{4}\b)|\s(?:and|y|then|followed by)\s"
        r"|(?<=[A-Za-z])/(?=[A-Za-z]))", text
    )  # fmt: skip
    found, is_after = [], False
    for place, piece in enumerate(pieces):
        if place % 2:
            is_after = piece not in {";", "\n", "|", "."}
        elif piece.strip():
            found.append(_Part(piece.strip(), is_after))
    return found


def _read_part(
    part: _Part, carries: bool, result: Diagnoses, day_in: Callable[[str], date | None]
) -> bool:
    """Add what one part says; whether a denial of it may reach over the next comma."""
    text, kinds = _HARMLESS.sub("", _plain(part.words)), _kinds_in(part.words)
    for pattern, word, meanings in TWO_MEANINGS:
        if re.fullmatch(pattern, text):
            result.abbreviation = result.abbreviation or (word, meanings)
            return False
    before, behind, to_come = (p.search(text) for p in (_BEFORE, _BEHIND, _TO_COME))
    if not kinds:
        if before or behind or to_come:
            result.denied.append(part.words)
        return bool(before)
    if carries and not (before or behind or to_come or _DONE.search(text)):
        result.doubtful += [kind for _, kind in kinds]
        return True
    if behind or to_come:
        _late_denial(part, kinds, result)
        return False
    sure = [kind for place, kind in kinds if not before or place < before.start()]
    if len(sure) < len(kinds):
        result.denied.append(part.words)
    days = [day for day in map(day_in, IN_TEXT.findall(part.words)) if day]
    day = days[0] if len(days) == 1 and len(sure) == 1 else None
    years = tuple(int(year) for year in _YEAR.findall(part.words))
    is_earlier = bool(_EARLIER.search(text))
    for kind in sure:
        _add(result, Named(kind, day, "", part.words, is_earlier, years))
    return bool(before)


def _late_denial(part: _Part, kinds: tuple[tuple[int, str], ...], result: Diagnoses) -> None:
    """ "CABG cancelled" denies one condition; of two in one breath nobody knows which."""
    if len(kinds) == 1:
        result.denied.append(part.words)
    else:
        result.doubtful += [kind for _, kind in kinds]


def _add(result: Diagnoses, new: Named) -> None:
    """The same condition twice is one, unless each has a day of its own."""
    for old in result.named:
        if old.kind == new.kind and None in (old.happened_on, new.happened_on):
            old.happened_on = old.happened_on or new.happened_on
            return
        if (old.kind, old.happened_on) == (new.kind, new.happened_on):
            return
    result.named.append(new)
