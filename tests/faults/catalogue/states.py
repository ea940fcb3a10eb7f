"""Everything that switches, when something is lost while it is on: safe-states.md, tried.

Each row is one kind of house and one loss. The plain heating house is everywhere else in
the catalogue; here it only says how its heater stands.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from tests.faults.catalogue import broker, clock, journal, probes
from tests.faults.catalogue.outputs import WARM_C
from tests.faults.catalogue.settings import REFUSED
from tests.faults.fault import Fault, Heat, Leaves
from tests.faults.house import (
    BENCH,
    BREAKS_S,
    FAN,
    HEATER,
    ISOLATOR,
    LEFT,
    LOOKS_S,
    MENDS_S,
    NAMES,
    House,
)
from tests.support.mosquitto import free_port
from tests.support.waiting import eventually

OFF, GOES_ON = Leaves.OFF, Leaves.UNAFFECTED
STILL, MOVES = Leaves.STILL, Leaves.MOVES
AS_IT_WAS = Leaves.AS_IT_WAS


class Situation(NamedTuple):
    name: str
    words: str
    geared: bool
    warm: bool
    watched: tuple[str, ...]  # what is on in it


class Loss(NamedTuple):
    name: str
    words: str
    inject: Callable[[House], object]
    told: tuple[str, ...]
    relays: Leaves
    enable: Leaves
    may: tuple[str, ...] = ()


SITUATIONS = (
    Situation("heating", "while heating", geared=False, warm=False, watched=("heater",)),
    Situation("cooling", "while the fan runs", geared=False, warm=True, watched=("fan",)),
    Situation("geared", "heating with isolator and fan", geared=True, warm=False,
              watched=("heater", "isolator", "stirrer", "enable")),
    Situation("airing", "while a vent moves", geared=True, warm=True,
              watched=("vent", "enable")),
)  # fmt: skip


def loop_hangs(house: House) -> None:
    def hang() -> None:
        house.clock.leap(60.0)
        eventually(lambda: not any(map(house.is_on, NAMES)), "it outlived its permission")
        house.look()

    house.at(BREAKS_S, hang)


def ends(house: House) -> None:
    house.until_s = BREAKS_S
    house.afterwards(house.look)


def looks(inject: Callable[[House], object]) -> Callable[[House], None]:
    def lost(house: House) -> None:
        inject(house)
        house.at(LOOKS_S, house.look)

    return lost


def broker_not_there(house: House) -> None:
    text = house.file.read_text(encoding="utf-8")
    text += f"broker: {{host: 127.0.0.1, port: {free_port()}}}\n"
    house.file.write_text(text, encoding="utf-8")
    house.at(LOOKS_S, house.look)


def settings_wrong(house: House) -> None:
    sound = house.file.read_text(encoding="utf-8")
    wrong = sound.replace("setpoint_c: 5", "setpoint_c: 99")
    house.at(BREAKS_S, house.file.write_text, wrong)
    house.at(BREAKS_S, house.reload)
    house.at(LOOKS_S, house.look)
    house.at(MENDS_S, house.file.write_text, sound)
    house.at(MENDS_S, house.reload)


LOSSES = (
    Loss("loop-hangs", "the loop stands still", loop_hangs, ("tick-late",), OFF, STILL),
    Loss("keeper-stops", "the keeper is stopped", ends, (), OFF, STILL),
    Loss("one-probe-lost", "one probe is pulled", looks(probes.on(LEFT, does="vanish")),
         ("probe-missing",), GOES_ON, MOVES),
    Loss("probes-lost", "all probes are pulled", looks(probes.on(*BENCH, does="vanish")),
         ("probe-missing", "zone-blind"), OFF, MOVES),
    Loss("broker-lost", "no broker answers", broker_not_there, broker.LOST, GOES_ON, MOVES),
    Loss("clock-lost", "the clock is set a day back", looks(clock.steps_by(-clock.DAY_S)),
         ("clock-jumped",), GOES_ON, MOVES),
    Loss("disk-lost", "no room left on the card", looks(journal.full),
         ("journal-failing", "settings-changed"), GOES_ON, MOVES),
    Loss("settings-lost", "HUP with a setpoint out of range", settings_wrong, REFUSED, GOES_ON,
         MOVES),
)  # fmt: skip


def _leaves(situation: Situation, loss: Loss) -> Mapping[str, Leaves]:
    def state(output: str) -> Leaves:
        if output == "enable":
            return loss.enable
        return STILL if output == "vent" and loss.relays is OFF else loss.relays

    return {output: state(output) for output in situation.watched}


def _row(situation: Situation, loss: Loss) -> Fault:
    def inject(house: House) -> None:
        if situation.geared:
            house.write_settings(geared=True, run_s=300.0 if situation.warm else 30.0)
        if situation.warm:
            house.bench.UNHEATED_C = house.bench.temp_c = 30.0  # type: ignore[misc]
            house.bench.live(0.0, 0.0, heated=False)
        house.at(BREAKS_S - 5.0, house.look)
        loss.inject(house)

    stuck = loss.relays is AS_IT_WAS and "output-failed" in loss.told
    return Fault(
        f"{situation.name}-{loss.name}", f"{loss.words}, {situation.words}", inject, Heat.OWN,
        loss.told, loss.may, stuck=situation.watched if stuck else (),
        leaves=_leaves(situation, loss),
    )  # fmt: skip


def _rows() -> Iterator[Fault]:
    for situation in SITUATIONS:
        for loss in LOSSES:
            yield _row(situation, loss)


# --- what is no loss of something around the keeper, but of a relay, or too much heat -----------


def over_ceiling(house: House) -> None:
    def hot() -> None:
        house.bench.temp_c = 41.0
        house.bench.live(0.0, BREAKS_S, heated=False)

    house.at(BREAKS_S, hot)


def pin_stuck(pin: int, temp_c: float) -> Callable[[House], None]:
    """The kernel refuses to drive it when it should go off."""

    def inject(house: House) -> None:
        house.at(BREAKS_S, house.board.refuse, "write", pin)
        house.at(MENDS_S, house.board.mend)
        turns(house, temp_c)

    return inject


def welded(house: House) -> None:
    house.at(BREAKS_S, setattr, house, "welded", True)
    turns(house, WARM_C)


def turns(house: House, temp_c: float) -> None:
    """It should go off now."""

    def turn() -> None:
        house.bench.UNHEATED_C = house.bench.temp_c = temp_c  # type: ignore[misc]
        house.bench.live(0.0, BREAKS_S, heated=False)

    house.at(BREAKS_S, turn)


HEATING, COOLING, GEARED, _AIRING = SITUATIONS
ISOLATOR_ONLY = Situation("isolator", "when heat ends", geared=True, warm=False,
                          watched=("isolator",))  # fmt: skip
WATCH = ("stuck-on", "runaway", "probe-jumped", "zone-blind")
OTHERS = (
    (HEATING, Loss("over-ceiling", "41 °C", looks(over_ceiling), ("over-ceiling",), OFF, MOVES,
                   ("probe-jumped", "above-maximum", "zone-blind"))),
    (GEARED, Loss("over-ceiling", "41 °C", looks(over_ceiling), ("over-ceiling",), OFF, MOVES,
                  ("probe-jumped", "above-maximum", "zone-blind"))),
    (HEATING, Loss("pin-stuck", "its pin cannot be driven", looks(pin_stuck(HEATER, WARM_C)),
                   ("output-failed",), AS_IT_WAS, MOVES, ("output-held",))),
    (ISOLATOR_ONLY, Loss("pin-stuck", "its pin cannot be driven",
                         looks(pin_stuck(ISOLATOR, WARM_C)), ("output-failed",), AS_IT_WAS,
                         MOVES)),
    (COOLING, Loss("pin-stuck", "its pin cannot be driven", looks(pin_stuck(FAN, 23.0)),
                   ("output-failed",), AS_IT_WAS, MOVES, ("output-held",))),
    (HEATING, Loss("contact-welded", "the relay's contact welds", looks(welded), (),
                   AS_IT_WAS, MOVES, WATCH)),
    (GEARED, Loss("contact-welded", "the relay's contact welds", looks(welded), (), OFF, MOVES,
                  WATCH)),
)  # fmt: skip


FAULTS = (*_rows(), *(_row(situation, loss) for situation, loss in OTHERS))
