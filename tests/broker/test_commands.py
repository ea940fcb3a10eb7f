"""Commands over a real broker: obeyed when fresh and right, and in no other case."""

import re
from collections.abc import Iterator

import pytest

from greenkeeper.broker.client import client_id
from greenkeeper.broker.orders import SETTLING_S
from greenkeeper.model import Ask, Order, Override
from tests.broker.house import ROOT, Keeper, wait_until_complete
from tests.support.gate import UNSUPPORTED_V5, Gate
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import NOW
from tests.support.waiting import eventually

ZONE = f"{ROOT}/zone-bench"
SETPOINT, BACK, SWITCH = (
    f"{ZONE}/{name}/set" for name in ("heat-setpoint", "back-to-plan", "switch")
)
WARN = f"{ROOT}/$log/warn"
COMMANDS = {"setpoints": ["bench"], "switches": ["bench"]}


@pytest.fixture
def keeper(hub: Mosquitto) -> Iterator[Keeper]:
    with Keeper(hub.port, commands=COMMANDS) as made:
        made.tick()
        yield made


def wait_until_it_listens(hub: Mosquitto, keeper: Keeper) -> None:
    """Past the settling time: until a switch back to armed gets through, and nothing of all
    that was tried for it is still on its way."""

    def heard() -> bool:
        hub.publish(SWITCH, "armed")
        return bool(keeper.client.orders())

    eventually(heard, "a command that is believed")
    hub.publish(BACK, "plan")
    last = Order("bench", Ask.PLAN)
    eventually(lambda: last in keeper.client.orders(), "the last of them")


def orders(keeper: Keeper) -> list[Order]:
    found: list[Order] = []
    eventually(lambda: found.extend(keeper.client.orders()) or found, "an order")  # type: ignore[func-returns-value]
    return found


def test_a_live_command_reaches_control(hub: Mosquitto, keeper: Keeper) -> None:
    wait_until_it_listens(hub, keeper)
    hub.publish(SETPOINT, "8.5")
    assert orders(keeper) == [Order("bench", Ask.SETPOINT, 8.5)]
    hub.publish(SWITCH, "off")
    assert orders(keeper) == [Order("bench", Ask.OFF)]
    hub.publish(BACK, "plan")
    assert orders(keeper) == [Order("bench", Ask.PLAN)]


def test_what_came_of_it_is_echoed(hub: Mosquitto, keeper: Keeper) -> None:
    tick = keeper.tick()
    view = tick.zones[0]._replace(heat_setpoint_c=8.5)
    off = Override("bench", Ask.OFF, None, NOW.mono_s + 60.0, NOW.utc_s + 60.0)
    warm = Override("bench", Ask.SETPOINT, 8.5, NOW.mono_s + 90.0, NOW.utc_s + 90.0)
    memory = tick.memory._replace(
        overrides={("bench", Ask.OFF): off, ("bench", Ask.SETPOINT): warm}
    )
    with hub.recorder() as recorder:
        keeper.client.publish(tick._replace(zones=(view,), memory=memory))
        recorder.wait_for(f"{ZONE}/heat-setpoint", "8.50")
        recorder.wait_for(f"{ZONE}/heat-setpoint-until", "2025-01-12T02:41:30+00:00")
        recorder.wait_for(f"{ZONE}/switch", "off")
        recorder.wait_for(f"{ZONE}/off-until", "2025-01-12T02:41:00+00:00")
        keeper.tick()
        recorder.wait_for(f"{ZONE}/switch", "armed")
        recorder.wait_for(f"{ZONE}/off-until", "")


def test_a_retained_command_is_not_obeyed_and_is_deleted(hub: Mosquitto, keeper: Keeper) -> None:
    """Somebody's program retains its commands: each would come back at every connection."""
    wait_until_it_listens(hub, keeper)
    hub.publish(SWITCH, "off", retain=True)
    eventually(lambda: SWITCH not in hub.retained(SWITCH), "its end")
    assert Order("bench", Ask.OFF) not in keeper.client.orders()


