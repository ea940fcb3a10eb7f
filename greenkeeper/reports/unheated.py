"""What a night would have come to without heat: was it needed at all?

Lives here: each heated zone led along the day before as it was measured, and from sunset on
left alone under the outdoor air that was measured. Does not live here: the physics
(outlook/ahead.py), what truly was (night.py).
"""

from collections.abc import Iterator
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.reader import Journal, JournalError
from greenkeeper.learned import Learned
from greenkeeper.outlook.ahead import Night
from greenkeeper.outlook.course import Course, Dark, Point
from greenkeeper.reports import outlook, outlook_data
from greenkeeper.reports.night import Span
from greenkeeper.settings.derived import heats_with, plants_minimum_c
from greenkeeper.settings.schema import Settings

_STEP_S = 600.0
_AFTER_SUNRISE_S = 3600.0
_LEAST_SHARE = 0.8  # of the night the outdoor air must be known


class NotReckonedError(GreenkeeperError):
    """Nobody knows what it would have been; in words, why."""


class Unheated(NamedTuple):
    """Of one zone, its own heater left off; those of other zones ran as they do."""

    zone: str
    night: Night
    needed: bool | None  # its plants would have been too cold. None: none has a minimum


def unheated(
    journal: Journal, settings: Settings, span: Span, learned: Learned | None
) -> list[Unheated]:
    """Of the zones that heated after sunset; empty: none did. Raises NotReckonedError where the
    house, the place or the record says too little, JournalError."""
    try:
        middle_s = (span.from_utc_s + span.to_utc_s) / 2.0
        dark = outlook_data.coming(outlook_data.place(settings), middle_s)
        course = _measured(journal, settings, span, dark)
        situations = outlook_data.situations(journal, settings, dark.sunset_utc_s)
    except JournalError:
        raise
    except GreenkeeperError as error:
        raise NotReckonedError(str(error)) from error
    return list(_of_zones(journal, settings, situations, course, learned))


def _measured(journal: Journal, settings: Settings, span: Span, dark: Dark) -> Course:
    """The outdoor air from sunset to after sunrise. Raises NotReckonedError where too little of
    it is known."""
    begins_s, outdoor = dark.sunset_utc_s, settings.site.outdoor_probe
    ends_s = min(span.to_utc_s, dark.sunrise_utc_s + _AFTER_SUNRISE_S)
    if outdoor is None:
        raise NotReckonedError("site.outdoor_probe is missing in the settings")
    if not span.from_utc_s <= begins_s < ends_s:
        raise NotReckonedError("the sun has not set yet")
    points = tuple(
        Point(row.utc_s + 30.0, row.mean_c)
        for row in journal.minutes(outdoor, begins_s, ends_s)
        if row.mean_c is not None and row.utc_s % _STEP_S == 0
    )
    if len(points) < _LEAST_SHARE * (ends_s - begins_s) / _STEP_S:
        raise NotReckonedError(f"too little of {outdoor} is in the record of these hours")
    return Course("measured", "as it was measured", points, (0.0, 0.0))


def _of_zones(
    journal: Journal,
    settings: Settings,
    situations: list[outlook_data.Situation],
    course: Course,
    learned: Learned | None,
) -> Iterator[Unheated]:
    for found in situations:
        heat = settings.zones[found.zone].heat
        ends_s = course.points[-1].utc_s
        if heat is None or not any(
            journal.on_seconds(name, found.now_utc_s, ends_s) for name in heats_with(heat)
        ):
            continue
        try:
            night = outlook.left_alone(settings, found, course, ends_s, learned)
        except GreenkeeperError as error:
            raise NotReckonedError(str(error)) from error
        minimum_c = plants_minimum_c(settings, found.zone)
        needed = None if minimum_c is None else night.low_c < minimum_c
        yield Unheated(found.zone, night, needed)
