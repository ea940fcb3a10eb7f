"""The board says everything without colour, in eighty columns."""

import re

import pytest

from greenkeeper.model import Fault
from greenkeeper.reports import board, words
from greenkeeper.status import About, ContactStatus, StatusDocument, document
from tests.control.houses import ONE_ZONE, Player

ANSI = re.compile(r"\x1b\[[0-9;]*m")


def about(**changes) -> About:
    plain = About(
        version="0.1.0",
        site="fern-corner",
        timezone="Europe/Brussels",
        started_utc_s=1.8e9,
        poll_s=10.0,
        outdoor_probe="outdoors",
        zone_probes={"bench": tuple(ONE_ZONE["zones"]["bench"]["probes"])},
        zone_minimum_c={"bench": 4.0},
        modes={"heater": "heat", "fan": "cool"},
        rated_operations={},
        contacts={},
    )
    return plain._replace(**changes)


def cold_night() -> StatusDocument:
    player = Player()
    player.settle(6.0, for_s=100.0)
    for _ in range(4):
        tick = player.tick({"bench-left": 4.9, "bench-right": 5.2, "ridge": 6.0, "outdoors": -4.25})
    return document(tick, about())


def test_the_life_that_relays_have_used_is_shown_where_there_are_relays() -> None:
    assert not any("rated life" in line for line in board.lines(cold_night()))
    status = cold_night()
    status["outputs"]["heater"] |= {"operations": 12_345, "rated_operations": 100_000}
    status["outputs"]["fan"] |= {"operations": 0, "rated_operations": 50_000}
    assert "of their rated life, relays have used: heater 12 %, fan 0 %" in board.lines(status)


def test_contacts_say_what_is_so_and_since_when() -> None:
    status = cold_night()
    status["contacts"] = {
        "heater-contactor": _contact(status, "contactor-closed", True, 75.0),
        "mains": _contact(status, "mains-present", False, 4000.0),
        "amps": _contact(status, "heater-current", True, 0.0),
        "door": _contact(status, "door-open", None, 10.0, "GPIO6 is busy: " + "why " * 20),
    }
    lines = board.lines(status)
    first = lines.index("heater-contactor  closed           1 min")
    assert lines[first + 1 : first + 5] == [
        "mains             no mains         1 h 06 min",
        "amps              current flows    0 s",
        "door              unknown          10 s",
        "                  GPIO6 is busy: why why why why why why why why why why why why",
    ]
    assert all(len(line) <= board.WIDTH for line in lines)


def _contact(
    status: StatusDocument, tells: str, active: bool | None, for_s: float, detail: str = ""
) -> ContactStatus:
    since_utc_s = status["utc_s"] - for_s
    return ContactStatus(
        tells=tells, of=None, active=active, since_utc_s=since_utc_s, detail=detail
    )


@pytest.mark.parametrize(
    ("tells", "so", "not_so"),
    [
        ("door-open", "open", "shut"),
        ("mains-present", "mains present", "no mains"),
        ("contactor-closed", "closed", "open"),
        ("heater-current", "current flows", "no current"),
    ],
)
def test_every_kind_of_contact_has_its_words(tells: str, so: str, not_so: str) -> None:
    status = cold_night()
    assert words.contact(_contact(status, tells, True, 0.0)) == so
    assert words.contact(_contact(status, tells, False, 0.0)) == not_so
    assert words.contact(_contact(status, tells, None, 0.0)) == "unknown"


def blind_house() -> StatusDocument:
    player = Player()
    for _ in range(20):
        tick = player.bench(Fault.MISSING)
    return document(tick, about())


def text(status: StatusDocument, **arguments) -> str:
    return "\n".join(board.lines(status, **arguments))


def test_a_cold_night_reads_like_this():
    assert text(cold_night()).splitlines()[1:] == [
        "",
        "All plants safe. Bench 4.9 °C, heater on since 09:01.",
        "",
        "bench              4.9 °C   heat at 5.0 °C, cool at 26.0 °C, day",
        "                            0.9 K above the tenderest plant's minimum",
        "  bench-left       4.9 °C",
        "  bench-right      5.2 °C",
        "  ridge            6.0 °C",
        "  outdoors        −4.2 °C",
        "",
        "heater        ON   30 s        bench-left 4.9 °C is at or below 5.0 °C",
        "fan           off  2 min       bench-right 5.2 °C is cool enough, off at 24.5 °C",
    ]


def test_an_alarm_comes_first_and_is_a_word_not_a_colour():
    shown = text(blind_house())
    assert "Bench: no trusted probe in the zone." in shown
    assert re.search(r"^ALARM    \d\d:\d\d  bench: no trusted probe", shown, re.MULTILINE)
    assert "no reading" in shown


def test_colour_adds_nothing_but_colour():
    status = blind_house()
    assert ANSI.sub("", text(status, colour=True)) == text(status)


@pytest.mark.parametrize("make", [cold_night, blind_house])
def test_every_line_fits_eighty_columns(make):
    status = make()
    status["outputs"]["heater"]["reason"] = "held off " * 30
    status["probes"]["ridge"] = {
        "temp_c": None,
        "age_s": None,
        "fault": "missing",
        "detail": "the folder is gone " * 10,
    }
    strip = board.Strip("bench", [5.0] * 40, [0.5] * 40, "each column 20 min")
    for line in board.lines(status, strip=strip, silence="x" * 70):
        assert len(line) <= 80, line


def test_the_strip_draws_the_course_and_leaves_gaps_open():
    strip = board.Strip("bench", [4.0, None, 8.0], [0.0, 0.5, 1.0], "each column 20 min")
    shown = text(cold_night(), strip=strip).splitlines()
    course = next(line for line in shown if line.startswith("bench  ") and "to" in line)
    assert "▁ █" in course
    assert any(line.startswith("heat") and " ▒█" in line for line in shown)


