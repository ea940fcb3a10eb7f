"""Word to the service manager, against a real datagram socket."""

import os
import socket

import pytest

from greenkeeper.notify import Notifier


@pytest.fixture(params=["path", "abstract"])
def manager(request, tmp_path):
    """A socket such as systemd listens on, and the name a service is given for it."""
    name = str(tmp_path / "notify")
    given, bound = (name, name) if request.param == "path" else (f"@{name}", f"\0{name}")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(bound)
        listener.settimeout(2.0)
        yield listener, {"NOTIFY_SOCKET": given}


def heard(listener: socket.socket) -> list[str]:
    return listener.recv(4096).decode().split("\n")


def test_ready_is_told_once_started(manager):
    listener, environment = manager
    Notifier(environment).ready(10.0)
    assert heard(listener) == ["READY=1"]


def test_each_tick_is_a_sign_of_life_and_the_status_is_told_only_when_it_changes(manager):
    listener, environment = manager
    notifier = Notifier({**environment, "WATCHDOG_USEC": "60000000"})
    notifier.alive("bench 5.1 °C")
    assert heard(listener) == ["WATCHDOG=1", "STATUS=bench 5.1 °C"]
    notifier.alive("bench 5.1 °C")
    assert heard(listener) == ["WATCHDOG=1"]


def test_a_watchdog_shorter_than_three_ticks_is_asked_to_wait_that_long(manager):
    listener, environment = manager
    Notifier({**environment, "WATCHDOG_USEC": "20000000"}).ready(10.0)
    assert heard(listener) == ["READY=1", "WATCHDOG_USEC=30000000"]


def test_a_watchdog_meant_for_another_process_is_not_ours():
    mine = {"WATCHDOG_USEC": "60000000", "WATCHDOG_PID": str(os.getpid())}
    other = {"WATCHDOG_USEC": "60000000", "WATCHDOG_PID": "1"}
    assert Notifier(mine).watchdog_s == 60.0
    assert Notifier(other).watchdog_s is None


@pytest.mark.parametrize("environment", [{}, {"NOTIFY_SOCKET": ""}, {"NOTIFY_SOCKET": "vsock:2:1"}])
def test_without_a_manager_nothing_is_sent(environment):
    notifier = Notifier(environment)
    notifier.ready(10.0)
    notifier.alive("fine")
    notifier.stopping()


def test_a_manager_that_has_gone_is_no_reason_to_stop(tmp_path):
    Notifier({"NOTIFY_SOCKET": str(tmp_path / "gone"), "WATCHDOG_USEC": "1"}).alive("fine")


@pytest.mark.parametrize("value", ["", "soon", "1.5"])
def test_a_watchdog_time_that_makes_no_sense_is_none(value):
    assert Notifier({"WATCHDOG_USEC": value}).watchdog_s is None
