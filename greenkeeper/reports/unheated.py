"""What a night would have come to without heat: was it needed at all?

Lives here: the house led along the day before as it was measured, and from sunset on left
alone under the outdoor air that was measured. Does not live here: the physics
(outlook/ahead.py), what truly was (night.py).
"""

from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.reader import Journal
from greenkeeper.learned import Learned
from greenkeeper.outlook.ahead import House, Night
from greenkeeper.outlook.course import Course, Point
from greenkeeper.reports import outlook, outlook_data
from greenkeeper.reports.night import Span
from greenkeeper.settings.schema import Settings

_STEP_S = 600.0
_AFTER_SUNRISE_S = 3600.0
_LEAST_SHARE = 0.8  # of the night the outdoor air must be known


def unheated(
    journal: Journal, settings: Settings, span: Span, learned: Learned | None
) -> tuple[str, Night] | None:
    """The zone that is looked ahead for, and its night without heat. None: the house, the place
    or the record says too little."""
    outdoor = settings.site.outdoor_probe
    if outdoor is None:
        return None
    try:
        middle_s = (span.from_utc_s + span.to_utc_s) / 2.0
        dark = outlook_data.coming(outlook_data.place(settings), middle_s)
        begins_s = dark.sunset_utc_s
        ends_s = min(span.to_utc_s, dark.sunrise_utc_s + _AFTER_SUNRISE_S)
        if not span.from_utc_s <= begins_s < ends_s:
            return None
        found = outlook_data.situation(journal, settings, begins_s)
        parameters = outlook.as_it_stands(settings, found, learned)
    except GreenkeeperError:
        return None
    rows = journal.minutes(outdoor, begins_s, ends_s)
    points = tuple(
        Point(row.utc_s + 30.0, row.mean_c)
        for row in rows
        if row.mean_c is not None and row.utc_s % _STEP_S == 0
    )
    if len(points) < _LEAST_SHARE * (ends_s - begins_s) / _STEP_S:
        return None
    house = House(parameters)
    state = house.now(found.past)
    if state is None:
        return None
    course = Course("measured", "as it was measured", points, (0.0, 0.0))
    return found.zone, house.ahead(state, course, begins_s, ends_s)
