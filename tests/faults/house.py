"""One whole keeper in this process, on a clock turned by hand, in a world that acts.

Real: the keeper, all that assembly makes for its settings, SQLite, every file. Pretended:
the kernel's lines and bus files, time, and the warmth of the bench. Does not live here:
what must hold (invariants.py) and the faults themselves. The house is invented.
"""

import contextlib
import io
import json
import os
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import structlog

from greenkeeper import control, logs
from greenkeeper.assembly import Parts, assemble, reassemble
from greenkeeper.daemon import Keeper
from greenkeeper.model import Tick
from greenkeeper.notify import Notifier
from greenkeeper.outputs.switchboard import WAKE_S
from greenkeeper.settings.load import load
from tests.faults.board import Board
from tests.faults.world import START_S, Bench, World
from tests.support import fakekernel
from tests.support.w1tree import W1Tree

LEFT, RIGHT, OUTDOORS = "28-0316a2795a01", "28-0316a279ff77", "28-0316d2c3e4f5"
BENCH = (LEFT, RIGHT)
HEATER, FAN = 17, 23
ISOLATOR, STIRRER, OPENS, CLOSES, ENABLE = 27, 24, 25, 26, 16  # only in a geared house
SECOND = 20  # only in a house with two heaters; no quiet pin is left for it
# 0: active-low.
ON_LEVEL = {HEATER: 0, FAN: 1, ISOLATOR: 1, STIRRER: 1, OPENS: 1, CLOSES: 1, SECOND: 1}
NAMES = {
    HEATER: "heater",
    FAN: "fan",
    ISOLATOR: "isolator",
    STIRRER: "stirrer",
    OPENS: "roof-open",
    CLOSES: "roof-close",
    SECOND: "second",
}

# The usual course, in seconds after the start. It is cold from the first, and the heater
# comes on when its minimum off time has run.
WARMS_S, BREAKS_S, MENDS_S, ENDS_S = 60.0, 200.0, 600.0, 900.0
LOOKS_S = 550.0  # at what the fault leaves on, and before it comes

# How heat is metered: the invariants ask for the same either way.
STRATEGY = os.environ.get("GREENKEEPER_STRATEGY", "hysteresis")

_TURNS_S = 0.35  # real; more than one turn of the enable line
_PATIENCE_S = 20.0  # real; bounds a failing test


_SECOND = f"  second: {{kind: gpio, pin: {SECOND}, unsafe_pin: true, power_w: 1500}}\n"
_FAN = f"  fan: {{kind: gpio, pin: {FAN}}}\n"
_GEAR = (
    f"  isolator: {{kind: gpio, pin: {ISOLATOR}, role: isolator}}\n"
    f"  stirrer: {{kind: gpio, pin: {STIRRER}}}\n"
    f"  roof-open: {{kind: gpio, pin: {OPENS}}}\n"
    f"  roof-close: {{kind: gpio, pin: {CLOSES}}}\n"
    f"enable: {{pin: {ENABLE}}}\n"
)
_ROOF = "open: roof-open, close: roof-close"


class Course(NamedTuple):
    """What came of one run."""

    ticks: Sequence[Tick]
    error: BaseException | None  # that ended the keeper, if one did
    log: Sequence[dict[str, Any]]
    heater: Sequence[tuple[float, bool]]  # when its line changed, in seconds after the start

    def codes(self) -> set[str]:
        """Every code told, in events and in the log."""
        events = {event.code for tick in self.ticks for event in tick.events}
        return events | {str(line["event"]) for line in self.log}

    def texts(self, code: str) -> list[str]:
        """Every line of the log with this code, whole."""
        return [json.dumps(line) for line in self.log if line["event"] == code]

    def heating_at(self, after_s: float) -> bool:
        return bool([on for when, on in self.heater if when <= after_s][-1:] == [True])


