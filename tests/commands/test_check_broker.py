"""`greenkeeper check --broker`: what stands in the way is named, on real brokers."""

import json
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml

from greenkeeper.commands import main
from tests.broker.house import Keeper, wait_until_complete
from tests.support.authority import Authority
from tests.support.gate import UNSUPPORTED_V5, Gate
from tests.support.mosquitto import Mosquitto, free_port
from tests.support.ticks import HOUSE

ROOT = "homie/5/orchard-house"
COMMANDS = {"setpoints": ["bench"], "switches": ["bench"]}
PASSWORD = "rain-on-the-roof-71"  # noqa: S105 - made up for this test

Check = Callable[..., tuple[int, str]]


@pytest.fixture
def check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Check:
    def run(*options: str, **broker: Any) -> tuple[int, str]:
        file = tmp_path / "house.yaml"
        keys = {"host": "127.0.0.1", **broker}
        file.write_text(yaml.safe_dump({**HOUSE, "broker": keys}), encoding="utf-8")
        code = main(["check", "--broker", *options, str(file)])
        return code, capsys.readouterr().out

    return run


def failed(out: str) -> str:
    """The one line that failed."""
    (line,) = [line for line in out.splitlines() if "FAILED" in line]
    return " ".join(line.split())


def test_a_broker_that_can_be_used(tmp_path: Path, check: Check) -> None:
    with Mosquitto(tmp_path / "hub") as hub:
        code, out = check(port=hub.port, commands=COMMANDS)
        assert code == 0, out
        steps = [line.split()[0] for line in out.splitlines()[1:-1]]
        assert steps == ["files", "name", "port", "sign-in", "write", "read", "orders"]
        assert out.splitlines()[-1] == "A keeper can use it."
        assert hub.retained() == {}, "it leaves nothing behind"
        assert hub.log().count("No will message specified.") >= 1
        assert "Will message specified (" not in hub.log()


def test_a_running_keeper_is_not_disturbed(tmp_path: Path, check: Check) -> None:
    with Mosquitto(tmp_path / "hub") as hub, Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        with hub.recorder(f"{ROOT}/$state") as recorder:
            assert check(port=hub.port, commands=COMMANDS)[0] == 0
            assert [each for each in recorder.records if not each.retain] == []
            assert set(recorder.payloads(f"{ROOT}/$state")) == {"ready"}
        assert keeper.client.orders() == ()
        assert keeper.trouble == {}


def test_the_older_protocol_is_told(tmp_path: Path, check: Check) -> None:
    with (
        Mosquitto(tmp_path / "hub") as hub,
        Gate(hub.port, refuse_v5=UNSUPPORTED_V5) as gate,
    ):
        code, out = check(port=gate.port)
    assert code == 0
    assert "MQTT 3.1.1" in out


def test_a_name_nobody_knows(check: Check) -> None:
    code, out = check(host="hub.invalid")
    assert code == 1
    assert failed(out).startswith("name FAILED no machine is known by the name hub.invalid")


def test_a_port_nobody_listens_on(check: Check) -> None:
    code, out = check(port=free_port())
    assert code == 1
    assert "port FAILED nothing listens there" in failed(out)


def test_a_port_of_somebody_else(check: Check) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:

        def hang_up() -> None:
            for _ in range(2):
                listener.accept()[0].close()

        thread = threading.Thread(target=hang_up)
        thread.start()
        code, out = check(port=listener.getsockname()[1])
        thread.join()
    assert code == 1
    assert "is this its port" in failed(out)


def test_a_wrong_password_and_a_missing_one(tmp_path: Path, check: Check) -> None:
    secret = tmp_path / "secret"
    with Mosquitto(tmp_path / "hub", users={"keeper": PASSWORD}) as hub:
        who = {"port": hub.port, "username": "keeper", "password_file": str(secret)}
        code, out = check(**who)
        assert code == 1
        assert "files FAILED" in failed(out)
        assert "no such file" in out
        secret.write_text("something else")
        code, out = check(**who)
        assert code == 1
        assert "sign-in FAILED not authorised: check username, password_file" in failed(out)
        secret.write_text(PASSWORD)
        assert check(**who)[0] == 0
        assert PASSWORD not in out


@pytest.mark.parametrize(
    ("access", "what"),
    [
        (f"topic read {ROOT}/#\n", f"write FAILED {ROOT}/$log/debug: not authorised"),
        (f"topic write {ROOT}/#\n", f"read FAILED what was written did not come back: {ROOT}/+/+"),
        (
            f"topic write {ROOT}/#\ntopic read {ROOT}/+/+\n",
            f"orders FAILED {ROOT}/zone-bench/back-to-plan/set may not be read",
        ),
    ],
)
def test_an_access_list_that_forbids_too_much(
    tmp_path: Path, check: Check, access: str, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("greenkeeper.broker.trial.ANSWER_S", 0.5)
    with Mosquitto(tmp_path / "hub", access=access) as hub:
        code, out = check(port=hub.port, commands=COMMANDS)
    assert code == 1
    assert failed(out).startswith(what)


def test_certificates(tmp_path: Path, check: Check) -> None:
    authority, stranger = Authority(tmp_path / "ca"), Authority(tmp_path / "x", "stranger")
    trusted = {"ca_file": str(authority.ca_file)}
    with Mosquitto(tmp_path / "hub", tls=authority.issue()) as hub:
        code, out = check(port=hub.port, tls=trusted)
        assert code == 0, out
        assert "certificate ok trusted, until" in " ".join(out.split())
        code, out = check(port=hub.port, tls={"ca_file": str(stranger.ca_file)})
        assert code == 1
        assert "certificate FAILED its certificate is not trusted" in failed(out)
        code, out = check(port=hub.port)
        assert code == 1
        assert "does it want tls" in failed(out)
    wrong = (("DNS:elsewhere.invalid", "2", "not valid for"), ("IP:127.0.0.1", "-1", "expired"))
    for names, days, words in wrong:
        certificate = authority.issue(names, "wrong", days)
        with Mosquitto(tmp_path / words[:3], tls=certificate) as hub:
            code, out = check(port=hub.port, tls=trusted)
        assert code == 1
        assert words in failed(out)
    with Mosquitto(tmp_path / "plain") as hub:
        code, out = check(port=hub.port, tls=trusted)
    assert "is TLS offered on port" in failed(out)


def test_a_socket(tmp_path: Path, check: Check) -> None:
    path = tmp_path / "s"
    assert "port FAILED there is no such socket" in failed(check(host=str(path))[1])
    with Mosquitto(tmp_path / "hub", socket_file=path):
        assert check(host=str(path))[0] == 0


def test_for_machines(tmp_path: Path, check: Check) -> None:
    code, out = check("--json", port=free_port())
    document = json.loads(out)
    assert (code, document["ok"]) == (1, False)
    assert [step["name"] for step in document["steps"]] == ["files", "name", "port"]


def test_settings_without_a_broker(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "house.yaml"
    file.write_text(yaml.safe_dump(HOUSE), encoding="utf-8")
    assert main(["check", "--broker", str(file)]) != 0
    assert "no broker: group" in capsys.readouterr().err
