"""Going through the commissioning sheet, and the sheet for people."""

import re
from pathlib import Path

import pytest

from greenkeeper.setup.commissioning import FAILED, LONGEST_REMARK, PASSED, TRIALS, walk
from tests.setup.test_guide import Person

SHEET = Path(__file__).parents[2] / "hardware-notes/commissioning.md"
ALL_PASSED = {trial.name: PASSED for trial in TRIALS}


class Record:
    def __init__(self, *troubles: str) -> None:
        self.kept: list[tuple[str, str]] = []
        self._troubles = list(troubles)

    def __call__(self, test: str, result: str) -> str | None:
        if self._troubles:
            return self._troubles.pop(0)
        self.kept.append((test, result))
        return None


def test_the_sheet_for_people_has_the_same_tests_in_the_same_words() -> None:
    rows = re.findall(
        r"^\| ([a-z-]+) \| (\w+) \| (.+?) \| (.+?) \| .+ \|$", SHEET.read_text(), re.M
    )
    told = [(trial.name, trial.whose or "you", trial.do, trial.must) for trial in TRIALS]
    assert rows[0] == ("test", "who", "do", "must")
    assert rows[1:] == told


def test_every_answer_is_recorded_with_its_remark() -> None:
    person, record = (
        Person(passed=[PASSED] * len(TRIALS), A_remark=["by J., with a lamp"]),
        Record(),
    )
    assert walk(person, record, {}) == 0
    assert record.kept[0] == (TRIALS[0].name, "passed: by J., with a lamp")
    assert [name for name, _ in record.kept] == [trial.name for trial in TRIALS]


def test_the_cautions_come_before_the_first_test() -> None:
    person = Person()
    walk(person, Record(), {})
    assert "Mains voltage kills" in person.heard[1]


def test_what_was_put_off_is_not_recorded_and_not_passed() -> None:
    record = Record()
    assert walk(Person(), record, {}) == len(TRIALS)
    assert record.kept == []


def test_what_was_passed_is_not_asked_again_and_what_failed_is() -> None:
    person, record = Person(passed=[PASSED]), Record()
    earlier = {**ALL_PASSED, "killed": "failed: stayed on", "of-another-sheet": FAILED}
    assert walk(person, record, earlier) == 0
    assert record.kept == [("killed", PASSED)]
    assert any("stayed on" in line for line in person.heard)


def test_a_failure_is_recorded_and_says_that_no_heat_may_be_left_to_it() -> None:
    person, record = Person(passed=[FAILED]), Record()
    assert walk(person, record, {**ALL_PASSED, "hung": ""}) == 1
    assert record.kept == [("hung", FAILED)]
    assert any("Leave no heat" in line for line in person.heard)


def test_a_result_that_cannot_be_recorded_is_tried_until_it_is() -> None:
    person, record = Person(passed=[PASSED]), Record("no keeper is running", "nor now")
    assert walk(person, record, {**ALL_PASSED, "hung": ""}) == 0
    assert record.kept == [("hung", PASSED)]
    assert any("no keeper is running" in line for line in person.heard)


@pytest.mark.parametrize("trial", [t for t in TRIALS if t.whose], ids=lambda trial: trial.name)
def test_work_of_a_licensed_person_is_called_that_before_it_is_told(trial: object) -> None:
    person = Person()
    walk(person, Record(), {})
    told = person.heard
    where = next(i for i, line in enumerate(told) if line.endswith(f": {trial.name}"))  # type: ignore[attr-defined]
    assert "licensed electrician" in told[where + 1]


def test_a_remark_is_one_line_of_bounded_length() -> None:
    person, record = Person(passed=[PASSED], A_remark=["long " * 1000]), Record()
    walk(person, record, {**ALL_PASSED, "hung": ""})
    assert len(record.kept[0][1]) <= LONGEST_REMARK + len("passed: ")