class House:
    """Lay down what happens, then `live`."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch, clock: World | None = None) -> None:
        self.folder = folder
        self.patch = patch
        self.clock = World() if clock is None else clock
        self.bus = W1Tree(folder / "w1")
        self.bench = Bench(self.bus, LEFT, RIGHT, OUTDOORS)
        self.board = Board.boot(folder / "dev")
        self.board.clock = self.clock
        fakekernel.install(patch, self.board)
        self.runtime, self.state = folder / "run", folder / "state"
        self.state.mkdir()
        self.runtime.mkdir()
        self.file = folder / "house.yaml"
        self.journal_file = self.state / "journal.db"
        self.until_s = ENDS_S
        self.settle_journal = True  # False: its thread does not answer
        self.viewer: Any = None
        self.notifier = Notifier({})
        self.log = io.StringIO()
        self.keeper: Keeper | None = None
        self.ticks: list[Tick] = []
        self.looks: list[set[str]] = []  # what was on: before the fault, and while it lasted
        self.welded = False  # the heater's contact: it heats whatever its line says
        self.dead: frozenset[int] = frozenset()  # pins of heaters that give no heat
        self.excused: frozenset[str] = frozenset()  # outputs that no program can switch off
        self.astray: list[str] = []  # an output that was on and should not have been, in words
        self._lived_s = START_S
        self._parts_changes: list[Callable[[Parts], Parts | None]] = []
        self._last_acts: list[Callable[[], object]] = []
        self.write_settings()

    # --- laying down -----------------------------------------------------------------------

    def write_settings(
        self,
        *,
        poll_s: float = 10.0,
        setpoint: str = "5",
        pin: int = HEATER,
        geared: bool = False,
        run_s: float = 30.0,
        strategy: str | None = None,
        second: bool = False,
        circuit_w: float | None = None,
        extra: str = "",
    ) -> None:
        """setpoint: with further keys of heat, if need be. geared: an isolator, a fan that
        runs with the heat, a vent in place of the fan, an enable line. run_s: of the
        vent. strategy: instead of STRATEGY. second: a second heater, which takes no turns;
        circuit_w: of the circuit that feeds both. extra: further top-level lines. The journal is
        written twice as often as it usually is, so that a course of a quarter of an hour has
        some batches."""
        journal = "" if "journal:" in extra else "journal: {batch_s: 300}\n"
        circuit = "" if circuit_w is None else f", circuit_w: {circuit_w:g}"
        self.file.write_text(
            "site: {name: fern-house, outdoor_probe: outdoors, timezone: Europe/Brussels"
            f"{circuit}}}\n"
            f"poll_s: {poll_s:g}\n"
            f"onewire: {{folder: {self.bus.folder}}}\n"
            f"folders: {{state: {self.state}, runtime: {self.runtime}}}\n"
            "gpio: {backend: lgpio}\n"
            "probes:\n"
            f"  left: {{kind: onewire, rom: {LEFT}}}\n"
            f"  right: {{kind: onewire, rom: {RIGHT}}}\n"
            f"  outdoors: {{kind: onewire, rom: {OUTDOORS}}}\n"
            "outputs:\n"
            f"  heater: {{kind: gpio, pin: {pin}, on_level: low, power_w: 1500}}\n"
            f"{_SECOND if second else ''}{_GEAR if geared else _FAN}"
            f"{f'vents: {{roof: {{{_ROOF}, run_s: {run_s:g}}}}}' if geared else ''}\n"
            "zones:\n"
            "  bench:\n"
            "    probes: [left, right]\n"
            f"    heat: {{output: heater, setpoint_c: {setpoint}, hysteresis_k: 0.5"
            f"{', with: stirrer' if geared else ''}"
            f"{', second_output: second, take_turns: false' if second else ''}"
            f", strategy: {strategy or STRATEGY}}}\n"
            f"    cool: {{output: {'roof' if geared else 'fan'}, setpoint_c: 26}}\n"
            "plants:\n"
            "  - {name: lemon, zone: bench, min_c: 3}\n"
            f"{journal}{extra}",
            encoding="utf-8",
        )

    def at(self, after_s: float, act: Callable[..., object], *arguments: Any) -> None:
        """At this second after the start, between two ticks."""
        self.clock.at(after_s, lambda: act(*arguments))

    def with_parts(self, change: Callable[[Parts], Parts | None]) -> None:
        """Once assembled, before the first tick: break some part, or give others."""
        self._parts_changes.append(change)

    def afterwards(self, act: Callable[[], object]) -> None:
        """Once the keeper has ended, before anything is looked at."""
        self._last_acts.append(act)

    def reload(self) -> None:
        assert self.keeper is not None
        self.keeper.reload()

    @property
    def parts(self) -> Parts:
        assert self.keeper is not None
        return self.keeper.parts

    # --- living ----------------------------------------------------------------------------

    def live(self) -> Course:
        """From assembling to the end. What ends the keeper is in the course, not raised."""
        self._spy_on_control()
        logs.set_up(self.log)
        error: BaseException | None = None
        try:
            self._run()
        except Exception as met:  # noqa: BLE001 - whatever it is, it is what is looked at
            error = met
        finally:
            structlog.reset_defaults()
            for act in self._last_acts:
                act()
        return self._course(error)

    def _run(self) -> None:
        parts = assemble(self.file, load(self.file), self.clock)
        for change in self._parts_changes:
            parts = change(parts) or parts
        self.keeper = Keeper(
            parts, self.clock, rebuild=reassemble, notifier=self.notifier, viewer=self.viewer
        )
        self.clock.after_tick = self._after_tick
        self.keeper.run(until_s=START_S + self.until_s)

    def _spy_on_control(self) -> None:
        decide = control.step

        def spy(*arguments: Any, **named: Any) -> Tick:
            tick = decide(*arguments, **named)
            self.ticks.append(tick)
            return tick

        self.patch.setattr(control, "step", spy)

    def _after_tick(self) -> None:
        """The record settles, no output is astray, and the bench lives until now."""
        if self.settle_journal and self.parts.journal is not None:
            assert self.parts.journal.settled(_PATIENCE_S), "the journal does not settle"
        self.watch()
        now_s = self.clock.mono_s()
        self.bench.live(now_s - self._lived_s, self.clock.after_s, heated=self.heats())
        self._lived_s = now_s

    def watch(self) -> None:
        """Note every output that is on without permission, its thread's wake allowed for."""
        waiter = threading.Event()
        known = self.excused | {each.split()[0] for each in self.astray}
        for pin, name in NAMES.items():
            if name in known:
                continue
            for _ in range(12):  # that thread wakes in real time, on a busy machine late
                if not self.is_on(pin) or self.permitted(name):
                    break
                waiter.wait(WAKE_S)
            else:
                self.astray.append(f"{name} at {self.clock.after_s:g} s")

    def look(self) -> None:
        """Note which outputs are on, and "enable" if that line moves."""
        on = {name for pin, name in NAMES.items() if self.is_on(pin)}
        if self.heats():
            on.add("heater")
        if self.board.changes(ENABLE):
            before = len(self.board.changes(ENABLE))
            threading.Event().wait(_TURNS_S)
            if len(self.board.changes(ENABLE)) > before:
                on.add("enable")
        self.looks.append(on)

    def heats(self) -> bool:
        """Heat really comes: through the heater's contact, and the isolator's if it has one."""
        whole = not self.board.changes(ISOLATOR) or self.is_on(ISOLATOR)
        return (self._gives(HEATER) or self._gives(SECOND) or self.welded) and whole

    def _gives(self, pin: int) -> bool:
        return self.is_on(pin) and pin not in self.dead

    def is_on(self, pin: int) -> bool:
        """Driven to its on level; a line nobody claimed yet drives nothing."""
        return bool(self.board.changes(pin)) and self.board.level(pin) == ON_LEVEL[pin]

    def permitted(self, name: str) -> bool:
        if not self.ticks:
            return False
        command = next((c for c in self.ticks[-1].commands if c.output == name), None)
        until_s = None if command is None else command.until_s
        return until_s is not None and self.clock.mono_s() <= until_s

    def _course(self, error: BaseException | None) -> Course:
        lines = []
        for line in self.log.getvalue().splitlines():
            with contextlib.suppress(ValueError):  # a fault may have torn the log itself
                lines.append(json.loads(line))
        changes = [
            (seen.mono_s - START_S, seen.level == ON_LEVEL[HEATER])
            for seen in self.board.switched.get(HEATER, [])
        ]
        return Course(self.ticks, error, lines, changes)
