"""Questions that somebody asks of the program again."""

from urllib.parse import parse_qsl, urlencode

from django.core.exceptions import ValidationError

from programs.staff.models import User
from reports.models import KeptQuestion

DAYS = ("since", "until")
ASKED = ("definition", "by", "site", "condition", "source", "payer", "sex", "age")
MOST = 20  # of one person: a list that is still read


def keep(user: User, name: str, asked: str, *, with_days: bool) -> KeptQuestion:
    """Keep a question under a name; the same name takes the new question.

    Without its days a question is always of the last twelve months.

    Raises
    ------
    ValidationError : there is no name, or there are too many questions already.
    """
    name = " ".join(name.split())[:60]
    if not name:
        raise ValidationError("Give the question a name.")
    mine = KeptQuestion.objects.filter(user=user)
    if mine.exclude(name=name).count() >= MOST:
        raise ValidationError(f"There are {MOST} kept questions; forget one of them first.")
    known = {*ASKED, *(DAYS if with_days else ())}
    parts = {key: value[:60] for key, value in parse_qsl(asked[:2000]) if key in known}
    row, _ = KeptQuestion.objects.update_or_create(
        user=user, name=name, defaults={"address": urlencode(parts)[:400]}
    )
    return row


def kept_by(user: User) -> list[KeptQuestion]:
    return list(KeptQuestion.objects.filter(user=user))
