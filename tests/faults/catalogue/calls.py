"""An exception out of every call the loop makes to others: call n, then n+1, once and for ever.

Each row is a sweep of short runs, one for every call there is, until a run comes to its
end before the call that was to fail. The way SQLite is tested (sqlite.org/testing.html,
"Anomaly Testing").
"""

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

from greenkeeper import control, logs
from greenkeeper.broker.client import BrokerClient
from greenkeeper.inbox import Inbox
from greenkeeper.journal.writer import JournalWriter
from greenkeeper.keepsakes import Keepsakes
from greenkeeper.notify import Notifier
from greenkeeper.outputs import OutputError
from greenkeeper.outputs.gpio import GpioOutputDriver
from greenkeeper.outputs.switchboard import Switchboard
from greenkeeper.probes.collector import Collector, ContactCollector
from greenkeeper.probes.onewire import OnewireGroup
from greenkeeper.status import StatusFile
from tests.faults.catalogue.outputs import warm_at
from tests.faults.fault import End, Fault, Heat
from tests.faults.house import Course, House
from tests.support.mosquitto import free_port

ENDS_S = 150.0  # cold at first; it heats from 60 s on, and is warm enough at 110 s
WARM_S = 105.0


class Screen:
    """A viewer that sees nothing."""

    def show(self, tick: object, document: object) -> None:
        """Nothing to do."""


class Sweep(NamedTuple):
    name: str
    broken: str
    owner: Any
    method: str
    error: Callable[[], Exception]
    lasting: bool
    after: bool = False  # it does its work, and fails then: nothing is left open
    told: tuple[str, ...] = ("part-failed",)
    may: tuple[str, ...] = ()
    fatal: bool = False  # it ends the keeper, with every output off
    stuck: tuple[str, ...] = ()

    def run(self, call: int, fired: list[int]) -> Fault:
        """The fault of this call. It notes in `fired` that the call came at all."""

        def inject(house: House) -> None:
            house.until_s = ENDS_S
            house.viewer = Screen()
            house.write_settings(extra=f"broker: {{host: 127.0.0.1, port: {free_port()}}}\n")
            warm_at(house, WARM_S)
            house.patch.setattr(self.owner, self.method, self._failing(call, fired))

        return Fault(
            f"{self.name}, call {call}", self.broken, inject, Heat.OWN,
            may=(*self.told, *self.may, "broker-lost"), end=End.OWN, stuck=self.stuck,
            also=lambda _, course: self._came_of_it(fired, course),
        )  # fmt: skip

    def _failing(self, call: int, fired: list[int]) -> Callable[..., Any]:
        act = getattr(self.owner, self.method)
        calls = 0

        def failing(*arguments: Any, **named: Any) -> Any:
            nonlocal calls
            calls += 1
            fails = calls >= call if self.lasting else calls == call
            if self.after or not fails:
                answer = act(*arguments, **named)
            if fails:
                fired.append(calls)
                raise self.error()
            return answer

        return failing

    def _came_of_it(self, fired: list[int], course: Course) -> None:
        if fired:
            assert set(self.told) <= course.codes(), f"told {sorted(course.codes())}"
        assert (course.error is not None) == (self.fatal and bool(fired)), course.error


def bug() -> Exception:
    return RuntimeError("a bug")


def refusal() -> Exception:
    return OutputError("output heater: the kernel refuses")


FATAL = {"fatal": True, "told": ("keeper-failed",)}
BLIND = ("probe-unreadable", "zone-blind")

# Who, what it is called, its owner, its method, and what differs from a listener.
SITES: tuple[tuple[str, Any, str, dict[str, Any]], ...] = (
    ("probes-read", OnewireGroup, "read", {"told": (), "may": BLIND}),
    ("output-switch", GpioOutputDriver, "switch",
     {"told": ("output-failed",), "error": refusal, "stuck": ("heater", "fan")}),
    ("output-close", GpioOutputDriver, "close",
     {"told": ("output-failed",), "error": refusal, "after": True}),
    ("journal-record", JournalWriter, "record", {}),
    ("journal-note", JournalWriter, "note", {}),
    ("journal-conditions", JournalWriter, "conditions", {}),
    ("journal-close", JournalWriter, "close", {"after": True}),
    ("broker-publish", BrokerClient, "publish", {}),
    ("broker-conditions", BrokerClient, "conditions", {}),
    ("broker-orders", BrokerClient, "orders", {}),
    ("broker-close", BrokerClient, "close", {"after": True}),
    ("status-write", StatusFile, "write", {}),
    ("status-conditions", StatusFile, "conditions", {}),
    ("status-remove", StatusFile, "remove", {}),
    ("keepsakes-save", Keepsakes, "save", {}),
    ("keepsakes-conditions", Keepsakes, "conditions", {}),
    ("inbox-take", Inbox, "take", {}),
    ("contacts-ask", ContactCollector, "ask", {}),
    ("contacts-answers", ContactCollector, "answers", {}),
    ("contacts-close", ContactCollector, "close", {"after": True}),
    ("screen-show", Screen, "show", {}),
    ("log-tell", logs, "tell", {}),
    ("manager-alive", Notifier, "alive", {}),
    ("manager-stopping", Notifier, "stopping", {}),
    ("probes-collect", Collector, "collect", FATAL),
    ("control-step", control, "step", FATAL),
    ("outputs-apply", Switchboard, "apply", FATAL),
)  # fmt: skip


def _sweeps() -> Iterator[Sweep]:
    for name, owner, method, differs in SITES:
        what = f"{getattr(owner, '__name__', '').rpartition('.')[2]}.{method}"
        more = {"error": bug, **differs}
        yield Sweep(f"{name}-raises-once", f"{what} raises, once", owner, method,
                    lasting=False, **more)  # fmt: skip
        if not more.get("fatal"):  # there is no second time
            yield Sweep(f"{name}-raises-for-ever", f"{what} raises, from then on", owner, method,
                        lasting=True, **more)  # fmt: skip


FAULTS = tuple(_sweeps())
