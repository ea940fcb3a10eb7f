"""Slow and crowding callers, and the end of the process."""

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from greenkeeper.errors import GreenkeeperError
from greenkeeper.page import server
from tests.page import house as houses
from tests.page.house import House
from tests.page.serving import Served, served


def ended(link: socket.socket) -> bool:
    """Whether the page has let go of a caller."""
    try:
        return link.recv(65536) == b""
    except ConnectionError:
        return True


@pytest.fixture
def hasty(monkeypatch: pytest.MonkeyPatch, lived_in: House) -> Iterator[Served]:
    """With deadlines that a test can wait for."""
    monkeypatch.setattr(server, "ASKING_S", 0.4)
    monkeypatch.setattr(server, "TAKING_S", 0.4)
    with served(lived_in) as page:
        yield page


@pytest.mark.parametrize(
    "begun",
    [b"", b"GET / HT", b"GET / HTTP/1.1\r\nHost: shed\r\n", b"\x16\x03\x01\x02\x00\x01\x00\x01"],
)
def test_who_does_not_finish_asking_is_let_go(hasty: Served, begun: bytes) -> None:
    with hasty.link() as link:
        link.sendall(begun)
        link.settimeout(10.0)
        while not ended(link):
            pass
    assert hasty.ask("/").status == 200


def test_a_second_request_that_never_ends_is_let_go_too(hasty: Served) -> None:
    with hasty.link() as link:
        link.sendall(b"GET /icon.svg HTTP/1.1\r\nHost: shed\r\n\r\n")
        assert link.recv(65536).startswith(b"HTTP/1.1 200")
        link.sendall(b"GET / HTTP/1.1\r\nX: ")
        link.settimeout(10.0)
        while not ended(link):
            pass


def test_who_does_not_take_what_he_asked_for_is_let_go(hasty: Served) -> None:
    with hasty.link() as link:
        link.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        link.sendall(b"GET /history.csv?view=month HTTP/1.1\r\nHost: shed\r\n\r\n")
        time.sleep(1.5)  # longer than its patience; what the buffers hold comes all the same
        link.settimeout(10.0)
        taken = 0
        with contextlib.suppress(ConnectionError):
            while piece := link.recv(1 << 20):
                taken += len(piece)
    whole = len(hasty.ask("/history.csv?view=month").text)
    assert taken < whole


@pytest.mark.parametrize(
    "request_",
    [
        b"GET / HTTP/1.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: shed\r\nContent-Length: -1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: shed\r\nX: " + b"y" * 1_000_000 + b"\r\n\r\n",
        b"GET /\x00 HTTP/1.1\r\nHost: shed\r\n\r\n",
        b"\r\n" * 500 + b"nonsense\r\n\r\n",
    ],
)
def test_what_is_no_request_is_answered_with_a_refusal(page: Served, request_: bytes) -> None:
    with page.link() as link:
        link.settimeout(10.0)
        with contextlib.suppress(ConnectionError):
            link.sendall(request_)
            answer = link.recv(65536)
            assert re.match(rb"HTTP/1\.1 4\d\d ", answer) or answer == b""
    assert page.ask("/").status == 200


def linked(page: Served) -> socket.socket | None:
    """None: refused as it came."""
    try:
        return page.link()
    except ConnectionError:
        return None


def test_two_hundred_connections_keep_nobody_out(hasty: Served) -> None:
    links = [link for _ in range(200) if (link := linked(hasty)) is not None]
    try:
        for link in links:
            with contextlib.suppress(OSError):
                link.sendall(b"GET / HTTP/1.1\r\nX: ")
        # All of one address: it has used up its share, and is let in again once they are let go.
        for link in links:
            link.settimeout(10.0)
            while not ended(link):
                pass
        assert hasty.ask("/").status == 200
    finally:
        for link in links:
            link.close()
    assert sum(server.Impatient._open.values()) <= 1


def test_an_address_that_is_not_ones_own_is_refused_in_words() -> None:
    with pytest.raises(GreenkeeperError, match=r"cannot listen on 192\.0\.2\.7 port 8470"):
        server.listening("192.0.2.7", 8470)
    with (
        server.listening("127.0.0.1", 0) as taken,
        pytest.raises(GreenkeeperError, match="Another program may have that port"),
    ):
        server.listening("127.0.0.1", taken.getsockname()[1])


def fetched(url: str) -> str:
    """Raises OSError for anything but success."""
    with urllib.request.urlopen(url, timeout=20.0) as answer:  # noqa: S310 - our own http
        found: str = answer.read().decode()
        return found


# --- the process -----------------------------------------------------------------------------


@contextlib.contextmanager
def running(house: House, *options: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """`greenkeeper page` as its owner starts it, and the address it prints."""
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "greenkeeper", "page", "--settings", str(house.file)),
            *("--port", "0", *options),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        yield process, process.stdout.readline().strip()
    finally:
        process.kill()
        process.communicate()


def test_the_command_serves_says_where_and_ends_when_asked(house: House) -> None:
    house.write_status(houses.status(house, at_utc_s=time.time()))
    with running(house) as (process, url):
        assert "All plants safe." in fetched(url)
        process.send_signal(signal.SIGTERM)
        assert process.wait(20.0) in (0, -signal.SIGTERM)


def test_the_process_writes_nowhere(house: House) -> None:
    house.write_journal(1)
    before = {path: path.stat().st_mtime_ns for path in house.folder.rglob("*")}
    with running(house) as (process, url):
        for path in ("", "history", "outlook", "season", "history.csv"):
            assert fetched(url + path)
        opened = {
            file.path for file in psutil.Process(process.pid).open_files() if "w" in file.mode
        }
        assert not opened
    assert {path: path.stat().st_mtime_ns for path in house.folder.rglob("*")} == before


def test_a_word_in_a_file_is_asked_for(house: House, tmp_path: Path) -> None:
    word = tmp_path / "page-word"
    word.write_text("rosemary under glass\n")
    house.write_settings(f"{houses.SETTINGS}page: {{access_word_file: {word}}}\n")
    with running(house) as (_, url), pytest.raises(OSError, match="401"):
        fetched(url)
    word.unlink()
    with running(house) as (process, url):
        assert url == ""
        assert process.wait(20.0) == 1
        assert process.stderr is not None
        assert "page-word cannot be read" in process.stderr.read()


def test_a_language_nobody_knows_stops_the_start_with_a_word(house: House) -> None:
    house.write_settings(f"{houses.SETTINGS}page: {{language: xx-XX}}\n")
    with running(house) as (process, url):
        assert (url, process.wait(20.0)) == ("", 1)
        assert process.stderr is not None
        assert "nothing is known of 'xx-XX'" in process.stderr.read()


def test_without_its_libraries_the_command_says_what_to_install(
    house: House, tmp_path: Path
) -> None:
    (tmp_path / "uvicorn.py").write_text("raise ImportError('not here', name='uvicorn')\n")
    done = subprocess.run(
        [sys.executable, "-m", "greenkeeper", "page", "--settings", str(house.file)],
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "pip install 'greenkeeper[page]'" in done.stderr
