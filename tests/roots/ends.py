"""However the keeper ends with the heat on: how long until its relay is off?

Lives here: what `walk` tries of that, inside a root, with the real unit and the real program
under the root's own systemd. The lines are tests/support/fakekernel.py's: as on a Raspberry
Pi's own kernel they keep their level when the program that drove them is dead, so whatever
drives them off is another one. Does not live here: a real line, which no root has.

Run as root in the checkout inside: python3 -m tests.roots.ends
"""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from tests.support.fakekernel import FAKE_LINES, FOLDER_VARIABLE, FakeKernel
from tests.support.w1tree import W1Tree

UNIT = "greenkeeper.service"
SETTINGS = Path("/etc/greenkeeper/greenkeeper.yaml")
LINES = Path("/var/lib/greenkeeper/lines")
BUS = Path("/roots/bus/w1")
BESIDE = Path("/roots/beside")  # the tests without the checkout's own greenkeeper
DROP_IN = Path(f"/run/systemd/system/{UNIT}.d/lines.conf")
ROM, HEATER = "28-0316a2795a01", 17
PATIENCE_S = 60.0
WATCHED_S = 10.0  # how long one that must not come back on is watched

# A bench at 2 °C that wants 5. Debian 12 has the one library ready-made, Debian 13 the other.
BACKEND = "lgpio" if sys.version_info < (3, 13) else "gpiod"
HOUSE = f"""\
site: {{name: shed, clock: trusted}}
poll_s: 1
onewire: {{folder: {BUS}}}
gpio: {{backend: {BACKEND}}}
probes: {{bench: {{kind: onewire, rom: {ROM}}}}}
outputs: {{heater: {{kind: gpio, pin: {HEATER}, min_on_s: 1, min_off_s: 1}}}}
zones: {{bench: {{probes: [bench], heat: {{output: heater, setpoint_c: 5}}}}}}
"""


class Way(NamedTuple):
    name: str
    end: Callable[[], None]
    longest_s: float  # until the relay is off
    comes_back: bool = True  # the keeper, and with it the heat


def main() -> int:
    ways = (
        Way("killed", kill, 2.0),
        Way("killed, with settings that let none start again", kill_and_break, 2.0, False),
        Way("stopped", stop, 2.0, False),
        # WatchdogSec=45 of the unit, then TimeoutStopSec=15 for one that does not hear.
        Way("hung", hang, 45.0 + 15.0 + 2.0),
    )
    own = SETTINGS.read_bytes()
    try:
        W1Tree(BUS).add(ROM, 2.0)
        chip_missed = told_of_the_missing_chip()
        with lines_of_a_pi() as lines:
            good = [tried(lines, way) for way in ways]
    finally:
        SETTINGS.write_bytes(own)
        systemctl("restart", UNIT)
    return 0 if chip_missed and all(good) else 1


def told_of_the_missing_chip() -> bool:
    """With the real library, in the unit's own fences: it loads there, and finds no chip."""
    SETTINGS.write_text(HOUSE, encoding="utf-8")
    systemctl("--no-block", "restart", UNIT)
    good = until(lambda: "this machine shows no GPIO chip" in log(), PATIENCE_S)
    print(f"{'ok      ' if good else 'FAILED  '}  without a chip it says so, by {BACKEND} itself")
    return good


def log() -> str:
    words = ["journalctl", "--no-pager", "--lines=50", f"--unit={UNIT}"]
    return subprocess.run(words, check=True, capture_output=True, text=True).stdout


def tried(lines: FakeKernel, way: Way) -> bool:
    def on() -> bool:
        return lines.level(HEATER) == 1

    settle()
    if not until(on, PATIENCE_S):
        print(f"FAILED    {way.name}: the heat never came on", flush=True)
        return False
    began_s = time.monotonic()
    way.end()
    off = until(lambda: not on(), way.longest_s + 5.0)
    took_s = time.monotonic() - began_s
    good = off and took_s <= way.longest_s
    good = good and until(on, PATIENCE_S if way.comes_back else WATCHED_S) is way.comes_back
    told = "ok      " if good else "FAILED  "
    after = "it comes back by itself" if way.comes_back else f"off {WATCHED_S:g} s later as well"
    print(f"{told}  {way.name}: off after {took_s:.1f} s; {after}", flush=True)
    return good


def kill() -> None:
    os.kill(main_pid(), signal.SIGKILL)


def kill_and_break() -> None:
    SETTINGS.write_text(HOUSE + "no_such_key: 1\n", encoding="utf-8")
    kill()


def stop() -> None:
    systemctl("--no-block", "stop", UNIT)


def hang() -> None:
    os.kill(main_pid(), signal.SIGSTOP)


def settle() -> None:
    """Sound settings, and a keeper that has taken them."""
    SETTINGS.write_text(HOUSE, encoding="utf-8")
    systemctl("restart", UNIT)


def main_pid() -> int:
    told = systemctl("show", "--value", "--property=MainPID", UNIT)
    assert int(told) > 0, "there is no keeper to end"
    return int(told)


def systemctl(*words: str) -> str:
    done = subprocess.run(["systemctl", *words], check=True, capture_output=True, text=True)
    return done.stdout.strip()


def until(holds: Callable[[], bool], longest_s: float) -> bool:
    end_s = time.monotonic() + longest_s
    while time.monotonic() < end_s:
        if holds():
            return True
        time.sleep(0.02)
    return False


@contextmanager
def lines_of_a_pi() -> Iterator[FakeKernel]:
    """Lines that keep their level, in place of those of the real libraries."""
    BESIDE.mkdir()
    (BESIDE / "tests").symlink_to(Path(__file__).parents[1])
    lines = FakeKernel.boot(LINES)
    shutil.chown(LINES, "greenkeeper", "greenkeeper")
    DROP_IN.parent.mkdir(parents=True)
    DROP_IN.write_text(
        f"[Service]\nEnvironment=PYTHONPATH={FAKE_LINES}:{BESIDE} {FOLDER_VARIABLE}={LINES}\n",
        encoding="utf-8",
    )
    systemctl("daemon-reload")
    try:
        yield lines
    finally:
        systemctl("stop", UNIT)
        DROP_IN.unlink()
        systemctl("daemon-reload")
        shutil.rmtree(LINES)


if __name__ == "__main__":
    sys.exit(main())
