"""Forms of a treatment plan: its components, sending it back, a signature on paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from patients.calc.measuring import QUANTITY_OF, Units
from patients.forms import NOTHING_CHOSEN, DayField, InUnits, NumberField, OnceForm, UnitField
from programs.prescription.models import TreatmentPlan
from programs.prescription.signing import may_sign
from programs.review.calc.components import BY_KEY, COMPONENTS, PSYCHOSOCIAL
from programs.review.calc.goals import Goal, goals_of
from programs.review.calc.parts import BOXES, OF_THE_PROGRAM, Part, stored
from programs.review.document import parts_of
from programs.staff.models import Site, User

WRITTEN = {name: words for name, words in BOXES.items() if name not in OF_THE_PROGRAM}
LONGEST = 1500  # letters of one box (project choice)


def _words(label: str, rows: int = 2) -> forms.CharField:
    box = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, required=False, max_length=LONGEST, widget=box)


@dataclass(frozen=True)
class Section:
    """The boxes of one component, beside what the program tells of it."""

    name: str
    part: Part
    lacks: str
    goals: list[Any]
    boxes: list[Any]

    @property
    def is_wrong(self) -> bool:
        return any(field.errors for field in [*self.goals, *self.boxes])


class PlanForm(InUnits, OnceForm):
    """Every component of a plan. What the program tells from the record has no box."""

    goals = _words("The person’s own goals")
    risk_factors = _words("Risk factors and education in general")

    def __init__(self, *args: Any, plan: TreatmentPlan, sex: str, units: Units, **kwargs: Any):
        super().__init__(*args, version=plan.version if plan.pk else 0, **kwargs)
        self.plan, self.parts = plan, parts_of(plan)
        self.goals_of = {one.key: goals_of(one.key, sex) for one in COMPONENTS}
        if not self.is_bound:
            self.initial |= {"goals": plan.goals, "risk_factors": plan.risk_factors}
        for one in COMPONENTS:
            self._add(one.key, self.parts[one.key])
        self.choose_units(units)

    def _add(self, key: str, part: Part) -> None:
        for goal in self.goals_of[key]:
            self.fields[f"goal_{goal.key}"] = _box_of(goal)
            kept = part.amounts.get(goal.key)
            self.initial[f"goal_{goal.key}"] = kept is not None if goal.said else kept
        self.fields[f"{key}_goal"] = _words("Goal in words")
        self.fields[f"{key}_by_on"] = DayField(required=False, label="By")
        self.initial |= {f"{key}_goal": part.goal, f"{key}_by_on": part.by_on}
        for box, words in WRITTEN.items():
            if box != "family" or key == PSYCHOSOCIAL:
                self.fields[f"{key}_{box}"] = _words(words)
                self.initial[f"{key}_{box}"] = getattr(part, box)
        self.fields[f"{key}_not"] = forms.BooleanField(required=False, label="Does not apply")
        self.initial[f"{key}_not"] = not part.applies

    def sections(self, lacks: Mapping[str, str]) -> list[Section]:
        """The boxes by component; ``lacks`` says by name what each still lacks."""
        return [self._section(key, lacks.get(one.name, "")) for key, one in BY_KEY.items()]

    def _section(self, key: str, lacks: str) -> Section:
        goals = [self[f"goal_{goal.key}"] for goal in self.goals_of[key]]
        goals += [self[f"{key}_goal"], self[f"{key}_by_on"]]
        boxes = [self[f"{key}_{box}"] for box in WRITTEN if f"{key}_{box}" in self.fields]
        boxes.append(self[f"{key}_not"])
        return Section(BY_KEY[key].name, self.parts[key], lacks, goals, boxes)

    def draft(self) -> TreatmentPlan:
        """The plan with what was typed; the program's own lines are the service's."""
        d = self.cleaned_data
        self.plan.goals, self.plan.risk_factors = d["goals"].strip(), d["risk_factors"].strip()
        parts = {key: stored(self._part(key, d)) for key in BY_KEY}
        self.plan.content = {**self.plan.content, "components": parts}
        return self.plan

    def _part(self, key: str, d: Mapping[str, Any]) -> Part:
        amounts = {goal.key: _amount(goal, d[f"goal_{goal.key}"]) for goal in self.goals_of[key]}
        return Part(
            applies=not d[f"{key}_not"],
            goal=d[f"{key}_goal"],
            amounts={name: amount for name, amount in amounts.items() if amount is not None},
            by_on=d[f"{key}_by_on"],
            **{box: d.get(f"{key}_{box}", "") for box in WRITTEN},
        )


def _box_of(goal: Goal) -> forms.Field:
    """A number, or a tick for a goal that has no number of its own."""
    if goal.said:
        return forms.BooleanField(required=False, label=goal.label)
    kind = UnitField if goal.bounds in QUANTITY_OF else NumberField
    return kind(goal.bounds, label=goal.label)


def _amount(goal: Goal, typed: Any) -> float | None:
    if goal.said:
        return goal.usual if typed else None
    return None if typed is None else float(typed)


class SendBackForm(OnceForm):
    because = forms.ChoiceField(
        choices=TreatmentPlan.Back.choices, label="Because", widget=forms.RadioSelect
    )
    words = forms.CharField(max_length=300, required=False, label="Comments")


class PaperForm(OnceForm):
    """A signature on paper: whose, of which day, and where its scan is."""

    signer = forms.ModelChoiceField(User.objects.none(), label="Signed by")
    on = DayField(label="Day beside the signature")
    scan = forms.CharField(max_length=120, label="Where the scan is")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        here = User.objects.filter(sites=site, is_active=True).order_by("last_name", "first_name")
        signers = [person.pk for person in here if may_sign(person, site)]
        signer: Any = self.fields["signer"]
        signer.queryset, signer.empty_label = here.filter(pk__in=signers), NOTHING_CHOSEN[1]
