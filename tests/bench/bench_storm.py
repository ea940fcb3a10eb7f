"""Prints what a storm of senseless messages does to a running keeper: nothing, one hopes.

Not a test: it judges nothing. 100,000 messages on every topic the keeper listens to, on a
real Mosquitto; the demo's house with every command allowed. Printed are the messages a
second, the keeper's resident memory before, after a tenth and after all of them, and its
longest silence meanwhile.

Run: python -m tests.bench.bench_storm [messages on each topic]
"""

import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import psutil

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
]


def settings(folder: Path, port: int) -> Path:
    demo = (PROJECT / "config" / "demo.yaml").read_text(encoding="utf-8")
    commands = "{setpoints: [bench], switches: [bench]}"
    file = folder / "demo.yaml"
    file.write_text(
        f"{demo}\npoll_s: 1\nbroker: {{host: 127.0.0.1, port: {port}, commands: {commands}}}\n"
        f"folders: {{state: {folder / 'state'}, runtime: {folder / 'run'}}}\n",
        encoding="utf-8",
    )
    return file


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
            with Watchman(status) as watchman:
                storm.send(broker.port, TOPICS, each // 10)
                memory.append(keeper.memory_info().rss / MIB)
                began_s = time.monotonic()
                storm.send(broker.port, TOPICS, each - each // 10, seed=100)
                took_s = time.monotonic() - began_s
            time.sleep(3.0)
            memory.append(keeper.memory_info().rss / MIB)
            state = broker.retained(f"{ROOT}/$state")
            process.terminate()
    count = len(TOPICS) * each
    print(f"storm: {count} messages on {len(TOPICS)} topics, {count * 0.9 / took_s:.0f} a second")
    print(
        f"  resident memory  {memory[0]:.1f} MiB before, {memory[1]:.1f} after a tenth, "
        f"{memory[2]:.1f} after all"
    )
    print(f"  longest silence  {watchman.longest_s:.1f} s of a loop that ticks every second")
    print(f"  its state then   {', '.join(state.values())}; it ended with {process.returncode}")


if __name__ == "__main__":
    main()
