"""The mail server outside, or a folder of files where there is none; and what its answers mean."""

import os
import re
import smtplib
import ssl
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from urllib.parse import unquote

from django.conf import settings

MAILS_PER_CONNECTION = 100


class Verdict(StrEnum):
    """What an answer of the mail server means for the mail in hand."""

    TAKEN = "taken"
    LATER = "later"  # not now; try again
    FULL = "full"  # the mailbox is full; try for a day
    DEAD = "dead"  # no such address
    OURS = "ours"  # our own fault or a policy; never the address's
    UNSURE = "unsure"  # it may have been taken


@dataclass(frozen=True)
class Answer:
    verdict: Verdict
    code: int | None = None
    words: str = ""


class RelayDown(Exception):
    """The mail server cannot be reached, or does not let us in: no fault of any mail."""


def open_relay():
    """The relay of the settings. Use it in a `with`; it connects at the first mail."""
    return SmtpRelay(settings.SMTP) if settings.SMTP else FileRelay(settings.MAIL_FILES)


def meaning(code: int, words: str, *, of_recipient: bool) -> Verdict:
    """What a reply means; only a reply to the recipient can tell of a dead address.

    Source: RFC 5321 section 4.2, RFC 3463 sections 3.2 to 3.8.
    """
    status = re.match(r"\s*([245])\.(\d{1,3})\.(\d{1,3})\b", words)
    subject = status.group(2) if status else ""
    if code // 100 == 2:
        return Verdict.TAKEN
    if code in {452, 552}:
        return Verdict.FULL
    if code // 100 == 4:
        return Verdict.LATER
    if of_recipient and code in {550, 551, 553} and subject in {"", "1"}:
        return Verdict.DEAD
    return Verdict.OURS


class SmtpRelay:
    """One connection, kept for a sending run and made anew when it was lost."""

    def __init__(self, address):
        self.address = address
        self.connection = None
        self.sent = 0

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        self._leave()

    def reach(self):
        """Connect, so that nothing is claimed while the relay is down."""
        if self.connection and self.sent >= MAILS_PER_CONNECTION:
            self._leave()
        if self.connection is None:
            self.connection = self._connect()
            self.sent = 0

    def envelope(self, to: str) -> Answer:
        """Name sender and recipient; TAKEN means that the bytes may follow."""
        self.reach()
        try:
            code, words = self.connection.mail(settings.MAIL_FROM)
            of_recipient = False
            if code // 100 == 2:
                code, words = self.connection.rcpt(to)
                of_recipient = True
            answer = _answer(code, words, of_recipient=of_recipient)
            if code == 421:
                raise smtplib.SMTPServerDisconnected(answer.words)
            if answer.verdict != Verdict.TAKEN:
                self.connection.rset()
        except (smtplib.SMTPException, OSError) as error:
            self._drop()
            raise RelayDown(f"the connection was lost: {error}") from error
        return answer

    def give_up(self):
        """Take the envelope back: the bytes will not follow."""
        try:
            self.connection.rset()
        except (smtplib.SMTPException, OSError):
            self._drop()

    def data(self, content: bytes) -> Answer:
        """The bytes. Where the answer does not come, nobody knows whether they were taken."""
        self.sent += 1
        try:
            code, words = self.connection.data(content)
        except smtplib.SMTPDataError as error:  # refused before the first byte
            return _answer(error.smtp_code, error.smtp_error, of_recipient=False)
        except (smtplib.SMTPException, OSError) as error:
            self._drop()
            return Answer(Verdict.UNSURE, words=f"no answer after the mail: {error}"[:250])
        if code == 421:
            self._drop()
        return _answer(code, words, of_recipient=False)

    def _connect(self):
        address, wait = self.address, settings.SMTP_TIMEOUT_S
        kind = smtplib.SMTP_SSL if address.scheme == "smtps" else smtplib.SMTP
        secured = {"context": ssl.create_default_context()}
        port = address.port or {"smtps": 465, "smtp+starttls": 587}.get(address.scheme, 25)
        try:
            connection = kind(
                address.hostname,
                port,
                timeout=wait,
                **(secured if kind is smtplib.SMTP_SSL else {}),
            )
            if address.scheme == "smtp+starttls":
                connection.starttls(**secured)
            connection.ehlo_or_helo_if_needed()
            if address.username:
                connection.login(unquote(address.username), unquote(address.password or ""))
        except (smtplib.SMTPException, OSError) as error:
            raise RelayDown(f"{address.hostname}:{port} does not let us in: {error}") from error
        return connection

    def _leave(self):
        if self.connection:
            try:
                self.connection.quit()
            except (smtplib.SMTPException, OSError):
                self._drop()
            self.connection = None

    def _drop(self):
        if self.connection:
            self.connection.close()
        self.connection = None


class FileRelay:
    """Mails as files: what the demo uses, and an installation without mail settings."""

    def __init__(self, folder: Path):
        self.folder = folder

    def __enter__(self):
        return self

    def __exit__(self, *fault):
        pass

    def reach(self):
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise RelayDown(f"the folder {self.folder} cannot be used: {error}") from error

    def envelope(self, to: str) -> Answer:
        return Answer(Verdict.TAKEN)

    def give_up(self):
        pass

    def data(self, content: bytes) -> Answer:
        """Whole or not at all; the same Message-ID again replaces the same file."""
        found = re.search(rb"^Message-ID:\s*<([A-Za-z0-9-]+)@", content, re.MULTILINE | re.I)
        if not found:
            return Answer(Verdict.OURS, words="the mail has no Message-ID")
        path = self.folder / f"{found.group(1).decode()}.eml"
        half = path.with_suffix(".part")
        try:
            with half.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            half.replace(path)
            folder = os.open(self.folder, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
        except OSError as error:
            return Answer(Verdict.OURS, words=f"the mail could not be written: {error}"[:250])
        return Answer(Verdict.TAKEN, 250, "written to a file")


def _answer(code, words, *, of_recipient):
    said = words.decode(errors="replace") if isinstance(words, bytes) else str(words)
    said = " ".join(said.split())[:250]
    return Answer(meaning(code, said, of_recipient=of_recipient), code, said)