def test_a_command_retained_while_we_were_away_is_not_obeyed(hub: Mosquitto) -> None:
    hub.publish(SWITCH, "off", retain=True)
    with Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        keeper.wait_until_well()
        wait_until_it_listens(hub, keeper)
        assert Order("bench", Ask.OFF) not in keeper.client.orders()


def test_the_older_protocol_replays_it_and_it_is_still_not_obeyed(hub: Mosquitto) -> None:
    hub.publish(SWITCH, "off", retain=True)
    with (
        Gate(hub.port, refuse_v5=UNSUPPORTED_V5) as gate,
        Keeper(gate.port, commands=COMMANDS) as keeper,
    ):
        keeper.tick()
        keeper.wait_for_trouble("order-refused", "it is retained")
        eventually(lambda: SWITCH not in hub.retained(SWITCH), "its end")
        eventually(lambda: _believed(hub, keeper, "armed"), "a fresh one is obeyed")
        assert set(gate.connects) == {4, 5}


def _believed(hub: Mosquitto, keeper: Keeper, word: str) -> bool:
    hub.publish(SWITCH, word)
    return Order("bench", Ask(word)) in keeper.client.orders()


def test_a_command_given_while_we_were_away_is_never_delivered(hub: Mosquitto) -> None:
    """QoS 1, as mosquitto keeps it for sessions that outlive their connection."""
    with Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        wait_until_complete(hub)
    hub.publish(SWITCH, "off")
    with Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        wait_until_it_listens(hub, keeper)
        assert all(order.ask is Ask.ARMED for order in keeper.client.orders())
    connects = [line for line in hub.log().splitlines() if f" as {client_id(ROOT)} " in line]
    assert connects
    assert all(", c1," in line for line in connects), "no session to come back to"


def test_a_command_in_the_first_second_is_not_obeyed(hub: Mosquitto) -> None:
    assert SETTLING_S > 0.5
    with hub.recorder() as recorder, Keeper(hub.port, commands=COMMANDS) as keeper:
        keeper.tick()
        eventually(lambda: f"{SWITCH} (QoS 1)" in hub.log(), "the subscription")
        hub.publish(SWITCH, "off")
        keeper.wait_for_trouble("order-refused", "may be old")
        assert keeper.client.orders() == ()
        eventually(lambda: recorder.payloads(WARN), "a word about it")
        (warning,) = [each for each in recorder.records if each.topic == WARN]
        assert "may be old" in warning.payload
        assert (warning.qos, warning.retain) == (0, False)


@pytest.mark.parametrize("payload", ["OFF", "9" * 100_000, "\u00e9"])
def test_what_is_wrong_changes_nothing_and_is_told(
    hub: Mosquitto, keeper: Keeper, payload: str
) -> None:
    wait_until_it_listens(hub, keeper)
    hub.publish(SWITCH, payload)
    if len(payload) < 1000:
        keeper.wait_for_trouble("order-refused", f"{SWITCH}: ")
    assert _believed_soon(hub, keeper), "the link stands"
    assert all(order.ask is Ask.ARMED for order in keeper.client.orders())


def _believed_soon(hub: Mosquitto, keeper: Keeper) -> bool:
    eventually(lambda: _believed(hub, keeper, "armed"), "a fresh one is obeyed")
    return True


def test_only_what_is_settable_is_subscribed_and_nothing_of_it_twice(
    hub: Mosquitto, keeper: Keeper
) -> None:
    wait_until_complete(hub)
    asked = re.findall(r"\t(\S+/set) \(QoS 1\)", hub.log())
    assert sorted(asked) == sorted([SETPOINT, BACK, SWITCH])
    assert "/set" not in "".join(re.findall(r"\t(\S*[+#]\S*) \(QoS", hub.log()))


def test_without_commands_in_the_settings_nothing_is_subscribed(hub: Mosquitto) -> None:
    with Keeper(hub.port) as keeper:
        keeper.tick()
        wait_until_complete(hub)
        hub.publish(SWITCH, "off")
        assert "/set (QoS" not in hub.log()
        assert keeper.client.orders() == ()
