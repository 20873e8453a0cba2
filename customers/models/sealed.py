"""Text that is encrypted in the database, for gate codes and keys."""

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.db import models


class SealBroken(Exception):
    """The stored text cannot be opened with the key of this installation."""


def seal(text: str) -> str:
    return Fernet(settings.SEAL_KEY).encrypt(text.encode()).decode()


def unseal(sealed: str) -> str:
    try:
        return Fernet(settings.SEAL_KEY).decrypt(sealed.encode()).decode()
    except InvalidToken:
        raise SealBroken(
            "This note was sealed with another key. Set SERVICEDESK_SEAL_KEY to the key it was "
            "written with, or enter the note again."
        ) from None


class SealedTextField(models.TextField):
    """Plain text in Python, Fernet token in the database; cannot be searched."""

    def get_prep_value(self, value):
        value = super().get_prep_value(value)
        return seal(value) if value else value

    def from_db_value(self, value, expression, connection):
        return unseal(value) if value else value