def test_a_strip_without_any_temperature_is_left_out():
    strip = board.Strip("bench", [None, None], [0.0, 0.0], "each column 20 min")
    assert "each column" not in text(cold_night(), strip=strip)


def test_a_latch_says_how_it_is_cleared():
    status = cold_night()
    status["latches"] = ["over-ceiling-bench"]
    status["alarms"] = [
        {
            "code": "over-ceiling",
            "level": 3,
            "title": "over the ceiling",
            "subject": "bench",
            "text": "ridge 41.0 °C went over 40.0 °C",
            "since_utc_s": 1.8e9,
            "name": "over-ceiling-bench",
            "seen": False,
        }
    ]
    assert "greenkeeper clear over-ceiling-bench" in text(status)
    assert ", seen" not in text(status)
    status["alarms"][0]["seen"] = True
    assert ", seen" in text(status)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, "0 s"), (59.9, "59 s"), (60, "1 min"), (3599, "59 min"), (3600, "1 h 00 min"),
     (90_061, "1 d 1 h"), (-5, "0 s")],
)  # fmt: skip
def test_durations_are_said_in_the_largest_units_that_fit(seconds, said):
    assert words.duration(seconds) == said


def test_a_keeper_that_has_gone_quiet_looks_dead():
    status = cold_night()
    assert words.silence(status, status["utc_s"] + 30.0) is None
    said = words.silence(status, status["utc_s"] + 400.0)
    assert said == "The keeper has said nothing for 6 min. What follows is what it last knew."


def test_an_unset_clock_is_said_beside_the_time():
    status = cold_night()
    status["clock_trusted"] = False
    assert "(clock not set)" in text(status)


# --- the headline is true ------------------------------------------------------------


def test_nobody_is_called_safe_who_is_below_the_minimum_or_unseen() -> None:
    status = cold_night()
    status["zones"]["bench"]["coldest_c"] = 3.9
    assert words.headline(status) == (
        "Plants below their minimum in bench. Bench 3.9 °C, heater on since 09:01."
    )
    status["zones"]["bench"]["coldest_c"] = None
    assert words.headline(status) == (
        "No reading in bench. Bench no reading, heater on since 09:01."
    )


def test_the_headline_says_since_when_there_has_been_no_heat() -> None:
    status = cold_night()
    status["outputs"]["heater"] |= {"on": False, "since_utc_s": status["utc_s"] - 3 * 3600.0}
    assert words.headline(status) == "All plants safe. Bench 4.9 °C, heat off since 06:02."
    status["outputs"]["heater"]["since_utc_s"] -= 86_400.0
    assert words.headline(status).endswith("heat off since Thu 14 Jan 06:02.")
    del status["outputs"]["heater"]
    assert words.headline(status).endswith("Bench 4.9 °C, nothing running.")


def test_what_to_do_tonight_stands_among_what_runs() -> None:
    status = cold_night()
    advice = "The heater will do. Lay the fleece before 17:40 to save 2.1 of 5.3 kWh."
    lines = board.lines(status, tonight=[("bench", advice)])
    first = lines.index(
        "tonight       The heater will do. Lay the fleece before 17:40 to save 2.1 of 5.3"
    )
    assert lines[first + 1] == "              kWh."
    both = board.lines(status, tonight=[("bench", advice), ("tented-bench", advice)])
    assert any(line.startswith("tonight tented-bench  The heater will do.") for line in both)
    assert all(len(line) <= board.WIDTH for line in both)


# --- who guards the plants -----------------------------------------------------------


def test_nothing_true_of_a_dead_keeper_is_said_before_its_death() -> None:
    status = cold_night()
    gone = words.standing(None, status["utc_s"])
    assert gone == (False, 3, "No keeper is running: nobody guards the plants.")
    quiet = words.standing(status, status["utc_s"] + 400.0)
    assert (quiet.alive, quiet.level) == (False, 3)
    assert quiet.sentence.startswith("Nobody may be guarding the plants. The keeper has said")
    lines = board.lines(status, silence=words.silence(status, status["utc_s"] + 400.0))
    assert not any(line.startswith("All plants safe") for line in lines)
    assert any(line.startswith("It last said: All plants safe") for line in lines)


def test_a_keeper_that_is_well_is_as_grave_as_its_worst_alarm() -> None:
    status = cold_night()
    assert words.standing(status, status["utc_s"]) == (True, 0, words.headline(status))
    status["zones"]["bench"]["coldest_c"] = 3.9  # no alarm yet: its cause must last
    assert words.standing(status, status["utc_s"]).level == 3


def test_orders_from_afar_are_shown_with_their_end() -> None:
    status = cold_night()
    ordered = status["zones"]["bench"] | {"ordered_until_utc_s": status["utc_s"] + 3600.0}
    status["zones"]["bench"] = ordered
    line = next(line for line in board.lines(status) if line.startswith("bench "))
    end = words.moment(status["utc_s"] + 3600.0, "Europe/Brussels", with_day=False)
    assert f"heat at 5.0 °C as ordered until {end}, cool at 26.0 °C" in line
    status["zones"]["bench"]["off_until_utc_s"] = status["utc_s"] + 3600.0
    line = next(line for line in board.lines(status) if line.startswith("bench "))
    assert line.endswith(f"OFF until {end}, as ordered")
    assert "bench 4.9 °C, switched off" in words.headline(status).lower().replace("°c", "°C")
    assert all(len(line) <= 80 for line in board.lines(status))
