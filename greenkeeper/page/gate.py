"""Who is let in to the page, and with which rules the answers leave.

Lives here: only looking is allowed; the names the page answers to; the access word; the
headers that keep every page to itself. A plain ASGI wrapper, so that nothing inside it can
forget one. Does not live here: slow or crowding callers (server.py).
"""

import base64
import binascii
import hmac
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable
from ipaddress import IPv6Address, ip_address

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from greenkeeper.credentials import locate
from greenkeeper.errors import GreenkeeperError

# Content Security Policy Level 3: nothing but what this page itself serves, no script or
# style within a page, nothing framed, nothing sent anywhere.
_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=()"),
)
_ALLOWED = ("GET", "HEAD")

# Ends of names that no stranger can own: RFC 6762 (.local), RFC 8375 (.home.arpa), ICANN's
# reserved .internal, and .lan, which the root does not know (common practice, no source).
_LOCAL_ENDS = (".local", ".home.arpa", ".internal", ".lan")

_SHORTEST_WORD = 8
_LONGEST_WORD_FILE = 1000  # bytes
_WRONG_MOST = 5  # wrong words from one address
_WRONG_FOR_S = 60.0  # within so long; then it has to wait as long
_CALLERS = 500  # so many addresses are remembered


def read_word(name: str) -> str:
    """The access word of a file. Raises GreenkeeperError, which never shows it."""
    file = locate(name)
    try:
        with file.open("rb") as source:
            raw = source.read(_LONGEST_WORD_FILE + 1)
        word = raw.decode("utf-8").strip()
    except OSError as error:
        raise GreenkeeperError(f"{file} cannot be read: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise GreenkeeperError(f"{file} holds no text: write the word alone into it") from error
    if len(raw) > _LONGEST_WORD_FILE or len(word) < _SHORTEST_WORD or not word.isprintable():
        raise GreenkeeperError(
            f"{file}: one line of {_SHORTEST_WORD} letters or more is a word, and at most "
            f"{_LONGEST_WORD_FILE} bytes"
        )
    return word


class Gate:
    """Wraps the page's application."""

    def __init__(
        self,
        inner: ASGIApp,
        *,
        names: Iterable[str] = (),
        word: str | None = None,
        mono_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._inner = inner
        self._names = frozenset(name.lower() for name in names)
        self._word = None if word is None else word.encode()
        self._guesses = _Guesses(mono_s)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._inner(scope, receive, send)
            return

        async def with_rules(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", ()), *_HEADERS]
            await send(message)

        refusal = self._refusal(scope)
        if refusal is None:
            await self._inner(scope, receive, with_rules)
            return
        status, words, headers = refusal
        await _refuse(with_rules, status, words, headers)

    def _refusal(self, scope: Scope) -> "_Refusal | None":
        headers = dict(reversed(scope["headers"]))
        if scope["method"] not in _ALLOWED:
            allow = ", ".join(_ALLOWED).encode()
            words = "This page can be looked at and nothing more."
            return 405, words, [(b"allow", allow), (b"connection", b"close")]
        host = headers.get(b"host", b"").decode("latin-1")
        if not answers_to(host, self._names):
            words = (
                "This page does not answer to that name: call it by its address, or write the "
                "name under page.names in the settings."
            )
            return 421, words, []
        if self._word is not None:
            return self._unopened(scope, headers.get(b"authorization", b""))
        return None

    def _unopened(self, scope: Scope, told: bytes) -> "_Refusal | None":
        caller = _caller(scope)
        if self._guesses.waits(caller):
            words = "Too many wrong words from your address: wait a minute."
            return 429, words, [(b"retry-after", f"{_WRONG_FOR_S:.0f}".encode())]
        word = _word_of(told)
        if word is not None and hmac.compare_digest(word, self._word or b""):
            return None
        if word is not None:
            self._guesses.wrong(caller)
        challenge = b'Basic realm="greenhouse", charset="UTF-8"'  # RFC 7617
        return 401, "This page asks for its word.", [(b"www-authenticate", challenge)]


_Refusal = tuple[int, str, list[tuple[bytes, bytes]]]


async def _refuse(send: Send, status: int, words: str, headers: list[tuple[bytes, bytes]]) -> None:
    body = f"{words}\n".encode()
    about = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": [*about, *headers]})
    await send({"type": "http.response.body", "body": body})


def answers_to(host: str, names: frozenset[str] = frozenset()) -> bool:
    """Whether a Host header names this page in a way that no foreign site can.

    A site may let its own name point at this machine and have a visitor's browser read the
    page for it (DNS rebinding). It cannot do so with an address, nor with a local name.
    """
    name = _without_port(host).lower().rstrip(".")
    try:
        ip_address(name.strip("[]"))
    except ValueError:
        pass
    else:
        return True
    return bool(name) and ("." not in name or name.endswith(_LOCAL_ENDS) or name in names)


def _without_port(host: str) -> str:
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]


def _word_of(told: bytes) -> bytes | None:
    """The password of an Authorization header; None: there is none."""
    kind, _, rest = told.partition(b" ")
    if kind.lower() != b"basic":
        return None
    try:
        return base64.b64decode(rest.strip(), validate=True).partition(b":")[2]
    except binascii.Error:
        return b""


def _caller(scope: Scope) -> str:
    """Whose guesses count together: an address, or the network of 64 bits that IPv6 gives."""
    host = scope["client"][0] if scope.get("client") else ""
    try:
        address = ip_address(host)
    except ValueError:
        return host
    if isinstance(address, IPv6Address) and address.ipv4_mapped is None:
        return str(int(address) >> 64)
    return host


class _Guesses:
    """How many wrong words each caller has said lately. Bounded, whoever calls."""

    def __init__(self, mono_s: Callable[[], float]) -> None:
        self._mono_s = mono_s
        self._wrong: OrderedDict[str, list[float]] = OrderedDict()

    def waits(self, caller: str) -> bool:
        now_s = self._mono_s()
        lately = [at_s for at_s in self._wrong.get(caller, ()) if now_s - at_s < _WRONG_FOR_S]
        if not lately:
            self._wrong.pop(caller, None)
        return len(lately) >= _WRONG_MOST

    def wrong(self, caller: str) -> None:
        lately = self._wrong.setdefault(caller, [])
        lately.append(self._mono_s())
        del lately[:-_WRONG_MOST]
        self._wrong.move_to_end(caller)
        while len(self._wrong) > _CALLERS:
            self._wrong.popitem(last=False)
