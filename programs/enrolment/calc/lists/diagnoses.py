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
    (r"(heart|cardiac).{0,12}transplant|trasplante (cardiac|de corazon)|\b(ohtx?|htx)\b",
     "transplant"),
    (r"\bcabg\b|\bbypass\b|cirugia de revascularizacion|revascularizacion quirurgica", "cabg"),
    (r"\btavr\b|\btavi\b|(?<!in )(?<!lead )(?<!leads )(?<!elevation )(?<!depression )\b[am]vr\b"
     r"|mitraclip|valvuloplast"
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
    r"|\baaa\b|evar|bile|\bduct\b|pancrea|subclavian|vertebral|cerebral|mesenteric|celiac"
    r"|stent[ -]?graft|endograft|thoracic aort|trache|bronch|airway"
)
_OF_VESSELS = {"cabg", "pci", "transplant"}
_BEFORE = re.compile(
    r"\b(no|not|never|without|denies|denied|negative for|rule out|no evidence of|absence of"
    r"|excluded?|at risk|risk of|sin|niega|nunca|descartar|riesgo de|possible|probable|suspected"
    r"|questionable|sospecha de|posible)\b"
)
_FAMILY = re.compile(
    r"\b(family history|family hx|fam hx|fam history|fhx?|familial|(grand)?(father|mother|parents?)"
    r"|dad|mom|mum|brother|sister|sibling|uncle|aunt|cousin|son|daughter|wife|husband|spouse"
    r"|antecedentes familiares|padres?|madre|herman[oa]s?|abuel[oa]s?|ti[oa]|prim[oa]|hij[oa]"
    r"|espos[oa]|marido)\b"
)
_BEHIND = re.compile(
    r"\b(ruled out|cancell?ed|not done|not performed|not confirmed|deferred|declined|refused"
    r"|excluded|postponed|aborted|descartad[oa]|cancelad[oa]|no realizad[oa]|suspendid[oa]"
    r"|failed|unsuccessful|attempted|vs|versus|likely|unlikely|query|concern for|fallid[oa])\b|\?"
)
_TO_COME = re.compile(
    r"\b(planned|planning|scheduled|awaiting|awaits|candidate|consider(ed|ing)?|pending|evaluat\w+"
    r"|workup|work-up|waitlist\w*|listed for|for possible|programad[oa]|prevista?|pendiente"
    r"|en espera|candidat[oa]|needs|upcoming|plans?|planea|programan?"
    r"|will (have|undergo|need|get|be)|to undergo|going for|booked|proposed"
    r"|propuest[oa]"
    r"|pre-?(tavr|tavi|[am]vr|cabg|pci|bypass|transplant|valve)"
    r"|pre-?op\w*|pre-?surg\w*|pre-?procedur\w*|prior to|preoperatori[oa])\b"
)
# "AS for TAVR" is mostly to come, "cath for PCI" mostly done.
_FOR = re.compile(
    r"\b(for|para) (a |an |un |una |elective |urgent )?(tavr|tavi|[am]vr|cabg|pci|ptca|icp|bypass"
    r"|stent\w*|angioplast\w*|valve|valvular|transplant\w*)\b"
)
_DONE = re.compile(r"\b(post|after|done|performed|status|recent|acute|realizad[oa]|history of)\b")
_AFTER = re.compile(r"\b(post|after|following|tras|despues)\b")
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
    (r"\bd/c\b", "discharge"), (r"\by/o\b", ""), (r"\bf/h\b", "family history"),
    (r"\bpte\.?\s+de\b", "pendiente de"), (r"\ba\.\s?f\.?\s+de\b", "antecedentes familiares de"),
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
    is_elsewhere = _ELSEWHERE.search(text) is not None
    found = []
    for pattern, kind in _KINDS_FOUND:
        match = pattern.search(text)
        if match and not (is_elsewhere and kind in _OF_VESSELS):
            found.append((match.start(), kind))
    return tuple(sorted(found))


