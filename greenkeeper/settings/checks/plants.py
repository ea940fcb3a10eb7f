"""Plants: what the zone keeps is what they can stand."""

from collections.abc import Iterator

from greenkeeper.settings.checks.finding import SAME_K, Finding, celsius
from greenkeeper.settings.checks.thermostat import (
    Band,
    bands,
    cool_leans,
    heat_leans,
    heat_path,
)
from greenkeeper.settings.faults import Path, key_text
from greenkeeper.settings.schema import Plant, Settings


def faults(settings: Settings) -> Iterator[Finding]:
    heated = _heated_bands(settings)
    for index, plant in enumerate(settings.plants):
        yield from _own_limits(index, plant)
        if heated.get(plant.zone):
            yield from _above_its_minimum(settings, index, plant, heated[plant.zone])
            yield from _below_its_maximum(index, plant, heated[plant.zone])


def remarks(settings: Settings) -> Iterator[Finding]:
    for index, plant in enumerate(settings.plants):
        if plant.lowest_c is None and plant.max_c is None:
            yield Finding(("plants", index), "no limit: nothing is watched for it")
        yield from _left_alone(settings, index, plant)
        yield from _cooled_late(settings, index, plant)


def _own_limits(index: int, plant: Plant) -> Iterator[Finding]:
    path: Path = ("plants", index)
    if plant.min_c is not None and plant.rating is not None:
        beside = (*path, "min_c")
        yield Finding((*path, "rating"), "rating beside min_c", "one of them", leans_on=(beside,))
    if plant.lowest_c is not None and plant.max_c is not None and plant.max_c <= plant.lowest_c:
        allowed = f"above its minimum of {celsius(plant.lowest_c)}"
        leans_on = ((*path, "min_c"), (*path, "rating"))
        yield Finding((*path, "max_c"), celsius(plant.max_c), allowed, leans_on=leans_on)


def _heated_bands(settings: Settings) -> dict[str, list[Band]]:
    """Of every zone, the parts of the day in which it is known where heat goes on."""
    return {
        zone_id: [band for band in bands(settings, zone_id) if band.heat_on_c is not None]
        for zone_id in settings.zones
    }


def _above_its_minimum(
    settings: Settings, index: int, plant: Plant, heated: list[Band]
) -> Iterator[Finding]:
    """The owner's own setpoint would keep it colder than it can stand."""
    coldest = min(heated, key=lambda band: band.heat_on_c or 0.0)
    on_c = coldest.heat_on_c
    if plant.lowest_c is None or on_c is None or plant.lowest_c <= on_c + SAME_K:
        return
    setpoint = key_text(heat_path(plant.zone, settings.zones[plant.zone], coldest.night))
    allowed = f"at most {celsius(on_c)}, where {plant.zone} starts to heat{coldest.when}"
    hint = f"Raise {setpoint} to {celsius(plant.lowest_c)}, or write setpoint: from-plants."
    path = ("plants", index, "rating" if plant.min_c is None else "min_c")
    yield Finding(path, celsius(plant.lowest_c), allowed, hint, heat_leans(plant.zone))


def _below_its_maximum(index: int, plant: Plant, heated: list[Band]) -> Iterator[Finding]:
    """The heater itself would bring it above what it can stand."""
    hottest = max(heated, key=lambda band: band.heat_off_c or 0.0)
    off_c = hottest.heat_off_c
    if plant.max_c is None or off_c is None or plant.max_c >= off_c - SAME_K:
        return
    allowed = f"at least {celsius(off_c)}, where heat in {plant.zone} goes off{hottest.when}"
    hint = "Plants this far apart need zones of their own."
    path = ("plants", index, "max_c")
    yield Finding(path, celsius(plant.max_c), allowed, hint, heat_leans(plant.zone))


def _left_alone(settings: Settings, index: int, plant: Plant) -> Iterator[Finding]:
    zone = settings.zones[plant.zone]
    if plant.lowest_c is not None and zone.heat is None:
        path = ("plants", index, "rating" if plant.min_c is None else "min_c")
        yield Finding(path, f"nothing heats {plant.zone}: you are only warned")
    if plant.max_c is not None and zone.cool is None:
        yield Finding(
            ("plants", index, "max_c"), f"nothing cools {plant.zone}: you are only warned"
        )


def _cooled_late(settings: Settings, index: int, plant: Plant) -> Iterator[Finding]:
    for band in bands(settings, plant.zone):
        if plant.max_c is not None and band.cool_on_c is not None and plant.max_c < band.cool_on_c:
            found = (
                f"{celsius(plant.max_c)}, but {plant.zone} starts to cool "
                f"at {celsius(band.cool_on_c)}{band.when}"
            )
            yield Finding(("plants", index, "max_c"), found, leans_on=cool_leans(plant.zone))
