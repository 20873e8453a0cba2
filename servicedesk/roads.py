"""Driving times from a routing service that speaks the table interface of OSRM over HTTP.

Only jobs ask it, never a page. A call has an end of its own in every case: nobody waits for a
service that is late, and what it says is checked before it is believed.
"""

import http.client
import json
import math
import socket
import ssl
import time
from collections.abc import Sequence
from urllib.parse import urlsplit

CONNECT_S = 2.0
READ_S = 10.0
MOST_PLACES = 100  # of one call; what the service allows when nobody changes it
MOST_BYTES = 4_000_000  # of an answer; a hundred places by a hundred are some 200,000
ACROSS = 36_000_001  # more than there are longitudes of five decimals

Spot = tuple[float, float]  # latitude, longitude
Drive = tuple[float | None, float | None]  # seconds, metres; None: there is no road


class NoAnswer(Exception):
    """The service did not answer, or with something else than drives; says what it did."""


def spot_key(spot: Spot) -> int:
    """A place as one number: its coordinates to five decimals, about a metre."""
    latitude, longitude = (round(degrees * 100_000) for degrees in spot)
    return (latitude + 9_000_000) * ACROSS + longitude + 18_000_000


def drives(
    url: str, spots: Sequence[Spot], origins: Sequence[int], ends: Sequence[int], *, within_s: float
) -> list[list[Drive]]:
    """Ask for the drives from some places to others, by their numbers among `spots`; one call.

    Raises NoAnswer at the latest after `within_s` seconds.
    """
    if len(spots) > MOST_PLACES:
        raise ValueError(f"{len(spots)} places in one call; the service takes {MOST_PLACES}")
    places = ";".join(f"{longitude:.5f},{latitude:.5f}" for latitude, longitude in spots)
    asked = "annotations=duration,distance"
    asked += "&sources=" + ";".join(map(str, origins))
    asked += "&destinations=" + ";".join(map(str, ends))
    said = _said(url, f"/table/v1/driving/{places}?{asked}", time.monotonic() + within_s)
    seconds = _cells(said, "durations", len(origins), len(ends))
    metres = _cells(said, "distances", len(origins), len(ends))
    return [
        [(None, None) if None in drive else drive for drive in zip(*rows, strict=True)]
        for rows in zip(seconds, metres, strict=True)
    ]


def _said(url: str, path: str, end: float) -> dict:
    return _checked(*fetched(url, path, end))


def fetched(url: str, path: str, end: float) -> tuple[int, bytes]:
    """Status and body of an answer; NoAnswer when none came by `end` of the monotonic clock."""
    parts = urlsplit(url)
    secure = parts.scheme == "https"
    kind = http.client.HTTPSConnection if secure else http.client.HTTPConnection
    more = {"context": ssl.create_default_context()} if secure else {}
    left = max(0.05, end - time.monotonic())
    service = kind(parts.hostname, parts.port, timeout=min(CONNECT_S, left), **more)
    try:
        service.connect()
        _wait_no_longer(service.sock, end)
        service.request(
            "GET", parts.path.rstrip("/") + path, headers={"Accept": "application/json"}
        )
        answer = service.getresponse()
        return answer.status, _body(service.sock, answer, end)
    except TimeoutError:
        raise NoAnswer("did not answer in time") from None
    except (OSError, http.client.HTTPException) as error:
        raise NoAnswer(f"did not answer ({type(error).__name__})") from None
    finally:
        service.close()


def _wait_no_longer(sock: socket.socket | None, end: float) -> None:
    left = end - time.monotonic()
    if left <= 0:
        raise TimeoutError
    if sock is not None:
        sock.settimeout(min(READ_S, left))


def _body(sock: socket.socket | None, answer: http.client.HTTPResponse, end: float) -> bytes:
    """What is answered, piece by piece: a service that drips has no more time than any other."""
    body = b""
    while piece := answer.read1(65_536):
        body += piece
        if len(body) > MOST_BYTES:
            raise NoAnswer("gave an answer that is too long")
        _wait_no_longer(sock, end)
    if answer.length:  # fewer bytes than it said
        raise http.client.IncompleteRead(body, answer.length)
    return body


def _checked(status: int, body: bytes) -> dict:
    try:
        said = json.loads(body)
    except (ValueError, RecursionError):
        said = None
    code = said.get("code") if isinstance(said, dict) else None
    if status != 200:
        word = f", {code[:40]}" if isinstance(code, str) and code != "Ok" else ""
        raise NoAnswer(f"answered with status {status}{word}")
    if code != "Ok":
        raise NoAnswer("answered with something else than drives")
    return said


def _cells(said: dict, name: str, rows: int, columns: int) -> list[list[float | None]]:
    table = said.get(name)
    fits = isinstance(table, list) and len(table) == rows
    if not fits or any(not isinstance(row, list) or len(row) != columns for row in table):
        raise NoAnswer(f"gave {name} of another size than was asked for")
    if not all(cell is None or _is_figure(cell) for row in table for cell in row):
        raise NoAnswer(f"gave {name} that are no figures")
    return table


def _is_figure(cell: object) -> bool:
    number = isinstance(cell, int | float) and not isinstance(cell, bool)
    return number and math.isfinite(cell) and 0 <= cell < 1e8
