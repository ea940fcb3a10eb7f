"""A whole shed for the real program: bus files, relay lines, settings, and the keeper in it."""

import json
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any, Self

import psutil

from tests.support.fakekernel import FakeKernel
from tests.support.w1tree import W1Tree
from tests.support.waiting import eventually

LEFT, RIGHT, OUTDOORS = "28-0316a2795a01", "28-0316a279ff77", "28-0316d2c3e4f5"
HEATER, FAN = 17, 23
PATIENCE_S = 40.0  # bounds a failing test on a busy machine; a passing one never waits for it


class Shed:
    """One house with quick ticks. `lines` is the pretend kernel whose outputs outlive their
    owner, as those of a Raspberry Pi do (white paper "GPIO Usage on Raspberry Pi Devices")."""

    def __init__(
        self,
        folder: Path,
        *,
        broker_port: int | None = None,
        gpio: str = "lgpio",
        strategy: str = "hysteresis",
    ):
        self.folder = folder
        self.bus = W1Tree(folder / "w1")
        for rom in (LEFT, RIGHT, OUTDOORS):
            self.bus.add(rom, 8.0)
        self.lines = FakeKernel.boot(folder / "dev")
        self.runtime, self.state = folder / "run", folder / "state"
        self.file = folder / "house.yaml"
        self._broker_port = broker_port
        self._gpio = gpio
        self._strategy = strategy
        self.process: subprocess.Popen[str] | None = None
        self.log_file = folder / "keeper.log"
        self.write_settings()

    def write_settings(
        self, *, setpoint: str = "5", heater: int = HEATER, outputs: str = "", extra: str = ""
    ) -> None:
        """heater: its pin. outputs, extra: further lines, of the outputs and of the top level."""
        broker = (
            f"broker: {{host: 127.0.0.1, port: {self._broker_port}, keepalive_s: 5}}\n"
            if self._broker_port
            else ""
        )
        self.file.write_text(
            "site: {name: shed, outdoor_probe: outdoors, clock: trusted}\n"
            "poll_s: 1\n"
            f"onewire: {{folder: {self.bus.folder}}}\n"
            f"folders: {{state: {self.state}, runtime: {self.runtime}}}\n"
            f"gpio: {{backend: {self._gpio}}}\n"
            "probes:\n"
            f"  left: {{kind: onewire, rom: {LEFT}, stale_s: 5, jump_confirm_s: 0}}\n"
            f"  right: {{kind: onewire, rom: {RIGHT}, stale_s: 5, jump_confirm_s: 0}}\n"
            f"  outdoors: {{kind: onewire, rom: {OUTDOORS}, stale_s: 5}}\n"
            "outputs:\n"
            f"  heater: {{kind: gpio, pin: {heater}, on_level: low, min_on_s: 1, min_off_s: 1}}\n"
            f"  fan: {{kind: gpio, pin: {FAN}, min_on_s: 1, min_off_s: 1}}\n"
            f"{outputs}"
            "zones:\n"
            "  bench:\n"
            "    probes: [left, right]\n"
            f"    heat: {{output: heater, setpoint_c: {setpoint}, hysteresis_k: 0.5,"
            f" strategy: {self._strategy}}}\n"
            "    cool: {output: fan, setpoint_c: 26}\n"
            f"{broker}{extra}",
            encoding="utf-8",
        )

    # --- the keeper --------------------------------------------------------------------

    def start(
        self, *, output: int | None = None, memory: int | None = None, **environment: str
    ) -> Self:
        """output: a file descriptor instead of the log file. memory: bytes it may have."""
        log = self.log_file.open("a", encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "greenkeeper", "run", "--settings", str(self.file)],
            env={**self.lines.environment(), "LG_WD": str(self.folder), **environment},
            cwd=self.folder,
            stdout=log if output is None else output,
            stderr=subprocess.STDOUT,
            text=True,
        )
        log.close()
        if memory is not None:
            psutil.Process(self.process.pid).rlimit(psutil.RLIMIT_AS, (memory, memory))
        return self

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "greenkeeper", *words],
            env=self.lines.environment(),
            capture_output=True,
            text=True,
            timeout=PATIENCE_S,
            check=False,
        )

    def send(self, number: signal.Signals) -> None:
        assert self.process is not None
        self.process.send_signal(number)

    def end(self, number: signal.Signals = signal.SIGTERM) -> int:
        """Its exit code."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(number)
        code = self.process.wait(PATIENCE_S)
        self.process = None
        return code

    def exit_code(self) -> int:
        """Of a keeper that ends by itself."""
        assert self.process is not None
        return self.process.wait(PATIENCE_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(PATIENCE_S)

    # --- what can be seen -----------------------------------------------------------------

    def bench(self, temp_c: float) -> None:
        self.bus.set_temp(LEFT, temp_c)
        self.bus.set_temp(RIGHT, temp_c)

    def heating(self) -> bool:
        """Driven to its on level, which is low; a line nobody claimed yet drives nothing."""
        return bool(self.lines.changes(HEATER)) and self.lines.level(HEATER) == 0

    def status(self) -> dict[str, Any]:
        try:
            found: dict[str, Any] = json.loads((self.runtime / "status.json").read_text())
        except FileNotFoundError:
            return {}
        return found

    def until(self, holds: Any, what: str) -> None:
        eventually(holds, lambda: f"{what}\n{self.log()}", within_s=PATIENCE_S)

    def log(self) -> str:
        return self.log_file.read_text(encoding="utf-8") if self.log_file.exists() else ""


class ServiceManager:
    """The socket a service speaks to, and what it said."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "notify"
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(str(self.path))
        self._socket.settimeout(PATIENCE_S)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.close()

    def hear(self) -> list[str]:
        return self._socket.recv(4096).decode().split("\n")
