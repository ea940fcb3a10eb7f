"""Getting in: passwords, access lists, certificates and older brokers, all of them real."""

from pathlib import Path

import pytest
import structlog

from greenkeeper.broker.client import BrokerClient
from greenkeeper.clock import HandClock
from tests.broker.house import (
    QUICK,
    ROOT,
    STATE,
    Keeper,
    seen,
    wait_until_complete,
    write_password,
)
from tests.support.authority import Authority
from tests.support.gate import UNSUPPORTED_V5, UNSUPPORTED_V311, Gate
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import make_settings
from tests.support.waiting import eventually

RIGHT, WRONG = "rain-on-the-roof-71", "snow-on-the-sill-09"

# The least a keeper needs: write under its own root; read its own state there, and its
# own values, to find what an earlier run left behind.
LEAST = f"user keeper\ntopic write {ROOT}/#\ntopic read {ROOT}/$state\ntopic read {ROOT}/+/+\n"


def test_without_broker_settings_there_is_no_client() -> None:
    with pytest.raises(ValueError, match="no broker"):
        BrokerClient(make_settings(), HandClock(utc_s=0.0), "0.1.0")


# --- passwords -----------------------------------------------------------------------


def test_a_password_corrected_at_the_broker_cures_without_a_restart(tmp_path: Path) -> None:
    file = str(write_password(tmp_path, RIGHT + "\n"))
    with (
        Mosquitto(tmp_path / "hub", users={"keeper": WRONG}) as hub,
        Keeper(hub.port, username="keeper", password_file=file) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "not authorised")
        hub.set_users({"keeper": RIGHT})
        wait_until_complete(hub)
        keeper.wait_until_well()


def test_a_password_file_corrected_here_cures_without_a_restart(tmp_path: Path) -> None:
    file = tmp_path / "broker-password"
    with (
        Mosquitto(tmp_path / "hub", users={"keeper": RIGHT}) as hub,
        Keeper(hub.port, username="keeper", password_file=str(file)) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "no such file")
        write_password(tmp_path, WRONG)
        keeper.wait_for_trouble("broker-refused", "not authorised")
        write_password(tmp_path, RIGHT)
        wait_until_complete(hub)
        keeper.wait_until_well()


def test_a_refusal_is_logged_once_and_no_log_line_shows_the_password(tmp_path: Path) -> None:
    file = str(write_password(tmp_path, RIGHT))
    with (
        structlog.testing.capture_logs() as lines,
        Mosquitto(tmp_path / "hub", users={"keeper": WRONG}) as hub,
        Keeper(hub.port, username="keeper", password_file=file) as keeper,
    ):
        keeper.tick()
        eventually(lambda: hub.log().count("not authorised") >= 4, "several attempts")
    assert [line["event"] for line in lines].count("broker-refused") == 1
    assert RIGHT not in repr(lines)
    assert RIGHT not in repr(keeper.client.__dict__)


# --- access lists --------------------------------------------------------------------


def test_the_least_access_is_enough(tmp_path: Path) -> None:
    file = str(write_password(tmp_path, RIGHT))
    with (
        Mosquitto(tmp_path / "hub", users={"keeper": RIGHT}, access=LEAST) as hub,
        hub.recorder() as recorder,
    ):
        hub.publish(f"{ROOT}/$alert/zone-blind-attic", "attic: blind", retain=True)
        with Keeper(hub.port, username="keeper", password_file=file) as keeper:
            keeper.tick()
            wait_until_complete(hub)
            keeper.wait_until_well()
            hub.publish(STATE, "lost", retain=True)
            recorder.wait_for(STATE, "ready", times=2)


