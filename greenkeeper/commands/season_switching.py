"""What the season needs to tell of switching: in which house and weather to rehearse it.

Lives here: the weather of the climate that the season goes by, hour by hour, and the spells
of it. Does not live here: rehearsing them (rehearsal/excess.py), and what it costs (season.py).
"""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.house.season_hours import Hours
from greenkeeper.house.seasonal import Climate
from greenkeeper.learned import Learned
from greenkeeper.rehearsal.excess import Excess, excesses, spells_of
from greenkeeper.rehearsal.run import Span, Stage
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.reports.season_house import Held
from greenkeeper.settings import derived
from greenkeeper.settings.schema import Settings

# A year that is no real one, from summer to summer.
_YEAR = Span(
    datetime(2025, 7, 1, tzinfo=UTC).timestamp(), datetime(2026, 7, 1, tzinfo=UTC).timestamp()
)


class Told(NamedTuple):
    excesses: tuple[Excess, ...]
    trouble: str  # why there are none


def told(
    settings: Settings,
    who: Held,
    climate: Climate,
    learned: Learned | None,
    progress: Callable[[float], None],
    *,
    workers: int | None = None,
) -> Told:
    """learned: what the keeper knows of the house, which proportion goes by."""
    try:
        stage, span = _stage(settings, climate)
        minimum_c = derived.plants_minimum_c(settings, who.zone)
        goal_c = min(who.day_c, who.night_c) if minimum_c is None else minimum_c
        spells = spells_of(stage.weather, span, goal_c)
        if spells is None:
            return Told((), "there is hardly a day that needs heat")
        stage = stage._replace(learned=learned)
        found = excesses(settings, stage, spells, who.zone, progress, workers=workers)
    except GreenkeeperError as error:
        return Told((), str(error))
    return Told(tuple(found), "")


def _stage(settings: Settings, climate: Climate) -> tuple[Stage, Span]:
    """Raises GreenkeeperError where nothing like the climate can be invented."""
    if isinstance(climate, Hours):
        span = climate.record.span
        return stage_of(settings, climate.record), _YEAR if span is None else Span(*span)
    means_c = [mean_c for mean_c in climate.months_c() if mean_c is not None]
    if len(means_c) < 12:
        raise GreenkeeperError("the weather has no whole year")
    return stage_of(settings, None, means_c), _YEAR
