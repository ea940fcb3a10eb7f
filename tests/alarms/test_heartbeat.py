"""The heartbeat: called while ticks come, silent when they stop, and never a secret told."""

import threading

import pytest

from greenkeeper.alarms import heartbeat as heartbeat_module
from greenkeeper.alarms.addresses import AddressError
from greenkeeper.alarms.heartbeat import FAILING, Heartbeat, HeartbeatError, call, only_address
from tests.support.authority import Authority
from tests.support.mosquitto import free_port
from tests.support.postboxes import WebBox
from tests.support.ticks import make_settings
from tests.support.waiting import eventually

HIDDEN = "a1b2c3-not-to-be-told"


@pytest.fixture(autouse=True)
def no_thread_stays():
    yield
    eventually(
        lambda: "heartbeat" not in {thread.name for thread in threading.enumerate()},
        "a heartbeat's thread lives on",
    )


@pytest.fixture
def make(tmp_path):
    """A heartbeat for an address, called every 0.05 s instead of every minute or more."""
    made = []

    def build(address, *, fresh_s=15.0, **more):
        file = tmp_path / "heartbeat-address"
        file.write_text(f"# where\n{address}\n", encoding="utf-8")
        heartbeat = Heartbeat(make_settings(alarms={"heartbeat_file": str(file)}), **more)
        heartbeat._every_s, heartbeat._fresh_s = 0.05, fresh_s
        made.append(heartbeat)
        return heartbeat

    yield build
    for each in made:
        each.close()


# --- one call -------------------------------------------------------------------------------


def test_a_call_is_one_get_of_that_address():
    with WebBox() as box:
        call(f"http://127.0.0.1:{box.port}/{HIDDEN}?from=shed")
        (request,) = box.requests
        assert (request.method, request.path) == ("GET", f"/{HIDDEN}?from=shed")


def test_over_https_the_certificate_is_verified(tmp_path, monkeypatch):
    authority = Authority(tmp_path / "ca")
    with WebBox(tls=authority.issue()) as box:
        with pytest.raises(HeartbeatError, match="certificate is not accepted"):
            call(f"https://localhost:{box.port}/{HIDDEN}")
        assert box.requests == []
        monkeypatch.setenv("SSL_CERT_FILE", str(authority.ca_file))
        call(f"https://localhost:{box.port}/{HIDDEN}")
        assert len(box.requests) == 1


def test_a_certificate_for_another_name_is_refused(tmp_path, monkeypatch):
    authority = Authority(tmp_path / "ca")
    monkeypatch.setenv("SSL_CERT_FILE", str(authority.ca_file))
    with (
        WebBox(tls=authority.issue("DNS:elsewhere.example.org")) as box,
        pytest.raises(HeartbeatError, match="for another name"),
    ):
        call(f"https://localhost:{box.port}/{HIDDEN}")


@pytest.mark.parametrize("status", [302, 404, 500])
def test_only_a_2xx_is_fine_and_no_redirection_is_followed(status):
    with WebBox() as box:
        box.status = status
        with pytest.raises(HeartbeatError, match=str(status)):
            call(f"http://127.0.0.1:{box.port}/{HIDDEN}")
        assert len(box.requests) == 1


def test_every_way_of_failing_has_its_words_and_none_holds_the_address(monkeypatch, tmp_path):
    monkeypatch.setattr(heartbeat_module, "TIMEOUT_S", 0.2)
    with WebBox() as slow:
        slow.delay_s = 1.0
        reasons = {}
        for name, address in {
            "slow": f"http://127.0.0.1:{slow.port}/{HIDDEN}",
            "refused": f"http://127.0.0.1:{free_port()}/{HIDDEN}",
            "not https": f"https://127.0.0.1:{slow.port}/{HIDDEN}",
            "no name": f"https://{HIDDEN}.invalid/",
            "blank": f"http://127.0.0.1:{slow.port}/{HIDDEN} and a blank",
            "not a name": f"http://{'x' * 80}.example.org/{HIDDEN}",
        }.items():
            with pytest.raises(HeartbeatError) as caught:
                call(address)
            reasons[name] = str(caught.value)
    assert "no answer" in reasons["slow"]
    assert "refused" in reasons["refused"]
    assert "https on this port" in reasons["not https"]
    assert "name cannot be resolved" in reasons["no name"]
    assert HIDDEN not in str(reasons)


@pytest.mark.parametrize(
    "address", [f"ftp://x/{HIDDEN}", "https:///x", "http://[::1/x", "http://x:y/"]
)
def test_what_is_no_web_address_is_refused_before_any_call(address):
    with pytest.raises(AddressError) as caught:
        call(address)
    assert HIDDEN not in str(caught.value)


def test_two_addresses_are_one_too_many(tmp_path):
    (tmp_path / "two").write_text("https://a.example.org\nhttps://b.example.org\n")
    with pytest.raises(AddressError, match="a heartbeat has one"):
        only_address(str(tmp_path / "two"))


# --- while the house is kept ------------------------------------------------------------------


def test_it_is_called_while_ticks_come_and_not_when_they_stop(make):
    with WebBox() as box:
        heartbeat = make(f"http://127.0.0.1:{box.port}/{HIDDEN}", fresh_s=0.3)
        assert box.requests == []  # nobody ticked yet
        heartbeat.beat()
        eventually(lambda: len(box.requests) >= 2, "it is not called")
        stopped = threading.Event()
        stopped.wait(0.6)  # ticks stop, the thread goes on
        silent = len(box.requests)
        stopped.wait(0.3)
        assert len(box.requests) == silent
        heartbeat.beat()
        eventually(lambda: len(box.requests) > silent, "it is not called again")


def test_a_failing_call_is_a_condition_until_one_is_taken(make):
    with WebBox() as box:
        box.status = 503
        heartbeat = make(f"http://127.0.0.1:{box.port}/{HIDDEN}")
        heartbeat.beat()
        eventually(heartbeat.conditions, "nothing is told")
        (condition,) = heartbeat.conditions()
        assert (condition.code, condition.subject) == (FAILING, "heartbeat")
        assert HIDDEN not in condition.text
        box.status = 200
        eventually(lambda: not heartbeat.conditions(), "it is told for ever")


def test_a_corrected_file_cures_it_without_a_restart(make, tmp_path):
    heartbeat = make("nonsense")
    heartbeat.beat()
    eventually(heartbeat.conditions, "nothing is told")
    with WebBox() as box:
        (tmp_path / "heartbeat-address").write_text(f"http://127.0.0.1:{box.port}/")
        eventually(lambda: box.requests, "the new address is not called")


def test_a_call_that_hangs_holds_up_nobody_and_is_told(make, monkeypatch):
    gate = threading.Event()
    monkeypatch.setattr(heartbeat_module, "TIMEOUT_S", 0.0)
    monkeypatch.setattr(heartbeat_module, "_LATE_S", 0.05)
    heartbeat = make("https://example.org/", call=lambda _: gate.wait(20.0))
    heartbeat.beat()
    eventually(heartbeat.conditions, "nothing is told")
    assert "does not come to an end" in heartbeat.conditions()[0].text
    gate.set()


def test_a_fault_of_this_program_ends_no_thread(make):
    calls = []

    def broken(address):
        calls.append(address)
        raise RuntimeError(address)

    heartbeat = make(f"https://example.org/{HIDDEN}", call=broken)
    heartbeat.beat()
    eventually(lambda: len(calls) > 2, "the thread has ended")
    assert HIDDEN not in heartbeat.conditions()[0].text


def test_it_needs_settings():
    with pytest.raises(ValueError, match="no heartbeat"):
        Heartbeat(make_settings())
