"""A person's request reaches the loop once, and rubbish reaches nothing."""

import os

import pytest

from greenkeeper import inbox as inbox_module
from greenkeeper.inbox import Inbox, ask
from greenkeeper.model import Request


def test_a_request_is_taken_once(tmp_path):
    inbox = Inbox(tmp_path)
    ask(tmp_path, Request("over-ceiling-bench"))
    assert inbox.take() == (Request("over-ceiling-bench"),)
    assert inbox.take() == ()


def test_every_kind_of_request_is_taken(tmp_path):
    inbox = Inbox(tmp_path)
    asked = (
        Request(clear="heater"),
        Request(commissioned="labels: passed: on the lid / inside"),
        Request(new_relay="heater"),
        Request(seen="heater"),
    )
    for request in asked:
        ask(tmp_path, request)
    assert inbox.take() == asked


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[]",
        b'{"clear": 3}',
        b'{"new_relay": ["heater"]}',
        b'{"seen": null}',
        b'{"heat": "heater"}',
        b'"clear"',
        pytest.param(b"[" * 1000, id="nested"),  # deeper than Python goes
        b"\xff\xfe",
        b'{"clear": "' + b"x" * 5000 + b'"}',
    ],
)
def test_rubbish_is_removed_and_asks_for_nothing(tmp_path, content):
    inbox = Inbox(tmp_path)
    (tmp_path / "requests" / "clear-x.json").write_bytes(content)
    assert inbox.take() == ()
    assert not list((tmp_path / "requests").iterdir())


def test_a_folder_that_cannot_be_made_stops_no_start(tmp_path):
    (tmp_path / "requests").write_text("a file in its place")
    assert Inbox(tmp_path).take() == ()


def test_a_pipe_does_not_hold_the_loop_up(tmp_path):
    inbox = Inbox(tmp_path)
    os.mkfifo(tmp_path / "requests" / "clear-x.json")
    assert inbox.take() == ()
    assert not list((tmp_path / "requests").iterdir())


def test_folders_do_not_stand_in_the_way_of_requests(tmp_path):
    inbox = Inbox(tmp_path)
    for number in range(30):
        (tmp_path / "requests" / f"a-{number}.json").mkdir()
    ask(tmp_path, Request("over-ceiling-bench"))
    assert inbox.take() == (Request("over-ceiling-bench"),)


def test_what_cannot_be_removed_is_not_obeyed(tmp_path):
    inbox = Inbox(tmp_path)
    (tmp_path / "requests" / "clear-x.json").mkdir()
    assert inbox.take() == ()


def test_a_request_of_root_can_be_read_by_the_keeper_whatever_the_umask(tmp_path):
    Inbox(tmp_path)
    before = os.umask(0o077)
    try:
        ask(tmp_path, Request("over-ceiling-bench"))
    finally:
        os.umask(before)
    (left,) = (tmp_path / "requests").iterdir()
    assert left.stat().st_mode & 0o777 == 0o644


def test_what_may_not_be_read_is_removed_so_that_it_blocks_nobody(tmp_path, monkeypatch):
    inbox = Inbox(tmp_path)
    ask(tmp_path, Request("over-ceiling-bench"))
    monkeypatch.setattr(inbox_module, "_read", lambda path: b"")
    assert inbox.take() == ()
    assert not list((tmp_path / "requests").iterdir())


def test_a_flood_is_taken_a_few_at_a_time(tmp_path):
    inbox = Inbox(tmp_path)
    for i in range(50):
        ask(tmp_path, Request(f"latch-{i}"))
    assert [len(inbox.take()) for _ in range(4)] == [20, 20, 10, 0]


def test_a_folder_that_has_gone_asks_for_nothing(tmp_path):
    inbox = Inbox(tmp_path)
    (tmp_path / "requests").rmdir()
    assert inbox.take() == ()


def test_asking_where_no_keeper_runs_is_an_error(tmp_path):
    with pytest.raises(FileNotFoundError):
        ask(tmp_path / "nowhere", Request("x"))
