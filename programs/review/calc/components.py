"""The core components of a treatment plan, and the boxes that each of them has.

Components as in the core components of cardiac rehabilitation (Balady 2007, Circulation 115:2675,
which keeps blood pressure, lipids, diabetes and tobacco apart; Brown 2024, Circulation 150:e328,
doi:10.1161/CIR.0000000000001289). That the psychosocial part says how family and home affect
rehabilitation: 42 CFR 410.49(a). Their order is a project choice.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Component:
    """``topics`` are the components of teaching (attendance) that belong to it, each with the
    topics that do; no topic named means all of them."""

    key: str
    name: str
    topics: tuple[tuple[str, tuple[str, ...]], ...] = ()


COMPONENTS: tuple[Component, ...] = (
    Component("exercise", "Exercise", (("aerobic", ()), ("strength", ()))),
    Component("nutrition", "Nutrition", (("nutrition", ()),)),
    Component("weight", "Weight and body composition", (("weight", ()),)),
    Component("blood_pressure", "Blood pressure", (("risk", ("Blood pressure",)),)),
    Component("lipids", "Lipids", (("risk", ("Cholesterol",)),)),
    Component("diabetes", "Diabetes", (("risk", ("Diabetes and exercise",)),)),
    Component("tobacco", "Tobacco", (("risk", ("Tobacco",)),)),
    Component("psychosocial", "Psychosocial, family and home", (("psychosocial", ()),)),
    Component("activity", "Physical activity", (("activity", ()),)),
    Component("medicines", "Medicines", (("assessment", ("My medicines",)),)),
)
BY_KEY = {component.key: component for component in COMPONENTS}
PSYCHOSOCIAL = "psychosocial"


def component_taught(kind: str, topic: str) -> str:
    """To which part of a plan a topic belongs (a project choice).

    Parameters
    ----------
    kind : id of the component of teaching it was taught under.
    topic : what was taught, in words; a topic of one's own belongs to the whole component, which
        for risk factors is none of ours.

    Returns
    -------
    Key of the component of the plan, "" where it belongs to none.
    """
    for component in COMPONENTS:
        for taught, topics in component.topics:
            if taught == kind and (not topics or topic in topics):
                return component.key
    return ""
