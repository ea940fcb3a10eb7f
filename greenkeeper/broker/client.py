"""BrokerClient: the thread that tells the broker how the house stands, for ever.

    publish(tick) -> Desk -> [this thread: Conversation over Link and Session] -> broker

Lives here: connecting, coming back, and what to say of it to the keeper. Does not live
here: what is said to the broker (keeper.py, session.py) and paho (link.py).

Control only lays its newest tick down. Nothing waits in a queue while the broker is
away: the next connection is told the house as it then stands. Every connection has a
client, a password read and a certificate store of its own, so nothing that went wrong
can outlive it.
"""

import hashlib
import ssl
import threading
import time
import traceback
from typing import Any, Literal

from greenkeeper.broker import access, refusals
from greenkeeper.broker.conversation import Conversation, Desk
from greenkeeper.broker.exchange import Exchange
from greenkeeper.broker.keeper import KeeperDevice
from greenkeeper.broker.last_night import Nights
from greenkeeper.broker.link import V5, V311, Link, LinkError, Target
from greenkeeper.broker.orders import Orders
from greenkeeper.broker.outlook import Outlooks
from greenkeeper.broker.pace import Backoff, Pace, usual_pace
from greenkeeper.clock import Clock
from greenkeeper.lean import structlog
from greenkeeper.model import Condition, Order, Tick
from greenkeeper.settings.schema import Broker, Settings

LOST, REFUSED = "broker-lost", "broker-refused"
SUBJECT = "broker"


class BrokerClient:
    """Publishes the keeper's state. Only close() ever waits, and nothing raises once made."""

    def __init__(
        self,
        settings: Settings,
        clock: Clock,
        version: str,
        *,
        started_s: float | None = None,
        pace: Pace | None = None,
        exchange: Exchange | None = None,
        nights: Nights = lambda _: None,
        outlooks: Outlooks = lambda: None,
    ) -> None:
        """version: this program's own. clock: the one the ticks are stamped with.

        nights, outlooks: give the last night and the coming one, if they were kept.
        exchange: what other rooms read and send over this connection.
        started_s: monotonic second of the keeper's start, if this client is not its first.
        Raises ValueError without broker settings.
        """
        if settings.broker is None:
            raise ValueError("the settings name no broker")
        self._broker = settings.broker
        began_s = clock.mono_s() if started_s is None else started_s
        self._device = KeeperDevice(
            settings, program=version, started_s=began_s, nights=nights, outlooks=outlooks
        )
        self._pace = pace or usual_pace(settings.poll_s, settings.broker.keepalive_s)
        self._desk = Desk(exchange or Exchange(), Orders(self._device.commands))
        self._thread: threading.Thread | None = None
        self._trouble: Condition | None = None
        self._protocol = V5
        self._backoff = Backoff(self._pace)

    def start(self) -> None:
        """Begin, in a thread of its own."""
        self._complain(LOST, "not connected yet")
        self._start_thread()

    def publish(self, tick: Tick) -> None:
        """Lay the newest tick down; the one before is forgotten if it was not sent yet."""
        self._desk.lay(tick)
        if self._thread is not None and not self._thread.is_alive() and not self._desk.closing:
            self._start_thread()

    def conditions(self) -> tuple[Condition, ...]:
        """What is wrong with the broker at this moment, if anything."""
        trouble = self._trouble
        own = () if trouble is None else (trouble,)
        return (*own, *self._desk.exchange.conditions(), *self._desk.orders.conditions())

    def orders(self) -> tuple[Order, ...]:
        """What was ordered over the broker since the last call, oldest first."""
        return self._desk.orders.take_out()

    def close(self, *, remove: bool = False) -> None:
        """Say goodbye and end the thread. remove: the device goes from the broker as well, if
        a connection stands. Safe to call twice. Takes close_s at the most: a
        thread that hangs in name resolution is left behind, and says no more."""
        self._desk.removing = remove
        self._desk.closing = True
        self._desk.bell.ring()
        thread = self._thread
        if thread is not None and thread.is_alive():
            thread.join(self._pace.close_s)
        if thread is None or not thread.is_alive():
            self._desk.bell.close()

    # --- the thread ------------------------------------------------------------------

    def _start_thread(self) -> None:
        self._thread = threading.Thread(target=self._run, name="broker", daemon=True)
        try:
            self._thread.start()
        except (RuntimeError, MemoryError):
            # Control goes on, and the next tick tries again.
            self._complain(LOST, "this machine has no room for another thread")

    def _run(self) -> None:
        try:
            while not self._desk.closing:
                wait_s = self._connect_once()
                self._desk.bell.hush()
                if not self._desk.closing:  # asked after the hush: its ring may be gone
                    self._desk.bell.wait(wait_s)
        finally:
            if self._desk.closing:
                self._desk.bell.close()  # close() may have given up waiting long ago
            else:
                self._complain(LOST, "its thread has ended")

    def _connect_once(self) -> float:
        """One connection, whatever becomes of it. Returns the seconds to wait before the next."""
        began_s = time.monotonic()
        conversation = Conversation(self._device, self._desk, self._pace, self._report)
        try:
            conversation.hold(Link(self._target()))
        except Exception as error:  # noqa: BLE001 - nothing may end this thread
            if isinstance(error, LinkError) and error.older_mqtt:
                self._protocol = V311
                return 0.0
            self._complain(*_diagnosis(error))
        if not conversation.accepted:
            self._protocol = V5
            return self._backoff.wait_s(None)
        return self._backoff.wait_s(time.monotonic() - began_s)

    def _target(self) -> Target:
        broker, device = self._broker, self._device
        return Target(
            host=broker.host,
            port=broker.port,
            keepalive_s=broker.keepalive_s,
            client_id=client_id(device.root),
            username=broker.username,
            password=access.password(broker),
            tls=access.tls_context(broker.tls),
            root=device.root,
            protocol=self._protocol,
        )

    # --- what is told of it ----------------------------------------------------------

    def _report(self, refusal: str | None) -> None:
        if refusal is not None:
            self._complain(REFUSED, refusal)
        elif self._trouble is not None:
            self._trouble = None
            _log("info", "broker-connected", host=self._broker.host, mqtt=self._protocol.name)

    def _complain(self, code: str, why: str) -> None:
        """Keep it for conditions(), and log it unless it was the last thing logged."""
        trouble = Condition(code, SUBJECT, f"{place(self._broker)}: {why}")
        if trouble != self._trouble:
            self._trouble = trouble
            _log("info", code, text=trouble.text)


