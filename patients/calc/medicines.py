"""What the name of a medicine tells, whatever class somebody chose for it.

Generic names carry stems that the World Health Organization gives to one kind of substance. A
brand name tells nothing, and what cannot be told from a name is not denied by it.

References
----------
WHO, "The use of stems in the selection of International Nonproprietary Names (INN) for
pharmaceutical substances" (stem book): -olol, -alol, -dilol, gli- (earlier -gli-), -glinide,
-gliptin, -gliflozin, -glitazone, -glutide, insulin. Seen from memory.
"""

import re
from functools import lru_cache

INSULIN, SECRETAGOGUE, BETA_BLOCKER = "insulin", "secretagogue", "beta_blocker"
GLUCOSE_LOWERING = "glucose_lowering"

# The first that fits decides: "gliptin" and "gliflozin" are no sulfonylureas.
_STEMS = (
    (r"insulin", INSULIN),
    (r"gliptin|gliflozin|glitazone|glutide|metformin|acarbose|tirzepatide", GLUCOSE_LOWERING),
    (r"glinide|\bgli|\bgly(buride|clazide|pizide)|tolbutamide|chlorpropamide", SECRETAGOGUE),
    (r"(olol|alol|dilol)\b", BETA_BLOCKER),
)


@lru_cache(maxsize=4096)  # a class has the same few names over and over
def classes_in(name: str) -> frozenset[str]:
    """Classes that a medicine's name tells, each part of a combination by itself.

    Parameters
    ----------
    name : name as written, with or without strength; case does not matter.

    Returns
    -------
    Of insulin, secretagogue, glucose_lowering and beta_blocker, those told. Empty when the name
    tells none, which does not say that it is none.

    References
    ----------
    As the module.
    """
    found = set()
    for part in re.split(r"[/+,;&]|\band\b", name.lower()):
        for stem, drug_class in _STEMS:
            if re.search(stem, part):
                found.add(drug_class)
                break
    return frozenset(found)
