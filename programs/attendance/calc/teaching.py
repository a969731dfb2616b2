"""What is taught, by the core components of a program.

Brown 2024, core components update, Circulation 150:e328-e347, doi:10.1161/CIR.0000000000001289.
Its ninth component, program quality, is the program's own affair and taught to nobody. The topics
are prompts of ours and no part of the source.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Component:
    id: str
    name: str
    topics: tuple[str, ...]


COMPONENTS: tuple[Component, ...] = (
    Component("assessment", "Patient assessment",
              ("My heart condition and what was done", "My medicines", "My results and goals")),
    Component("nutrition", "Nutritional counselling",
              ("Eating for the heart", "Salt and fluids", "Reading labels")),
    Component("weight", "Weight and body composition", ("Weight goals", "Daily weighing")),
    Component("risk", "Cardiovascular disease and risk factors",
              ("Blood pressure", "Cholesterol", "Diabetes and exercise", "Tobacco")),
    Component("psychosocial", "Psychosocial management",
              ("Mood after a heart event", "Stress and sleep", "Family and work")),
    Component("aerobic", "Aerobic training",
              ("Warm-up, effort and cool-down", "Signs to stop", "Pulse and perceived exertion")),
    Component("strength", "Strength training",
              ("Lifting safely", "Breastbone and arm limits")),
    Component("activity", "Physical-activity counselling",
              ("Activity between sessions", "Heat, cold and hills", "Staying active for life")),
)  # fmt: skip


def untaught(taught: set[str]) -> list[Component]:
    """Components nobody has taught yet.

    Parameters
    ----------
    taught : ids of the components taught; unknown ones are passed over.

    Returns
    -------
    The others, in the order of the source.
    """
    return [component for component in COMPONENTS if component.id not in taught]
