"""A propagator whose probe and switch are both on a real broker, kept by the real loop."""

import json
import threading
from pathlib import Path

from greenkeeper.assembly import assemble
from greenkeeper.broker.exchange import Exchange
from greenkeeper.clock import SystemClock
from greenkeeper.daemon import Keeper
from greenkeeper.settings.load import load
from tests.broker.house import Keeper as OtherDevice
from tests.support.mosquitto import Mosquitto
from tests.support.waiting import eventually

SETTINGS = """\
site: {{name: shed, clock: trusted}}
poll_s: 1
probes:
  frame: {{kind: broker, topic: garden/frame, field: /t, stale_s: 5, jump_confirm_s: 0}}
outputs:
  mat:
    kind: broker
    topic: mat/set
    order_on: '{{"on": true, "for": {{hold_s}}}}'
    order_off: '{{"on": false}}'
    answers: mat/state
    answer_field: /on
    says_on: 'true'
    says_off: 'false'
    hold_s: 20
    confirm_s: 3
    min_on_s: 0
    min_off_s: 0
zones:
  frame:
    probes: [frame]
    heat: {{output: mat, setpoint_c: 5, independent_limit: true}}
folders: {{state: {root}/state, runtime: {root}/run}}
broker: {{host: 127.0.0.1, port: {port}, keepalive_s: 5}}
"""


class Propagator:
    """The sensor and the switch: another device on the same broker."""

    def __init__(self, port: int) -> None:
        self.temp_c: float | None = None
        self.on = False
        self.deaf = False
        self.orders = 0
        self.exchange = Exchange()
        self.exchange.subscribe("mat/set", self._ordered)
        self.link = OtherDevice(port, exchange=self.exchange, device="propagator")
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._report, daemon=True)

    def __enter__(self) -> "Propagator":
        self.link.__enter__()
        self.link.tick()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self.link.__exit__()

    def _report(self) -> None:
        while not self._stop.wait(0.3):
            if self.temp_c is not None:
                self.exchange.send("garden/frame", json.dumps({"t": self.temp_c}).encode())

    def _ordered(self, payload: bytes, retained: bool) -> None:
        if not self.deaf and not retained:
            self.orders += 1
            self.on = json.loads(payload)["on"]
            self.exchange.send("mat/state", json.dumps({"on": self.on}).encode())


def test_it_heats_by_what_is_reported_and_its_switch_answers_for_it(tmp_path: Path) -> None:
    with Mosquitto(tmp_path / "hub") as hub, Propagator(hub.port) as propagator:
        # What the broker kept from a summer's day must not count.
        hub.publish("garden/frame", '{"t": 31}', retain=True)
        file = tmp_path / "house.yaml"
        file.write_text(SETTINGS.format(root=tmp_path, port=hub.port), encoding="utf-8")
        keeper = Keeper(assemble(file, load(file), SystemClock()), SystemClock())
        thread = threading.Thread(target=keeper.run, daemon=True)
        thread.start()

        def status() -> dict:
            written = tmp_path / "run" / "status.json"
            return json.loads(written.read_text("utf-8")) if written.exists() else {}

        def alarms() -> set[str]:
            return {alarm["code"] for alarm in status().get("alarms", [])}

        try:
            eventually(lambda: propagator.orders > 0, "the first order to be off", within_s=30.0)
            assert not propagator.on
            propagator.temp_c = 4.0
            eventually(lambda: propagator.on, "heat", within_s=30.0)
            before = propagator.orders
            eventually(lambda: propagator.orders >= before + 2, "its timer wound up again", 30.0)
            assert "output-failed" not in alarms()
            propagator.temp_c = 9.0
            eventually(lambda: not propagator.on, "no more heat", within_s=30.0)
            propagator.deaf = True
            eventually(lambda: "output-failed" in alarms(), "its silence told", within_s=30.0)
            propagator.deaf = False
        finally:
            keeper.stop()
            thread.join(30.0)
        assert not thread.is_alive()
        assert not propagator.on
