"""What a site decided about doses and machines, else the initial settings."""

from programs.prescription.calc.machines import USUAL, Machine
from programs.prescription.models import DosePolicy, SiteMachine
from programs.prescription.site_models import IN_USE
from programs.staff.models import Site

INITIAL_SOURCE = "initial setting of the program"


def policy_of(site: Site) -> DosePolicy:
    """The site's own, else the initial one, not stored until somebody changes it."""
    return DosePolicy.objects.filter(site=site).first() or DosePolicy(
        site=site, source=INITIAL_SOURCE
    )


def machines_of(site: Site) -> list[SiteMachine]:
    """Every kind of machine, as the site set it, else as it begins."""
    own = {row.kind: row for row in SiteMachine.objects.filter(site=site)}
    return [own.get(kind) or initial_machine(site, usual) for kind, usual in USUAL.items()]


def initial_machine(site: Site, usual: Machine) -> SiteMachine:
    """A machine nobody has described yet."""
    return SiteMachine(
        site=site,
        kind=usual.kind,
        is_in_use=usual.kind in IN_USE,
        is_mph=usual.is_mph,
        least=usual.least,
        most=usual.most,
        step=usual.step,
        grade_step=usual.grade_step,
        most_grade=usual.most_grade,
        height_cm=usual.height_cm,
    )


def machines_in_use(site: Site) -> list[Machine]:
    """What the site owns."""
    return [row.machine for row in machines_of(site) if row.is_in_use]
