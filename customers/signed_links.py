"""Links in mails: short opaque tokens for one contact, one purpose and one thing, with an end."""

import hashlib
import secrets
from base64 import urlsafe_b64encode
from datetime import datetime

from django.utils.crypto import constant_time_compare, salted_hmac

from customers.models import Contact, SignedLink

RANDOM_CHARACTERS = 16  # 96 bits
CHECK_CHARACTERS = 6  # 36 bits: tells a mistyped link from one that we no longer know


class LinkRefused(Exception):
    """The link opens nothing."""


class LinkAltered(LinkRefused):
    """These are not the characters that we sent."""


class LinkUnknown(LinkRefused):
    """We made it, but hold no record of it any more."""


class LinkRevoked(LinkRefused):
    """It was taken back before its end."""


class LinkExpired(LinkRefused):
    """Its time is over."""


class LinkForAnotherPurpose(LinkRefused):
    """It was made for something else."""


def make_link(
    contact: Contact, purpose: str, about: str, expires_at: datetime, now: datetime
) -> str:
    """Keep the hash of a new token; the token itself, 22 characters, is only in the mail."""
    random = secrets.token_urlsafe(RANDOM_CHARACTERS * 6 // 8)
    token = random + _check(random)
    SignedLink.objects.create(
        token_hash=_hashed(token),
        contact=contact,
        purpose=purpose,
        about=about,
        made_at=now,
        expires_at=expires_at,
    )
    return token


def open_link(token: str, purposes: str | frozenset[str], now: datetime) -> SignedLink:
    """The link behind a token, or the refusal that fits."""
    random, check = token[:RANDOM_CHARACTERS], token[RANDOM_CHARACTERS:]
    if not constant_time_compare(_check(random), check):
        raise LinkAltered
    link = SignedLink.objects.select_related("contact__customer").filter(token_hash=_hashed(token))
    found = link.first()
    if found is None:
        raise LinkUnknown
    if found.purpose not in ({purposes} if isinstance(purposes, str) else purposes):
        raise LinkForAnotherPurpose
    if found.revoked_at:
        raise LinkRevoked
    if now >= found.expires_at:
        raise LinkExpired
    return found


def _hashed(token):
    return hashlib.sha256(token.encode()).hexdigest()


def _check(random):
    digest = salted_hmac("customers.signed_links", random, algorithm="sha256").digest()
    return urlsafe_b64encode(digest).decode()[:CHECK_CHARACTERS]
