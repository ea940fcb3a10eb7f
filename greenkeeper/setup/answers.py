"""The answers a house is set up from, asked for or read from a file.

Lives here: what they may hold, and reading a file of them with all its faults at once.
Does not live here: asking (guide.py) and what becomes of them (writing.py).
"""

from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

import yaml
from pydantic import Field, ValidationError

from greenkeeper.pins import Level
from greenkeeper.settings import yamlnodes
from greenkeeper.settings.basics import ID_PATTERN, Checked, Id, TempC
from greenkeeper.settings.faults import (
    NOTHING,
    WHOLE_FILE,
    SettingsError,
    SettingsFault,
    key_text,
    shown,
)
from greenkeeper.settings.faults import Path as KeyPath
from greenkeeper.settings.schema import Plant, Site, Tariff
from greenkeeper.settings.sensors import ROM_PATTERN
from greenkeeper.settings.yamlnodes import Document

MOST_BYTES = 1 << 16
USUAL_HEAT_C = 5.0
USUAL_COOL_C = 26.0


Rom = Annotated[str, Field(pattern=ROM_PATTERN)]


class Relay(Checked):
    pin: int = Field(ge=0, le=27)
    on_level: Level = Field(Level.HIGH, strict=False)
    power_w: float | None = Field(None, gt=0, le=20000)


class Zone(Checked):
    """What the plants of one place are kept by. Without a heater or a fan: measured only."""

    probes: tuple[Id, ...] = Field(min_length=1, strict=False)
    heater: Id | None = None
    heat_c: TempC = Field(USUAL_HEAT_C, ge=-10, le=35)  # where no plant has a minimum
    fan: Id | None = None
    cool_c: TempC = Field(USUAL_COOL_C, ge=0, le=50)


class Answers(Checked):
    cautions: Literal["read"]  # hardware-notes/safety.md was read
    site: Site
    probes: dict[Id, Rom] = Field(min_length=1)  # name -> the id on the bus
    outputs: dict[Id, Relay] = Field(default_factory=dict)
    zones: dict[Id, Zone] = Field(min_length=1)
    plants: tuple[Plant, ...] = Field((), strict=False)
    tariff: Tariff | None = None


class Begun(Checked):
    """What somebody has answered by now. In its file it looks like Answers of which parts are
    still missing; the cautions are read anew each time."""

    site: Site | None = None
    probes: dict[Id, Rom] = Field(default_factory=dict)
    outputs: dict[Id, Relay] = Field(default_factory=dict)
    zones: dict[Id, Zone] = Field(default_factory=dict)
    plants: tuple[Plant, ...] = Field((), strict=False)


A = TypeVar("A", Answers, Begun)


def read_answers(file: Path) -> Answers:
    """The answers in this file. Raises SettingsError with everything that is wrong."""
    return _read(file, Answers)


def read_begun(file: Path) -> Begun | None:
    """What was kept there; None: there is no such file. Raises SettingsError."""
    return _read(file, Begun) if file.exists() else None


def begun_text(begun: Begun) -> str:
    """What read_begun reads."""
    data = begun.model_dump(mode="json", exclude_unset=True)
    head = "# Answers of a `greenkeeper setup` that is not done. Its next start offers to go on.\n"
    return head + yaml.safe_dump(data, sort_keys=False, allow_unicode=True)


def _read(file: Path, form: type[A]) -> A:
    name = str(file)
    try:
        content = file.read_bytes()
    except OSError as error:
        raise _whole(name, f"a file that can't be read: {error.strerror}", "") from None
    if len(content) > MOST_BYTES:
        raise _whole(name, "more than 64 KiB", "a file of answers; one kilobyte is usual")
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        raise _whole(name, "bytes that are no UTF-8", "a text saved as UTF-8") from None
    return _parsed(text, name, form)


def parse_answers(text: str, file: str) -> Answers:
    """As read_answers; `file` is only its name. Raises SettingsError."""
    return _parsed(text, file, Answers)


def _parsed(text: str, file: str, form: type[A]) -> A:
    document = yamlnodes.read(text, file)
    if document.faults:
        raise SettingsError(document.faults)
    if not isinstance(document.data, dict):
        raise _whole(file, shown(document.data), "keys such as cautions, site, probes, zones")
    try:
        return form.model_validate(document.data)
    except ValidationError as error:
        raise SettingsError(
            _fault(each["loc"], each["type"], each["msg"], document, file)
            for each in error.errors(include_url=False)
        ) from None


def _fault(loc: KeyPath, kind: str, message: str, document: Document, file: str) -> SettingsFault:
    path = tuple(part for part in loc if part != "[key]")
    place = document.places.of_key(path)
    key = key_text(path, document.data)
    if kind == "missing":
        hint = _CAUTIONS if path == ("cautions",) else ""
        return SettingsFault(file, *place, key, NOTHING, "this key", hint)
    if kind == "extra_forbidden":
        return SettingsFault(file, *place, key, "an unknown key", "the keys of the example")
    if path == ("cautions",):
        return SettingsFault(file, *place, key, shown(_at(path, document.data)), "read", _CAUTIONS)
    return SettingsFault(file, *place, key, shown(_at(path, document.data)), _words(message))


_CAUTIONS = "Read hardware-notes/safety.md first, then write `cautions: read`."


def _words(message: str) -> str:
    """pydantic's sentence as the second half of ours."""
    if ROM_PATTERN in message:
        return "an id on the bus such as 28-0316a2795a01; `greenkeeper probes` shows them"
    if ID_PATTERN in message:
        return "a name of small letters, digits and single hyphens, such as bench-left"
    return message.removeprefix("Input should be ").removeprefix("Value error, ").strip()


def _at(path: KeyPath, data: Any) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _whole(file: str, found: str, allowed: str) -> SettingsError:
    return SettingsError([SettingsFault(file, *WHOLE_FILE, "", found, allowed)])
