"""The documents keep their word: what they link to, name and show is there and works."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from greenkeeper.commands import COMMANDS
from greenkeeper.settings.load import load, parse

ROOT = Path(__file__).parents[1]
PAGES = [
    *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")),
    *sorted((ROOT / "hardware-notes").glob("*.md")),
]
EXAMPLES = sorted((ROOT / "config").glob("*.yaml"))

FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
INLINE = re.compile(r"`([^`\n]+)`")
LINK = re.compile(r"\]\(([^)\s]+)\)")
IN_THE_TREE = re.compile(r"^(?:config|systemd|hardware-notes|tests|greenkeeper|\.ci)/[\w./*-]*$")


class Page(NamedTuple):
    path: Path
    prose: str  # without the fenced blocks
    blocks: list[tuple[str, str]]  # language, text


def read(path: Path) -> Page:
    text = path.read_text(encoding="utf-8")
    return Page(path, FENCE.sub("", text), FENCE.findall(text))


def anchors(path: Path) -> set[str]:
    """The headings of a page as links name them: lower case, no punctuation, dashes."""
    headings = re.findall(r"^#+ (.+)$", read(path).prose, re.MULTILINE)
    bare = (re.sub(r"[^\w\- ]", "", heading.lower()) for heading in headings)
    return {heading.strip().replace(" ", "-") for heading in bare}


def dead_links(page: Page) -> Iterator[str]:
    for target in LINK.findall(page.prose):
        if re.match(r"[a-z]+:", target):
            continue  # elsewhere: not ours to promise
        name, _, anchor = target.partition("#")
        file = (page.path.parent / name).resolve() if name else page.path
        if not file.exists():
            yield f"{target}: no such file"
        elif anchor and anchor not in anchors(file):
            yield f"{target}: no such heading"


def missing_paths(page: Page) -> Iterator[str]:
    for code in INLINE.findall(page.prose):
        if IN_THE_TREE.match(code) and not any(ROOT.glob(code.rstrip("/"))):
            yield code


def commands(page: Page) -> Iterator[str]:
    """The words after `greenkeeper` and `make`, in code."""
    shown = [*INLINE.findall(page.prose), *(text for _, text in page.blocks)]
    for text in shown:
        yield from re.findall(
            r"(?:^|[\s/])((?:greenkeeper|make) [a-z]+)(?![\w.-])", text, re.MULTILINE
        )


@pytest.fixture(params=PAGES, ids=lambda path: path.name)
def page(request: pytest.FixtureRequest) -> Page:
    path: Path = request.param
    return read(path)


def test_links_lead_somewhere(page: Page) -> None:
    assert list(dead_links(page)) == []


def test_files_named_in_passing_exist(page: Page) -> None:
    assert list(missing_paths(page)) == []


def test_commands_shown_exist(page: Page) -> None:
    rules = re.findall(r"^([a-z ]+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    targets = [name for rule in rules for name in rule.split()]
    known = {f"greenkeeper {name}" for name in COMMANDS} | {f"make {name}" for name in targets}
    assert set(commands(page)) - known == set()


def test_every_hardware_note_can_be_reached() -> None:
    linked = {
        (page.path.parent / target.partition("#")[0]).resolve()
        for page in map(read, PAGES)
        for target in LINK.findall(page.prose)
    }
    assert [path.name for path in (ROOT / "hardware-notes").iterdir() if path not in linked] == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.name)
def test_example_settings_load(path: Path) -> None:
    load(path)


def test_complete_settings_shown_in_the_documents_load() -> None:
    for each in map(read, PAGES):
        for language, text in each.blocks:
            if language == "yaml" and re.search(r"^site:", text, re.MULTILINE):
                parse(text, each.path.name)


# --- the test itself can fail --------------------------------------------------------------


def test_broken_promises_are_found() -> None:
    page = Page(
        ROOT / "README.md",
        "See [a](hardware-notes/nowhere.md), [b](#no-such-heading) and `greenkeeper/gone.py`.\n"
        "Fine: [c](hardware-notes/safety.md), [d](https://example.org/x), `config/*.yaml`,\n"
        "`greenkeeper run`, `sudo systemctl stop greenkeeper`.\n",
        [("", "$ greenkeeper dance --now\nmake coffee\n")],
    )
    assert list(dead_links(page)) == [
        "hardware-notes/nowhere.md: no such file",
        "#no-such-heading: no such heading",
    ]
    assert list(missing_paths(page)) == ["greenkeeper/gone.py"]
    assert list(commands(page)) == ["greenkeeper run", "greenkeeper dance", "make coffee"]


def test_anchors_are_made_as_links_expect_them() -> None:
    # As GitHub does it: the dash that stands for a removed sign stays away.
    assert "4-the-second-layer-it-must-work-when-the-pi-does-not" in anchors(
        ROOT / "hardware-notes" / "safety.md"
    )
