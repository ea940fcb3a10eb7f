"""The hardware that `setup` works with: the bus, and relays in a process of their own.

Lives here: greenkeeper.setup.talk.Bench for the machine this runs on. Does not live here:
what is asked (setup/guide.py) and what is done to a line (setup_relay.py).
"""

import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path

from greenkeeper.clock import SystemClock
from greenkeeper.commands import setup_relay
from greenkeeper.errors import GreenkeeperError
from greenkeeper.probes.survey import Surveyor
from greenkeeper.setup.talk import Trial

_WARM_S = 90.0
_EVERY_S = 0.5
_GRACE_S = 10.0  # beyond what the trial itself takes


class RealBench:
    """Close it in the end."""

    def __init__(self, folder: Path, runtime: Path) -> None:
        """folder: the bus. runtime: where a running keeper's status file would be."""
        self._surveyor = Surveyor(folder, SystemClock())
        self._runtime = runtime

    def temperatures(self) -> Mapping[str, float]:
        survey = self._surveyor.look()
        readings = {probe.rom: probe.reading.temp_c for probe in survey.probes}
        return {rom: temp_c for rom, temp_c in readings.items() if temp_c is not None}

    def watch(self) -> Iterator[Mapping[str, float]]:
        end_s = time.monotonic() + _WARM_S
        while time.monotonic() < end_s:
            yield self.temperatures()
            time.sleep(_EVERY_S)

    def relay_refusal(self) -> str | None:
        pid = running_keeper(self._runtime)
        if pid is None:
            return None
        return (
            f"a keeper is running (process {pid}) and holds the relays. "
            "Stop it first: sudo systemctl stop greenkeeper"
        )

    def try_relay(self, trial: Trial) -> str | None:
        refusal = self.relay_refusal()
        if refusal is not None:
            return refusal
        with tempfile.TemporaryDirectory(prefix="greenkeeper-") as folder:
            return _closed_once(trial, Path(folder))

    def close(self) -> None:
        self._surveyor.close()


def running_keeper(runtime: Path) -> int | None:
    """The process that wrote the status file, if it still lives."""
    from greenkeeper import status

    try:
        pid = status.read(runtime)["pid"]
        command = Path(f"/proc/{pid}/cmdline").read_bytes()
    except (GreenkeeperError, OSError):
        return None
    return pid if b"greenkeeper" in command else None


def _closed_once(trial: Trial, folder: Path) -> str | None:
    words = [str(trial.pin), trial.on_level.value, f"{trial.seconds:g}", str(folder)]
    with subprocess.Popen(  # noqa: S603 - our own program, words of our own
        [sys.executable, "-m", setup_relay.__name__, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
    ) as process:
        trouble = ""
        impatience = threading.Timer(setup_relay.BEFORE_S + trial.seconds + _GRACE_S, process.kill)
        impatience.start()
        try:
            for line in process.stdout or ():
                if line.strip() in setup_relay.STEPS:
                    print(f"  GPIO{trial.pin} {line.strip()}", flush=True)
                else:
                    trouble += line
        except BaseException:
            # Ctrl-C, or a terminal that is gone: the end of its input lets it switch off,
            # and nobody leaves before it has.
            _end(process)
            raise
        finally:
            impatience.cancel()
        if process.wait() == 0:
            return None
    if process.returncode < 0:
        return _rescued(trial, folder)
    return trouble.strip() or f"the trial ended with {process.returncode}"


def _end(process: "subprocess.Popen[str]") -> None:
    if process.stdin is not None:
        process.stdin.close()
    process.wait(_GRACE_S)


def _rescued(trial: Trial, folder: Path) -> str:
    """The trial was killed, and the kernel may keep its line driven: off, from here."""
    from greenkeeper.gpio.open_lines import open_lines
    from greenkeeper.pins import Board, Level

    on_is_high = trial.on_level is Level.HIGH
    with closing(open_lines(Board(), folder)) as lines:
        lines.claim(trial.pin, not on_is_high)
        setup_relay.rest(lines, trial.pin, on_is_high)
    return "the trial was killed; the relay was driven off after it"
