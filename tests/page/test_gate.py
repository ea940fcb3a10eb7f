"""Who is let in, and with which rules every answer leaves."""

import base64
from pathlib import Path

import pytest

from greenkeeper.errors import GreenkeeperError
from greenkeeper.page.gate import Gate, answers_to, read_word
from tests.page.house import SETTINGS, House
from tests.page.serving import Served, served

WORD = "rosemary under glass"


def basic(word: str, name: str = "anybody") -> str:
    return "Basic " + base64.b64encode(f"{name}:{word}".encode()).decode()


# --- looking only --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PROPFIND", "X"]
)
def test_nothing_but_looking_is_allowed(page: Served, method: str) -> None:
    answer = page.ask("/", method)
    assert answer.status == 405
    assert answer.headers["allow"] == "GET, HEAD"
    assert page.ask("/").status == 200


def test_head_is_a_page_without_its_body(page: Served) -> None:
    answer = page.ask("/", "HEAD")
    assert (answer.status, answer.text) == (200, "")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"


@pytest.mark.parametrize(
    "path",
    [
        "/../greenkeeper.yaml",
        "/page.css/../../../app.py",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/static/page.css",
        "/page.css%00.html",
        "/history.csv/..",
        "//etc/passwd",
        "/status.json",
        "/journal.db",
        "/now",
        "/%ff%fe",
        "/" + "a" * 8000,
    ],
)
def test_nothing_else_is_served(page: Served, path: str) -> None:
    answer = page.ask(path)
    assert answer.status == 404
    assert "There is no such page." in answer.text


# --- headers ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "method"), [("/", "GET"), ("/page.js", "GET"), ("/nowhere", "GET"), ("/", "POST")]
)
def test_every_answer_keeps_itself_to_itself(page: Served, path: str, method: str) -> None:
    headers = page.ask(path, method).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "server" not in headers


def test_pages_are_never_kept_and_their_parts_are_for_as_long_as_they_stay_the_same(
    page: Served,
) -> None:
    assert page.ask("/").headers["cache-control"] == "no-store"
    assert "immutable" in page.ask("/page.css?x").headers["cache-control"]


def test_no_page_names_an_address_outside(page: Served) -> None:
    for path in ("/", "/history", "/outlook", "/season", "/page.css", "/page.js"):
        text = page.ask(path).text.replace("http://www.w3.org/2000/svg", "")
        assert "//" not in text.replace("// ", "")


# --- names -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    [
        *("127.0.0.1", "127.0.0.1:8470", "[::1]:8470", "192.0.2.7", "localhost:8470", "shed"),
        *("shed.local", "Shed.LOCAL.", "shed.home.arpa:80", "greenhouse.lan", "a.internal"),
    ],
)
def test_the_page_answers_to_addresses_and_local_names(host: str) -> None:
    assert answers_to(host)


@pytest.mark.parametrize(
    "host",
    ["", "evil.example", "shed.local.evil.example", "127.0.0.1.nip.example", ".", "lan.example"],
)
def test_it_answers_to_no_name_a_stranger_can_own(page: Served, host: str) -> None:
    assert not answers_to(host)
    answer = page.ask("/", Host=host)
    assert answer.status in (400, 421)
    assert "Bench" not in answer.text


def test_a_name_of_ones_own_is_written_in_the_settings(house: House) -> None:
    house.write_settings(f"{SETTINGS}page: {{names: [Shed.example.org]}}\n")
    with served(house) as page:
        assert page.ask("/", Host="shed.example.org").status == 200
        assert page.ask("/", Host="other.example.org").status == 421


# --- the word ----------------------------------------------------------------------------------


def test_with_a_word_nothing_is_shown_without_it(house: House) -> None:
    with served(house, word=WORD) as page:
        for path in ("/", "/page.css", "/history.csv", "/nowhere"):
            answer = page.ask(path)
            assert answer.status == 401
            assert answer.headers["www-authenticate"].startswith("Basic realm=")
        assert page.ask("/", Authorization=basic(WORD)).status == 200
        assert page.ask("/", Authorization=basic(WORD, "somebody:else")).status == 401


def test_guessing_is_slow(house: House) -> None:
    with served(house, word=WORD) as page:
        for guess in ("", "rosemary", "x" * 100, "\N{SNOWMAN}", WORD.upper()):
            assert page.ask("/", Authorization=basic(guess)).status == 401
        answer = page.ask("/", Authorization=basic(WORD))
        assert answer.status == 429
        assert answer.headers["retry-after"] == "60"


@pytest.mark.parametrize("told", ["Basic", "Basic !", "Basic ====", "Bearer abc", "basic eA=="])
def test_an_answer_that_is_none_opens_nothing(house: House, told: str) -> None:
    with served(house, word=WORD) as page:
        assert page.ask("/", Authorization=told).status == 401


def gate_at(times: list[float]) -> Gate:
    async def never(*_: object) -> None:
        raise AssertionError

    return Gate(never, word=WORD, mono_s=lambda: times[0])


def refused(gate: Gate, word: str, client: str = "192.0.2.7") -> int | None:
    headers = [(b"host", b"shed"), (b"authorization", basic(word).encode())]
    found = gate._refusal(
        {"type": "http", "method": "GET", "headers": headers, "client": (client, 1)}
    )
    return None if found is None else found[0]


def test_a_minute_later_the_right_word_opens_again() -> None:
    times = [0.0]
    gate = gate_at(times)
    assert [refused(gate, "wrong") for _ in range(6)] == [401] * 5 + [429]
    assert refused(gate, WORD) == 429
    assert refused(gate, WORD, client="192.0.2.8") is None
    times[0] = 60.0
    assert refused(gate, WORD) is None


def test_addresses_of_one_network_of_ipv6_guess_together() -> None:
    gate = gate_at([0.0])
    for last in range(5):
        assert refused(gate, "wrong", client=f"2001:db8::{last}") == 401
    assert refused(gate, WORD, client="2001:db8::99") == 429
    assert refused(gate, WORD, client="2001:db8:0:1::99") is None


def test_however_many_guess_no_more_than_some_are_remembered() -> None:
    gate = gate_at([0.0])
    for number in range(2000):
        refused(gate, "wrong", client=f"10.0.{number // 250}.{number % 250}")
    assert len(gate._guesses._wrong) == 500


@pytest.mark.parametrize(
    "content", [b"short", b"", b"two\nlines that are long", b"\xff" * 20, b"x" * 2000]
)
def test_a_word_that_is_none_is_refused_without_being_shown(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "word"
    file.write_bytes(content)
    with pytest.raises(GreenkeeperError) as refusal:
        read_word(str(file))
    assert str(file) in str(refusal.value)
    assert "two" not in str(refusal.value).replace(str(file), "")
    file.write_text(f"{WORD}\n")
    assert read_word(str(file)) == WORD
    file.unlink()
    with pytest.raises(GreenkeeperError, match="cannot be read"):
        read_word(str(file))
