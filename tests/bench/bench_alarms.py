"""Prints what a message costs: in the helper that sends it, and in a keeper that would itself.

Not a test: it judges nothing. The messages go to a web server in this process.

Run: python -m tests.bench.bench_alarms
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from greenkeeper.alarms.courier import Errand, send
from greenkeeper.alarms.letter import INFO, Post
from tests.support.postboxes import WebBox

MESSAGES = 5

# What the keeper has loaded in any case; then, how much more one thing makes of it.
GROWTH = """
import greenkeeper.daemon, greenkeeper.broker.client, greenkeeper.journal.writer
def resident_mib():
    with open("/proc/self/status") as file:
        return next(int(line.split()[1]) for line in file if line.startswith("VmRSS")) / 1024
before = resident_mib()
{act}
print(resident_mib() - before)
"""
DESK = "import greenkeeper.alarms.desk"
HEARTBEAT = "import greenkeeper.alarms.heartbeat, ssl; ssl.create_default_context()"
LIBRARY = "import apprise; apprise.Apprise.instantiate('json://localhost/x')"


def growth_mib(act: str) -> float:
    done = subprocess.run(
        [sys.executable, "-c", GROWTH.format(act=act)], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


def one_message(folder: Path) -> list[tuple[str, str]]:
    with WebBox() as box:
        file = folder / "addresses"
        file.write_text(f"json://127.0.0.1:{box.port}\n", encoding="utf-8")
        errand = Errand(str(file), Post("a title", "a text", INFO), None)
        began_s, processor_s = time.perf_counter(), _children_s()
        for _ in range(MESSAGES):
            assert send(errand).somebody_has_it
        took_s = (time.perf_counter() - began_s) / MESSAGES
        worked_s = (_children_s() - processor_s) / MESSAGES
        peak_mib = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
        assert len(box.requests) == MESSAGES
    return [
        ("one message, from start to answer", f"{took_s:.2f} s"),
        ("one message, processor", f"{worked_s:.2f} s"),
        ("the helper's peak, for as long as it lives", f"{peak_mib:.1f} MiB"),
    ]


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        rows = one_message(Path(folder))
    rows += [
        ("the desk, in the keeper", f"{growth_mib(DESK):+.1f} MiB"),
        ("the heartbeat, in the keeper", f"{growth_mib(HEARTBEAT):+.1f} MiB"),
        ("the sending library, were it in the keeper", f"{growth_mib(LIBRARY):+.1f} MiB"),
    ]
    print(f"{'telling people':<48}{'measured':>14}")
    for name, measured in rows:
        print(f"{name:<48}{measured:>14}")


if __name__ == "__main__":
    main()
