"""Who may sign a treatment plan and the dose that goes with it."""

from programs.staff.models import Site, User

SIGN, PREPARE = "prescription.sign_plan", "prescription.add_plan"


def may_sign(user: User, site: Site) -> bool:
    """Whether somebody may sign at a site where they work.

    A physician: 42 CFR 410.49. Who prepares plans may as well where the site says that local law
    allows it.
    """
    if site.pk not in user.site_ids():
        return False
    return user.has_perm(SIGN) or (site.clinicians_sign and user.has_perm(PREPARE))


def signs_anywhere(user: User) -> bool:
    """Whether somebody may sign at any of their sites."""
    return any(may_sign(user, site) for site in user.my_sites())
