"""The only loop: collect, decide, switch, tell.

Lives here: the order of a tick's outer half, signals, reloading, and the way out, which
always leaves every output off. Does not live here: any decision about heat (control),
and how the parts are made (assembly.py).
"""

import signal
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

from greenkeeper import control, logs, status
from greenkeeper.assembly import HardwareRefusedError, Parts
from greenkeeper.clock import Clock
from greenkeeper.errors import GreenkeeperError
from greenkeeper.lean import structlog
from greenkeeper.learned import Learned
from greenkeeper.model import (
    Command,
    Condition,
    Event,
    Memory,
    Morning,
    Now,
    Order,
    Phase,
    Request,
    Tick,
)
from greenkeeper.notify import Notifier
from greenkeeper.outputs import switchboard
from greenkeeper.shield import Shield

# How long a stop may take before the outputs are driven off without the loop's help.
STOP_GRACE_S = 5.0

_MANAGER = "service manager"


class Viewer(Protocol):
    """Somebody who watches each tick; a terminal, usually."""

    def show(self, tick: Tick, document: status.StatusDocument) -> None: ...


class Reporter(Protocol):
    """A part that can fail without stopping the loop, and says so."""

    def conditions(self) -> Sequence[Condition]: ...


class Keeper:
    """One run of the keeper, from its first tick to every output off."""

    def __init__(
        self,
        parts: Parts,
        clock: Clock,
        *,
        rebuild: Callable[[Parts, Clock], Parts] | None = None,
        notifier: Notifier | None = None,
        viewer: Viewer | None = None,
    ) -> None:
        """rebuild makes new parts from the settings file as it is now (assembly.reassemble);
        without it the settings never change."""
        self.parts = parts
        self._clock = clock
        self._rebuild = rebuild
        self._notifier = notifier or Notifier({})
        self._viewer = viewer
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._reload = threading.Event()
        self._finished = threading.Event()
        self._last: Tick | None = None
        self._learned: Learned | None = None  # what the plan was made with
        self._shield = Shield()
        self._failed_outputs: tuple[Condition, ...] = ()
        self._asked: Sequence[Request] = ()
        self._started = clock.now()
        self._about = parts.about(self._started)
        kept = parts.keepsakes.load()
        self.memory: Memory = control.fresh(
            parts.plan, self._started, kept.latches, parts.wear.load(), kept.overrides
        )

    # --- what others may ask, from any thread ----------------------------------------

    def stop(self) -> None:
        self._stop.set()
        self._wake.set()

    def reload(self) -> None:
        self._reload.set()
        self._wake.set()

    # --- the loop ----------------------------------------------------------------------

    def run(self, *, until_s: float | None = None) -> None:
        """Tick until stopped, or until this monotonic second. Whatever happens, every
        output is off when this returns or raises."""
        clean = False
        try:
            version = f"version {self.parts.version}"
            self._tell(self._event("keeper-started", self.parts.site, version))
            self._loop(until_s)
            clean = True
        except Exception as error:
            structlog.get_logger().critical("keeper-failed", exc_info=True)
            self._tell(self._event("keeper-failed", self.parts.site, repr(error)))
            raise
        finally:
            self._shut_down(clean)

    def _loop(self, until_s: float | None) -> None:
        due_s = self._clock.mono_s()
        first = True
        while not self._stop.is_set() and (until_s is None or due_s <= until_s):
            if self._reload.is_set():
                self._reload.clear()
                self._take_new_settings()
            self.tick()
            if first:
                self._shield.call(_MANAGER, self._notifier.ready, self.parts.poll_s)
                first = False
            due_s = self._next_due(due_s)
            self._wait_until(due_s)

    def _next_due(self, due_s: float) -> float:
        """Ticks keep their rhythm; those missed altogether are not made up for, and one that
        came early, for a reload, does not put off the next."""
        rounds = (self._clock.mono_s() - due_s) // self.parts.poll_s
        return due_s + (rounds + 1.0) * self.parts.poll_s

    def _wait_until(self, due_s: float) -> None:
        self._clock.wait_until(due_s, self._wake)
        self._wake.clear()

    def tick(self) -> Tick:
        """One tick: the newest readings in, commands and records out."""
        self._take_what_is_learned()
        parts = self.parts
        if parts.hygrometers is not None:
            parts.hygrometers.ask()  # they are read while the probes are
        self._shield.call("contacts", parts.contacts.ask)  # looked at while the probes measure
        readings = parts.collector.collect()
        contacts = self._shield.call("contacts", parts.contacts.answers) or {}
        self._asked = self._requests()
        tick = control.step(
            readings,
            self.memory,
            parts.plan,
            self._clock.now(),
            reports=self._reports(),
            requests=self._asked,
            humidity={} if parts.hygrometers is None else parts.hygrometers.answers(),
            orders=self._orders(),
            contacts=contacts,
            morning=self._morning(),
        )
        self._failed_outputs = parts.switchboard.apply(tick.commands)
        self.memory = tick.memory
        self._note_commissioning()
        self._last = tick
        self._record(tick)
        # Last of all: a round that hangs anywhere before this is not vouched for.
        parts.switchboard.vouch(self._clock.mono_s() + parts.plan.lease_s)
        return tick

    def _take_what_is_learned(self) -> None:
        """Heat in proportion, and what is heated ahead, go by the house's figures: those of last
        night, if there are any."""
        parts = self.parts
        if not (parts.plan.pulses or parts.plan.stores):
            return
        learned = self._shield.call("learned", parts.learned.newest)
        if learned is not self._learned:
            self._learned = learned
            plan = control.with_learned(parts.plan, parts.settings, learned)
            self.parts = parts._replace(plan=plan)

    def _morning(self) -> Morning | None:
        parts = self.parts
        return self._shield.call("morning", parts.morning.morning) if parts.plan.dawns else None

    def _note_commissioning(self) -> None:
        """A test's result is for the record alone, so control has never heard of it."""
        for request in self._asked:
            if request.commissioned:
                test, _, result = request.commissioned.partition(": ")
                self._tell(self._event("commissioned", test, result))

    def _reports(self) -> list[Condition]:
        parts = self.parts
        found = [*parts.troubles, *self._failed_outputs]
        reporters: dict[str, Reporter | None] = {
            "keepsakes": parts.keepsakes,
            "wear": parts.wear,
            "learned": parts.learned,
            "outlook": parts.outlook,
            "journal": parts.journal,
            "broker": parts.broker,
            "alarms": parts.alarms,
            "heartbeat": parts.heartbeat,
            "status": parts.status_file,
        }
        for name, part in reporters.items():
            if part is not None:
                found += self._shield.call(name, part.conditions) or ()
        return [*found, *self._shield.conditions()]

    def _requests(self) -> Sequence[Request]:
        return self._shield.call("inbox", self.parts.inbox.take) or ()

    def _orders(self) -> Sequence[Order]:
        broker = self.parts.broker
        return () if broker is None else self._shield.call("broker", broker.orders) or ()

    def _record(self, tick: Tick) -> None:
        """Tell everybody. None of them makes the loop wait, and what they raise ends here."""
        parts, call = self.parts, self._shield.call
        memory = tick.memory
        call("keepsakes", parts.keepsakes.save, memory.latches, memory.overrides.values())
        call("wear", parts.wear.save, tick.memory.outputs, tick.now.mono_s)
        if parts.journal is not None:
            call("journal", parts.journal.record, tick)
        if parts.broker is not None:
            call("broker", parts.broker.publish, tick)
        seen: frozenset[tuple[str, str]] = frozenset()
        if parts.alarms is not None:
            seen = call("alarms", parts.alarms.take, tick, self._asked) or seen
        document = call("status", status.document, tick, self._about, seen)
        if document is not None:
            call("status", parts.status_file.write, document)
            if self._viewer is not None:
                call("screen", self._viewer.show, tick, document)
        for event in tick.events:
            call("log", logs.tell, event)
        if parts.heartbeat is not None:
            call("heartbeat", parts.heartbeat.beat)
        call(_MANAGER, self._notifier.alive, _one_line(tick))

    # --- settings that change ------------------------------------------------------------

    def _take_new_settings(self) -> None:
        if self._rebuild is None:
            return
        before = self.parts
        self._learned = None
        try:
            self.parts = self._rebuild(before, self._clock)
        except HardwareRefusedError as error:
            self.parts = before._replace(**error.hardware._asdict())
            self._tell(self._event("settings-refused", "settings", str(error)))
        except GreenkeeperError as error:
            self._tell(self._event("settings-refused", "settings", str(error)))
        else:
            self._tell(self._event("settings-changed", "settings", str(before.settings_file)))
        self._go_on_from(before)

    def _go_on_from(self, before: Parts) -> None:
        outputs_kept = self.parts.switchboard is before.switchboard
        self.memory = control.carried_over(
            self.memory, self.parts.plan, self._clock.now(), outputs_kept=outputs_kept
        )
        if not outputs_kept:
            self._failed_outputs = ()
        self._about = self.parts.about(self._started)

    # --- the way out ------------------------------------------------------------------------

    def _shut_down(self, clean: bool) -> None:
        parts, call = self.parts, self._shield.call
        failed = call("outputs", parts.switchboard.close)  # first: everything else can wait
        if failed is not None:
            self._finished.set()
        call(_MANAGER, self._notifier.stopping)
        for condition in failed or ():
            self._tell(self._event(condition.code, condition.subject, condition.text))
        if clean:
            self._tell(self._event("keeper-stopped", parts.site, _farewell(failed)))
        call("wear", parts.wear.save, self.memory.outputs, self._clock.mono_s(), last=True)
        call("probes", parts.collector.close)
        if parts.hygrometers is not None:
            call("hygrometers", parts.hygrometers.close)
        call("contacts", parts.contacts.close)
        if parts.broker is not None:
            if self._last is not None and failed is not None:
                call("broker", parts.broker.publish, _all_off(self._last, self._clock.now()))
            call("broker", parts.broker.close)
        if parts.journal is not None:
            call("journal", parts.journal.close, self._clock.now(), clean=clean)
        if parts.heartbeat is not None:
            call("heartbeat", parts.heartbeat.close)
        if parts.alarms is not None:
            call("alarms", parts.alarms.close, self._clock.now())
        call("status", parts.status_file.remove)

    def _event(self, code: str, subject: str, text: str) -> Event:
        now: Now = self._clock.now()
        return Event(code, Phase.NOTED, subject, text, now.mono_s, now.utc_s)

    def _tell(self, event: Event) -> None:
        self._shield.call("log", logs.tell, event)
        if self.parts.journal is not None:
            self._shield.call("journal", self.parts.journal.note, event)
        if self.parts.alarms is not None:
            self._shield.call("alarms", self.parts.alarms.note, event)

    def force_off_unless_finished(self) -> bool:
        """After a stop was asked for: give the loop its grace, then switch off without it.

        Returns whether the loop had to be left behind. For the signal thread.
        """
        if self._finished.wait(STOP_GRACE_S):
            return False
        self.parts.switchboard.all_off()
        return True


