"""Which part of a night can teach anything, and what is said of the rest."""

import math

import pytest

from greenkeeper.house.learning.nights import MINUTES, Evidence, Night, Skipped, prepared

MINUTES_OF_NIGHT = 14 * 60
BEGAN_S = 1_800_000_000.0


def evidence(**changed: object) -> Evidence:
    """A night at 5 and 6 °C inside and -3 °C outdoors, the heater on a quarter of each minute."""
    whole: dict[str, object] = {
        "from_utc_s": BEGAN_S,
        "inside_c": {"left": [5.0] * MINUTES_OF_NIGHT, "right": [6.0] * MINUTES_OF_NIGHT},
        "outdoor_c": [-3.0] * MINUTES_OF_NIGHT,
        "heater_s": [15.0] * MINUTES_OF_NIGHT,
        "undisturbed": [True] * MINUTES_OF_NIGHT,
    }
    return Evidence(**{**whole, **changed})  # type: ignore[arg-type] - as each test wants it


def night(found: Night | Skipped) -> Night:
    assert isinstance(found, Night)
    return found


def reason(found: Night | Skipped) -> str:
    assert isinstance(found, Skipped)
    return found.reason


def holed(values: list[float], first: int, last: int) -> list[float | None]:
    return [None if first <= at < last else each for at, each in enumerate(values)]


def test_a_whole_night_is_taken_whole() -> None:
    found = night(prepared(evidence()))
    assert (found.from_utc_s, found.to_utc_s) == (BEGAN_S, BEGAN_S + 60.0 * MINUTES_OF_NIGHT)
    assert found.inside_c == pytest.approx([5.5] * (MINUTES_OF_NIGHT // MINUTES))
    assert found.duty[1:] == pytest.approx(0.25)
    assert found.lift == pytest.approx([0.85] * (MINUTES_OF_NIGHT // MINUTES))


def test_heat_is_counted_from_where_the_readings_of_a_minute_lie() -> None:
    heater_s = [0.0] * MINUTES_OF_NIGHT
    heater_s[100] = 60.0
    found = night(prepared(evidence(heater_s=heater_s, reading_s=15.0)))
    # A minute's readings at 15 s stand for -15 to 45 s: the last quarter is the next one's.
    assert found.duty.ravel()[100:102] == pytest.approx([0.75, 0.25])
    assert found.duty.sum() == pytest.approx(1.0)


def test_a_gap_inside_is_a_gap_and_the_night_goes_on() -> None:
    gone = holed([5.0] * MINUTES_OF_NIGHT, 300, 360)
    found = night(prepared(evidence(inside_c={"left": gone, "right": [6.0] * MINUTES_OF_NIGHT})))
    assert len(found.inside_c) == MINUTES_OF_NIGHT // MINUTES
    assert [at for at, each in enumerate(found.inside_c) if math.isnan(each)] == list(range(60, 72))


def test_a_probe_that_was_never_there_is_left_out() -> None:
    nobody = [None] * MINUTES_OF_NIGHT
    found = night(prepared(evidence(inside_c={"left": [5.0] * MINUTES_OF_NIGHT, "right": nobody})))
    assert found.inside_c == pytest.approx(5.0)


@pytest.mark.parametrize(("minutes", "bridged"), [(20, True), (60, False)])
def test_a_short_gap_outdoors_is_bridged_and_a_long_one_cuts(minutes: int, bridged: bool) -> None:
    gone = holed([-3.0] * MINUTES_OF_NIGHT, 500, 500 + minutes)
    found = night(prepared(evidence(outdoor_c=gone)))
    assert len(found.inside_c) == (MINUTES_OF_NIGHT if bridged else 500) // MINUTES


@pytest.mark.parametrize("what", ["undisturbed", "heater_s"])
def test_where_it_was_aired_or_nobody_watched_the_longest_rest_is_taken(what: str) -> None:
    fine = {"undisturbed": True, "heater_s": 15.0}[what]
    cut = {"undisturbed": False, "heater_s": None}[what]
    given = [cut if 200 <= at < 230 else fine for at in range(MINUTES_OF_NIGHT)]
    found = night(prepared(evidence(**{what: given})))
    assert found.from_utc_s == BEGAN_S + 230 * 60.0


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"inside_c": {"left": [None] * MINUTES_OF_NIGHT}}, "no probe inside"),
        ({"outdoor_c": [None] * MINUTES_OF_NIGHT}, "outdoors"),
        ({"undisturbed": [False] * MINUTES_OF_NIGHT}, "aired"),
        ({"heater_s": [None] * MINUTES_OF_NIGHT}, "not recorded"),
        ({"undisturbed": [at % 200 > 0 for at in range(MINUTES_OF_NIGHT)]}, "in one piece"),
        (
            {"inside_c": {"left": [5.0] * MINUTES_OF_NIGHT,
                          "right": [6.0] * 500 + [15.0] * (MINUTES_OF_NIGHT - 500)}},
            "disagreed",
        ),
    ],
)  # fmt: skip
def test_a_night_that_teaches_nothing_says_why(changed: dict[str, object], why: str) -> None:
    assert why in reason(prepared(evidence(**changed)))


def test_an_empty_night_is_no_error() -> None:
    assert reason(prepared(Evidence(BEGAN_S, {}, [], [], [])))
    assert reason(prepared(Evidence(BEGAN_S, {"left": []}, [], [], [])))
