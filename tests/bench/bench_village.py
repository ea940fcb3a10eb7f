"""Prints what 200 keepers on one Mosquitto cost, and how long asking all of them takes.

Not a test: it judges nothing. 200 of the keeper's own broker clients in one process, each
with a connection of its own, an invented house, and a tick every 10 s whose temperatures
move a little, so that there is traffic as in life. Every tenth one is stopped.

Run: python -m tests.bench.bench_village [houses]
"""

import logging
import sys
import tempfile
import threading
import time
from pathlib import Path

import psutil
import structlog

from greenkeeper.broker import houses
from greenkeeper.broker.client import BrokerClient
from greenkeeper.broker.roll_call import call_roll
from greenkeeper.clock import HandClock
from greenkeeper.model import Now
from tests.support.mosquitto import Mosquitto
from tests.support.ticks import make_alarm, make_settings, make_tick
from tests.support.waiting import eventually

HOUSES = 200
POLL_S = 10.0
WATCH_S = 20.0
MIB = 1024.0 * 1024.0


class Village:
    """So many keepers; tick() lays a new tick down in each, spread over POLL_S."""

    def __init__(self, port: int, count: int) -> None:
        self.settings = [
            make_settings(
                site={"name": f"house-{number:03}"}, broker={"host": "127.0.0.1", "port": port}
            )
            for number in range(count)
        ]
        clock = HandClock(utc_s=time.time() - 3600.0, mono_s=time.monotonic() - 3600.0)
        self.clients = [BrokerClient(each, clock, "0.1.0") for each in self.settings]
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live)

    def start(self) -> None:
        for client in self.clients:
            client.start()
        self._thread.start()

    def _live(self) -> None:
        while not self._stop.is_set():
            for number, client in enumerate(self.clients):
                now = Now(time.monotonic(), time.time(), True)
                moving = 4.0 + (number + now.mono_s) % 8.0
                temps = {"bench": moving, "ridge": moving + 1.0, "outdoors": -3.0}
                alarms = [make_alarm("below-minimum", "bench")] if number % 20 == 1 else []
                client.publish(make_tick(self.settings[number], temps, now=now, alarms=alarms))
                if self._stop.wait(POLL_S / len(self.clients)):
                    return

    def well(self) -> bool:
        return not any(client.conditions() for client in self.clients)

    def end(self) -> None:
        self._stop.set()
        self._thread.join()
        for client in self.clients:
            client.close()


def measure(folder: Path, count: int) -> list[tuple[str, str]]:
    with Mosquitto(folder / "mosquitto") as hub:
        village = Village(hub.port, count)
        began_s = time.perf_counter()
        village.start()
        try:
            eventually(village.well, "not everybody got through", 180.0)
            up_s = time.perf_counter() - began_s
            for client in village.clients[::10]:
                client.close()
            assert hub._process is not None
            broker = psutil.Process(hub._process.pid)
            me = psutil.Process()
            before = (_processor_s(broker), _processor_s(me))
            time.sleep(WATCH_S)
            load = [
                (_processor_s(each) - was) / WATCH_S * 100.0
                for each, was in zip((broker, me), before, strict=True)
            ]
            asking = [_ask(village, count) for _ in range(3)]
            broker_mib = broker.memory_info().rss / MIB
        finally:
            village.end()
    return [
        (f"{count} keepers, until all are told", f"{up_s:.1f} s"),
        ("Mosquitto, processor", f"{load[0]:.1f} %"),
        ("Mosquitto, resident", f"{broker_mib:.1f} MiB"),
        (f"all {count} clients together, processor", f"{load[1]:.1f} %"),
        ("asking all of them, worst of three", f"{max(each[0] for each in asking):.2f} s"),
        ("houses found whole", ", ".join(str(each[1]) for each in asking)),
        ("of them not kept any more", ", ".join(str(each[2]) for each in asking)),
    ]


def _ask(village: Village, count: int) -> tuple[float, int, int]:
    broker = village.settings[0].broker
    assert broker is not None
    began_s = time.perf_counter()
    messages = call_roll(broker, houses.wanted(broker.domain), houses.missing)
    found = houses.houses(messages, time.time())
    whole = [house for house in found if house.how != houses.UNKNOWN and house.zones[0].coldest_c]
    return time.perf_counter() - began_s, len(whole), sum(house.dead for house in found)


def _processor_s(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)


def main() -> None:
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.CRITICAL))
    count = int(sys.argv[1]) if len(sys.argv) > 1 else HOUSES
    with tempfile.TemporaryDirectory() as folder:
        rows = measure(Path(folder), count)
    print(f"{'many houses on one broker':<44}{'measured':>20}")
    for name, measured in rows:
        print(f"{name:<44}{measured:>20}")


if __name__ == "__main__":
    main()
