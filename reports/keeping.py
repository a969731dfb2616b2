"""Questions that somebody asks of the program again."""

from urllib.parse import parse_qsl, urlencode

from django.core.exceptions import ValidationError

from programs.staff.models import User
from reports.models import KeptQuestion

DAYS = ("since", "until")
ASKED = ("definition", "by", "site", "condition", "source", "payer", "sex", "age")
MOST = 20  # of one person: a list that is still read


def address_of(asked: str, *, with_days: bool) -> str:
    """What of an address asks the program's page something; the rest is left out."""
    known = {*ASKED, *(DAYS if with_days else ())}
    return urlencode([(key, value) for key, value in parse_qsl(asked) if key in known])


def keep(user: User, name: str, asked: str, *, with_days: bool) -> KeptQuestion:
    """Keep a question under a name; the same name takes the new question.

    Without its days a question is always of the last twelve months.

    Raises
    ------
    ValidationError : there are too many questions already.
    """
    mine = KeptQuestion.objects.filter(user=user)
    if mine.exclude(name=name).count() >= MOST:
        raise ValidationError(f"There are {MOST} kept questions; forget one of them first.")
    row, _ = KeptQuestion.objects.update_or_create(
        user=user, name=name, defaults={"address": address_of(asked, with_days=with_days)}
    )
    return row


def kept_by(user: User) -> list[KeptQuestion]:
    return list(KeptQuestion.objects.filter(user=user))
