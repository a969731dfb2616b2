"""Pieces of FHIR R4 resources as text; whatever has another shape than R4 says reads as empty.

Code meanings are from memory of SNOMED CT, LOINC and UCUM.
"""

from dataclasses import dataclass
from typing import Any

# SNOMED CT -> words this program understands.
SNOMED = {
    "22298006": "myocardial infarction",
    "57054005": "acute myocardial infarction",
    "401303003": "acute STEMI",
    "401314000": "acute NSTEMI",
    "232717009": "CABG",
    "415070008": "PCI",
    "36969009": "coronary stent",
    "41339005": "coronary angioplasty",
    "233819005": "stable angina",
    "84114007": "heart failure",
    "42343007": "heart failure",
    "703272007": "HFrEF",
    "446221000": "HFpEF",
    "34068001": "heart valve replacement",
    "26212005": "aortic valve replacement",
    "53059001": "mitral valve replacement",
    "32413006": "heart transplant",
}
LOINC = {
    "lvef": {"10230-1", "8806-2", "8807-0", "8808-8", "8809-6", "8811-2", "8812-0"},
    "nyha": {"88020-3"},
    "weight": {"29463-7", "3141-9", "3142-7"},
    "height": {"8302-2", "3137-7", "3138-5"},
}
FINISHED = {"final", "amended", "corrected"}
_DENIED = {"refuted", "entered-in-error", "unconfirmed", "provisional", "differential"}
_OVER = {"inactive", "resolved", "remission"}  # R4, condition-clinical
_DONE = {"completed"}
# UCUM -> how a list writes it, and by what the number is multiplied first.
_UNITS = {
    "%": ("%", 1.0), "kg": ("kg", 1.0), "g": ("kg", 0.001), "[lb_av]": ("lb", 1.0),
    "lb": ("lb", 1.0), "lbs": ("lb", 1.0), "cm": ("cm", 1.0), "m": ("m", 1.0), "mm": ("cm", 0.1),
    "[in_i]": ("in", 1.0), "in": ("in", 1.0), "1": ("", 1.0), "{ratio}": ("", 1.0), "": ("", 1.0),
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """One condition of a request as it came."""

    words: str
    code: str
    day: str


def text_of(value: Any) -> str:
    """A value as text.

    Parameters
    ----------
    value : of JSON.

    Returns
    -------
    A string stripped, a number as written; "" for anything else.
    """
    if isinstance(value, bool):
        return ""
    if isinstance(value, str):
        return value.strip()
    return f"{value}" if isinstance(value, int | float) else ""


def list_of(value: Any) -> list[Any]:
    """A value as a list.

    Parameters
    ----------
    value : of JSON.

    Returns
    -------
    The list itself, at most the first hundred; [] for anything else.
    """
    return value[:100] if isinstance(value, list) else []


def pick(value: Any, name: str = "") -> dict[str, Any]:
    """An object inside an object.

    Parameters
    ----------
    value : of JSON.
    name : of its member, "" for the value itself.

    Returns
    -------
    The object; {} where there is none.
    """
    found = value.get(name) if name and isinstance(value, dict) else value
    if name and not isinstance(value, dict):
        return {}
    return found if isinstance(found, dict) else {}


def words_of(concept: Any, name: str = "text") -> str:
    """The words of a concept.

    Parameters
    ----------
    concept : a CodeableConcept or a Reference.
    name : "text", or "display" for the words beside a reference or beside its codes.

    Returns
    -------
    Words; "" for none.
    """
    if own := text_of(pick(concept).get(name)):
        return own
    if name == "display":
        shown = [text_of(pick(c).get("display")) for c in list_of(pick(concept).get("coding"))]
        return next(filter(None, shown), "")
    return ""


def codes_of(concept: Any) -> list[tuple[str, str]]:
    """The codes of a concept.

    Parameters
    ----------
    concept : a CodeableConcept.

    Returns
    -------
    System in small letters, with ICD-10-CM and SNOMED CT as "icd-10" and "snomed", and code.
    """
    found = []
    for coding in list_of(pick(concept).get("coding")):
        system = text_of(pick(coding).get("system")).lower().rstrip("/")
        if system in {"urn:oid:2.16.840.1.113883.6.90"}:
            system = "icd-10"
        if system in {"http://snomed.info/sct", "urn:oid:2.16.840.1.113883.6.96"}:
            system = "snomed"
        if code := text_of(pick(coding).get("code")):
            found.append((system, code))
    return found


def status_of(resource: dict[str, Any]) -> str:
    """Why a condition or procedure is none of the person's.

    Parameters
    ----------
    resource : a Condition or Procedure.

    Returns
    -------
    The status in words, such as "refuted" or "not-done"; "" where it holds.
    """
    if verified := _words_in(resource, "verificationStatus") & _DENIED:
        return ", ".join(sorted(verified))
    if resource.get("resourceType") != "Procedure":
        return ""
    status = text_of(resource.get("status"))
    return "" if status in _DONE else status or "without a status"


def _words_in(resource: dict[str, Any], name: str) -> set[str]:
    """The codes of a status, or its words where it has no code."""
    concept = pick(resource, name)
    return {code for _, code in codes_of(concept)} | {words_of(concept).lower().replace(" ", "-")}


def over_since(resource: dict[str, Any]) -> str:
    """Whether a condition no longer holds.

    Parameters
    ----------
    resource : a Condition.

    Returns
    -------
    "resolved", "inactive" or "remission"; "" where it may still hold.
    """
    return ", ".join(sorted(_words_in(resource, "clinicalStatus") & _OVER))


def moment_of(observation: dict[str, Any]) -> str:
    """When an observation was true: its time, the end of its period, an instant, else its issue.

    Parameters
    ----------
    observation : an Observation.

    Returns
    -------
    The moment as written; "" for none.
    """
    period = pick(observation, "effectivePeriod")
    found = [
        observation.get("effectiveDateTime"), period.get("end"), period.get("start"),
        observation.get("effectiveInstant"), observation.get("issued"),
    ]  # fmt: skip
    return next(filter(None, map(text_of, found)), "")


def _is_of_use(name: Any) -> bool:
    return isinstance(name, dict) and name.get("use") not in {"old", "maiden", "nickname", "temp"}


def person_name(patient: dict[str, Any]) -> tuple[str, str, str]:
    """The name in use.

    Parameters
    ----------
    patient : a Patient.

    Returns
    -------
    Family name, given names, and the whole name where it is not parted; each may be "".
    """
    names = [name for name in list_of(patient.get("name")) if _is_of_use(name)]
    names.sort(key=lambda name: ["official", "usual", None].index(name.get("use"))
               if name.get("use") in {"official", "usual", None} else 3)  # fmt: skip
    for name in names:
        family = text_of(name.get("family"))
        given = " ".join(filter(None, map(text_of, list_of(name.get("given")))))
        if family or given:
            return family, given, ""
        if whole := text_of(name.get("text")):
            return "", "", whole
    return "", "", ""


def name_of(resource: dict[str, Any]) -> str:
    """The name of a practitioner or an organization in one line.

    Parameters
    ----------
    resource : of any type.

    Returns
    -------
    The name; "" for none.
    """
    if own := text_of(resource.get("name")):
        return own
    name = pick(next(iter(list_of(resource.get("name"))), {}))
    parts = [*list_of(name.get("prefix")), *list_of(name.get("given")), name.get("family")]
    return " ".join(filter(None, map(text_of, parts))) or text_of(name.get("text"))


def number_of(patient: dict[str, Any]) -> str:
    """The record number: the identifier of type MR, or the only one.

    Parameters
    ----------
    patient : a Patient.

    Returns
    -------
    The number; "" where none or several could be it.
    """
    found = [i for i in list_of(patient.get("identifier")) if pick(i).get("use") != "old"]
    typed = [i for i in found if "MR" in {code for _, code in codes_of(pick(i, "type"))}]
    values = [text_of(pick(i).get("value")) for i in typed or found]
    return values[0] if len(set(values)) == 1 else ""


def measure_of(observation: dict[str, Any], name: str) -> str:
    """The value of an observation as a list writes it.

    Parameters
    ----------
    observation : an Observation.
    name : "lvef", "nyha", "weight" or "height".

    Returns
    -------
    Number and unit, words, or a class; "" for none. A unit nobody knows stays as it came.
    """
    quantity = pick(observation, "valueQuantity")
    value = quantity.get("value")
    if isinstance(value, int | float) and not isinstance(value, bool):
        written = text_of(quantity.get("code")) or text_of(quantity.get("unit"))
        unit, factor = _UNITS.get(written, (written, 1.0))
        bound = text_of(quantity.get("comparator"))
        return f"{bound}{value * factor:.10g} {unit}".strip()
    concept = pick(observation, "valueCodeableConcept")
    words = text_of(observation.get("valueString")) or words_of(concept)
    return words or words_of(concept, "display") or text_of(observation.get("valueInteger"))
