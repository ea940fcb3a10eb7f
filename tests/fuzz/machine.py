"""What may happen to a keeper, in any order: the rules of the fuzz.

Lives here: KeeperMachine, a state machine for hypothesis. Does not live here: what must
hold (watchers.py).
"""

import errno
import functools
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)

from greenkeeper import files, inbox
from greenkeeper.journal.check import findings
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.store import Store
from greenkeeper.model import Request
from tests.faults.catalogue.contacts import AMPS, DOOR, INPUTS, MAINS, MIRROR, Wires
from tests.faults.house import CLOSES, FAN, HEATER, ISOLATOR, LEFT, OPENS, OUTDOORS, RIGHT, STIRRER
from tests.fuzz.nursery import Nursery
from tests.support.mosquitto import Mosquitto

ROMS = st.sampled_from([LEFT, RIGHT, OUTDOORS])
PINS = st.sampled_from([HEATER, FAN, ISOLATOR, STIRRER, OPENS, CLOSES])
SPOILS = ["vanish", "crc_no", "power_on", "conversion_failed", "all_zero", "all_ones", "empty",
          "short", "garbage", "rubbish"]  # fmt: skip
WEATHERS = {"frost": (6.5, -5.0), "mild": (12.0, 7.0), "sunny": (33.0, 30.0), "fiery": (70.0, 55.0)}
STRATEGIES = st.sampled_from(["hysteresis", "proportion"])
BAD = ["zones: [", "", "\x00\xff", "site: {name: 5}\n", "poll_s: -3\n"]


THEN = st.sampled_from([1, 1, 2, 4, 8, 15, 30, 60])  # ticks it lives on afterwards


def happening(**strategies: Any) -> Callable[[Callable[..., None]], Any]:
    """A rule after which it lives on for a while."""

    def decorate(act: Callable[..., None]) -> Any:
        @rule(then=THEN, **strategies)
        @functools.wraps(act)
        def acts(self: "KeeperMachine", then: int, **drawn: Any) -> None:
            act(self, **drawn)
            for _ in range(then):
                self.keeper.tick()

        return acts

    return decorate


class Tally:
    """How much was lived through, over all runs of this process."""

    runs = ticks = switchings = restarts = events = latched = 0
    kept_s = 0.0
    each: Callable[[], None] = staticmethod(lambda: None)  # told after every run


