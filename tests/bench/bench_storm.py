"""Prints what a storm of senseless messages does to a running keeper: nothing, one hopes.

Not a test: it judges nothing. 100,000 messages on every topic the keeper listens to, on a
real Mosquitto: commands, its own state, and the reports of a probe, a hygrometer and a
switch of somebody else. The demo's house with every command allowed. Printed are the
messages a second, the keeper's resident memory before, after a tenth and after all of them,
its longest silence meanwhile, and what came of it: the orders that were taken, and all that
was said to the switch, whose only words are on and off.

Run: python -m tests.bench.bench_storm [messages on each topic]
"""

import json
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

import psutil
import yaml

from tests.broker import storm
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

EACH = 100_000
MIB = 1024.0 * 1024.0
PROJECT = Path(__file__).parents[2]
ROOT = "homie/5/orchard-corner"
ZONE = f"{ROOT}/zone-bench"
TOPICS = [
    *(f"{ZONE}/{name}/set" for name in ("heat-setpoint", "back-to-plan", "switch")),
    f"{ROOT}/$state",
    "sensors/frame",
    "sensors/damp",
    "sockets/mat/state",
]
MAT = "sockets/mat/set"
NEIGHBOURS = {
    "probes": {"frame": {"kind": "broker", "topic": "sensors/frame", "stale_s": 60}},
    "hygrometers": {
        "damp": {"kind": "broker", "topic": "sensors/damp", "beside": "frame", "stale_s": 60}
    },
    "outputs": {
        "mat": {
            **{"kind": "broker", "topic": MAT, "order_on": "on", "order_off": "off"},
            **{"answers": "sockets/mat/state", "says_on": "armed", "says_off": "off"},
        }
    },
    "zones": {
        "frame": {
            "probes": ["frame"],
            "heat": {"output": "mat", "setpoint_c": 5, "independent_limit": True},
        }
    },
}


def settings(folder: Path, port: int) -> Path:
    house = yaml.safe_load((PROJECT / "config" / "demo.yaml").read_text(encoding="utf-8"))
    for group, more in NEIGHBOURS.items():
        house[group] = {**house.get(group, {}), **more}
    house["poll_s"] = 1
    commands = {"setpoints": ["bench"], "switches": ["bench"]}
    house["broker"] = {"host": "127.0.0.1", "port": port, "commands": commands}
    house["folders"] = {"state": str(folder / "state"), "runtime": str(folder / "run")}
    file = folder / "demo.yaml"
    file.write_text(yaml.safe_dump(house), encoding="utf-8")
    return file


def orders_taken(journal: Path) -> int:
    with closing(sqlite3.connect(journal)) as opened:
        (count,) = opened.execute(
            "SELECT count(*) FROM event WHERE code = 'order-taken'"
        ).fetchone()
    return int(count)


class Watchman:
    """Looks at the keeper's status file for as long as the storm lasts."""

    def __init__(self, file: Path) -> None:
        self.longest_s = 0.0
        self._file = file
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look)

    def __enter__(self) -> "Watchman":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()

    def _look(self) -> None:
        while not self._stop.wait(0.2):
            told_s = json.loads(self._file.read_text(encoding="utf-8"))["utc_s"]
            self.longest_s = max(self.longest_s, time.time() - told_s)


def main() -> None:
    each = int(sys.argv[1]) if len(sys.argv) > 1 else EACH
    with tempfile.TemporaryDirectory() as name, Mosquitto(Path(name) / "mosquitto") as broker:
        folder = Path(name)
        file, status = settings(folder, broker.port), folder / "run" / "status.json"
        command = [sys.executable, "-m", "greenkeeper", "run", "--settings", str(file)]
        with subprocess.Popen(command, cwd=PROJECT, stderr=subprocess.DEVNULL) as process:
            eventually(status.exists, "no first tick", 60.0)
            time.sleep(10.0)
            keeper = psutil.Process(process.pid)
            memory = [keeper.memory_info().rss / MIB]
            with broker.recorder(MAT) as recorder, Watchman(status) as watchman:
                storm.send(broker.port, TOPICS, each // 10)
                memory.append(keeper.memory_info().rss / MIB)
                began_s = time.monotonic()
                storm.send(broker.port, TOPICS, each - each // 10, seed=100)
                took_s = time.monotonic() - began_s
                time.sleep(3.0)
                said = Counter(record.payload for record in recorder.records)
            memory.append(keeper.memory_info().rss / MIB)
            state = broker.retained(f"{ROOT}/$state")
            process.terminate()
        taken = orders_taken(folder / "state" / "journal.db")
    count = len(TOPICS) * each
    print(f"storm: {count} messages on {len(TOPICS)} topics, {count * 0.9 / took_s:.0f} a second")
    print(
        f"  resident memory  {memory[0]:.1f} MiB before, {memory[1]:.1f} after a tenth, "
        f"{memory[2]:.1f} after all"
    )
    print(f"  longest silence  {watchman.longest_s:.1f} s of a loop that ticks every second")
    print(f"  orders taken     {taken}")
    print(f"  said to the mat  {dict(said)}")
    print(f"  its state then   {', '.join(state.values())}; it ended with {process.returncode}")


if __name__ == "__main__":
    main()
