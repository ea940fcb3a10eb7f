"""The season for machines: every fact as plain data, units in the names.

Lives here: its JSON. Does not live here: any figure (season.py), any words.
"""

from typing import Any

from greenkeeper.reports import season_sheet
from greenkeeper.reports.season import Facts, WhatIf
from greenkeeper.settings.schema import Settings


def data(found: Facts, settings: Settings) -> dict[str, Any]:
    """For machines: every fact, units in the names."""
    return {
        "weather": {
            "kind": found.climate.words,
            "days": found.climate.days,
            "has_sun": found.climate.has_sun,
            "has_sky": found.climate.has_sky,
            "months_c": found.climate.months_c(),
        },
        "held": found.who._asdict(),
        "kwh": found.base.kwh,
        "cost": found.base.cost,
        "currency": found.currency or None,
        "months_kwh": found.base.months_kwh,
        "months_cost": found.base.months_cost,
        "without_sun_kwh": found.base.without_sun_kwh,
        "improvements": [_what_if_data(each) for each in found.improvements],
        "together": None if found.together is None else _what_if_data(found.together),
        "degrees": [each._asdict() for each in found.degrees],
        "tenderest": [plant.name for plant in found.tenderest],
        "without": [rung._asdict() for rung in found.rungs],
        "unsure": [
            {"of": name, "better_kwh": better, "worse_kwh": worse}
            for name, better, worse in found.unsure
        ],
        "switched": [each._asdict() for each in found.switched],
        "ideal_at_the_same_lowest": None if found.ideal is None else found.ideal._asdict(),
        "sheet": season_sheet.data(settings, found.who),
        "heater_improved": season_sheet.heater_data(found.heater_improved, found.who),
        "peak_w": found.base.peak_w,
        "heater_short_h": found.short_h(),
    }


def _what_if_data(each: WhatIf) -> dict[str, Any]:
    return {**each._asdict(), "pays_back_years": each.pays_back_years}
