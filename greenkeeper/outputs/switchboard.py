"""The switchboard: every output, and the expiry of every ON.

Lives here: OFF before ON, failures kept apart, holding back an ON while its rival could
not be driven off, and a small thread that drives an output off once its permission has
run out, so that a hung loop cannot keep a heater on. Does not live here: deciding
anything; control/guard.py gives the permissions.

The thread wakes in real time and only looks at the clock. It never waits on it: under
a clock that is turned by hand, waiting would turn it.
"""

import threading
from collections.abc import Callable, Mapping, Sequence
from math import isfinite

from greenkeeper.clock import Clock
from greenkeeper.model import Command, Condition
from greenkeeper.outputs import Answering, OutputDriver, OutputError
from greenkeeper.outputs.enable import EnableLine
from greenkeeper.outputs.rivals import Rivals, names_of

WAKE_S = 0.25
FAILED = "output-failed"
HELD = "output-held"
LATE = "tick-late"
LATE_TEXT = "is off: the loop did not renew its permission in time"
STUMBLED = "part-failed"

# On the way out a driver that hangs is waited for this long and then left behind: the
# others must go off, and the program must end so that `greenkeeper safe` can run.
_HANG_S = 1.0


class Switchboard:
    """Thread-safe. Nothing here raises: what fails is a Condition for as long as it lasts."""

    def __init__(
        self,
        drivers: Mapping[str, OutputDriver],
        clock: Clock,
        *,
        rivals: Sequence[Rivals] = (),
        enable: EnableLine | None = None,
    ) -> None:
        """rivals: outputs that must not meet. enable: moves while the loop vouches."""
        self._channels = {name: _Channel(name, driver) for name, driver in drivers.items()}
        self.keep_apart(rivals)
        self._clock = clock
        self._enable = enable
        self._order = threading.Lock()
        self._stop = threading.Event()
        self._stumble: str | None = None  # what the thread met
        self._thread = self._start_thread()

    def keep_apart(self, rivals: Sequence[Rivals]) -> None:
        """From now on these are what must not meet."""
        self._rivals = {name: names_of(rivals, name) for name in self._channels}

    def apply(self, commands: Sequence[Command]) -> tuple[Condition, ...]:
        """Every OFF first, so that of an interlocked pair one has gone before the other comes.

        An output without a command keeps its state until its permission ends. Of
        contradicting commands, OFF holds. Returns what fails, and what lapsed since last time.
        """
        with self._order:
            self._see_to_the_thread()
            now_s = self._clock.mono_s()
            off = {c.output for c in commands if not c.on}
            until = {c.output: _until_s(c) for c in commands if c.on and c.output not in off}
            planned = {c.output for c in commands if c.planned}
            for name, channel in self._channels.items():
                if name in off:
                    channel.off()
                elif name in until and now_s > until[name]:
                    channel.off(late=name not in planned)
            for name, channel in self._channels.items():
                if name in until and now_s <= until[name]:
                    rival = self._rival(name, channel, now_s)
                    if rival is None:
                        channel.on(until[name], planned=name in planned)
                    else:
                        channel.hold(rival, now_s)
            return self._conditions() + self._unknown(commands)

    def vouch(self, until_s: float) -> None:
        """The loop has finished a round, every stage of it, and is well until then."""
        if self._enable is not None:
            self._enable.vouch(until_s)

    def lapse(self, now_s: float) -> None:
        """Drive off every output whose permission ended before now_s; apply() tells of it.

        An OFF that failed before is tried again.
        """
        for channel in self._channels.values():
            channel.lapse(now_s)

    def all_off(self) -> tuple[Condition, ...]:
        """Every output off, also when some fail or hang, and nobody vouched for. Returns what
        fails."""
        if self._enable is not None:
            self._enable.still()
        for channel in self._channels.values():
            channel.off(patience_s=_HANG_S)
        return self._conditions()

    def close(self) -> tuple[Condition, ...]:
        """All off, then all closed, each one tried whatever the others do.

        Returns what could not be driven off or closed. Safe to call twice.
        """
        self._stop.set()
        self._thread.join(timeout=4 * WAKE_S)
        self.all_off()
        for channel in self._channels.values():
            channel.close()
        if self._enable is not None:
            self._enable.close()
        return self._conditions()

    def _conditions(self) -> tuple[Condition, ...]:
        found = [c for channel in self._channels.values() for c in channel.conditions()]
        if self._stumble is not None:
            found.append(Condition(STUMBLED, "switchboard", self._stumble))
            self._stumble = None
        return (*found, *(self._enable.conditions() if self._enable is not None else ()))

    def _rival(self, name: str, channel: "_Channel", now_s: float) -> str | None:
        """Who holds this output back; None: nobody, or nobody any longer."""
        if channel.is_on:
            return None
        for rival, patience_s in self._rivals[name]:
            waits = patience_s is None or channel.held_for_s(now_s) < patience_s
            if waits and rival in self._channels and self._channels[rival].may_be_on:
                return rival
        return None

    def _unknown(self, commands: Sequence[Command]) -> tuple[Condition, ...]:
        names = sorted({c.output for c in commands} - self._channels.keys())
        return tuple(Condition(FAILED, name, f"there is no output {name}") for name in names)

    def _start_thread(self) -> threading.Thread:
        thread = threading.Thread(target=self._watch, name="switchboard", daemon=True)
        thread.start()
        return thread

    def _see_to_the_thread(self) -> None:
        """Without it a hung loop would keep what is on, on."""
        if self._thread.is_alive() or self._stop.is_set():
            return
        self._stumble = "the thread that ends permissions had died"
        try:
            self._thread = self._start_thread()
        except (RuntimeError, MemoryError) as error:
            self._stumble = f"the thread that ends permissions has died: {error}"

    def _watch(self) -> None:
        while not self._stop.wait(WAKE_S):
            try:
                self.lapse(self._clock.mono_s())
            except Exception as error:  # noqa: BLE001 - whatever it is, permissions must end
                self._stumble = f"looking for ended permissions: {error!r}"


