"""Prints what the running keeper costs: memory, processor, time to start, to stop and to rescue.

Not a test: it judges nothing. Two invented houses: the demo's, which the memory budget is
about; and one with 8 probes as files in the kernel's format and 2 relays on a pretend
GPIO chip. Both with a journal and a real Mosquitto. Ticks come every second to gather
enough of them in a minute; figures are given for one every 10 s.

Run: python -m tests.bench.bench_keeper [seconds to watch]
"""

import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

from tests.endtoend.shed import Shed
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

WATCH_S = 60.0
SETTLE_S = 10.0  # connected, and the first of everything done
POLL_S = 10.0  # what the figures are given for
MEMORY_BUDGET_MIB = 45.0
PROCESSOR_BUDGET_PERCENT = 0.5
MIB = 1024.0 * 1024.0
PROJECT = Path(__file__).parents[2]


def more_probes(shed: Shed) -> None:
    """Up to eight, the further ones in no zone."""
    lines = []
    for number in range(5):
        rom = f"28-0000000000a{number}"
        shed.bus.add(rom, 7.0 + number)
        lines.append(f"  extra-{number}: {{kind: onewire, rom: {rom}}}\n")
    text = shed.file.read_text(encoding="utf-8")
    shed.file.write_text(text.replace("outputs:\n", "".join(lines) + "outputs:\n", 1), "utf-8")


def demo_memory(folder: Path) -> float:
    """Resident MiB of the keeper with the demo's settings and a broker, after a while."""
    demo = (PROJECT / "config" / "demo.yaml").read_text(encoding="utf-8")
    with Mosquitto(folder / "demo-mosquitto") as broker:
        file = folder / "demo.yaml"
        file.write_text(
            f"{demo}\npoll_s: 1\nbroker: {{host: 127.0.0.1, port: {broker.port}}}\n"
            f"folders: {{state: {folder / 'state'}, runtime: {folder / 'run'}}}\n",
            encoding="utf-8",
        )
        command = [sys.executable, "-m", "greenkeeper", "run", "--settings", str(file)]
        with subprocess.Popen(command, cwd=PROJECT, stderr=subprocess.DEVNULL) as process:
            eventually(lambda: (folder / "run" / "status.json").exists(), "no first tick", 60.0)
            time.sleep(SETTLE_S)
            resident = memory_mib(psutil.Process(process.pid))
            process.terminate()
    return resident


def measure(folder: Path, watch_s: float) -> list[tuple[str, str, str]]:
    demo_mib = demo_memory(folder)
    with (
        Mosquitto(folder / "mosquitto") as broker,
        Shed(folder / "shed", broker_port=broker.port) as shed,
    ):
        more_probes(shed)
        shed.bench(4.9)
        began_s = time.perf_counter()
        shed.start()
        eventually(lambda: shed.status(), "no first tick", 60.0)
        first_tick_s = time.perf_counter() - began_s
        assert shed.process is not None
        keeper = psutil.Process(shed.process.pid)
        time.sleep(SETTLE_S)
        early_mib, early_cpu_s = memory_mib(keeper), processor_s(keeper)
        ticks_before = shed.status()["utc_s"]
        resident = watch(keeper, watch_s)
        ticks = round(shed.status()["utc_s"] - ticks_before)
        per_tick_ms = (processor_s(keeper) - early_cpu_s) / ticks * 1000.0
        switched_off_s = stop(shed)
        rescued_s = rescue(shed)
    percent = per_tick_ms / 1000.0 / POLL_S * 100.0
    return [
        ("start to first decision", f"{first_tick_s:.2f} s", ""),
        ("resident, demo settings and broker", f"{demo_mib:.1f} MiB", f"{MEMORY_BUDGET_MIB:g} MiB"),
        ("resident, 8 real probes and 2 relays", f"{max(resident):.1f} MiB", ""),
        ("resident, growth over the watch", f"{resident[-1] - early_mib:+.2f} MiB", "flat"),
        (f"processor per tick ({ticks} ticks)", f"{per_tick_ms:.1f} ms", ""),
        (
            f"processor at one tick in {POLL_S:g} s",
            f"{percent:.3f} %",
            f"{PROCESSOR_BUDGET_PERCENT:g} %",
        ),
        ("stop to relay off", f"{switched_off_s:.2f} s", ""),
        ("killed: `safe` to relay off", f"{rescued_s:.2f} s", ""),
    ]


def memory_mib(process: psutil.Process) -> float:
    return float(process.memory_info().rss) / MIB


def processor_s(process: psutil.Process) -> float:
    times = process.cpu_times()
    return float(times.user + times.system)


def watch(process: psutil.Process, watch_s: float) -> list[float]:
    seen = []
    end_s = time.monotonic() + watch_s
    while time.monotonic() < end_s:
        seen.append(memory_mib(process))
        time.sleep(1.0)
    return seen


def stop(shed: Shed) -> float:
    """Seconds from the signal until the relay's line is driven off."""
    eventually(shed.heating, "it was not heating", 30.0)
    began_s = time.perf_counter()
    shed.send(signal.SIGTERM)
    eventually(lambda: not shed.heating(), "it stayed on", 30.0)
    took_s = time.perf_counter() - began_s
    shed.end()
    return took_s


def rescue(shed: Shed) -> float:
    """Seconds from the start of `greenkeeper safe`, after a kill, until the line is off."""
    shed.start()
    eventually(shed.heating, "it was not heating", 30.0)
    shed.end(signal.SIGKILL)
    command = [sys.executable, "-m", "greenkeeper", "safe", "--settings", str(shed.file)]
    began_s = time.perf_counter()
    with subprocess.Popen(
        [*command, "--state", str(shed.state), "--runtime", str(shed.runtime)],
        env=shed.lines.environment(),
        stdout=subprocess.DEVNULL,
    ):
        eventually(lambda: not shed.heating(), "it stayed on", 30.0)
        return time.perf_counter() - began_s


def main() -> None:
    watch_s = float(sys.argv[1]) if len(sys.argv) > 1 else WATCH_S
    with tempfile.TemporaryDirectory() as folder:
        rows = measure(Path(folder), watch_s)
    print(f"{'the running keeper':<40}{'measured':>14}{'budget':>12}")
    for name, measured, budget in rows:
        print(f"{name:<40}{measured:>14}{budget:>12}")


if __name__ == "__main__":
    main()
