"""What a column of a list may hold, and the names that columns go by in English and Spanish.

The words that point to a field are a project choice.
"""

import re
import unicodedata
from functools import lru_cache

# field -> (what the page calls it, names that point to it, the surest first)
FIELDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "record_number": (
        "Record number",
        ("record number", "mrn", "medical record", "hospital number", "hospital no", "hosp no",
         "patient id", "patient no", "case number", "case no", "record", "account", "chart", "nhc",
         "historia clinica", "n historia", "numero de historia", "expediente", "id"),
    ),
    "family_name": (
        "Family name",
        ("family name", "last name", "surname", "lastname", "patient last", "last", "apellidos",
         "apellido", "primer apellido", "segundo apellido", "apellido 1", "apellido 2"),
    ),
    "given_name": (
        "Given name",
        ("given name", "first name", "forename", "firstname", "patient first", "first",
         "middle name", "middle", "nombre de pila", "nombre", "nombres"),
    ),
    "full_name": (
        "Full name",
        ("patient name", "full name", "name", "patient", "nombre y apellidos",
         "apellidos y nombre", "nombre completo", "paciente"),
    ),
    "born_on": (
        "Date of birth",
        ("birth date", "date of birth", "dob", "born", "birthdate", "fecha de nacimiento",
         "fecha nacimiento", "f nacimiento", "fecha nac", "f nac", "nacimiento"),
    ),
    "sex": ("Sex", ("sex", "gender", "sexo", "genero")),
    "phone": (
        "Phone",
        ("phone", "telephone", "mobile", "tel", "cell", "telefono", "movil", "contact number"),
    ),
    "icd10": (
        "ICD-10-CM code",
        ("icd-10-cm", "icd10", "icd-10", "icd", "cie-10", "cie10", "cie", "dx code",
         "diagnosis code", "code", "codigo"),
    ),
    "event_on": (
        "Event date",
        ("event date", "procedure date", "date of event", "event dt", "onset date", "proc date",
         "surgery date", "date of procedure", "date of surgery", "date of mi", "date of onset",
         "date of pci", "date of cabg", "intervention date",
         "event", "onset", "fecha del evento", "fecha evento", "fecha procedimiento",
         "fecha del procedimiento", "fecha de la intervencion", "fecha cirugia", "fecha infarto",
         "mi date", "pci date", "cabg date", "valve date", "stent date"),
    ),
    "admitted_on": (
        "Admission date",
        ("admission date", "admit date", "admitted", "admission", "admit", "fecha de ingreso",
         "fecha ingreso", "ingreso"),
    ),
    "discharged_on": (
        "Discharge date",
        ("discharge date", "discharged", "discharge dt", "discharge", "d/c date", "dc date",
         "fecha de alta", "fecha alta", "alta"),
    ),
    "referred_on": (
        "Referral date",
        ("referral date", "referred on", "referred", "order date", "date of referral",
         "date referred", "ref date", "ref dt", "referral dt", "order dt",
         "ordered", "referral", "fecha de derivacion", "fecha derivacion",
         "fecha de remision", "fecha solicitud", "derivacion", "remision"),
    ),
    "diagnosis": (
        "Diagnosis",
        ("qualifying diagnosis", "diagnosis", "dx", "indication", "reason", "condition",
         "procedure", "diagnostico", "motivo", "procedimiento", "intervencion"),
    ),
    "referrer": (
        "Referrer",
        ("referring physician", "referring provider", "referrer", "referred by", "physician",
         "cardiologist", "provider", "medico derivador", "derivado por", "medico", "remitente"),
    ),
    "lvef": ("LVEF", ("lvef", "ejection fraction", "ef", "fevi", "fraccion de eyeccion")),
    "nyha": ("NYHA class", ("nyha", "clase funcional")),
    "weight": ("Weight", ("weight", "wt", "peso")),
    "height": ("Height", ("height", "ht", "talla", "estatura", "altura")),
    "note": (
        "Note",
        ("note", "notes", "comment", "comments", "remarks", "nota", "notas", "observaciones",
         "comentarios"),
    ),
}  # fmt: skip
# Words beside a field's name that make it another thing: a discharge that is planned, the phone of
# the next of kin, the number of a visit. Such a column is read only where an answer says so.
_AHEAD = (
    r"plan\w*|schedul\w*|expect\w*|anticipat\w*|estimat\w*|propos\w*|next|programad\w|previst\w"
)
_KIN = (
    r"kin|relatives?|spouse|partner|wife|husband|mother|father|parent|guardian|carer|caregiver"
    r"|madre|padre"
)
_PLACES = (
    r"insurance|insurer|payer|policy|plan|hospital|clinic|facility|ward|unit|pharmacy|department"
)
_NO_NAME = rf"maiden|contact|emergenc\w*|{_KIN}|{_PLACES}"  # "family" is of names themselves
_OTHER_THING = {
    "record_number": r"visit|encounter|order|referral|request|episode|claim|policy|member"
    r"|insurance",
    "family_name": _NO_NAME,
    "given_name": _NO_NAME,
    "full_name": rf"{_NO_NAME}|drug|medication|test|file|user",
    "phone": rf"fax|referr\w*|physician|doctor|provider|practice|emergenc\w*|family|familiar\w*"
    rf"|{_KIN}|{_PLACES}",
    "icd10": r"post|postal|zip|ward|area|dept|department|bed|unit|country|county|city|provider|site"
    r"|clinic|hospital|payer|insurance|drug|cpt|status|colou?r",
    "diagnosis": rf"not|no|declin\w*|refus\w*|cancel\w*|delay\w*|family|familiar\w*|{_AHEAD}",
    "discharged_on": rf"previous|prior|earlier|anterior|previ[oa]|{_AHEAD}",
    "admitted_on": rf"previous|prior|earlier|anterior|previ[oa]|{_AHEAD}",
    "event_on": rf"family|familiar\w*|{_KIN}|{_AHEAD}",
    "referred_on": rf"previous|prior|{_AHEAD}",
}
DAYS = ("born_on", "event_on", "admitted_on", "discharged_on", "referred_on")
SEVERAL = ("family_name", "given_name", "diagnosis", "icd10", "height", "note")
NAMELESS = {"", "date", "fecha", "day", "dt", "dates", "fechas"}  # names that tell nothing
OURS = {"line", "reasons"}  # the first columns of a file of refused rows
# A day of one kind of condition, by its own column.
OF_KIND = [
    (r"\bmi\b|infarct|infarto", "mi"),
    (r"\bpci\b|stent|angioplast", "pci"),
    (r"\bcabg\b|bypass", "cabg"),
    (r"valve|valvula|tavr|tavi", "valve"),
    (r"transplant|trasplante", "transplant"),
]


