"""Every code in the catalogue has its paragraph for people, and no paragraph is stale."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from greenkeeper.errors import CATALOGUE, Entry, probe_code
from greenkeeper.model import Fault

PROJECT = Path(__file__).parents[1]
MESSAGES = PROJECT / "hardware-notes" / "messages.md"
LOG_METHODS = {"debug", "info", "warning", "error", "critical"}
PARTS = ("It means", "Check", "Meanwhile")  # in this order
FEWEST_WORDS = 4


class Paragraph(NamedTuple):
    summary: str
    parts: dict[str, str]


def paragraphs(text: str) -> Iterator[tuple[str, Paragraph]]:
    for section in re.split(r"^### ", text, flags=re.MULTILINE)[1:]:
        body = re.split(r"^## ", section, flags=re.MULTILINE)[0]
        code, summary, *rest = [block.strip() for block in body.split("\n\n") if block.strip()]
        parts = {}
        for block in rest:
            found = re.match(r"\*\*(.+?)\*\* (.+)", block, re.DOTALL)
            assert found is not None, f"{code}: not one of the three parts: {block!r}"
            parts[found[1]] = " ".join(found[2].split())
        yield code, Paragraph(" ".join(summary.split()), parts)


FOUND = list(paragraphs(MESSAGES.read_text(encoding="utf-8")))


def test_paragraphs_and_catalogue_name_the_same_codes_each_once() -> None:
    assert sorted(code for code, _ in FOUND) == sorted(CATALOGUE)


@pytest.mark.parametrize("code", CATALOGUE.keys())
def test_a_paragraph_says_what_it_means_what_to_check_and_what_happens(code: str) -> None:
    parts = dict(FOUND)[code].parts
    assert tuple(parts) == PARTS
    for name, text in parts.items():
        assert len(text.split()) >= FEWEST_WORDS, f"{code}: {name} says next to nothing"


@pytest.mark.parametrize("code", CATALOGUE.keys())
def test_title_level_and_delay_are_the_catalogues(code: str) -> None:
    entry = CATALOGUE[code]
    title = entry.title[0].upper() + entry.title[1:]
    level = entry.level.name.capitalize()
    assert dict(FOUND)[code].summary == f"*{title}.* {level}, told {_delay(entry)}."


def _delay(entry: Entry) -> str:
    seconds = entry.raise_after_s
    if seconds == 0:
        return "at once"
    if seconds < 60:
        return f"after {seconds:.0f} seconds"
    minutes = seconds / 60
    return f"after {minutes:g} minute{'' if minutes == 1 else 's'}"


def test_every_line_of_the_log_is_in_the_catalogue_or_explained_as_of_the_log_alone() -> None:
    section = MESSAGES.read_text(encoding="utf-8").partition("\n## In the log alone\n")[2]
    explained = set(re.findall(r"^- `([a-z-]+)`: ", section, re.MULTILINE))
    assert set(_logged()) - CATALOGUE.keys() == explained


def _logged() -> Iterator[str]:
    """What structlog's methods, or the broker client's _log, are called with."""
    for path in (PROJECT / "greenkeeper").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                event = node.args[1:2] if name == "_log" else node.args[:1]
                if name in {*LOG_METHODS, "_log"} and event and isinstance(event[0], ast.Constant):
                    yield event[0].value  # what is no word in itself is an event's own code


def test_every_code_is_uttered_somewhere() -> None:
    sources = "\n".join(
        path.read_text(encoding="utf-8")
        for path in (PROJECT / "greenkeeper").rglob("*.py")
        if path.name != "errors.py"
    )
    spoken = {code for code in CATALOGUE if f'"{code}"' in sources}
    assert CATALOGUE.keys() - spoken == {probe_code(fault) for fault in Fault}