def _farewell(failed: Sequence[Condition] | None) -> str:
    """None: the switchboard itself failed."""
    if failed is None:
        return "NOT SURELY OFF: every output"
    names = [condition.subject for condition in failed if condition.code == switchboard.FAILED]
    return f"NOT SURELY OFF: {', '.join(names)}" if names else "every output is off"


def _all_off(tick: Tick, now: Now) -> Tick:
    """The last tick as it stands once everything was driven off, for those left behind."""
    reason = "the keeper was stopped"
    outputs = {
        name: state._replace(
            on=False,
            since_s=now.mono_s if state.on else state.since_s,
            until_s=None,
            reason=reason,
            was_on_s=state.on_s(now.mono_s),
        )
        for name, state in tick.memory.outputs.items()
    }
    return tick._replace(
        commands=tuple(Command(name, False, None, reason) for name in outputs),
        events=(),
        memory=tick.memory._replace(outputs=outputs),
    )


def _one_line(tick: Tick) -> str:
    """For the service manager's status line."""
    zones = ", ".join(
        f"{view.name} {'blind' if view.coldest_c is None else f'{view.coldest_c:.1f} °C'}"
        for view in tick.zones
    )
    running = [command.output for command in tick.commands if command.on]
    return f"{zones}; on: {', '.join(running) or 'nothing'}"


class Signals:
    """TERM and INT stop the keeper, HUP makes it read its settings again.

    A thread of its own takes them, because a handler could interrupt the loop inside a
    lock, and because a loop that hangs must not keep a heater on: after STOP_GRACE_S
    the outputs are driven off from here and the process is left by `leave`.
    """

    WATCHED = frozenset({signal.SIGTERM, signal.SIGINT, signal.SIGHUP})

    def __init__(self, leave: Callable[[int], None]) -> None:
        """Make this before any other thread: they inherit which signals are blocked.

        leave: os._exit; a signal that comes before `serve` waits for it.
        """
        self._leave = leave
        signal.pthread_sigmask(signal.SIG_BLOCK, self.WATCHED)

    def serve(self, keeper: Keeper) -> None:
        threading.Thread(target=self._watch, args=(keeper,), name="signals", daemon=True).start()

    def _watch(self, keeper: Keeper) -> None:
        while (caught := signal.sigwait(self.WATCHED)) == signal.SIGHUP:
            keeper.reload()
        keeper.stop()
        if keeper.force_off_unless_finished():
            name = signal.Signals(caught).name
            structlog.get_logger().critical("keeper-failed", text=f"{name}: the loop hangs")
            self._leave(70)