@lru_cache(maxsize=4096)
def plain(name: str) -> str:
    """The name of a column reduced to words that can be compared.

    Parameters
    ----------
    name : as the file writes it.

    Returns
    -------
    Lower case without accents; all but a to z, digits, "/" and "-" has become one space, none at
    the ends.
    """
    bare = "".join(
        c for c in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(c)
    )
    return re.sub(r"[^a-z0-9/\-]+", " ", bare).strip()


def points_to(name: str, hint: str) -> int:
    """How surely a plain column name points to a field.

    Parameters
    ----------
    name : as ``plain`` gives it.
    hint : one of the names of ``FIELDS``.

    Returns
    -------
    3 for the very name, with a number behind it too; 2 for a name that begins so; 1 for one that
    holds it as whole words; 0 for another.
    """
    if re.fullmatch(rf"{re.escape(hint)}( ?#?\d{{1,2}})?", name):
        return 3
    if name.startswith(hint + " "):
        return 2
    return 1 if re.search(rf"(^| ){re.escape(hint)}( |$)", name) else 0


@lru_cache(maxsize=4096)
def pointed(name: str) -> dict[str, tuple[int, int]]:
    """The fields a column name may stand for.

    Parameters
    ----------
    name : as ``plain`` gives it.

    Returns
    -------
    Field to how surely, as ``points_to`` says, and minus the place of the hint among its names;
    larger is surer. Empty when no field knows the name.
    """
    found = {}
    for field, (_, hints) in FIELDS.items():
        if is_other_thing(field, name):
            continue
        best = max((points_to(name, hint), -place) for place, hint in enumerate(hints))
        if best[0]:
            found[field] = best
    parts = {"family_name", "given_name"} & found.keys()
    if parts and "full_name" in found:
        is_whole = len(parts) == 2 or found["full_name"][0] == 3
        for field in parts if is_whole else {"full_name"}:
            del found[field]
    return found


@lru_cache(maxsize=16384)
def is_other_thing(field: str, name: str) -> bool:
    """Whether a column is named like a field, and is of something else all the same.

    Parameters
    ----------
    field : of ``FIELDS``.
    name : as ``plain`` gives it.

    Returns
    -------
    True for "planned discharge date", "emergency contact phone", "visit id"; False for the very
    name of the field.
    """
    pattern = _OTHER_THING.get(field)
    if pattern is None or any(points_to(name, hint) == 3 for hint in FIELDS[field][1]):
        return False
    return re.search(rf"\b({pattern})\b", name) is not None


def unit_in(name: str) -> str:
    """The unit a column's own name states, such as "Weight (lb)".

    Parameters
    ----------
    name : as the file writes it.

    Returns
    -------
    "kg", "lb", "cm", "in", "ft" or "ft.in"; "" for none.
    """
    words = re.findall(r"[a-z]+", plain(name))
    if {"ft", "in"} <= set(words) or {"feet", "inches"} <= set(words):
        return "ft.in"
    found = []
    for unit, spellings in {
        "kg": {"kg", "kgs", "kilos", "kilograms"},
        "lb": {"lb", "lbs", "pounds", "libras"},
        "cm": {"cm", "centimetres", "centimeters"},
        "in": {"inches", "inch"},
        "ft": {"ft", "feet"},
    }.items():
        if spellings & set(words):
            found.append(unit)
    if words and words[-1] == "in":
        found.append("in")
    return found[0] if len(found) == 1 else ""  # "Weight (kg/lb)" states none
