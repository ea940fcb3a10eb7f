"""config/broker-access.acl, in force on a real Mosquitto."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from greenkeeper.model import Ask, Order
from tests.broker.house import ROOT, Keeper, wait_until_complete, write_password
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

ACCESS = (Path(__file__).parents[2] / "config/broker-access.acl").read_text(encoding="utf-8")
USERS = {"orchard-house": "rain-71", "window": "snow-09", "phone": "wind-33"}
SWITCH = f"{ROOT}/zone-bench/switch/set"
COMMANDS = {"setpoints": ["bench"], "switches": ["bench"]}


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "hub", users=USERS, access=ACCESS) as hub:
        yield hub


def signed_in(hub: Mosquitto, folder: Path) -> Keeper:
    file = write_password(folder, USERS["orchard-house"])
    return Keeper(hub.port, username="orchard-house", password_file=str(file), commands=COMMANDS)


def test_it_is_enough_for_the_keeper_and_lets_the_right_one_order(
    guarded: Mosquitto, tmp_path: Path
) -> None:
    with signed_in(guarded, tmp_path) as keeper:
        keeper.tick()
        wait_until_complete(guarded)
        keeper.wait_until_well()
        eventually(
            lambda: (
                guarded.publish_as("phone", USERS["phone"], SWITCH, "off")
                and Order("bench", Ask.OFF) in keeper.client.orders()
            ),
            "an order of the phone's",
        )
        assert not guarded.publish_as("window", USERS["window"], SWITCH, "armed")
        assert Order("bench", Ask.ARMED) not in keeper.client.orders()


@pytest.mark.parametrize(
    ("user", "topic"),
    [
        ("orchard-house", "homie/5/neighbour/zone-bench/coldest"),
        ("orchard-house", "homie/5/neighbour/zone-bench/switch/set"),
        ("orchard-house", "sockets/heater/set"),
        ("phone", f"{ROOT}/$state"),
        ("phone", f"{ROOT}/zone-bench/coldest"),
        ("phone", f"{ROOT}/zone-attic/switch/set"),
        ("phone", f"{ROOT}/output-heater/on/set"),
        ("window", f"{ROOT}/$state"),
        ("window", SWITCH),
    ],
)
def test_nobody_writes_what_is_not_theirs(guarded: Mosquitto, user: str, topic: str) -> None:
    with guarded.recorder() as recorder:
        assert not guarded.publish_as(user, USERS[user], topic, "off")
        assert guarded.publish_as("orchard-house", USERS["orchard-house"], f"{ROOT}/end/end", "1")
        recorder.wait_for(f"{ROOT}/end/end", "1")
        assert recorder.payloads(topic) == []