def test_a_denied_topic_is_named_and_taken_once_the_list_is_corrected(tmp_path: Path) -> None:
    file = str(write_password(tmp_path, RIGHT))
    access = f"user keeper\ntopic write {ROOT}/$state\n"
    with (
        Mosquitto(tmp_path / "hub", users={"keeper": RIGHT}, access=access) as hub,
        Keeper(hub.port, username="keeper", password_file=file) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", f"it does not take {ROOT}/")
        keeper.wait_for_trouble("broker-refused", "the broker's access list (MQTT reason 0x87)")
        hub.set_access(LEAST)
        wait_until_complete(hub)
        keeper.wait_until_well()


def test_a_description_too_large_for_the_broker_is_named_and_not_sent(tmp_path: Path) -> None:
    limit = "max_packet_size 1000"
    with (
        Mosquitto(tmp_path / "hub", lines=[]) as unlimited,
        Mosquitto(tmp_path / "small", top_lines=[limit]) as small,
        Keeper(unlimited.port) as fine,
        Keeper(small.port) as refused,
    ):
        for keeper in (fine, refused):
            keeper.tick()
        fine.wait_until_well()
        refused.wait_for_trouble("broker-refused", f"it does not take {ROOT}/$description: it has")
        refused.tick({"bench": 4.5})
        eventually(lambda: seen(small).get("probe-bench/temperature") == "4.50", "values pass")
        assert "packet too large" not in small.log().lower()


# --- TLS -----------------------------------------------------------------------------


def test_an_own_authority_is_enough(tmp_path: Path) -> None:
    certificate = Authority(tmp_path / "ca").issue()
    tls = {"ca_file": str(certificate.ca_file)}
    with (
        Mosquitto(tmp_path / "hub", tls=certificate) as hub,
        hub.recorder() as recorder,
        Keeper(hub.port, host="localhost", tls=tls) as keeper,
    ):
        for number in range(20):
            keeper.tick({"bench": float(number)})
            recorder.wait_for(f"{ROOT}/probe-bench/temperature", f"{number}.00")
        keeper.wait_until_well()


def test_a_stranger_s_certificate_is_not_talked_to(tmp_path: Path) -> None:
    certificate = Authority(tmp_path / "ca").issue()
    stranger = Authority(tmp_path / "other", "stranger")
    with (
        Mosquitto(tmp_path / "hub", tls=certificate) as hub,
        Keeper(hub.port, host="localhost", tls={"ca_file": str(stranger.ca_file)}) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "its certificate is not trusted")
        assert not seen(hub)


def test_a_certificate_for_another_name_is_not_talked_to(tmp_path: Path) -> None:
    certificate = Authority(tmp_path / "ca").issue("DNS:elsewhere.invalid")
    tls = {"ca_file": str(certificate.ca_file)}
    with (
        Mosquitto(tmp_path / "hub", tls=certificate) as hub,
        Keeper(hub.port, host="localhost", tls=tls) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "Check tls: ca_file, and host")


def test_a_missing_authority_file_is_named_and_cured_without_a_restart(tmp_path: Path) -> None:
    authority = Authority(tmp_path / "ca")
    later = tmp_path / "later.pem"
    with (
        Mosquitto(tmp_path / "hub", tls=authority.issue()) as hub,
        Keeper(hub.port, host="localhost", tls={"ca_file": str(later)}) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "later.pem: no such file")
        later.write_bytes(authority.ca_file.read_bytes())
        wait_until_complete(hub)


def test_encryption_where_the_broker_has_none_is_told(hub: Mosquitto) -> None:
    with Keeper(hub.port, host="localhost", tls={}) as keeper:
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "is TLS offered on this port?")


def test_no_encryption_where_the_broker_wants_it_is_told(tmp_path: Path) -> None:
    certificate = Authority(tmp_path / "ca").issue()
    with Mosquitto(tmp_path / "hub", tls=certificate) as hub, Keeper(hub.port) as keeper:
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "does it want tls?")


