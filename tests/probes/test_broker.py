"""Probes on the broker: what a report is, how old it is, and everything it may be instead."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import HandClock
from greenkeeper.model import Fault, HumidityReading, Reading
from greenkeeper.probes.broker import (
    TO_CELSIUS,
    TO_PERCENT,
    BrokerHygrometers,
    BrokerProbes,
    Source,
)
from tests.broker.house import Keeper
from tests.support.mosquitto import Mosquitto
from tests.support.post import PretendPost
from tests.support.waiting import eventually

TOPIC = "garden/cold-frame"
NO_REPORT = Reading(1000.0, None, Fault.MISSING, "no report yet since the start")


class Bench:
    def __init__(self, field: str = "", unit: str = "°C") -> None:
        self.post = PretendPost()
        self.clock = HandClock(utc_s=0.0)
        source = Source(TOPIC, field, TO_CELSIUS[unit])
        self.group = BrokerProbes({"frame": source}, self.post, self.clock)

    def after(self, payload: str | bytes, *, retained: bool = False) -> Reading:
        self.clock.advance(10.0)
        self.post.brings(TOPIC, payload, retained=retained)
        return self.group.read()["frame"]


def test_a_plain_number_is_a_reading_as_old_as_its_arrival() -> None:
    bench = Bench()
    assert bench.group.read() == {"frame": NO_REPORT}
    assert bench.after("4.75") == Reading(1010.0, 4.75)
    bench.clock.advance(600.0)
    assert bench.group.read()["frame"] == Reading(1010.0, 4.75)


@pytest.mark.parametrize(
    ("unit", "payload", "temp_c"), [("°C", "-3.5", -3.5), ("°F", "41", 5.0), ("K", "278.15", 5.0)]
)
def test_units_are_turned_into_degrees_celsius(unit: str, payload: str, temp_c: float) -> None:
    assert Bench(unit=unit).after(payload).temp_c == pytest.approx(temp_c)


def test_a_number_inside_a_report_is_found_by_its_pointer() -> None:
    bench = Bench("/air/0/temperature")
    assert bench.after('{"air": [{"temperature": 5.5}], "battery": 80}').temp_c == 5.5


def test_what_the_broker_kept_is_never_a_reading() -> None:
    bench = Bench()
    kept = bench.after("21.5", retained=True)
    assert (kept.temp_c, kept.fault) == (None, Fault.MISSING)
    assert "waiting for a new one" in kept.detail
    assert bench.after("4.5").temp_c == 4.5
    # After a return of the broker it comes again, and takes nothing away.
    assert bench.after("21.5", retained=True) == Reading(1020.0, 4.5)


@pytest.mark.parametrize(
    ("field", "payload", "told"),
    [
        ("", "", "no JSON"),
        ("", "warm", "no JSON: 'warm'"),
        ("", "NaN", "no JSON"),
        ("", "Infinity", "no JSON"),
        ("", "1e999", "beyond all numbers"),
        ("", "true", "no number there: True"),
        ("", '"21.5"', "no number there: 21.5"),
        ("", "null", "no number there: None"),
        ("", "[4]", "no number there"),
        ("", b"\xff\xfe\x00", "no JSON"),
        ("", b"1" * 5000, "no JSON"),
        ("", b"1" * 400, "beyond all numbers"),
        ("", b"[" * 10_000, "no JSON"),
        ("", b" " * 20_000, "20000 bytes"),
        ("/t", "{}", "there is no 't'"),
        ("/t", "4.5", "there is no 't'"),
        ("/t", '{"t": {"t": 1}}', "no number there"),
    ],
)
def test_whatever_is_no_number_is_a_fault_that_says_so(
    field: str, payload: str | bytes, told: str
) -> None:
    reading = Bench(field).after(payload)
    assert (reading.temp_c, reading.fault) == (None, Fault.UNREADABLE)
    assert told in reading.detail


@hypothesis_settings(max_examples=300)
@given(st.binary(max_size=200), st.sampled_from(["", "/a", "/0", "/a/b"]), st.booleans())
def test_no_payload_whatever_ends_the_reader(payload: bytes, field: str, retained: bool) -> None:
    reading = Bench(field).after(payload, retained=retained)
    assert (reading.temp_c is None) is (reading.fault is not None)


def test_hygrometers_count_in_per_cent_or_in_shares() -> None:
    post, clock = PretendPost(), HandClock(utc_s=0.0)
    sources = {
        "a": Source("damp/a", "", TO_PERCENT["%"]),
        "b": Source("damp/b", "/rh", TO_PERCENT["share"]),
    }
    group = BrokerHygrometers(sources, post, clock)
    post.brings("damp/a", "87.5")
    post.brings("damp/b", '{"rh": 0.5}')
    assert group.read() == {"a": HumidityReading(1000.0, 87.5), "b": HumidityReading(1000.0, 50.0)}


def test_a_closed_group_hears_nothing_any_more() -> None:
    bench = Bench()
    bench.group.close()
    bench.group.close()
    assert bench.after("4.5") == NO_REPORT


def test_over_a_real_broker_only_live_reports_count(tmp_path: Path) -> None:
    clock, exchange = HandClock(utc_s=0.0), Exchange()
    sources = {"frame": Source(TOPIC, "/t", TO_CELSIUS["°C"])}
    group = BrokerProbes(sources, exchange, clock)
    with Mosquitto(tmp_path) as hub:
        hub.publish(TOPIC, '{"t": 30}', retain=True)
        with Keeper(hub.port, exchange=exchange) as keeper:
            keeper.tick()
            eventually(lambda: "old report" in group.read()["frame"].detail, "the kept report")
            hub.publish(TOPIC, '{"t": 4.5}', retain=True)
            eventually(lambda: group.read()["frame"].temp_c == 4.5, "the live report")
