"""In which units somebody reads and types: the site's, until they choose otherwise."""

from patients.calc.measuring import BY_KEY, QUANTITIES, Units, units_from
from programs.staff import services
from programs.staff.models import Site, User


def units_of(user: User, site: Site) -> Units:
    """One unit for each quantity."""
    return units_from({q.switch: _shows(user, site, q.switch) for q in QUANTITIES})


def _shows(user: User, site: Site, name: str) -> bool:
    own: bool | None = getattr(user, name)
    return bool(getattr(site, name)) if own is None else own


def switch(user: User, site: Site, what: str, shows: str = "") -> None:
    """The unit asked for (``yes`` is the second), else the other one, from now on.

    An unknown quantity changes nothing.
    """
    quantity = BY_KEY.get(what)
    if quantity:
        wanted = shows == "yes" if shows else not _shows(user, site, quantity.switch)
        services.choose_settings(user, {quantity.switch: wanted})