def test_a_certificate_that_is_over_is_told_with_its_date(tmp_path: Path) -> None:
    certificate = Authority(tmp_path / "ca").issue(days="-1")
    tls = {"ca_file": str(certificate.ca_file)}
    with (
        Mosquitto(tmp_path / "hub", tls=certificate) as hub,
        Keeper(hub.port, host="localhost", tls=tls) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-refused", "expired")


def test_a_certificate_of_our_own_lets_us_in(tmp_path: Path) -> None:
    authority = Authority(tmp_path / "ca")
    server, ours = authority.issue(), authority.issue("DNS:orchard-house", "orchard-house")
    tls = {"ca_file": str(ours.ca_file), "cert_file": str(ours.cert_file)}
    tls["key_file"] = str(ours.key_file)
    lines = ["require_certificate true", "use_identity_as_username true"]
    with (
        Mosquitto(tmp_path / "hub", tls=server, lines=lines) as hub,
        Keeper(hub.port, host="localhost", tls=tls) as keeper,
    ):
        keeper.tick()
        wait_until_complete(hub)
        assert "u'orchard-house'" in hub.log()


def test_without_the_certificate_it_wants_a_broker_hangs_up_and_that_is_told(
    tmp_path: Path,
) -> None:
    server = Authority(tmp_path / "ca").issue()
    tls = {"ca_file": str(server.ca_file)}
    with (
        Mosquitto(tmp_path / "hub", tls=server, lines=["require_certificate true"]) as hub,
        Keeper(hub.port, host="localhost", tls=tls) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "does it want tls: cert_file")


def test_a_broker_behind_a_socket_is_spoken_to_without_a_network(tmp_path: Path) -> None:
    path = tmp_path / "s"
    with (
        Mosquitto(tmp_path / "hub", socket_file=path) as hub,
        Keeper(1883, host=str(path)) as keeper,
    ):
        keeper.tick()
        wait_until_complete(hub)
        keeper.wait_until_well()
        hub.stop()
        keeper.wait_for_trouble("broker-lost", str(path))
        hub.start()
        keeper.wait_until_well()


def test_a_socket_that_is_not_there_is_named(tmp_path: Path) -> None:
    with Keeper(1883, host=str(tmp_path / "nobody")) as keeper:
        keeper.tick()
        keeper.wait_for_trouble("broker-lost", "nobody: there is no such socket")


# --- addresses -----------------------------------------------------------------------


@pytest.mark.parametrize("host", ["a" * 64 + ".local", ".", "hub..local"])
def test_a_host_that_is_no_host_name_is_told(host: str) -> None:
    with Keeper(1883, host=host) as keeper:
        keeper.tick()
        eventually(lambda: "name" in str(keeper.trouble), lambda: str(keeper.trouble))


# --- older brokers -------------------------------------------------------------------


@pytest.mark.parametrize(
    "answer", [UNSUPPORTED_V5, UNSUPPORTED_V311], ids=["answer-of-5", "answer-of-3.1.1"]
)
def test_a_broker_that_knows_only_the_older_protocol_is_spoken_to_in_it(
    hub: Mosquitto, answer: bytes
) -> None:
    hub.publish(f"{ROOT}/$alert/zone-blind-attic", "attic: blind", retain=True)
    with (
        Gate(hub.port, refuse_v5=answer) as gate,
        hub.recorder() as recorder,
        Keeper(gate.port) as keeper,
    ):
        keeper.tick()
        wait_until_complete(hub)
        keeper.wait_until_well()
        assert gate.connects == [5, 4]
        assert "(p2, c1, k5)" in hub.log(), "a clean session in MQTT 3.1.1 as well"
        hub.publish(STATE, "lost", retain=True)
        recorder.wait_for(STATE, "ready", times=2)
        gate.cut()
        recorder.wait_for(STATE, "ready", times=3)
        assert gate.connects == [5, 4, 4], "it remembers"
    assert seen(hub)["$state"] == "disconnected"


def test_mqtt_5_is_tried_again_when_the_older_protocol_stops_working(hub: Mosquitto) -> None:
    with Gate(hub.port, refuse_v5=UNSUPPORTED_V5) as gate, Keeper(gate.port) as keeper:
        keeper.tick()
        keeper.wait_until_well()
        hub.stop()  # the gate still takes CONNECTs, but nobody answers them
        eventually(lambda: gate.connects[-2:] == [5, 4] and len(gate.connects) > 3, "5 again")
        hub.start()
        wait_until_complete(hub)


def test_no_other_refusal_makes_it_fall_back(tmp_path: Path) -> None:
    file = str(write_password(tmp_path, WRONG))
    with (
        Mosquitto(tmp_path / "hub", users={"keeper": RIGHT}) as hub,
        Gate(hub.port) as gate,
        Keeper(gate.port, pace=QUICK, username="keeper", password_file=file) as keeper,
    ):
        keeper.tick()
        eventually(lambda: len(gate.connects) >= 3, "several attempts")
        assert set(gate.connects) == {5}
