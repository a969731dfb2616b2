"""The resources of a bundle: which version holds, and what a reference leads to [1]_.

References
----------
.. [1] HL7 FHIR R4 (4.0.1), Bundle, "Resolving references in Bundles".
"""

from typing import Any

from programs.enrolment.calc.lists.fhir_parts import list_of, pick, text_of
from programs.enrolment.calc.lists.letters import UnreadableFile

MAX_RESOURCES = 60_000


class Resources:
    """Every resource of a bundle, each in its newest version."""

    def __init__(self, whole: dict[str, Any]) -> None:
        self.asides: list[str] = []
        kind = text_of(whole.get("resourceType"))
        entries = whole.get("entry") if kind == "Bundle" else [{"resource": whole}]
        if not isinstance(entries, list):
            raise UnreadableFile("The Bundle has no entries.")
        if len(entries) > MAX_RESOURCES:
            raise UnreadableFile(f"The bundle has more than {MAX_RESOURCES} entries.")
        self.all: list[dict[str, Any]] = []
        self._at: dict[str, dict[str, Any]] = {}
        self._urls: dict[str, str] = {}
        self._addressed: set[str] = set()  # names that came with a whole address of their own
        self._contained: dict[int, dict[str, dict[str, Any]]] = {}
        self._take(entries)
        self._of_patient: dict[int, list[dict[str, Any]]] = {}
        self._index()

    def of_type(self, kind: str) -> list[dict[str, Any]]:
        """Resources of the bundle itself, not contained ones.

        Parameters
        ----------
        kind : the type.

        Returns
        -------
        In the order of the bundle.
        """
        return [r for r in self.all if r.get("resourceType") == kind]

    def of_any(self, patient: dict[str, Any], request: dict[str, Any]) -> list[dict[str, Any]]:
        """What belongs to a person, in the bundle or contained in the request.

        Parameters
        ----------
        patient : a Patient of these resources.
        request : the ServiceRequest.

        Returns
        -------
        Resources in the order of the bundle, the contained ones last.
        """
        if not patient:
            return []
        inside = self._contained.get(id(request), {}).values()
        own = [r for r in inside if self._subject(r, request) is patient]
        return [*self._of_patient.get(id(patient), []), *own]

    def is_of_another(
        self, resource: dict[str, Any], patient: dict[str, Any], request: dict[str, Any]
    ) -> bool:
        """Whether a resource names a person who is not the one of the request.

        Parameters
        ----------
        resource : that a request refers to.
        patient, request : as of ``of_any``.

        Returns
        -------
        False where it names nobody.
        """
        subject = self._subject(resource, resource) or self._subject(resource, request)
        return subject is not None and bool(patient) and subject is not patient

    def of_subject(
        self, kind: str, patient: dict[str, Any], request: dict[str, Any]
    ) -> list[dict[str, Any]]:
        """The same, of one type.

        Parameters
        ----------
        kind : the type.
        patient, request : as of ``of_any``.

        Returns
        -------
        Resources in the order of the bundle.
        """
        return [r for r in self.of_any(patient, request) if r.get("resourceType") == kind]

    def follow(self, reference: Any, holder: dict[str, Any]) -> tuple[dict[str, Any], str]:
        """What a reference leads to.

        Parameters
        ----------
        reference : a Reference.
        holder : the resource that refers, for what it contains.

        Returns
        -------
        The resource, {} where there is none, and the reference in words.
        """
        words = text_of(pick(reference).get("reference"))
        if words.startswith("#"):
            return self._contained.get(id(holder), {}).get(words[1:], {}), words
        bare = words.partition("/_history/")[0]
        found = self._at.get(bare)
        if found is None and "://" not in bare:
            found = self._at.get("/".join(bare.split("/")[-2:]))
        if found is None and "://" in bare:  # a whole address of a resource that came without one
            short = "/".join(bare.split("/")[-2:])
            found = None if short in self._addressed else self._at.get(short)
        return found or {}, words

    def _take(self, entries: list[Any]) -> None:
        newest: dict[str, tuple[tuple[int, str], dict[str, Any]]] = {}
        order: list[str] = []
        servers: dict[str, str] = {}  # of each name, from its full address
        for n, entry in enumerate(entries):
            resource = pick(entry, "resource")
            kind = text_of(resource.get("resourceType"))
            if not kind:
                self.asides.append(f"entry {n + 1} holds no resource")
                continue
            _refuse_other_versions(kind, resource)
            own = text_of(resource.get("id"))
            name = f"{kind}/{own}" if own else text_of(pick(entry).get("fullUrl")) or f"#{n}"
            server = text_of(pick(entry).get("fullUrl")).partition("://")[2].partition("/")[0]
            if own and server and servers.setdefault(name, server) != server:
                raise UnreadableFile(
                    f"{name[:80]} stands in this bundle for two servers, {servers[name][:60]} and "
                    f"{server[:60]}: they may be two people. Send a bundle for each."
                )
            if server:
                self._addressed.add(name)
            version = _version(resource)
            before = newest.get(name)
            if before is None:
                order.append(name)
            elif before[0] == version and before[1] != resource:
                raise UnreadableFile(
                    f"{name[:80]} stands twice in this bundle, differs, and neither is newer."
                )
            else:
                self.asides.append(f"entry {n + 1}: another version of {name[:80]}")
            if before is None or before[0] < version:
                newest[name] = (version, resource)
            self._keep_address(entry, name)
        self.all = [newest[name][1] for name in order]
        for name in order:
            self._at[name] = newest[name][1]
        for url, name in self._urls.items():
            self._at[url] = newest[name][1]

    def _keep_address(self, entry: Any, name: str) -> None:
        if url := text_of(pick(entry).get("fullUrl")):
            self._urls[url.partition("/_history/")[0]] = name

    def _index(self) -> None:
        for resource in self.all:
            inside = {}
            for part in list_of(resource.get("contained")):
                if isinstance(part, dict):
                    inside[text_of(part.get("id"))] = part
            self._contained[id(resource)] = inside
        for resource in self.all:
            subject = self._subject(resource, resource)
            if subject is not None:
                self._of_patient.setdefault(id(subject), []).append(resource)

    def _subject(self, resource: dict[str, Any], holder: dict[str, Any]) -> dict[str, Any] | None:
        for name in ("subject", "patient", "beneficiary"):
            found, _ = self.follow(pick(resource, name), holder)
            if found:
                return found
        return None


def _version(resource: dict[str, Any]) -> tuple[int, str]:
    meta = pick(resource, "meta")
    number = text_of(meta.get("versionId"))
    return (int(number) if number.isdecimal() and len(number) < 12 else 0,
            text_of(meta.get("lastUpdated")))  # fmt: skip


def _refuse_other_versions(kind: str, resource: dict[str, Any]) -> None:
    if kind == "ReferralRequest":
        raise UnreadableFile("This bundle is FHIR STU3 (ReferralRequest); R4 is read.")
    is_r5 = kind == "ServiceRequest" and (
        "reason" in resource or "concept" in pick(resource, "code")
    )
    is_r5 |= kind == "Encounter" and ("actualPeriod" in resource or "reason" in resource)
    is_r5 |= kind == "Procedure" and "occurrenceDateTime" in resource
    if is_r5:
        raise UnreadableFile(f"This bundle is FHIR R5 (its {kind} says so); R4 is read.")
