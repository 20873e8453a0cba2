"""A sent mail as it is kept: the bytes sealed, the links in what people read of it hidden.

Whoever holds an owner's link can answer for the owner; a copy of the database must not.
"""

import email
import email.policy
import re

from customers.models.sealed import seal, unseal

LINK = re.compile(r"/o/[\w-]{22}/")


def sealed(content: bytes) -> bytes:
    return seal(content.decode("ascii")).encode()


def opened(kept: bytes) -> bytes:
    return unseal(bytes(kept).decode()).encode("ascii")


def without_links(words: str) -> str:
    """The same words, with nothing left that opens an owner's page."""
    return LINK.sub("/o/\u2026/", words)


def bodies(content: bytes) -> tuple[str, str]:
    """The plain text and the HTML of a mail, as they went out."""
    mail = email.message_from_bytes(content, policy=email.policy.default)
    found = [mail.get_body([kind]) for kind in ("plain", "html")]
    text, html = (part.get_content().replace("\r\n", "\n") if part else "" for part in found)
    return text, html
