"""Papers that show a qualifying condition.

The evidence per condition follows a state collaborative's documentation guide (catheterisation
report, discharge summary, operative report, positive stress test, troponin with note). That an
order and a list of medicines are asked for everybody is common practice, no source; so is the
echocardiogram for heart failure.
"""

from collections.abc import Iterable

ORDER, DISCHARGE, CATHETER, OPERATION = "order", "discharge", "catheter", "operation"
STRESS, TROPONIN, ECHO, MEDICINES = "stress", "troponin", "echo", "medicines"
NAMES = {
    ORDER: "physician’s order",
    MEDICINES: "list of medicines",
    DISCHARGE: "discharge summary",
    CATHETER: "catheterisation report",
    OPERATION: "operative report",
    STRESS: "stress test report",
    TROPONIN: "troponin with note",
    ECHO: "echocardiogram with LVEF",
}
FOR_ALL = (ORDER, MEDICINES)
FOR_CONDITION = {
    "mi": (DISCHARGE, TROPONIN),
    "pci": (CATHETER, DISCHARGE),
    "cabg": (OPERATION, DISCHARGE),
    "valve": (OPERATION, DISCHARGE),
    "transplant": (OPERATION, DISCHARGE),
    "vad": (OPERATION, DISCHARGE),
    "stable_angina": (STRESS,),
    "heart_failure": (ECHO,),
}


def wanted(kinds: Iterable[str]) -> list[str]:
    """Keys of the papers worth having for these conditions.

    Parameters
    ----------
    kinds : kinds of the conditions; one not in ``FOR_CONDITION`` adds no paper.

    Returns
    -------
    Keys in the order of ``NAMES``, the order and the medicines always among them.
    """
    found = set(FOR_ALL)
    for kind in kinds:
        found.update(FOR_CONDITION.get(kind, ()))
    return [key for key in NAMES if key in found]
