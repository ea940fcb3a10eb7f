"""A file of answers: taken, or told what is wrong with it, all at once."""

from pathlib import Path

import pytest

from greenkeeper.commands.setup import HELP
from greenkeeper.settings.faults import SettingsError
from greenkeeper.setup.answers import parse_answers, read_answers

EXAMPLE = HELP.partition("\n\n  cautions")[2].partition("\n\ncautions")[0]
EXAMPLE = "  cautions" + EXAMPLE


def test_the_example_in_the_help_is_taken() -> None:
    answers = parse_answers(EXAMPLE, "help")
    assert answers.probes["bench"] == "28-0316a2795a01"
    assert answers.zones["bench"].heater == "heater"


def test_everything_wrong_is_told_at_once_with_its_line() -> None:
    with pytest.raises(SettingsError) as caught:
        parse_answers(
            "site: {name: lean-to}\n"
            "probes: {bench: 0316a2795a01}\n"
            "outputs: {heater: {pin: 44}}\n"
            "zones: {bench: {probes: [bench], heated: heater}}\n",
            "answers.yaml",
        )
    told = {(fault.key, fault.line) for fault in caught.value.faults}
    assert told == {
        ("cautions", 1),
        ("probes.bench", 2),
        ("outputs.heater.pin", 3),
        ("zones.bench.heated", 4),
    }
    assert "safety.md" in str(caught.value)
    assert "28-0316a2795a01" in str(caught.value)


@pytest.mark.parametrize("text", ["", "- a list\n", "cautions: [read\n", "a: 1\na: 2\n"])
def test_what_is_no_file_of_answers_is_refused_in_words(text: str) -> None:
    with pytest.raises(SettingsError, match=r"answers\.yaml"):
        parse_answers(text, "answers.yaml")


def test_cautions_that_were_not_read_are_asked_for(tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    file.write_text(EXAMPLE.replace("cautions: read ", "cautions: skipped"), encoding="utf-8")
    with pytest.raises(SettingsError, match=r"hardware-notes/safety\.md"):
        read_answers(file)


def test_a_file_that_is_not_there_or_no_text_is_named(tmp_path: Path) -> None:
    file = tmp_path / "answers.yaml"
    with pytest.raises(SettingsError, match=r"answers\.yaml: a file that can't be read"):
        read_answers(file)
    file.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="no UTF-8"):
        read_answers(file)
