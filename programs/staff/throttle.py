"""Tries at a password, counted in the database: web processes are many and remember nothing.

Each is counted before it is looked at, so that many sent at once are not all the first; the right
one takes the count away again. Counted is by account and place: a browser that signed in to the
account before, known by its cookie, or else the address. Somebody who guesses from anywhere
therefore never stands in the way of a browser that the account's owner uses.
"""

import hashlib
import ipaddress
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core import signing
from django.db import transaction
from django.db.models import Sum
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import get_random_string, salted_hmac

from programs.staff.calc import pace
from programs.staff.models import KnownDevice, PasswordPace

COOKIE = "device"
COOKIE_DAYS = 365
SIGNER = signing.Signer(salt="staff.device")


@dataclass(frozen=True)
class Turn:
    """One try: whether it is looked at, and how many it makes with those before."""

    account: str
    place: str
    n_wrong: int
    wait_seconds: int

    @property
    def is_slowed(self) -> bool:
        return self.wait_seconds > 0 or self.n_wrong >= pace.PLAIN

    @property
    def wait_words(self) -> str:
        if not self.wait_seconds:
            return ""
        if self.wait_seconds <= 90:
            return f"{self.wait_seconds} seconds"
        return f"{-(-self.wait_seconds // 60)} minutes"


def client_address(request: HttpRequest) -> str:
    """The address a request comes from; of IPv6 the network, which one person holds whole.

    A forwarded address is what the sender says, unless a proxy of ours wrote it: with n proxies in
    front the n-th from the right is the last that one of them saw.
    """
    found = request.META.get("REMOTE_ADDR", "")
    hops = settings.PROXIES_IN_FRONT
    written = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
    forwarded = [address.strip() for address in written if address.strip()]
    if 0 < hops <= len(forwarded):
        found = forwarded[-hops]
    try:
        address = ipaddress.ip_address(found)
    except ValueError:
        return "unknown"
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False).network_address)
    return str(address)


def take_turn(name: str, request: HttpRequest) -> Turn:
    """A try to sign in to the account of this name, whether there is one or not."""
    account, address = _account(name), client_address(request)
    device = _device(request)
    if device and KnownDevice.objects.filter(account=account, device=_hash(device)).exists():
        return _count(account, f"device {_hash(device)}", "")
    return _count(account, f"address {address}", address)


def take_turn_at_change(user: Any, session_key: str) -> Turn:
    """A try at the old password of somebody signed in: each session by itself."""
    return _count(_account(f"change of {user.pk}"), f"session {_hash(session_key)}", "")


@transaction.atomic
def _count(account: str, place: str, address: str) -> Turn:
    now = timezone.now()
    _forget_old(now)
    row, _ = PasswordPace.objects.select_for_update().get_or_create(
        account=account, place=place, defaults={"address": address, "last_at": now}
    )
    since = (now - row.last_at).total_seconds()
    crowded = bool(address) and _is_crowded(account, address, now)
    wait = pace.wait_seconds(row.n_wrong, since, is_crowded=crowded)
    if wait == 0:
        row.n_wrong, row.last_at = row.n_wrong + 1, now
        row.save()
    return Turn(account, place, row.n_wrong, wait)


def _is_crowded(account: str, address: str, now: Any) -> bool:
    lately = now - timedelta(seconds=pace.CROWD_OF_ADDRESS_S)
    strangers = PasswordPace.objects.exclude(address="")
    here = strangers.filter(address=address, last_at__gte=lately).aggregate(n=Sum("n_wrong"))
    anywhere = strangers.filter(account=account).aggregate(n=Sum("n_wrong"))
    return (here["n"] or 0) >= pace.CROWD_OF_ADDRESS or (
        anywhere["n"] or 0
    ) >= pace.CROWD_OF_ACCOUNT


def _forget_old(now: Any) -> None:
    old = now - timedelta(seconds=pace.FORGOTTEN_AFTER_S)
    PasswordPace.objects.filter(last_at__lt=old).delete()


def end_waiting(turn: Turn) -> None:
    """The password was right: nothing of the wrong ones before it stays."""
    PasswordPace.objects.filter(account=turn.account, place=turn.place).delete()


def end_all_waiting(name: str) -> None:
    """An administrator gave the account a new password."""
    PasswordPace.objects.filter(account=_account(name)).delete()


def remember_device(name: str, request: HttpRequest, response: HttpResponse) -> None:
    """From now on this browser is one that signed in to the account before."""
    device = _device(request) or get_random_string(40)
    KnownDevice.objects.update_or_create(
        account=_account(name), device=_hash(device), defaults={"seen_at": timezone.now()}
    )
    old = timezone.now() - timedelta(days=COOKIE_DAYS)
    KnownDevice.objects.filter(seen_at__lt=old).delete()
    response.set_cookie(
        COOKIE,
        SIGNER.sign(device),
        max_age=timedelta(days=COOKIE_DAYS),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _device(request: HttpRequest) -> str:
    try:
        return SIGNER.unsign(request.COOKIES.get(COOKIE, ""))
    except signing.BadSignature:
        return ""


def _account(name: str) -> str:
    """Stands for a name in the tables: people type passwords into the box for names."""
    return salted_hmac("staff.pace", name, algorithm="sha256").hexdigest()


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
