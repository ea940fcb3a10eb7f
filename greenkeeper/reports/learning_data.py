"""What the journal can teach: its dark nights, the newest first, and its dawns.

Lives here: when it is dark at the site, and reading no more of the journal than those hours.
Does not live here: what is made of them (house/learning).
"""

import math
from collections.abc import Iterator
from statistics import fmean
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.learning.dawn import AROUND_S, Dawn
from greenkeeper.house.learning.lesson import NIGHTS, Subject
from greenkeeper.house.learning.nights import Evidence, Skipped
from greenkeeper.journal.answers import OnTimes
from greenkeeper.journal.reader import Journal
from greenkeeper.reports import darkness
from greenkeeper.reports.darkness import Place
from greenkeeper.settings.derived import heaters, heats_with, is_tented
from greenkeeper.settings.schema import Settings

# The sun this far below the horizon warms nothing any more. Common practice, no source.
DARK_DEG = -3.0
REACH_NIGHTS = 2 * NIGHTS  # so far back usable nights are looked for
_AIRED_MINUTES = 20  # after a fan or a vent moved, until the house is itself again
_TENT_BEFORE = 3.0  # time constants of a tent, after which its beginning does not matter
_DAY_S, _MINUTE_S = 86_400.0, 60


class Dark(NamedTuple):
    from_utc_s: float
    to_utc_s: float


def place(settings: Settings) -> Place:
    """Raises GreenkeeperError where the settings do not say."""
    return darkness.place(
        settings, "nobody knows when it is dark, and only dark hours teach what the house loses"
    )


def subject(settings: Settings) -> Subject:
    """The first heated zone and its heater. Raises GreenkeeperError where nothing can be
    learned."""
    tent = settings.house.tent
    for name, zone in settings.zones.items():
        if zone.heat is not None and (tent is None or tent.zone != name):
            if settings.site.outdoor_probe is None:
                raise GreenkeeperError(
                    "site.outdoor_probe is missing in the settings: what a house loses shows only "
                    "against the air outside it. Hang a probe outdoors and name it there"
                )
            output = zone.heat.output
            return Subject(name, output, settings.outputs[output].power_w)
    raise GreenkeeperError("no zone of the settings is heated, so there is nothing to learn from")


def darks(place: Place, now_utc_s: float) -> Iterator[Dark]:
    """The dark hours of the last nights that are over, the newest first. A place without
    dark nights has none."""
    midnight_s = place.midnight_s(now_utc_s + _DAY_S)
    for back in range(REACH_NIGHTS + 1):
        dark = _around(place, midnight_s - back * _DAY_S)
        if dark is not None and dark.to_utc_s <= now_utc_s:
            yield dark


def evidence(
    journal: Journal, settings: Settings, now_utc_s: float
) -> Iterator[Evidence | Skipped]:
    """Ends where the heater's power was another, and says so. Raises GreenkeeperError,
    JournalError."""
    about, where = subject(settings), place(settings)
    recorded = journal.span()
    for dark in darks(where, now_utc_s):
        if recorded is None or dark.to_utc_s <= recorded[0]:
            return
        for name, power_w in _together(settings, about).items():
            others = _powers_w(journal, name, dark) - {power_w, None}
            if others:
                another = _another(max(filter(None, others)), name, power_w)
                yield Skipped(dark.from_utc_s, another)
                return
        yield _night(journal, settings, about, dark)


def dawns(journal: Journal, settings: Settings, now_utc_s: float) -> list[Dawn]:
    where, outdoor = place(settings), settings.site.outdoor_probe
    if outdoor is None:
        return []
    found = []
    for dark in list(darks(where, now_utc_s))[:NIGHTS]:
        sunrise_s = darkness.crossed(where, dark.to_utc_s, darkness.LOOK_S / 5.0, 0.0)
        if sunrise_s is not None and sunrise_s + AROUND_S <= now_utc_s:
            span = Dark(sunrise_s - AROUND_S, sunrise_s + AROUND_S)
            found.append(Dawn(_minutes(journal, outdoor, span)))
    return found


# --- when it is dark -----------------------------------------------------------------------


