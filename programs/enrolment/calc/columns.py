"""Guessing which column is which. The guess is shown and may be corrected.

The words that point to a field are a project choice.
"""

import re
from collections.abc import Sequence

# field -> (what the page calls it, header words that point to it; first match wins)
FIELDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "record_number": (
        "Record number",
        ("record number", "mrn", "medical record", "hospital number", "patient id", "patient no"),
    ),
    "family_name": ("Family name", ("family name", "last name", "surname", "lastname")),
    "given_name": ("Given name", ("given name", "first name", "forename", "firstname")),
    "full_name": ("Full name", ("patient name", "full name", "name", "patient")),
    "born_on": ("Date of birth", ("birth date", "date of birth", "dob", "born", "birthdate")),
    "sex": ("Sex", ("sex", "gender")),
    "phone": ("Phone", ("phone", "telephone", "mobile", "tel")),
    "diagnosis": (
        "Diagnosis",
        ("qualifying diagnosis", "diagnosis", "dx", "indication", "reason", "condition"),
    ),
    "icd10": ("ICD-10-CM code", ("icd-10-cm", "icd10", "icd-10", "icd", "code")),
    "event_on": (
        "Event date",
        ("event date", "procedure date", "date of event", "event", "onset", "surgery date"),
    ),
    "admitted_on": ("Admission date", ("admission date", "admitted", "admission")),
    "discharged_on": ("Discharge date", ("discharge date", "discharged", "discharge", "d/c date")),
    "referred_on": ("Referral date", ("referral date", "referred on", "referred", "order date")),
    "referrer": (
        "Referrer",
        ("referring physician", "referring provider", "referrer", "referred by", "physician"),
    ),
    "lvef_percent": ("LVEF", ("lvef", "ejection fraction", "ef")),
    "nyha_class": ("NYHA class", ("nyha",)),
    "weight": ("Weight", ("weight", "wt")),
    "height": ("Height", ("height", "ht")),
    "note": ("Note", ("note", "comment", "remarks")),
}
NEEDED = ("born_on", "referred_on")


def plain(header: str) -> str:
    """A column's header reduced to words that can be compared.

    Parameters
    ----------
    header : the header as the file writes it.

    Returns
    -------
    Lower case; all but a to z, digits, "/" and "-" has become space, none at the ends.
    """
    return re.sub(r"[^a-z0-9/\- ]+", " ", header.lower().replace("_", " ")).strip()


def guess(headers: Sequence[str]) -> dict[str, int]:
    """Which column holds which field; each column is used once, exact matches first.

    Parameters
    ----------
    headers : the headers in the order of columns.

    Returns
    -------
    Field to column index, counted from 0; a field without a column is absent, and the full name
    is left out where family and given name each have a column.
    """
    words = [plain(h) for h in headers]
    found: dict[str, int] = {}
    taken: set[int] = set()
    for matches in (_is, _starts, _holds):
        for field, (_, hints) in FIELDS.items():
            if field in found:
                continue
            for hint in hints:
                index = next(
                    (i for i, w in enumerate(words) if i not in taken and matches(w, hint)), None
                )
                if index is not None:
                    found[field] = index
                    taken.add(index)
                    break
    if "family_name" in found and "given_name" in found:
        found.pop("full_name", None)
    return found


def _is(word: str, hint: str) -> bool:
    return word == hint


def _starts(word: str, hint: str) -> bool:
    return word.startswith(hint + " ")


def _holds(word: str, hint: str) -> bool:
    return re.search(rf"(^| ){re.escape(hint)}( |$)", word) is not None


def missing(mapping: dict[str, int]) -> list[str]:
    """Needed fields without a column, by the names the page uses.

    Parameters
    ----------
    mapping : field to column index, as ``guess`` gives or a person corrected it.

    Returns
    -------
    Names in words, "Name" first; empty when the list can be read.
    """
    lacking = [FIELDS[f][0] for f in NEEDED if f not in mapping]
    if "full_name" not in mapping and not {"family_name", "given_name"} <= mapping.keys():
        lacking.insert(0, "Name")
    return lacking
