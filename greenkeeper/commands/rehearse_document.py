"""What `greenkeeper rehearse --json` says: the figures, for machines.

Lives here: which figures, under which keys. Does not live here: working them out
(greenkeeper/rehearsal), and what people are shown (rehearse_sheet.py).
"""

from collections.abc import Sequence
from typing import Any

from greenkeeper.commands.rehearse_head import About
from greenkeeper.rehearsal.compare import Comparison
from greenkeeper.rehearsal.faults import Fault
from greenkeeper.rehearsal.ledger import Result, ZoneFigures
from greenkeeper.rehearsal.sweep import Swept

# Of an hour's figures, those that are not a zone's own.
_OF_THE_HOUSE = ("outdoor_c", "heat_kwh", "heated", "cooled", "cost", "locked")


def facts(about: About, result: Result, fault: Fault | None) -> dict[str, Any]:
    return {
        **_about_facts(about),
        "forecasts": "invented" if result.foretold else None,
        "fault": None if fault is None else fault._asdict(),
        "kwh": result.kwh,
        "cost": result.cost,
        "hours": _house_hours(result.zones[0]),
        "zones": [_zone_facts(zone) for zone in result.zones],
        "outputs": [output._asdict() for output in result.outputs],
        "told": [told._asdict() for told in result.told],
        "cleared": result.cleared,
        "took_s": result.took_s,
    }


def _about_facts(about: About) -> dict[str, Any]:
    return {
        "site": about.settings.site.name,
        "from_utc_s": about.span.from_utc_s,
        "to_utc_s": about.span.to_utc_s,
        "weather": "invented" if about.weather_file is None else str(about.weather_file),
    }


def _house_hours(zone: ZoneFigures) -> list[dict[str, Any]]:
    """What is the whole house's in each hour, the same beside every zone."""
    return [
        {"from_utc_s": hour.from_utc_s, **{key: getattr(hour, key) for key in _OF_THE_HOUSE}}
        for hour in zone.hours
    ]


def _zone_facts(zone: ZoneFigures) -> dict[str, Any]:
    figures = zone._asdict()
    figures["hours"] = [
        {key: value for key, value in hour._asdict().items() if key not in _OF_THE_HOUSE}
        for hour in zone.hours
    ]
    del figures["held_low_c"]  # means something in a comparison only
    return figures


def comparison_facts(about: About, found: Comparison) -> dict[str, Any]:
    return {
        **_about_facts(about),
        "target_c": found.target_c,
        "hard_hours": found.hard_hours,
        "left_out_hours": found.left_out_hours,
        "ideal_kwh": found.ideal.kwh,
        "ideal_cost": found.ideal.cost,
        "strategies": [each._asdict() for each in found.contenders],
    }


def sweep_facts(about: About, key: str, swept: Sequence[Swept]) -> dict[str, Any]:
    return {
        **_about_facts(about),
        "key": key,
        "values": [{"value": each.value, **facts(about, each.result, None)} for each in swept],
    }