class KeeperMachine(RuleBasedStateMachine):
    place: Path | None = None  # where folders are made; None: the system's own

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="fuzz-", dir=self.place))
        self.patch = pytest.MonkeyPatch()
        self.gone: set[str] = set()
        self.geared = False
        self.broken_parts: set[str] = set()
        self._break_parts()

    @initialize(geared=st.booleans(), strategy=STRATEGIES)
    def begin(self, geared: bool, strategy: str) -> None:
        self.geared = geared
        self.mosquitto = Mosquitto(self.folder / "mosquitto")
        self.listens = False
        self.keeper = Nursery(self.folder, self.patch)
        self.house = self.keeper.house
        self.wires = Wires(self.house)
        self._write_settings(strategy=strategy)
        self.house.bench.LAG_S = 400.0  # type: ignore[misc] # so quick that much is switched
        self.keeper.start()

    @invariant()
    def nothing_is_broken(self) -> None:
        if hasattr(self, "keeper"):
            self._assert_unbroken()

    # --- time passes ----------------------------------------

    @happening(seconds=st.sampled_from([5.0, 25.0, 31.0, 60.0, 200.0, 4000.0]))
    def hangs(self, seconds: float) -> None:
        """The loop does, or all of it sleeps."""
        self.house.clock.leap(seconds)
        self.keeper.watchers.permissions()

    @happening(
        jump_s=st.sampled_from([-1e8, -86400.0, -3600.0, -1.0, 1.0, 3600.0, 1e8]),
        trusted=st.booleans(),
    )
    def civil_clock_is_set(self, jump_s: float, trusted: bool) -> None:
        self.house.clock.set_civil(self.house.clock.now().utc_s + jump_s)
        self.house.clock.clock_trusted = trusted

    # --- the weather and the probes ----------------------------------------

    @happening(kind=st.sampled_from(sorted(WEATHERS)))
    def weather_turns(self, kind: str) -> None:
        self.house.bench.HEATED_C, self.house.bench.UNHEATED_C = WEATHERS[kind]  # type: ignore[misc]

    @happening(temp_c=st.sampled_from([1.0, 4.9, 5.0, 5.1, 5.5, 25.9, 26.0, 39.9, 41.0, 60.0]))
    def bench_jumps(self, temp_c: float) -> None:
        self.house.bench.temp_c = temp_c

    @happening(rom=ROMS, how=st.sampled_from(SPOILS))
    def probe_fails(self, rom: str, how: str) -> None:
        if rom not in self.gone:
            self.house.bench.hold(rom)
            self.house.bus.set_temp(rom, self.house.bench.temp_c)  # some need a whole answer
            getattr(self.house.bus, how)(rom)
            if how == "vanish":
                self.gone.add(rom)

    @happening(
        rom=ROMS, temp_c=st.sampled_from([-55.0, -10.0, 0.0, 4.0, 5.0, 20.0, 41.0, 85.0, 125.0])
    )
    def probe_lies(self, rom: str, temp_c: float) -> None:
        if rom not in self.gone:
            self.house.bench.hold(rom)
            self.house.bus.set_temp(rom, temp_c)

    @happening()
    def probes_are_mended(self) -> None:
        for rom in (LEFT, RIGHT, OUTDOORS):
            if rom in self.gone:
                self.house.bus.appear(rom)
            self.house.bench.let_go(rom)
        self.gone.clear()

    # --- the relays ----------------------------------------

    @happening(pin=PINS, operation=st.sampled_from(["write", "read"]))
    def pin_refuses(self, pin: int, operation: str) -> None:
        self.keeper.watchers.faulty.add(pin)
        self.house.board.refuse(operation, pin, errno.EIO)

    @happening(pin=PINS, level=st.sampled_from([0, 1]))
    def pin_is_held(self, pin: int, level: int) -> None:
        """From outside: it reads back as something else."""
        self.keeper.watchers.faulty.add(pin)
        self.house.board.force(pin, level)

    @precondition(lambda self: self.keeper.watchers.faulty)
    @happening()
    def pins_are_mended(self) -> None:
        self.house.board.mend()
        self.wires.join()
        for _ in range(2):  # what failed is tried again
            self.keeper.tick()
        self.keeper.watchers.mended()

    @happening(
        pin=st.sampled_from([MIRROR, MAINS, AMPS, DOOR]),
        level=st.sampled_from([0, 1, None, "flickers", "true"]),
    )
    def contact_says(self, pin: int, level: Any) -> None:
        if level == "true":
            self.wires.let_go(pin)
        elif level == "flickers":
            self.wires.flicker(pin)
        else:
            self.wires.hold(pin, level)

    # --- settings and people ----------------------------------------

    @happening(
        setpoint=st.sampled_from(["5", "8", "12", "5, night_setpoint_c: 9"]),
        poll_s=st.sampled_from([10.0, 10.0, 5.0]),
        strategy=STRATEGIES,
    )
    def settings_change(self, setpoint: str, poll_s: float, strategy: str) -> None:
        self._write_settings(setpoint=setpoint, poll_s=poll_s, strategy=strategy)
        self.reload()

    def _write_settings(self, **changes: Any) -> None:
        extra = f"broker: {{host: 127.0.0.1, port: {self.mosquitto.port}}}\n{INPUTS}"
        self.house.write_settings(geared=self.geared, extra=extra, **changes)

    @happening(text=st.sampled_from(BAD))
    def settings_are_wrong(self, text: str) -> None:
        sound = self.house.file.read_bytes()
        self.house.file.write_text(text, encoding="utf-8")
        before = self.house.parts.settings if self.keeper.running else None
        self.reload()
        self.house.file.write_bytes(sound)
        assert before is None or self.house.parts.settings is before, "wrong settings were taken"

    @happening(name=st.sampled_from(["over-ceiling-bench", "stuck-on-heater", "no-such"]))
    def person_clears(self, name: str) -> None:
        if self.keeper.running:
            inbox.ask(self.house.runtime, Request(clear=name))

    @happening(name=st.sampled_from(["heater", "no-such"]))
    def person_fits_a_relay(self, name: str) -> None:
        if self.keeper.running:
            inbox.ask(self.house.runtime, Request(new_relay=name))

    def reload(self) -> None:
        if self.keeper.running:
            self.house.reload()
            self.keeper.tick()

    # --- the process and its surroundings ----------------------------------------

    @happening(crashes=st.booleans())
    def is_restarted(self, crashes: bool) -> None:
        if crashes:
            self.keeper.crash()
        else:
            self.keeper.stop()
        Tally.restarts += 1
        self.house.clock.advance(2.0)
        if not self.keeper.running:
            self.keeper.start()

    @happening()
    def broker_comes_or_goes(self) -> None:
        if self.listens:
            self.mosquitto.kill()
        else:
            self.mosquitto.start()
        self.listens = not self.listens

    @happening(part=st.sampled_from(["card", "status", "keepsakes"]))
    def part_fails_or_recovers(self, part: str) -> None:
        self.broken_parts ^= {part}

    def _break_parts(self) -> None:
        write, replace = Store.write, files.replace

        def write_or_fail(store: Store, *arguments: Any) -> None:
            if "card" in self.broken_parts:
                raise OSError(errno.ENOSPC, "no room")
            write(store, *arguments)

        def replace_or_fail(path: Path, *arguments: Any, **named: Any) -> None:
            if Path(path).stem in self.broken_parts:
                raise OSError(errno.ENOSPC, "no room")
            replace(path, *arguments, **named)

        self.patch.setattr(Store, "write", write_or_fail)
        self.patch.setattr(files, "replace", replace_or_fail)

    # --- the end ----------------------------------------

    def teardown(self) -> None:
        try:
            if hasattr(self, "keeper"):
                self._end()
        finally:
            if hasattr(self, "mosquitto"):
                self.mosquitto.kill()
            self.patch.undo()
            shutil.rmtree(self.folder)
            Tally.each()

    def _end(self) -> None:
        self.broken_parts.clear()
        self.house.board.mend()
        self.keeper.close()
        watchers = self.keeper.watchers
        Tally.runs += 1
        Tally.ticks += watchers.ticks
        Tally.switchings += watchers.switchings
        Tally.events += watchers.events
        Tally.latched += watchers.latched
        Tally.kept_s += self.house.clock.after_s
        self._assert_unbroken()
        with Journal(self.house.journal_file) as journal:
            assert [text for text in findings(journal) if text.startswith("damaged")] == []

    def _assert_unbroken(self) -> None:
        broken = self.keeper.violations()
        assert not broken, "\n".join(broken)