def same_device(one: Settings, other: Settings) -> bool:
    """Whether both show the same device on the same broker."""
    places = [
        None
        if each.broker is None
        else (place(each.broker), each.broker.domain, each.broker.device or each.site.name)
        for each in (one, other)
    ]
    return places[0] == places[1]


def place(broker: Broker) -> str:
    """Where it is, for people."""
    return broker.host if broker.is_socket else f"{broker.host}:{broker.port}"


def client_id(root: str) -> str:
    """The same after every restart, and of the form every broker must accept: 23 letters
    and digits at the most (MQTT 5.0, 3.1.3.1)."""
    device = "".join(filter(str.isalnum, root.rsplit("/", 1)[-1]))
    return f"gk{device[:13]}{hashlib.sha256(root.encode()).hexdigest()[:8]}"


def _diagnosis(error: Exception) -> tuple[str, str]:
    """The condition's code, and the reason in plain words."""
    match error:
        case LinkError():
            return (REFUSED if error.needs_a_person else LOST), str(error)
        case access.AccessError():
            return REFUSED, str(error)
        case ssl.SSLCertVerificationError():
            return REFUSED, refusals.of_connecting(error)
        case OSError():
            return LOST, refusals.of_connecting(error)
    # Our own mistake. The trace carries no local variables, hence no password.
    _log("error", "broker-fault", trace="".join(traceback.format_exception(error)))
    return LOST, f"a fault in this program ({type(error).__name__}); the log has it whole"


def _log(level: Literal["info", "error"], code: str, **fields: Any) -> None:
    try:
        getattr(structlog.get_logger(), level)(code, **fields)
    except Exception:  # noqa: BLE001 - a log that can't be written must not end the thread
        return
