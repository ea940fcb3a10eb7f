"""The dialogue, with a person and a bench made of lists: no terminal, no file, no pin."""

from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from greenkeeper.pins import Level
from greenkeeper.setup.answers import Answers, Begun, begun_text, read_begun
from greenkeeper.setup.guide import Guide
from greenkeeper.setup.header import PIN_OF_HEADER
from greenkeeper.setup.talk import Trial
from greenkeeper.setup.warming import Warming

BENCH, OUTSIDE = "28-0316a2795a01", "28-0316d2c3e4f5"
AT_REST = {BENCH: 12.0, OUTSIDE: 11.0}


class Person:
    """Answers by what a question begins with, one answer after the other; else Enter."""

    def __init__(self, **answers: list[str]) -> None:
        self.answers = {key.replace("_", " "): list(said) for key, said in answers.items()}
        self.heard: list[str] = []

    def say(self, *lines: str) -> None:
        self.heard += lines

    def ask(self, question: str, default: str = "") -> str:
        self.heard.append(question)
        assert len(self.heard) < 400, "the same question for ever"
        for begin, said in self.answers.items():
            if question.strip().startswith(begin) and said:
                return said.pop(0)
        return default


class Board:
    """Probes that rise one after the other, and relays that remember."""

    def __init__(self, *warmed: Mapping[str, float], refusal: str | None = None) -> None:
        self._warmed = list(warmed)
        self._refusal = refusal
        self.trials: list[Trial] = []

    def temperatures(self) -> Mapping[str, float]:
        return AT_REST

    def watch(self) -> Iterator[Mapping[str, float]]:
        yield AT_REST
        yield self._warmed.pop(0)

    def relay_refusal(self) -> str | None:
        return self._refusal

    def try_relay(self, trial: Trial) -> str | None:
        self.trials.append(trial)
        return None


WARM = ({**AT_REST, OUTSIDE: 13.5}, {**AT_REST, BENCH: 14.0})


def led(person: Person, board: Board) -> Answers:
    return Guide(person, board, trial_s=3.0, timezone="Europe/Brussels").answers()


def usual(**more: list[str]) -> Person:
    answers = {
        "Write_'read'": ["read"],
        "A_name_for_28-0316d2c3e4f5": ["outdoors"],
        "A_name_for_28-0316a2795a01": ["bench"],
        "A_name_for_a_relay": ["heater"],
        "GPIO_of_heater": ["17"],
        **more,
    }
    return Person(**answers)


def test_the_cautions_come_before_the_first_question() -> None:
    person = usual()
    led(person, Board(*WARM))
    asked = next(i for i, line in enumerate(person.heard) if line.startswith("Write 'read'"))
    before = "\n".join(person.heard[:asked])
    assert "Mains voltage kills" in before
    assert "licensed" in before
    assert person.heard.index("BEFORE A RELAY IS TRIED") < next(
        i for i, line in enumerate(person.heard) if line.startswith("GPIO of")
    )


def test_wherever_it_is_left_going_on_ends_at_the_same_answers(tmp_path: Path) -> None:
    """By way of the file, as on a card."""
    kept: list[Begun] = []
    person, board = usual(A_plant=["lemon"], Minimum_of_lemon=["4.5"]), Board(*WARM)
    whole = Guide(person, board, trial_s=3.0, timezone="Europe/Brussels", keep=kept.append)
    expected = whole.answers()
    assert len(kept) == 6, "place, two probes, outdoors, relay, zone"
    for number, each in enumerate(kept):
        file = tmp_path / f"{number}.yaml"
        file.write_text(begun_text(each), encoding="utf-8")
        named = len(each.probes)
        left = {name: ["heater"] for name in ["A_name_for_a_relay"] if not each.outputs}
        plants = {} if each.zones else {"A_plant": ["lemon"], "Minimum_of_lemon": ["4.5"]}
        again = usual(**{"A_name_for_a_relay": [], **left, **plants})
        guide = Guide(
            again,
            Board(*WARM[named:]),
            trial_s=3.0,
            timezone="Europe/Brussels",
            begun=read_begun(file),
        )
        assert guide.answers() == expected, each


def test_nothing_goes_on_before_they_were_read() -> None:
    person = usual(**{"Write_'read'": ["", "yes yes", "read"]})
    led(person, Board(*WARM))
    assert sum(line.startswith("Write 'read'") for line in person.heard) == 3


def test_each_probe_gets_the_name_of_the_one_that_was_warm() -> None:
    answers = led(usual(), Board(*WARM))
    assert answers.probes == {"outdoors": OUTSIDE, "bench": BENCH}
    assert answers.site.outdoor_probe == "outdoors"
    assert answers.zones["bench"].probes == ("bench",)


def test_the_same_probe_in_the_hand_again_is_not_named_twice() -> None:
    board = Board(WARM[0], WARM[0], WARM[1])
    assert led(usual(), board).probes == {"outdoors": OUTSIDE, "bench": BENCH}


