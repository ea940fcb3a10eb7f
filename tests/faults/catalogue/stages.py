"""Two heaters in one zone: one of them is dead, or cannot be switched, or must wait."""

from collections.abc import Callable

from greenkeeper.model import Tick
from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, ENDS_S, HEATER, MENDS_S, SECOND, Course, House

_CIRCUIT_W = 2000.0  # bears one of the two
_JOINS_S = 850.0  # a minute, and until the first's heat would have shown


def dead(*pins: int, refused: bool = False) -> Callable[[House], None]:
    """Elements that give no heat, from the first. refused: nor can the second be switched."""

    def inject(house: House) -> None:
        house.write_settings(second=True)
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


def _second_never(house: House, course: Course) -> None:
    assert not any(_wanted(each, "second") for each in course.ticks)


def _never_both(house: House, course: Course) -> None:
    for tick in course.ticks:
        assert not (_wanted(tick, "heater") and _wanted(tick, "second"))
    # While nobody knew whether the first was on, the second waited: a fuse would end all heat.
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
          first_refused(_CIRCUIT_W), Heat.OWN, ("output-failed",), also=_never_both),
)  # fmt: skip
