"""Fetching the forecast the settings name: seldom, politely, and never in the keeper.

Lives here: one HTTPS GET, and what is kept of its answer so that nothing is asked for twice.
Does not live here: what the answer means (outlook/forecast.py).

Weather services that cost nothing ask for manners (MET Norway's terms, from memory): say who
you are and how to be reached, round the place to four decimals, do not ask again before the
answer expires, and then only for what has changed.
"""

import contextlib
import email.utils
import http.client
import json
import ssl
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

from greenkeeper import files
from greenkeeper.outlook.forecast import ForecastError
from greenkeeper.settings.schema import Forecast

FILE_NAME = "forecast.json"
TIMEOUT_S = 20.0
MOST_BYTES = 2_000_000  # some twenty times a forecast of nine days
_LEAST_S = 1800.0  # kept so long at least, whatever it says of itself


class _Kept(NamedTuple):
    url: str
    body: str
    last_modified: str | None
    fresh_until_utc_s: float


class _Answer(NamedTuple):
    status: int
    body: bytes
    last_modified: str | None
    expires_utc_s: float | None


def fetched(settings: Forecast, place: tuple[float, float], file: Path, now_utc_s: float) -> bytes:
    """The newest forecast, from the service or from file. place: latitude, longitude.

    Raises ForecastError. A service that does not answer leaves what was kept in use; how old it
    is, parse and course ask.
    """
    if settings.url is None or settings.identity is None:
        raise ForecastError("the settings name no address to fetch it from")
    url = settings.url.replace("{latitude}", f"{place[0]:.4f}")
    url = url.replace("{longitude}", f"{place[1]:.4f}")
    kept = _read(file, url, now_utc_s)
    if kept is not None and now_utc_s < kept.fresh_until_utc_s:
        return kept.body.encode()
    try:
        answer = _get(url, settings.identity, kept.last_modified if kept else None)
    except (OSError, http.client.HTTPException, ValueError) as error:
        if kept is not None:
            return kept.body.encode()
        raise ForecastError(f"the service does not answer: {_why(error)}") from error
    if answer.status == http.HTTPStatus.NOT_MODIFIED and kept is not None:
        _write(file, kept._replace(fresh_until_utc_s=_fresh_until(answer, now_utc_s)))
        return kept.body.encode()
    if answer.status != http.HTTPStatus.OK:
        if kept is not None:
            return kept.body.encode()
        raise ForecastError(f"the service answers {answer.status}{_meaning(answer.status)}")
    body = answer.body.decode("utf-8", "replace")
    _write(file, _Kept(url, body, answer.last_modified, _fresh_until(answer, now_utc_s)))
    return answer.body


def _fresh_until(answer: _Answer, now_utc_s: float) -> float:
    return max(now_utc_s + _LEAST_S, answer.expires_utc_s or 0.0)


def _meaning(status: int) -> str:
    match status:
        case http.HTTPStatus.FORBIDDEN:
            return ": it refuses the identity of the settings, or knows none"
        case http.HTTPStatus.NOT_FOUND:
            return ": is the address right?"
        case http.HTTPStatus.TOO_MANY_REQUESTS:
            return ": it was asked too often"
    return ""


def _get(url: str, identity: str, last_modified: str | None) -> _Answer:
    """Raises OSError, HTTPException, ValueError. No redirection is followed."""
    parts = urlsplit(url)
    if parts.hostname is None:
        raise ValueError("the address names no host")
    connection: http.client.HTTPConnection
    if parts.scheme == "https":
        context = ssl.create_default_context()
        connection = http.client.HTTPSConnection(
            parts.hostname, parts.port, timeout=TIMEOUT_S, context=context
        )
    else:
        connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=TIMEOUT_S)
    headers = {"User-Agent": identity, "Accept": "application/json", "Connection": "close"}
    if last_modified is not None:
        headers["If-Modified-Since"] = last_modified
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    with contextlib.closing(connection):
        connection.request("GET", target, headers=headers)
        with connection.getresponse() as answer:
            body = answer.read(MOST_BYTES + 1)
            if len(body) > MOST_BYTES:
                raise ValueError(f"the answer is larger than {MOST_BYTES} bytes")
            return _Answer(
                answer.status,
                body,
                answer.getheader("Last-Modified"),
                _date_utc_s(answer.getheader("Expires")),
            )


def _date_utc_s(text: str | None) -> float | None:
    try:
        return None if text is None else email.utils.parsedate_to_datetime(text).timestamp()
    except ValueError:
        return None


def _why(error: Exception) -> str:
    if isinstance(error, TimeoutError):
        return f"nothing within {TIMEOUT_S:.0f} s"
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not accepted ({error.verify_message})"
    if isinstance(error, OSError):
        return error.strerror or type(error).__name__
    return str(error) or type(error).__name__


def _read(file: Path, url: str, now_utc_s: float) -> _Kept | None:
    """None where nothing is kept, of another address, or it makes no sense."""
    try:
        with file.open("rb") as source:
            kept = _Kept(**json.loads(source.read(2 * MOST_BYTES)))
    except (OSError, ValueError, TypeError, RecursionError):
        return None
    sound = isinstance(kept.body, str) and isinstance(kept.fresh_until_utc_s, int | float)
    modified = kept.last_modified is None or isinstance(kept.last_modified, str)
    # A clock that was ahead must not keep an old one fresh for years.
    lasting = sound and kept.fresh_until_utc_s < now_utc_s + 86_400.0
    return kept if sound and modified and lasting and kept.url == url else None


def _write(file: Path, kept: _Kept) -> None:
    """What cannot be kept is asked for again: the outlook does without the file."""
    with contextlib.suppress(OSError):
        files.replace(file, json.dumps(kept._asdict()) + "\n", durable=False)
