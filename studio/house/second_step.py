"""The optional second step of logging in: a one-time code of a person's own device, or a recovery code (django-otp)."""

from __future__ import annotations

import io
from base64 import b32encode
from hashlib import sha256
from math import ceil
from typing import Any
from urllib.parse import quote, urlencode

import segno
from django.db import transaction
from django.utils import timezone
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.house.changes import note_failure
from studio.house.models import House, Person
from studio.house.people import note, one_time_password
from studio.house.sessions import end_sessions
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import is_whole

DIGITS, RECOVERY_CODES = 6, 10
NOT_THE_CODE = "That code is not right: codes change every half minute, and each opens once. Write the one shown now."


class NotTheCode(DaybookError):
    """The code is not the one of now, was used, or may not be looked at yet."""


def has_second_step(person: Person) -> bool:
    return bool(TOTPDevice.objects.filter(user=person, confirmed=True).exists())


def begun_device(person: Person) -> Any:
    """Return the device that is being set up and does not count yet; None where none is."""
    return TOTPDevice.objects.filter(user=person, confirmed=False).first()


@transaction.atomic
def begin(person: Person) -> None:
    """Make a new secret for a device, which counts once a code of it was typed."""
    if has_second_step(person):
        raise DaybookError("You have a second step: remove it first.")
    TOTPDevice.objects.filter(user=person).delete()
    TOTPDevice.objects.create(user=person, name="codes", confirmed=False)


def written_key(device: Any) -> str:
    """Return a device's secret as it is typed by hand, in groups of four."""
    key = b32encode(device.bin_key).decode().rstrip("=")
    return " ".join(key[at:at + 4] for at in range(0, len(key), 4))


def picture(device: Any) -> bytes:
    """Return the code that a device reads, as SVG."""
    house = House.objects.values_list("name", flat=True).first() or "Silvering Daybook"
    label = quote(f"{house}:{device.user.username}")
    address = f"otpauth://totp/{label}?" + urlencode({
        "secret": written_key(device).replace(" ", ""), "issuer": house, "digits": DIGITS, "period": device.step,
    }, quote_via=quote)
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(drawn, kind="svg", border=4, scale=4, light="#FFFFFF")
    return drawn.getvalue()


def confirm(person: Person, code: str, *, here: str | None) -> list[str]:
    """Let a device count from now on; return its recovery codes. Other sessions end: they knew one step only.

    Raises NotTheCode.
    """
    with transaction.atomic():
        device = TOTPDevice.objects.select_for_update().filter(user=person, confirmed=False).first()
        if device is None:
            raise NotTheCode("Begin anew: there is nothing to set up.", "code")
        right, wait = _verify(device, _clean(code))
        if right:
            device.confirmed = True
            device.save(update_fields=["confirmed"])
            end_sessions(person, but=here)
            note(person, person, "set up the second step")
            return _new_codes(person)
    raise NotTheCode(wait or NOT_THE_CODE, "code")


@transaction.atomic
def new_codes(person: Person) -> list[str]:
    """Return new recovery codes; the old ones open nothing any more."""
    note(person, person, "made new recovery codes")
    return _new_codes(person)


def _new_codes(person: Person) -> list[str]:
    StaticDevice.objects.filter(user=person).delete()
    device, codes = StaticDevice.objects.create(user=person, name="recovery"), []
    for _ in range(RECOVERY_CODES):
        codes.append(one_time_password())
        device.token_set.create(token=_hashed(codes[-1]))
    return codes


def _hashed(code: str) -> str:
    """Return what is kept of a recovery code: 59 random bits need no slow hash."""
    return sha256(code.replace("-", "").encode()).hexdigest()[:16]


def _clean(code: str) -> str:
    return "".join(code.split()).lower()


def _verify(device: Any, token: str) -> tuple[bool, str]:
    """Return whether a token is a device's, or how long to wait before one is looked at."""
    allowed, why = device.verify_is_allowed()
    if not allowed:
        seconds = max(1, ceil((why["locked_until"] - timezone.now()).total_seconds()))
        wait = f"{seconds} second{'' if seconds == 1 else 's'}"
        return False, f"Too many wrong codes: wait {wait}, then write the code shown then."
    return bool(device.verify_token(token)), ""


def check_code(person: Person, code: str) -> None:
    """Let a code open once: six figures of the device, or a recovery code. Raises NotTheCode."""
    typed, wait = _clean(code), ""
    of_device = len(typed) == DIGITS and is_whole(typed)
    kind: Any = TOTPDevice if of_device else StaticDevice
    with transaction.atomic():
        device = kind.objects.select_for_update().filter(user=person, confirmed=True).first()
        right = False
        if device is not None:
            right, wait = _verify(device, typed if of_device else _hashed(typed))
        if right and not of_device:
            left = device.token_set.count()
            note(person, person, f"logged in with a recovery code: {left} left")
    if not right:
        note_failure(person.username, "wrong code")
        raise NotTheCode(wait or NOT_THE_CODE, "code")


def codes_left(person: Person) -> int:
    device = StaticDevice.objects.filter(user=person).first()
    return int(device.token_set.count()) if device is not None else 0


@transaction.atomic
def remove(person: Person, *, by: Person, by_program: bool = False) -> None:
    """Let a password alone log somebody in again. by_program: nobody who was logged in asked for it."""
    had = has_second_step(person)
    for kind in (TOTPDevice, StaticDevice):
        kind.objects.filter(user=person).delete()
    if had:
        own = by == person and not by_program
        note(person, by, "removed the second step" if own else "had the second step removed"
             + (" by whoever runs the server" if by_program else ""))
