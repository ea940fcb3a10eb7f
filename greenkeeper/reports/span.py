"""What happened in a span of time: how low it went, what ran, what it cost.

Lives here: facts from the journal, and the few lines that tell them. Does not live
here: measuring, and the journal's own questions (journal/reader.py).
"""

from typing import NamedTuple

from greenkeeper.journal.reader import Journal
from greenkeeper.reports import words
from greenkeeper.settings.derived import plants_minimum_c
from greenkeeper.settings.schema import Settings
from greenkeeper.units import shown_c


class Low(NamedTuple):
    probe: str
    temp_c: float
    utc_s: float


class Ran(NamedTuple):
    output: str
    on_s: float
    switched_on: int
    kwh: float | None  # None: its power is not stated in the settings


class Facts(NamedTuple):
    from_utc_s: float
    to_utc_s: float
    lows: tuple[Low, ...]  # in the order of the settings; probes that measured nothing are left out
    ran: tuple[Ran, ...]
    alarms: tuple[str, ...]


def facts(journal: Journal, settings: Settings, from_utc_s: float, to_utc_s: float) -> Facts:
    """Raises JournalError when the journal cannot be read."""
    lows = journal.lows(from_utc_s, to_utc_s)
    switched = journal.switchings(from_utc_s, to_utc_s)
    ran = [
        Ran(
            name,
            on_s,
            sum(1 for each in switched if each.output == name and each.on),
            journal.energy_kwh(name, from_utc_s, to_utc_s),
        )
        for name in settings.outputs
        if (on_s := journal.on_seconds(name, from_utc_s, to_utc_s)) is not None
    ]
    return Facts(
        from_utc_s,
        to_utc_s,
        tuple(Low(p, lows[p].temp_c, lows[p].utc_s) for p in settings.probes if p in lows),
        tuple(ran),
        tuple(
            f"{event.subject}: {event.text}"
            for event in journal.events(from_utc_s, to_utc_s)
            if event.phase == "raised"
        ),
    )


def lines(found: Facts, settings: Settings) -> list[str]:
    """The facts in eighty columns."""
    timezone = settings.site.timezone
    out = [
        f"From {words.moment(found.from_utc_s, timezone)} "
        f"to {words.moment(found.to_utc_s, timezone)}",
        "",
    ]
    out += [
        f"  {low.probe:<14} lowest {shown_c(low.temp_c):>8}   at "
        f"{words.moment(low.utc_s, timezone, with_day=False)}"
        for low in found.lows
    ]
    out += [_ran_line(ran, settings) for ran in found.ran]
    out += [_verdict(name, found, settings) for name in settings.zones]
    out += [f"  told: {alarm}" for alarm in found.alarms]
    return out


def _ran_line(ran: Ran, settings: Settings) -> str:
    times = "once" if ran.switched_on == 1 else f"{ran.switched_on} times"
    if ran.switched_on == 0 and ran.on_s == 0.0:
        return f"  {ran.output:<14} never ran"
    cost = ""
    if ran.kwh is not None:
        cost = f", {ran.kwh:.2f} kWh"
        if settings.tariff is not None:
            cost += f", {ran.kwh * settings.tariff.per_kwh:.2f} {settings.tariff.currency}"
    return f"  {ran.output:<14} ran {words.duration(ran.on_s)}, switched on {times}{cost}"


def _verdict(zone_name: str, found: Facts, settings: Settings) -> str:
    """Whether the zone's plants were kept."""
    zone, minimum_c = settings.zones[zone_name], plants_minimum_c(settings, zone_name)
    lows = [low for low in found.lows if low.probe in zone.probes]
    if not lows:
        return f"\n{zone_name}: nothing was measured, so nobody knows."
    if minimum_c is None:
        return f"\n{zone_name}: no plant there has a minimum in the settings."
    spare_k = min(low.temp_c for low in lows) - minimum_c
    if spare_k < 0.0:
        return f"\n{zone_name}: fell {-spare_k:.1f} K below its tenderest plant's minimum."
    return f"\n{zone_name}: every plant stayed {spare_k:.1f} K or more above its minimum."