def test_a_house_that_grows_warm_as_a_whole_names_nobody() -> None:
    board = Board({BENCH: 15.0, OUTSIDE: 14.0}, *WARM)
    person = usual()
    assert led(person, board).probes == {"outdoors": OUTSIDE, "bench": BENCH}
    assert any("None of them rose alone" in line for line in person.heard)


def test_a_relay_is_tried_only_after_a_yes_and_no_longer_than_told() -> None:
    board = Board(*WARM)
    led(usual(), board)
    assert board.trials == []
    person = usual(Mains_are_away=["yes"], When_was_the=["on"])
    board = Board(*WARM)
    led(person, board)
    assert board.trials == [Trial(17, Level.HIGH, 3.0)]


def test_a_board_the_other_way_round_is_found_out_and_tried_again() -> None:
    board = Board(*WARM)
    person = usual(Mains_are_away=["yes", "yes"], When_was_the=["off", "on"])
    answers = led(person, board)
    assert [trial.on_level for trial in board.trials] == [Level.HIGH, Level.LOW]
    assert answers.outputs["heater"].on_level is Level.LOW


def test_no_relay_is_tried_while_a_keeper_holds_them() -> None:
    board = Board(*WARM, refusal="a keeper is running")
    person = usual(Mains_are_away=["yes"])
    led(person, board)
    assert board.trials == []
    assert any("a keeper is running" in line for line in person.heard)


def test_the_tenderest_plant_takes_the_place_of_a_setpoint() -> None:
    person = usual(A_plant=["lemon"], Minimum_of_lemon=["41 °F"])
    answers = led(person, Board(*WARM))
    assert [(plant.name, plant.min_c) for plant in answers.plants] == [("lemon", 5.0)]
    assert not any(line.startswith("Heat at or below") for line in person.heard)


def test_an_answer_that_makes_no_sense_is_asked_for_again_with_what_is_allowed() -> None:
    person = usual(
        GPIO_of_heater=["seventeen", "44", "17"],
        Price_of_a_kilowatt_hour=["a lot", "nan", "0.32"],
        A_short_name=["My House!", "lean-to"],
    )
    person.answers["Price of a kilowatt-hour"] = person.answers.pop("Price of a kilowatt hour")
    answers = led(person, Board(*WARM))
    assert answers.outputs["heater"].pin == 17
    assert answers.tariff is not None
    assert answers.tariff.per_kwh == 0.32
    assert answers.site.name == "lean-to"


def test_a_pin_that_check_would_refuse_is_refused_before_it_is_driven() -> None:
    """11 is what somebody writes who counted the header's pins: GPIO11 is another one."""
    person = usual(GPIO_of_heater=["11", "4", "17"], Mains_are_away=["yes"], When_was_the=["on"])
    board = Board(*WARM)
    assert led(person, board).outputs["heater"].pin == 17
    assert [trial.pin for trial in board.trials] == [17]
    said = "\n".join(person.heard)
    assert "GPIO11 is a line of the SPI bus. Take 12, 13," in said
    assert "Pin 11 of the header is GPIO17." in said
    assert "GPIO4 carries the 1-Wire probes" in said
    assert "That is pin 11 of the header." in said


def test_every_pin_has_its_place_on_the_header_and_no_two_share_one() -> None:
    assert PIN_OF_HEADER.keys() == set(range(28))
    places = set(PIN_OF_HEADER.values())
    assert len(places) == 28
    # The other twelve are supply and ground (Raspberry Pi documentation, from memory).
    assert set(range(1, 41)) - places == {1, 2, 4, 6, 9, 14, 17, 20, 25, 30, 34, 39}


def test_a_place_on_the_other_side_of_the_world_is_asked_for_again() -> None:
    person = usual(Degrees_north=["50.8", "50.8"], Degrees_east=["-104.4", "4.4"])
    site = led(person, Board(*WARM)).site
    assert (site.latitude, site.longitude) == (50.8, 4.4)
    assert any("Degrees east are positive" in line for line in person.heard)


def test_somebody_who_leaves_leaves() -> None:
    class Gone(Person):
        def ask(self, question: str, default: str = "") -> str:
            raise EOFError

    with pytest.raises(EOFError):
        led(Gone(), Board(*WARM))


def test_the_warm_one_is_told_by_what_it_gained_not_by_how_warm_it_is() -> None:
    warming = Warming()
    assert warming.look({"a": 25.0, "b": 5.0}) is None
    assert warming.look({"a": 25.2, "b": 5.9}) is None
    assert warming.look({"a": 25.2, "b": 6.0}) == "b"


def test_a_probe_that_answers_late_starts_from_its_first_answer() -> None:
    warming = Warming()
    warming.look({"a": 5.0})
    assert warming.look({"a": 5.0, "b": 20.0}) is None
    assert warming.look({"a": 5.0, "b": 21.5}) == "b"


def test_a_probe_that_is_away_for_a_look_hides_nobody() -> None:
    warming = Warming()
    warming.look({"a": 5.0, "b": 5.0})
    assert warming.look({"b": 6.5}) == "b"
    assert warming.look({}) is None
