"""What a key may hold, and what was found instead, in words for a grower.

Lives here: every sentence about a single key. Does not live here: which key an error is
about (translate.py), rules over several keys (checks/), faults of the YAML itself
(yamlwords.py). None of pydantic's own text gets through.
"""

import re
from collections.abc import Callable

from greenkeeper import pointer, units
from greenkeeper.pins import CHIP_PATTERN
from greenkeeper.settings import basics, house, page, schema, sensors
from greenkeeper.settings.faults import number, plain, shown
from greenkeeper.settings.guesses import did_you_mean, either, nearest
from greenkeeper.settings.keys import Key, Kind, keys_of, walk

# The first that fits: what another's name ends with comes before that other.
_UNITS = (
    ("_g_m3", "grams per cubic metre"),
    ("r_m2k_w", "square metres kelvin per watt"),
    ("_w_m2k", "watts per square metre and kelvin"),
    ("_w_mk", "watts per metre and kelvin"),
    ("_per_h", "times an hour"),
    ("_m2", "square metres"),
    ("_m3", "cubic metres"),
    ("_mm", "millimetres"),
    ("_l", "litres"),
    ("_deg", "degrees"),
    ("_years", "years"),
    ("_kj_per_k", "kilojoules per kelvin"),
    ("_w_per_k", "watts per kelvin"),
    ("_c", "°C"),
    ("_k", "kelvin"),
    ("_s", "seconds"),
    ("_w", "watts"),
    ("_m", "metres"),
    ("_days", "days"),
    ("_pct", "per cent"),
    ("latitude", "degrees"),
    ("longitude", "degrees"),
    ("hz", "hertz"),
    ("_k_per_min", "kelvin per minute"),
)

PATTERN_WORDS = {
    basics.ID_PATTERN: "a name of small letters, digits and hyphens, such as bench-left",
    schema.URL_PATTERN: "a web address such as https://weather.example/compact?lat={latitude}",
    schema.LINE_PATTERN: "one line of plain letters, digits and signs",
    schema.TIME_PATTERN: "a time from '00:00' to '23:59'",
    sensors.ROM_PATTERN: "an id such as 28-0316a2795a01 (family 10, 22, 28, 3b or 42)",
    house.DAY_PATTERN: "month and day from 01-01 to 12-31, such as 10-15",
    CHIP_PATTERN: "auto, or a path such as /dev/gpiochip0",
    basics.CHIP_NAME_PATTERN: "a chip's name such as bme280",
    basics.CHIP_PLACE_PATTERN: "a place such as 1-0076",
    basics.TOPIC_PATTERN: "a topic without wildcards, such as sensors/ridge",
    pointer.PATTERN: "a JSON pointer such as /temperature",
    schema.CURRENCY_PATTERN: "1 to 5 characters, such as EUR",
    page.ADDRESS_PATTERN: "an IP address of this machine, such as 127.0.0.1 or 0.0.0.0",
    page.HOST_NAME_PATTERN: "a host's name, such as shed.example.org",
    page.LANGUAGE_PATTERN: "a language and a country, such as en-GB or de-AT",
    schema.HOST_PATTERN: "a name, an address or a path, such as hub.local",
}


def unit_of(key: Key) -> str:
    """The unit a number of this key counts; empty for a plain number."""
    return next((unit for suffix, unit in _UNITS if key.name.endswith(suffix)), "")


def allowed(key: Key) -> str:
    """What a key may hold, to follow the word "allowed"."""
    if key.is_number:
        if key.lowest == key.highest:
            return number(key.lowest)
        unit = unit_of(key)
        whole = "a whole number, " if key.kind is Kind.WHOLE else ""
        return f"{whole}{_range(key)}{f' ({unit})' if unit else ''}"
    if key.kind is Kind.YES_NO:
        return "true or false"
    if key.kind is Kind.CHOICE:
        return either(key.choices)
    if key.kind is Kind.TEXT:
        return _text_words(key)
    return _holder_words(key)


def hint(key: Key, value: object) -> str:
    """How to put a refused value right, where the slip is a common one."""
    if value is None:
        return "" if key.required else f"Or leave the key out{_default_words(key)}."
    if key.name == "settings_version" and isinstance(value, int):
        return _version_hint(value)
    if key.is_number:
        return _number_hint(key, value) if isinstance(value, str) else ""
    if key.kind is Kind.CHOICE:
        return did_you_mean(nearest(value, key.choices)) if isinstance(value, str) else ""
    if key.kind is Kind.TEXT:
        return _text_hint(key, value)
    return ""


def _version_hint(version: int) -> str:
    if version > schema.SETTINGS_VERSION:
        return "It was written for a newer greenkeeper: put back the settings of this one's time."
    return "CHANGELOG.md says what changed since; once that is done, leave the key out."