def _around(place: Place, midnight_s: float) -> Dark | None:
    """In whole minutes, as the journal has them."""
    found = darkness.around(place, midnight_s, DARK_DEG)
    return None if found is None else Dark(*(each // _MINUTE_S * _MINUTE_S for each in found))


# --- what the journal says of it -----------------------------------------------------------


def _night(journal: Journal, settings: Settings, about: Subject, dark: Dark) -> Evidence:
    heater = _by_minute(journal.output_minutes(about.heater, *dark), dark)
    more_s = [
        tent + second
        for tent, second in zip(
            _tent_s(journal, settings, about, dark),
            _second_s(journal, settings, about, dark),
            strict=True,
        )
    ]
    outdoor = settings.site.outdoor_probe
    return Evidence(
        dark.from_utc_s,
        {name: _minutes(journal, name, dark) for name in settings.zones[about.zone].probes},
        [] if outdoor is None else _minutes(journal, outdoor, dark),
        [
            None if each is None else each.on_s + more
            for each, more in zip(heater, more_s, strict=True)
        ],
        _undisturbed(journal, settings, about, dark),
        # Readings at 0, poll, 2 poll... seconds: so far in they are on average.
        max(0.0, (_MINUTE_S - settings.poll_s) / 2.0),
    )


def _second_s(journal: Journal, settings: Settings, about: Subject, dark: Dark) -> list[float]:
    """What the zone's second heater gives, as seconds of the first, minute by minute."""
    found = [0.0] * _length(dark)
    for name, power_w in _together(settings, about).items():
        if name == about.heater or power_w is None or about.power_w is None:
            continue
        for each in journal.output_minutes(name, *dark):
            found[_place_of(each.utc_s, dark)] += each.on_s * power_w / about.power_w
    return found


def _together(settings: Settings, about: Subject) -> dict[str, float | None]:
    """The heater, and the second of its zone if the powers of both are stated: then they are one,
    whose power changes. Element and lag are taken to be alike."""
    heat = settings.zones[about.zone].heat
    names = () if heat is None else heats_with(heat)
    powers = {name: settings.outputs[name].power_w for name in names}
    return {about.heater: about.power_w} if None in powers.values() else powers


def _tent_s(journal: Journal, settings: Settings, about: Subject, dark: Dark) -> list[float]:
    """What a heater under the tent gives the house, as seconds of the other heater, minute by
    minute: its heat comes out as slowly as the tent holds it back."""
    found = [0.0] * _length(dark)
    tent = settings.house.tent
    for name in _tent_heaters(settings, about):
        power_w = settings.outputs[name].power_w
        if tent is None or power_w is None or about.power_w is None:
            continue
        holds_s = tent.holds_kj_per_k * 1000.0 / tent.loss_w_per_k
        before_s = _TENT_BEFORE * holds_s
        rows = journal.output_minutes(name, dark.from_utc_s - before_s, dark.to_utc_s)
        passes, out_s = 1.0 - math.exp(-_MINUTE_S / holds_s), _mean_s(rows)
        for each in rows:
            out_s += passes * (each.on_s - out_s)
            if each.utc_s >= dark.from_utc_s:
                found[_place_of(each.utc_s, dark)] += out_s * power_w / about.power_w
    return found


def _mean_s(rows: list[OnTimes]) -> float:
    return fmean(each.on_s for each in rows) if rows else 0.0


def _tent_heaters(settings: Settings, about: Subject) -> set[str]:
    """Those under the tent alone, whose heat can be reckoned: both powers are stated."""
    tented: set[str] = set()
    others: set[str] = set()
    for name, zone in settings.zones.items():
        if zone.heat is not None:
            (tented if is_tented(settings, name) else others).update(heats_with(zone.heat))
    known = about.power_w is not None
    return {
        name for name in tented - others if known and settings.outputs[name].power_w is not None
    }


def _minutes(journal: Journal, probe: str, dark: Dark) -> list[float | None]:
    found: list[float | None] = [None] * _length(dark)
    for each in journal.minutes(probe, *dark):
        found[_place_of(each.utc_s, dark)] = each.mean_c
    return found


def _by_minute(rows: list[OnTimes], dark: Dark) -> list[OnTimes | None]:
    found: list[OnTimes | None] = [None] * _length(dark)
    for each in rows:
        found[_place_of(each.utc_s, dark)] = each
    return found


def _undisturbed(journal: Journal, settings: Settings, about: Subject, dark: Dark) -> list[bool]:
    quiet = [True] * _length(dark)
    for name in _disturbers(settings, about):
        for each in journal.output_minutes(name, *dark):
            if each.on_s > 0.0:
                at = _place_of(each.utc_s, dark)
                until = min(len(quiet), at + 1 + _AIRED_MINUTES)
                quiet[at:until] = [False] * (until - at)
    return quiet


def _disturbers(settings: Settings, about: Subject) -> set[str]:
    """What cools, airs, or heats besides what is learned from."""
    found = set(heaters(settings)) - _together(settings, about).keys()
    found -= _tent_heaters(settings, about)
    for zone in settings.zones.values():
        found |= {part.output for part in (zone.cool, zone.air) if part is not None}
    moved = {each for vent in settings.vents.values() for each in (vent.open, vent.close)}
    return (found & settings.outputs.keys()) | (moved & settings.outputs.keys())


def _powers_w(journal: Journal, heater: str, dark: Dark) -> set[float | None]:
    """What the settings of those hours said the heater draws."""
    rows = journal.query(
        "SELECT DISTINCT power_w FROM output_minute JOIN output ON output.id = output_minute.output"
        " AND output.name = :name WHERE output_minute.id >= :from * 1000"
        " AND output_minute.id < :to * 1000",
        {"name": heater, "from": int(dark.from_utc_s), "to": int(dark.to_utc_s)},
    )
    return {row[0] for row in rows}


def _another(power_w: float, heater: str, now_w: float | None) -> str:
    now = "say nothing of it" if now_w is None else f"say {now_w:.0f} W"
    return (
        f"the settings said {power_w:.0f} W of {heater}, and now {now}: this night and "
        "those before it are of another heater"
    )


def _length(dark: Dark) -> int:
    return int(dark.to_utc_s - dark.from_utc_s) // _MINUTE_S


def _place_of(utc_s: float, dark: Dark) -> int:
    return min(_length(dark) - 1, int(utc_s - dark.from_utc_s) // _MINUTE_S)
