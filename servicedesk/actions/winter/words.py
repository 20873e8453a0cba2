"""The words of the notice about thin ice, by version and language; a version never changes."""

from datetime import datetime

from django.db import transaction

from customers.models import User
from servicedesk.actions.winter.blocking import WinterRefused
from servicedesk.models import NoticeText
from servicedesk.planning.winter.notice_words import FIRST_WORDS, promise_in

LONGEST = 6000


def text_in_force(language: str, *, now: datetime) -> NoticeText:
    """The newest words in a language, or in English where there are none in it."""
    language = language if language in FIRST_WORDS else language.partition("-")[0]
    newest = NoticeText.objects.filter(language=language).order_by("-version").first()
    if newest:
        return newest
    if language not in FIRST_WORDS:
        return text_in_force("en", now=now)
    return NoticeText.objects.get_or_create(
        language=language, version=1, defaults={"text": FIRST_WORDS[language], "made_at": now}
    )[0]


@transaction.atomic
def new_version(language: str, text: str, *, by: User, now: datetime) -> NoticeText:
    """New words from now on; whoever got older ones keeps those on record."""
    text = text.strip().replace("\r\n", "\n")
    if len(text) < 80:
        raise WinterRefused(
            "Write what open water and thin ice mean, whom to keep off, and what to do."
        )
    if len(text) > LONGEST:
        raise WinterRefused(f"Nobody reads that much. At most {LONGEST} letters.")
    if word := promise_in(text):
        raise WinterRefused(
            f"“{word}” promises what nobody can promise about ice. Say what the danger is instead."
        )
    before = text_in_force(language, now=now)
    if before.text == text:
        return before
    return NoticeText.objects.create(
        language=language, version=before.version + 1, text=text, made_by=by, made_at=now
    )