def default_text(key: Key) -> str:
    """A default as it would be written in the file; empty when there is none."""
    value = key.default
    if value is None or key.kind in (Kind.GROUP, Kind.NAMED, Kind.LIST):
        return ""
    quote = "'" if key.pattern == schema.TIME_PATTERN else ""
    return f"{quote}{shown(value)}{quote}"


def _default_words(key: Key) -> str:
    text = default_text(key)
    return f": then it is {text}" if text else ""


def _range(key: Key) -> str:
    lowest = number(key.lowest)
    start = f"above {lowest}, up" if key.lowest_excluded else lowest
    return f"{start} to {number(key.highest)}"


def _text_words(key: Key) -> str:
    if key.pattern is not None:
        return PATTERN_WORDS[key.pattern]
    if key.name == "timezone":
        return "a time zone such as Europe/Brussels or UTC"
    return f"text of 1 to {key.most} characters" if key.most else "some text"


def _holder_words(key: Key) -> str:
    if key.kind is Kind.LIST:
        if key.item is not None and key.item.is_number:
            return f"a list of {key.least} numbers, each {allowed(key.item)}"
        of_groups = key.item is not None and key.item.kind is Kind.GROUP
        return "a list, each with a - in front" if of_groups else f"a list such as {_LIST_SAMPLE}"
    if key.kind is Kind.NAMED:
        return "names of your own, each with its group of keys"
    if len(key.models) > 1:
        return f"a group of keys with kind: {either(key.models)}"
    names = list(keys_of(*key.models.values()))
    return f"a group of keys ({', '.join(names[:3])}{', …' if len(names) > 3 else ''})"


_LIST_SAMPLE = "[bench-left, bench-right]"
_DECIMAL_COMMA = re.compile(r"\s*[-+]?\d*,\d+")
_BARE_NUMBER = re.compile(r"\s*[-+]?(\d+\.?\d*|\.\d+)\s*")


def _number_hint(key: Key, value: str) -> str:
    if _DECIMAL_COMMA.match(value):
        return "Write a decimal point, not a comma."
    if key.kind in _WITH_UNITS:
        return _unit_hint(value, *_WITH_UNITS[key.kind])
    if _BARE_NUMBER.fullmatch(value):
        return "Write it without quotes."
    return "Write the number alone, without its unit." if _BARE_NUMBER.match(value) else ""


_WITH_UNITS: dict[Kind, tuple[Callable[[str], float], str, str]] = {
    Kind.TEMPERATURE: (units.temperature_c, "°C", "5 °C or 41 °F"),
    Kind.DIFFERENCE: (units.difference_k, "K", "0.5 K or 1 °F"),
}


def _unit_hint(value: str, converted: Callable[[str], float], unit: str, sample: str) -> str:
    try:
        return f"That is {converted(value):.1f} {unit}."
    except ValueError:
        return f"A bare number is {unit}; a unit may follow: {sample}."


def _text_hint(key: Key, value: object) -> str:
    if not isinstance(value, str):
        return "" if isinstance(value, dict | list) else "Put it in quotes."
    if key.name == "timezone":
        return did_you_mean(_time_zone_like(value))
    if key.most is not None and len(value) > key.most:
        return f"At most {key.most} characters."
    if key.least is not None and 0 < len(value) < key.least:
        return f"At least {key.least:g} characters."
    return did_you_mean(_mended(key.pattern, value)) if key.pattern else ""


def _mended(pattern: str, value: str) -> str | None:
    """The value with its likely slip put right; None when that is no better."""
    mended = value.strip().lower()
    if pattern == basics.ID_PATTERN:
        mended = re.sub(r"[^a-z0-9]+", "-", mended).strip("-")
    elif pattern == schema.TIME_PATTERN:
        mended = mended.zfill(len("00:00"))
    if not re.search(pattern, mended):
        return None
    return f"'{mended}'" if pattern == schema.TIME_PATTERN else plain(mended)


def _time_zone_like(name: str) -> str | None:
    from zoneinfo import available_timezones  # reads folders: only once a zone is unknown

    return nearest(name, sorted(available_timezones()))


def found(key: Key, value: object) -> str:
    """What was found, to follow the word "found"."""
    if key.is_number and isinstance(value, str):
        return f"'{plain(value)}'"
    return "none" if value in ({}, []) else shown(value)


def stray_hint(name: str) -> str:
    """Where an unknown key would be at home, if anywhere."""
    if name.isdecimal():
        return "Write decimals with a point, not a comma."
    homes = {_home(path): None for path, key in walk() if len(path) > 1 and key.name == name}
    return f"{plain(name)} belongs in {either(homes)}." if 0 < len(homes) <= 2 else ""


def _home(path: tuple[str, ...]) -> str:
    """The group around a key, as a path in the file."""
    return ".".join(part for part in path[:-1] if not part.startswith("<")).removesuffix(".*")


def shown_name(value: object) -> str:
    return f"the name {plain(str(value))}" if value else "an empty name"