# Words that may stand around a condition in the name of a column of yes and no.
_AROUND = re.compile(
    r"\b(recent|acute|history|hx|of|prior|previous|had|has|ever|any|with|post|done|y/n|yes/no|yn"
    r"|yes|no|dx|flag|status|event|condition|diagnosis|patient|surgery|procedure|operation|coronary"
    r"|placement|placed|de|si|antecedente|antecedentes|reciente|previo|agudo)\b"
)


def names_condition(words: str) -> bool:
    """Whether words name one condition and nothing beside it that could make it another thing.

    Parameters
    ----------
    words : the name of a column.

    Returns
    -------
    True for "MI (y/n)" and "History of CABG"; False for "Family history of MI", "HF education".
    """
    text = plain(words)
    for pattern, _ in _KINDS_FOUND:
        text = pattern.sub(" ", text)
    return not re.search(r"[a-z]", _AROUND.sub(" ", text))


def read_diagnoses(
    words: Sequence[str],
    codes: Sequence[str],
    day_in: Callable[[str], date | None],
    today: date = date.max,
) -> Diagnoses:
    """Conditions, each with its own day, from the words and codes of one row.

    Parameters
    ----------
    words : the cells of diagnoses as written.
    codes : ICD-10-CM codes in capitals with their point.
    day_in : reads a day written among the words; None where it cannot.
    today : what has a later day is still to come.

    Returns
    -------
    What is named, coded, unspecific, denied, doubtful, or an abbreviation of two meanings. Denied
    are what is ruled out, cancelled, planned, of the family, or only suspected.
    """
    result = Diagnoses()
    for cell in words:
        carries = False
        for part in _parts(cell):
            carries = _read_part(part, carries and part.is_after_comma, result, day_in, today)
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
    part: _Part,
    carries: bool,
    result: Diagnoses,
    day_in: Callable[[str], date | None],
    today: date,
) -> bool:
    """Add what one part says; whether a denial of it may reach over the next comma."""
    text, kinds = _HARMLESS.sub("", _plain(part.words)), _kinds_in(part.words)
    for pattern, word, meanings in TWO_MEANINGS:
        if re.fullmatch(pattern, text):
            result.abbreviation = result.abbreviation or (word, meanings)
            return False
    before, behind, to_come = (p.search(text) for p in (_BEFORE, _BEHIND, _TO_COME))
    family = _FAMILY.search(text)
    before = min(filter(None, (before, family)), key=re.Match.start, default=None)
    if not kinds:
        if before or behind or to_come:
            result.denied.append(part.words)
        return bool(before)
    days = [day for day in map(day_in, IN_TEXT.findall(part.words)) if day]
    is_open = any(day > today for day in days) or _is_behind(family, kinds)
    if not (before or behind or to_come):
        carries = carries and not _DONE.search(text)
        is_open = is_open or carries or bool(_FOR.search(text))
    if is_open:
        result.doubtful += [kind for _, kind in kinds]
        return bool(before) or carries
    if behind or to_come:
        may_be_past = not behind and _AFTER.search(text) is not None
        _late_denial(part, kinds, result, may_be_past=may_be_past)
        return False
    sure = [kind for place, kind in kinds if not before or place < before.start()]
    if len(sure) < len(kinds):
        result.denied.append(part.words)
    day = days[0] if len(days) == 1 and len(sure) == 1 else None
    years = tuple(int(year) for year in _YEAR.findall(part.words))
    is_earlier = bool(_EARLIER.search(text))
    for kind in sure:
        _add(result, Named(kind, day, "", part.words, is_earlier, years))
    return bool(before)


def _is_behind(family: re.Match[str] | None, kinds: Sequence[tuple[int, str]]) -> bool:
    """ "MI (brother)": a relative named behind a condition may be who had it."""
    return family is not None and any(place < family.start() for place, _ in kinds)


def _late_denial(
    part: _Part, kinds: tuple[tuple[int, str], ...], result: Diagnoses, *, may_be_past: bool
) -> None:
    """ "CABG cancelled" denies one condition; of two in one breath nobody knows which, and "will
    need rehab after CABG" denies none."""
    if len(kinds) == 1 and not may_be_past:
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
