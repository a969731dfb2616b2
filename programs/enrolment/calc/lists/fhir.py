"""Referrals from a FHIR R4 bundle, brought into the same table as any other list.

Element names and code systems: HL7 FHIR R4 (4.0.1). LOINC and SNOMED CT codes from memory.
"""

import json
from collections.abc import Iterator
from typing import Any

from programs.enrolment.calc.lists.delimited import MAX_ROWS, Line
from programs.enrolment.calc.lists.diagnoses import kinds_in
from programs.enrolment.calc.lists.fhir_parts import (
    FINISHED,
    LOINC,
    SNOMED,
    Found,
    codes_of,
    list_of,
    measure_of,
    moment_of,
    name_of,
    number_of,
    over_since,
    person_name,
    pick,
    status_of,
    text_of,
    words_of,
)
from programs.enrolment.calc.lists.grid import Table
from programs.enrolment.calc.lists.letters import UnreadableFile
from programs.enrolment.calc.lists.resources import Resources
from programs.enrolment.calc.referral_cells import family_of

MAX_CONDITIONS = 12  # of one request
FIXED = [
    "Record number", "Family name", "Given name", "Full name", "Date of birth", "Sex", "Phone",
    "Referrer", "Referral date", "Admission date", "Discharge date", "LVEF", "NYHA class", "Weight",
    "Height", "Note",
]  # fmt: skip
_LASTING = {"stable_angina", "heart_failure"}
_TAKEN_BACK = {"revoked", "entered-in-error", "unknown"}
_INPATIENT = {"IMP", "ACUTE", "NONAC", "OBSENC", "EMER"}
_CARDIAC = ("cardiac rehab", "cardiovascular rehab", "rehabilitación card", "rehabilitacion card")
_CARDIAC_CODES = {"313395003", "395698004"}
_READ = {
    "ServiceRequest", "Patient", "Condition", "Procedure", "Encounter", "Observation", "Coverage",
    "Practitioner", "PractitionerRole", "Organization", "MessageHeader", "Composition",
    "Location", "Provenance", "OperationOutcome",
}  # fmt: skip


def looks_like_fhir(data: bytes) -> bool:
    """Whether the bytes begin as JSON does.

    Parameters
    ----------
    data : the whole file.

    Returns
    -------
    True for an object or a list, whatever it holds.
    """
    return data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] in (b"{", b"[")


def table_of_bundle(data: bytes) -> Table:
    """The requests of a bundle as lines of a table, counted from 1.

    Parameters
    ----------
    data : the whole file. [bytes], a Bundle or one ServiceRequest with what it contains

    Returns
    -------
    One line a request: the newest version of each. What is not read is a remark of its line.

    Raises
    ------
    UnreadableFile : no JSON, another version of FHIR, or no request.
    """
    resources = Resources(_parsed(data))
    requests = resources.of_type("ServiceRequest")
    if not requests:
        raise UnreadableFile("This bundle holds no ServiceRequest; a referral is one.")
    if len(requests) > MAX_ROWS:
        raise UnreadableFile(f"The bundle has {len(requests)} requests; at most {MAX_ROWS}.")
    rows = [_Request(resources, request).line(n) for n, request in enumerate(requests, 1)]
    n_most = max(1, *(len(conditions) for _, conditions in rows))
    headers = list(FIXED)
    for n in range(1, n_most + 1):
        headers += [f"Diagnosis {n}", f"ICD-10 {n}", f"Day {n}"]
    lines = []
    for line, conditions in rows:
        cells = [cell for found in conditions for cell in (found.words, found.code, found.day)]
        padded = line.cells + cells + [""] * (3 * (n_most - len(conditions)))
        lines.append(Line(line.number, padded, (), line.refused, line.asks, line.remarks))
    first = len(FIXED)
    groups = tuple((first + 3 * n, first + 3 * n + 1, first + 3 * n + 2) for n in range(n_most))
    return Table(headers, lines, resources.asides, True, groups)


def _parsed(data: bytes) -> dict[str, Any]:
    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            names = [name for name, _ in pairs]
            twice = next(name for name in names if names.count(name) > 1)
            raise UnreadableFile(f"{twice[:40]!r} stands twice in one object of this JSON.")
        return found

    def no_number(word: str) -> Any:
        raise UnreadableFile(f"{word} is no number of JSON.")

    try:
        whole = json.loads(data.decode("utf-8-sig"), object_pairs_hook=once,
                           parse_constant=no_number)  # fmt: skip
    except json.JSONDecodeError as error:
        raise UnreadableFile(
            f"The JSON breaks in line {error.lineno}, column {error.colno}: {error.msg}."
        ) from error
    except UnicodeDecodeError as error:
        raise UnreadableFile("The JSON is not UTF-8, which FHIR asks for.") from error
    except RecursionError as error:
        raise UnreadableFile("The JSON is nested too deeply for a bundle.") from error
    except UnreadableFile:
        raise
    except ValueError as error:  # a number of thousands of digits
        raise UnreadableFile("The JSON holds a number that no bundle needs.") from error
    if not isinstance(whole, dict) or not isinstance(whole.get("resourceType"), str):
        raise UnreadableFile("This JSON is no FHIR resource: resourceType is missing.")
    return whole