def _until_s(command: Command) -> float:
    """An ON without a proper expiry has no permission at all."""
    if command.until_s is None or not isfinite(command.until_s):
        return float("-inf")
    return command.until_s


class _Channel:
    """One output. Invariant: on only while permitted, or while its driver fails to go off."""

    def __init__(self, name: str, driver: OutputDriver) -> None:
        self._name = name
        self._driver = driver
        self._lock = threading.Lock()
        self._answering = driver if isinstance(driver, Answering) else None
        # As last confirmed. None: nobody knows, because its driver failed or has not answered.
        self._on: bool | None = False if self._answering is None else None
        self._until_s: float | None = None  # the end of its permission; None: it has none
        self._failure = ""
        self._late = False
        self._planned = False  # its permission ends where it should
        self._held_by = ""  # a rival; empty: nobody
        self._held_since_s: float | None = None

    @property
    def is_on(self) -> bool:
        return self._on is True

    @property
    def may_be_on(self) -> bool:
        """On, or nobody knows."""
        certain = self._answering is None or self._answering.certain
        return self._on is not False or not certain

    def held_for_s(self, now_s: float) -> float:
        """Since when its ON has been held back, however it fared meanwhile."""
        return 0.0 if self._held_since_s is None else now_s - self._held_since_s

    def on(self, until_s: float, *, planned: bool = False) -> None:
        with self._lock:
            self._until_s, self._planned, self._held_by = until_s, planned, ""
            self._switch(on=True)

    def hold(self, rival: str, now_s: float) -> None:
        """It would come on, but this rival may be on."""
        with self._lock:
            self._until_s, self._held_by = None, rival
            self._held_since_s = now_s if self._held_since_s is None else self._held_since_s
            self._switch(on=False)

    def off(self, *, late: bool = False, patience_s: float = -1.0) -> None:
        """late: because its permission ended. patience_s: how long to wait for a driver that
        hangs; without it, for ever."""
        if not self._lock.acquire(timeout=patience_s):
            return
        try:
            self._until_s, self._held_by, self._held_since_s = None, "", None
            self._late = self._late or late
            self._switch(on=False)
        finally:
            self._lock.release()

    def lapse(self, now_s: float) -> None:
        # Who holds the lock is switching this very output. Waiting for a driver that hangs
        # would leave the other outputs unwatched.
        if not self._lock.acquire(blocking=False):
            return
        try:
            if self._until_s is not None and now_s > self._until_s:
                self._until_s = None
                self._late = self._late or not self._planned
            if self._until_s is None:
                self._switch(on=False)
        finally:
            self._lock.release()

    def close(self) -> None:
        if not self._lock.acquire(timeout=_HANG_S):
            return
        try:
            self._until_s = None
            self._try(self._driver.close, on=False)
        finally:
            self._lock.release()

    def conditions(self) -> list[Condition]:
        """What fails now, and once what lapsed."""
        if not self._lock.acquire(timeout=_HANG_S):
            return [Condition(FAILED, self._name, f"output {self._name}: its driver hangs")]
        try:
            found = []
            if self._failure:
                found.append(Condition(FAILED, self._name, self._failure))
            if self._late:
                found.append(Condition(LATE, self._name, f"{self._name} {LATE_TEXT}"))
                self._late = False
            if self._held_by:
                text = f"{self._name} waits: {self._held_by} may still be on"
                found.append(Condition(HELD, self._name, text))
            return found
        finally:
            self._lock.release()

    def _switch(self, *, on: bool) -> None:
        if self._on is not on:
            self._try(lambda: self._driver.switch(on=on), on=on)
        elif (answering := self._answering) is not None:
            self._try(lambda: answering.renew(on=on), on=on)

    def _try(self, act: Callable[[], None], *, on: bool) -> None:
        try:
            act()
        except OutputError as error:
            self._on, self._failure = None, str(error)
        except Exception as error:  # noqa: BLE001 # a driver's bug must not spare the others
            self._on, self._failure = None, f"output {self._name}: {error!r}"
        else:
            self._on, self._failure = on, ""
