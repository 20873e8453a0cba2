"""The first start of a firm: a link that opens it once, the first manager, firm and people."""

import hmac
import secrets
from datetime import date, datetime, time

from django.conf import settings
from django.db import transaction

from customers.kinds import Role, Units
from customers.models import Firm, Trail, User
from servicedesk.models import Shift, Technician

TOKEN = settings.DATA / "start-token"


class SetupRefused(Exception):
    """The firm has its manager already; the text says what to do."""


def manager_exists() -> bool:
    return User.objects.filter(role=Role.MANAGER, is_active=True).exists()


def start_address(base: str) -> str:
    """The address that opens the first start, for whoever reads this machine's terminal.

    base: such as "http://127.0.0.1:8000/".
    """
    if not TOKEN.exists():
        TOKEN.touch(mode=0o600)
        TOKEN.write_text(secrets.token_urlsafe(16))
    return f"{base.rstrip('/')}/start/{TOKEN.read_text().strip()}/"


def opens_start(token: str) -> bool:
    """Whether a token in a link is that of this machine's data folder, and still of use."""
    if not TOKEN.is_file() or manager_exists():
        return False
    return hmac.compare_digest(TOKEN.read_text().strip().encode(), token.encode())


@transaction.atomic
def make_first_manager(user: User, *, password: str, now: datetime) -> User:
    """Give the firm its manager; the link is used up. Raises SetupRefused the second time."""
    if manager_exists():
        raise SetupRefused("The firm has its manager already. Sign in, or ask the manager.")
    user.role = Role.MANAGER
    user.is_staff = user.is_superuser = True  # the manager reads and edits all records
    user.set_password(password)
    user.save()
    Trail.objects.create(at=now, by=user, did="made the first manager", about=f"user:{user.pk}")
    try:
        TOKEN.unlink()
    except FileNotFoundError:  # somebody else used the link in this very moment
        raise SetupRefused("This link has been used. Sign in, or ask the manager.") from None
    return user


@transaction.atomic
def add_person(
    user: User,
    *,
    password: str,
    firm: Firm,
    skill: str = "",
    boat: bool = False,
    licensed_electrician: bool = False,
    weekdays: list[int] = (),
    starts: time | None = None,
    ends: time | None = None,
    lunch_min: int = 30,
    by: User,
    now: datetime,
    from_on: date,
) -> User:
    """Add a person of the firm; a technician with the days that he works."""
    user.units, user.language = firm.units or Units.US, firm.language
    user.set_password(password)
    user.save()
    if user.role == Role.TECHNICIAN:
        technician = Technician.objects.create(
            user=user, skill=skill, boat=boat, licensed_electrician=licensed_electrician
        )
        Shift.objects.bulk_create(
            Shift(
                technician=technician,
                weekday=weekday,
                starts=starts,
                ends=ends,
                lunch_min=lunch_min,
                from_on=from_on,
            )
            for weekday in weekdays
        )
    Trail.objects.create(at=now, by=by, did="added a person", about=f"user:{user.pk}")
    return user