class _Request:
    """One ServiceRequest and everything that belongs to it."""

    def __init__(self, resources: Resources, request: dict[str, Any]) -> None:
        self.resources, self.request = resources, request
        self.refused: list[str] = []
        self.asks: list[tuple[str, str, str]] = []
        self.remarks: list[str] = []
        self.patient = self._patient()

    def line(self, number: int) -> tuple[Line, list[Found]]:
        self._judge_request()
        conditions = list(self._conditions())[:MAX_CONDITIONS]
        admitted, discharged = self._stay()
        requester, _ = self._follow(pick(self.request, "requester"))
        self._judge_patient()
        cells = [
            number_of(self.patient),
            *person_name(self.patient),
            text_of(self.patient.get("birthDate")),
            text_of(self.patient.get("gender")),
            self._phone(),
            words_of(pick(self.request, "requester"), "display") or name_of(requester),
            text_of(self.request.get("authoredOn")),
            admitted,
            discharged,
            self._measure("lvef"),
            self._measure("nyha"),
            self._measure("weight"),
            self._measure("height"),
            self._note(),
        ]
        self._list_the_rest()
        asks = tuple(dict.fromkeys(self.asks))
        cells = [cell[:2000] for cell in cells]
        refused, remarks = tuple(self.refused), tuple(self.remarks)
        return Line(number, cells, (), refused, asks, remarks), conditions

    # --- who and what ----------------------------------------------------------------------

    def _follow(self, reference: Any) -> tuple[dict[str, Any], str]:
        return self.resources.follow(reference, self.request)

    def _patient(self) -> dict[str, Any]:
        subject = pick(self.request, "subject")
        found, name = self._follow(subject)
        if found.get("resourceType") != "Patient":
            self.refused.append(f"the patient {name or 'of the request'} is not in the bundle")
            return {}
        return found

    def _judge_request(self) -> None:
        request = self.request
        status = text_of(request.get("status"))
        if status in _TAKEN_BACK:
            self.refused.append(f"the request is {status.replace('-', ' ')}")
        elif status not in {"active", "completed"}:
            self._ask("request", f"The request has the status {status or 'none'}.", "take it")
        if request.get("doNotPerform") is True:
            self.refused.append("the request says that it is not to be performed")
        for part in (request, self.patient):
            if list_of(part.get("modifierExtension")) or part.get("implicitRules"):
                kind = text_of(part.get("resourceType"))
                self.refused.append(f"the {kind} has a modifier that this program does not know")
        code = pick(request, "code")
        said = f"{words_of(code)} {words_of(code, 'display')}".lower()
        is_cardiac = any(word in said for word in _CARDIAC)
        is_cardiac |= bool({c for _, c in codes_of(code)} & _CARDIAC_CODES)
        if code and not is_cardiac:
            words = words_of(code) or ", ".join(c for _, c in codes_of(code)) or "nothing"
            self._ask("request", f"The request is for {words[:80]}.", "cardiac rehabilitation")

    def _judge_patient(self) -> None:
        patient = self.patient
        if patient.get("deceasedBoolean") is True or patient.get("deceasedDateTime"):
            self._ask("deceased", "The person is recorded as deceased.", "take the referral in")
        if patient.get("active") is False:
            self._ask("deceased", "The record of the person is not active.", "take it in")
        if list_of(patient.get("link")):
            self.remarks.append("the record of the person is linked to another one")

    def _ask(self, subject: str, words: str, yes: str) -> None:
        self.asks.append((subject, f"{words} Is this a referral to store?", f"yes, {yes}"))

    # --- conditions ------------------------------------------------------------------------

    def _conditions(self) -> Iterator[Found]:
        seen: list[int] = []
        for reason in list_of(self.request.get("reasonReference")):
            found, name = self._follow(reason)
            if found:
                seen.append(id(found))
                yield from self._condition(found)
            else:
                words = words_of(reason, "display")
                self._ask("reference", f"The reason {name or words} is not in the bundle.",
                          "without it")  # fmt: skip
        for reason in list_of(self.request.get("reasonCode")):
            yield from self._coded(reason, "")
        for kind in ("Procedure", "Condition"):
            for other in self._mine(kind):
                if id(other) not in seen:
                    yield from self._condition(other)

    def _condition(self, resource: dict[str, Any]) -> Iterator[Found]:
        kind, denied = text_of(resource.get("resourceType")), status_of(resource)
        words = words_of(pick(resource, "code")) or "a resource without words"
        if denied:
            self.remarks.append(f"not taken for a condition: {words[:100]} ({denied})")
        elif list_of(resource.get("modifierExtension")):
            self.remarks.append(f"not read, it has a modifier: {kind} {words[:100]}")
        elif kind not in {"Condition", "Procedure"}:
            self.remarks.append(f"reason not read: {kind} {words[:100]}")
        elif self.resources.is_of_another(resource, self.patient, self.request):
            self.refused.append(f"{kind} {words[:100]} is another person’s")
        elif (over := over_since(resource)) and _lasts(resource):
            self.remarks.append(f"no longer holds ({over}): {words[:100]}")
        else:
            day = text_of(resource.get("onsetDateTime") or resource.get("performedDateTime"))
            period = pick(resource, "performedPeriod") or pick(resource, "onsetPeriod")
            yield from self._coded(pick(resource, "code"), day or text_of(period.get("start")))

    def _coded(self, concept: Any, day: str) -> Iterator[Found]:
        """Words and ICD-10-CM code; SNOMED CT speaks where there are no words."""
        codes = codes_of(concept)
        words = words_of(concept) or words_of(concept, "display")
        icd = "; ".join(code for system, code in codes if "icd-10" in system)
        for system, code in codes:
            if "snomed" in system and not words:
                words = SNOMED.get(code, f"SNOMED CT {code}")
            if "icd-9" in system:
                self.remarks.append(f"code of ICD-9 not read: {code}")
        others = [code for system, code in codes if not ("icd" in system or "snomed" in system)]
        if not (words or icd) and others:
            self.remarks.append(f"code not read: {', '.join(others)[:100]}")
        if words or icd:
            yield Found(words[:1000], icd[:200], day)

    # --- the stay and the measures ---------------------------------------------------------

    def _mine(self, kind: str) -> list[dict[str, Any]]:
        """Resources of a type whose subject is the person of the request."""
        return self.resources.of_subject(kind, self.patient, self.request)

    def _stay(self) -> tuple[str, str]:
        named, _ = self._follow(pick(self.request, "encounter"))
        if named and self.resources.is_of_another(named, self.patient, self.request):
            self.refused.append("the encounter of the request is another person’s")
            return "", ""
        stays = [e for e in ([named] if named else self._mine("Encounter")) if _is_stay(e)]
        if len(stays) > 1:
            self.remarks.append(f"{len(stays)} stays in hospital were sent; none is taken")
        if len(stays) != 1:
            return "", ""
        period = pick(stays[0], "period")
        return text_of(period.get("start")), text_of(period.get("end"))

    def _measure(self, name: str) -> str:
        """The newest value of a measure, with its unit."""
        found = []
        for one in self._mine("Observation"):
            for part in (one, *map(pick, list_of(one.get("component")))):
                if not {code for _, code in codes_of(pick(part, "code"))} & LOINC[name]:
                    continue
                status, cell = text_of(one.get("status")), measure_of(part, name)
                if status not in FINISHED:
                    self.remarks.append(f"{name} not read: {status or 'no status'}")
                elif cell:
                    found.append((moment_of(one), cell))
                elif part is not one or not list_of(one.get("component")):
                    self.remarks.append(f"{name} not read: no value in it")
        found.sort()
        if (
            len(found) > 1
            and found[-1][0][:10] == found[-2][0][:10]
            and found[-1][1] != found[-2][1]
        ):
            told = ", ".join(cell for _, cell in found)
            self.remarks.append(f"{name} not read, none of them is the newest: {told}")
            return ""
        for day, cell in found[:-1]:
            self.remarks.append(f"earlier {name}: {cell} {day[:10]}")
        return found[-1][1] if found else ""

    def _phone(self) -> str:
        for contact in list_of(self.patient.get("telecom")):
            is_phone = isinstance(contact, dict) and contact.get("system") == "phone"
            if is_phone and contact.get("use") != "old":
                return text_of(contact.get("value"))
        return ""

    def _note(self) -> str:
        notes = [text_of(pick(note).get("text")) for note in list_of(self.request.get("note"))]
        for cover in self._mine("Coverage"):
            payors = [words_of(payor, "display") for payor in list_of(cover.get("payor"))]
            payors.append(words_of(pick(cover, "type")))
            notes.append(f"Coverage: {', '.join(filter(None, payors))}")
        return "\n".join(filter(None, notes))

    def _list_the_rest(self) -> None:
        """What came with the person and is not read."""
        rest: dict[str, int] = {}
        for resource in self.resources.of_any(self.patient, self.request):
            kind = text_of(resource.get("resourceType"))
            if kind not in _READ:
                rest[kind] = rest.get(kind, 0) + 1
        for kind, n in sorted(rest.items()):
            self.remarks.append(f"also sent and not read: {kind[:60]} ({n})")


def _lasts(condition: dict[str, Any]) -> bool:
    """Whether a condition is one that can end; a heart attack or an operation stays what it was."""
    concept = pick(condition, "code")
    words = words_of(concept) or words_of(concept, "display")
    codes = [code for system, code in codes_of(concept) if "icd-10" in system]
    words += " ".join(SNOMED.get(code, "") for _, code in codes_of(concept))
    kinds = {kind for _, kind in kinds_in(words)} | {family_of(code) for code in codes}
    return bool(kinds) and kinds <= _LASTING


def _is_stay(encounter: dict[str, Any]) -> bool:
    kind = text_of(pick(encounter, "class").get("code"))
    is_sent = text_of(encounter.get("status")) not in {"cancelled", "entered-in-error"}
    return is_sent and (kind in _INPATIENT or bool(pick(encounter, "hospitalization")))
