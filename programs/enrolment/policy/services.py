"""A site’s own settings: what a class of risk means there."""

from programs.enrolment.calc.risk import SUPERVISION, SUPERVISION_SOURCE, RiskClass
from programs.enrolment.models import SupervisionPolicy
from programs.staff.models import Site


def supervision_of(site: Site) -> dict[str, SupervisionPolicy]:
    """What each class of risk means at a site: its own settings, else the initial ones."""
    own = {policy.risk_class: policy for policy in site.supervision.all()}
    return {str(c): own.get(str(c)) or initial_policy(site, c) for c in RiskClass}


def initial_policy(site: Site, risk_class: RiskClass) -> SupervisionPolicy:
    """The initial setting of a class, not stored until somebody changes it."""
    usual = SUPERVISION[risk_class]
    return SupervisionPolicy(
        site=site,
        risk_class=str(risk_class),
        supervised_low=usual.supervised[0],
        supervised_high=usual.supervised[1],
        supervised_days=usual.supervised_days,
        ecg_low=usual.ecg[0],
        ecg_high=usual.ecg[1],
        source=SUPERVISION_SOURCE,
    )
