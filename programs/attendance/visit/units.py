"""In which units somebody reads and types: the site's, until they choose otherwise."""

from programs.staff import services
from programs.staff.models import Site, User

SWITCHES = {"glucose": "shows_mmoll", "weight": "shows_pounds"}


def units_of(user: User, site: Site) -> dict[str, bool]:
    """Whether glucose is shown in mmol/L and weight in pounds."""
    chosen = {name: getattr(user, name) for name in SWITCHES.values()}
    return {n: getattr(site, n) if own is None else own for n, own in chosen.items()}


def switch(user: User, site: Site, what: str, shows: str = "") -> None:
    """The unit asked for (``yes`` is mmol/L or pounds), else the other one, from now on.

    An unknown quantity changes nothing.
    """
    name = SWITCHES.get(what)
    if name:
        wanted = shows == "yes" if shows else not units_of(user, site)[name]
        services.choose_unit(user, name, wanted)
