"""Two heaters in one zone: one of them is dead, or cannot be switched, or must wait."""

from collections.abc import Callable

from greenkeeper.model import Tick
from tests.faults.catalogue.states import welded
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, ENDS_S, HEATER, MENDS_S, SECOND, Course, House

_CIRCUIT_W = 2000.0  # bears one of the two
_TAKES_S = 340.0  # a minute, and as long as the first sign of warmth takes
_JOINS_S = 850.0  # a minute, and until the first's heat would have shown


def dead(
    *pins: int, refused: bool = False, circuit_w: float | None = None
) -> Callable[[House], None]:
    """Elements that give no heat, from the first. refused: nor can the second be switched."""

    def inject(house: House) -> None:
        house.write_settings(second=True, circuit_w=circuit_w)
        house.dead = frozenset(pins)
        if refused:
            house.at(BREAKS_S, house.board.refuse, "write", SECOND)

    return inject


def first_refused(circuit_w: float | None) -> Callable[[House], None]:
    """It cannot be driven on until it is mended, so nobody knows whether it is on."""

    def inject(house: House) -> None:
        house.write_settings(second=True, circuit_w=circuit_w)
        house.at(5.0, house.board.refuse, "write", HEATER)
        house.at(MENDS_S, house.board.mend)

    return inject


def first_welded(house: House) -> None:
    """It is warm enough then, so neither is wanted."""
    house.write_settings(second=True, circuit_w=_CIRCUIT_W)
    welded(house)


def _wanted(tick: Tick, output: str) -> bool:
    return next(each.on for each in tick.commands if each.output == output)


def _second_from(after_s: float, to_s: float) -> Callable[[House, Course], None]:
    def check(house: House, course: Course) -> None:
        start_s = course.ticks[0].now.mono_s
        times_s = [each.now.mono_s - start_s for each in course.ticks if _wanted(each, "second")]
        assert times_s, "the second never came on"
        assert min(times_s) <= after_s, f"the second came on after {min(times_s):.0f} s"
        assert max(times_s) >= to_s, f"the second was last on after {max(times_s):.0f} s"

    return check


def _taken_over(house: House, course: Course) -> None:
    _never_both(house, course)
    _second_from(_TAKES_S, ENDS_S - 30.0)(house, course)


def _second_never(house: House, course: Course) -> None:
    assert not any(_wanted(each, "second") for each in course.ticks)


def _never_both(house: House, course: Course) -> None:
    for tick in course.ticks:
        assert not (_wanted(tick, "heater") and _wanted(tick, "second"))


def _waits(house: House, course: Course) -> None:
    """While nobody knew whether the first was on: a fuse would end all heat."""
    _never_both(house, course)
    start_s = course.ticks[0].now.mono_s
    unsure = [each for each in course.ticks if 100.0 < each.now.mono_s - start_s < MENDS_S - 30.0]
    assert unsure
    assert not any(_wanted(each, "second") for each in unsure)


FAULTS = (
    Fault("first-of-two-dead", "the first heater's element gives no heat", dead(HEATER),
          Heat.GOES_ON, ("second-heater",), also=_second_from(_JOINS_S, ENDS_S - 30.0)),
    Fault("second-of-two-dead", "the second heater's element, while the first is enough",
          dead(SECOND), Heat.GOES_ON, also=_second_never),
    Fault("second-of-two-unreachable", "the first is dead, and the second's pin refuses",
          dead(HEATER, refused=True), Heat.GOES_ON, ("second-heater", "output-failed"),
          also=_second_from(_JOINS_S, ENDS_S - 30.0)),
    Fault("first-of-two-unreachable", "the first heater's pin refuses", first_refused(None),
          Heat.OWN, ("output-failed",), also=_second_from(120.0, MENDS_S)),
    Fault("first-unreachable-tight-circuit", "likewise, on a circuit that bears one heater",
          first_refused(_CIRCUIT_W), Heat.OWN, ("output-failed",), also=_waits),
    Fault("first-dead-tight-circuit", "the first gives no heat, on a circuit that bears one",
          dead(HEATER, circuit_w=_CIRCUIT_W), Heat.OWN, may=("stands-in",), also=_taken_over),
    Fault("second-dead-tight-circuit", "likewise the second, while the first is enough",
          dead(SECOND, circuit_w=_CIRCUIT_W), Heat.GOES_ON, also=_second_never),
    Fault("first-of-two-welded", "the first's contact welds, on a circuit that bears one",
          first_welded, Heat.STOPS, also=_second_never),
)  # fmt: skip
