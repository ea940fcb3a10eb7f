"""Who may import whom in the house, and finding out who does.

Lives here: the drawing of the arrows as a table, and reading imports out of source
text. Every import counts, wherever it stands: inside a function, too, and one that is
there for type checkers only, because a type is a dependency as well.
"""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

HOUSE = "greenkeeper"

NOUNS = frozenset({"model", "units", "errors", "pins", "sun", "moisture", "pointer", "learned"})
SHELL = frozenset(
    {
        "files", "folders", "inbox", "keepsakes", "last_night", "learned_file", "logs",
        "morning_file", "notify", "outlook_file", "forecast_fetch", "shield", "status", "wear",
    }
)  # fmt: skip
ROOMS = frozenset(
    {
        "control", "house", "rehearsal", "probes", "outputs", "gpio", "journal", "broker",
        "alarms", "outlook", "reports", "setup", "page",
    }
)  # fmt: skip
COMMON = NOUNS | {"clock", "credentials", "files", "folders", "lean", "promised", "settings"}
EVERYTHING = COMMON | SHELL | ROOMS

# Room -> what it may import besides itself. A name with a dot allows that module alone;
# a row with a dot is about one module and stands in place of its room's.
MAY_IMPORT: dict[str, frozenset[str]] = {
    # The nouns: everybody's, and so they know nobody.
    "model": frozenset(),
    "units": frozenset(),
    "pins": frozenset(),
    "sun": frozenset(),
    "moisture": frozenset(),
    "pointer": frozenset(),
    "learned": frozenset(),
    "errors": frozenset({"model"}),
    "clock": frozenset({"model"}),
    "settings": NOUNS | {"promised"},
    # Deciding: a function of values. No clock in here.
    "control": NOUNS | {"settings"},
    # Physics: likewise, and no more of the settings than their types.
    "house": NOUNS | {"settings.schema", "settings.house", "settings.shapes", "settings.plants"},
    # The two of them together, under a clock turned by hand.
    "rehearsal": NOUNS | {"settings", "control", "house"},
    # The coming night: the physics again, and no more.
    "outlook": NOUNS | {"house"},
    # The board's lines: what relays and contacts hang on.
    "gpio": COMMON,
    # The outside world: none of these four knows another, nor what is decided.
    "probes": COMMON | {"gpio"},
    "outputs": COMMON | {"gpio"},
    "journal": COMMON,
    "broker": COMMON | {"last_night", "outlook_file"},
    "alarms": COMMON,
    # The pretend ones live in the modelled house.
    "probes.modelled": COMMON | {"house"},
    "outputs.modelled": COMMON | {"house"},
    # Pieces of the shell, each with one small job.
    "credentials": NOUNS,
    "files": frozenset(),
    "folders": NOUNS | {"settings"},
    "inbox": NOUNS | {"files"},
    "keepsakes": NOUNS | {"files"},
    "learned_file": NOUNS | {"files", "clock"},
    "outlook_file": NOUNS | {"files", "clock"},
    "morning_file": NOUNS | {"files", "clock"},
    "forecast_fetch": NOUNS | {"files", "outlook", "settings"},
    "last_night": NOUNS | {"files"},
    "wear": NOUNS | {"files"},
    "promised": frozenset(),
    "lean": frozenset({"promised"}),
    "logs": NOUNS | {"lean"},
    "notify": frozenset(),
    "shield": NOUNS | {"lean"},
    "status": NOUNS | {"files"},
    # From a person's answers to a settings file: words and values alone.
    "setup": NOUNS | {"settings"},
    # For people.
    "reports": COMMON | {"journal", "house", "status", "last_night", "outlook", "outlook_file"},
    # The page reads what they read, and words it as they do.
    "page": COMMON | {"journal", "house", "status", "outlook", "outlook_file", "reports"},
    "reports.rehearsal_picture": COMMON | {"rehearsal", "reports.picture"},
    # These know everything, and nothing but the next one knows them.
    "assembly": EVERYTHING,
    "daemon": EVERYTHING | {"assembly"},
    "commands": EVERYTHING | {"assembly", "daemon"},
    "__main__": frozenset({"commands"}),
}


class Import(NamedTuple):
    line: int
    target: str  # within the house: "settings.schema.Site", "model"; "" is the house itself


def modules(package: Path) -> dict[str, Path]:
    """Every module of the package, by its name within the house ("" is the package)."""
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package).with_suffix("").parts
        found[".".join(part for part in parts if part != "__init__")] = path
    return found


def imports(source: str, module: str, *, is_package: bool) -> Iterator[Import]:
    """What this source imports of the house. module: its own name within the house."""
    here = [HOUSE, *filter(None, module.split("."))]
    if not is_package:
        here.pop()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            targets = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            origin = here[: len(here) + 1 - node.level] if node.level else []
            origin = [*origin, *filter(None, (node.module or "").split("."))]
            targets = [".".join([*origin, alias.name]) for alias in node.names]
        else:
            continue
        for target in targets:
            if target == HOUSE or target.startswith(f"{HOUSE}."):
                yield Import(node.lineno, target.removeprefix(HOUSE).removeprefix("."))


def trespass(module: str, target: str) -> str | None:
    """Why this module may not import that target, or None when it may."""
    room = module.partition(".")[0]
    if not target:
        return "names no room: import the module that is meant"
    if target == "__version__" or target.partition(".")[0] == room:
        return None
    allowed = MAY_IMPORT[module] if module in MAY_IMPORT else MAY_IMPORT[room]
    if any(target == name or target.startswith(f"{name}.") for name in allowed):
        return None
    return f"{module} may import {', '.join(sorted(allowed)) or 'nothing of the house'}"
