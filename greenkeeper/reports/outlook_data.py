"""What the journal and the settings say about the coming night.

Lives here: when it is dark, the evenings and falls of the nights before. Does not live
here: the zones' own past (outlook_past.py), what is made of it (outlook/), and layout
(outlook_sheet.py).
"""

from collections.abc import Iterator, Mapping, Sequence
from statistics import fmean
from typing import NamedTuple

from greenkeeper.errors import GreenkeeperError
from greenkeeper.journal.reader import Journal
from greenkeeper.outlook.ahead import Measured
from greenkeeper.outlook.course import COURSE_STEPS, Dark, Point
from greenkeeper.outlook.evening import AFTER_SUNSET_S, Evening
from greenkeeper.reports import darkness, outlook_past
from greenkeeper.reports.darkness import Place
from greenkeeper.reports.outlook_past import NEAR_S, DewPoints, Habit, Record
from greenkeeper.settings.derived import house_zone, plants_minimum_c
from greenkeeper.settings.schema import Settings

NIGHTS = 30  # looked back upon
_DAY_S = 86_400.0
_LATE_S = 3600.0  # the low may come so long after sunrise
_LEAST_SHARE = 0.8  # of a night's minutes must have been measured


class Situation(NamedTuple):
    """Of one zone. None: not known."""

    now_utc_s: float
    zone: str
    dark: Dark  # the coming night, or the one that is under way
    inside: Point | None  # the zone's coldest
    outdoor: Point | None
    start_c: float | None  # outdoors two hours after this night's sunset, once that is past
    start_dew_c: float | None  # the dew point then, with a hygrometer outdoors
    past: Sequence[Measured]  # the last day, in steps of STEP_S
    evenings: Sequence[Evening]
    falls_k: Sequence[float]  # from this hour of the day to the low, of the nights before
    courses_k: Sequence[Sequence[float]]  # how they went there: see course.by_last_nights
    habit: Habit
    # By the other zones in the same air: how much warmer this one's coldest place is.
    warmer_k: Mapping[str, float]


class _Before(NamedTuple):
    evening: Evening | None
    fall_k: float | None
    course_k: Sequence[float] | None


def place(settings: Settings) -> Place:
    """Raises GreenkeeperError where the settings do not say."""
    return darkness.place(settings, "nobody knows when the sun sets")


def subjects(settings: Settings) -> list[str]:
    """The zones that are looked ahead for: those with something to keep. First of all the
    house's own air: the first zone that is heated and not under a tent, else the first.

    Raises GreenkeeperError where nothing measures the air that the others stand in."""
    first = house_zone(settings)
    if first is None:
        raise GreenkeeperError("every zone of the settings is under a tent: nobody looks ahead")
    others = [
        name
        for name, zone in settings.zones.items()
        if name != first and (zone.heat is not None or plants_minimum_c(settings, name) is not None)
    ]
    return [first, *others]


def situations(journal: Journal, settings: Settings, now_utc_s: float) -> list[Situation]:
    """Of each of the subjects. Raises GreenkeeperError, JournalError."""
    if settings.site.outdoor_probe is None:
        raise darkness.NothingToReckonError(
            "site.outdoor_probe is missing in the settings: where the air goes from, it alone tells"
        )
    first = situation(journal, settings, now_utc_s)
    others = subjects(settings)[1:]
    return [first, *(_of_zone(journal, settings, zone, first) for zone in others)]


def situation(journal: Journal, settings: Settings, now_utc_s: float) -> Situation:
    """Of the first of them. Raises GreenkeeperError, JournalError."""
    where, zone = place(settings), subjects(settings)[0]
    dark = coming(where, now_utc_s)
    outdoor = settings.site.outdoor_probe
    outside = Record(journal, () if outdoor is None else (outdoor,))
    dew = DewPoints(journal, settings)
    before = [
        _evening(outside, dew, night, now_utc_s, dark) for night in _nights_before(where, dark)
    ]
    start_s = dark.sunset_utc_s + AFTER_SUNSET_S
    is_evening = now_utc_s >= start_s + NEAR_S
    bare = Situation(
        now_utc_s,
        zone,
        dark,
        None,
        outside.newest(now_utc_s),
        outside.about(start_s) if is_evening else None,
        dew.about(start_s) if is_evening else None,
        (),
        [each.evening for each in before if each.evening is not None],
        [each.fall_k for each in before if each.fall_k is not None],
        [each.course_k for each in before if each.course_k is not None],
        Habit((), ()),
        {},
    )
    return _of_zone(journal, settings, zone, bare)


def _of_zone(journal: Journal, settings: Settings, zone: str, outdoors: Situation) -> Situation:
    """The same evening in one zone."""
    now_utc_s, where = outdoors.now_utc_s, place(settings)
    inside = Record(journal, settings.zones[zone].probes)
    return outdoors._replace(
        zone=zone,
        inside=inside.newest(now_utc_s),
        past=outlook_past.last_day(journal, settings, zone, where, now_utc_s),
        habit=outlook_past.habit(
            journal, settings, zone, list(_nights_before(where, outdoors.dark))
        ),
        warmer_k=outlook_past.warmer_k(journal, settings, zone, where, now_utc_s),
    )


# --- when it is dark ---------------------------------------------------------------------


def coming(where: Place, now_utc_s: float) -> Dark:
    """Sunset to sunrise of the night that is under way or comes next. Raises GreenkeeperError
    where the sun does not set, or does not rise."""
    midnight_s = where.midnight_s(now_utc_s)
    for ahead in range(-1, 3):
        dark = _around(where, midnight_s + ahead * _DAY_S)
        if dark is not None and dark.sunrise_utc_s > now_utc_s:
            return dark
    raise darkness.NothingToReckonError(
        f"at {where.latitude:g}° north the sun does not rise and set at this time of the year"
    )


def _around(where: Place, midnight_s: float) -> Dark | None:
    found = darkness.around(where, midnight_s, 0.0)
    return None if found is None else Dark(*found)


def _nights_before(where: Place, dark: Dark) -> Iterator[Dark]:
    middle_s = (dark.sunset_utc_s + dark.sunrise_utc_s) / 2.0
    for back in range(1, NIGHTS + 1):
        found = _around(where, middle_s - back * _DAY_S)
        if found is not None:
            yield found


# --- the nights before -------------------------------------------------------------------


def _evening(
    outside: Record, dew: DewPoints, night: Dark, now_utc_s: float, tonight: Dark
) -> _Before:
    """What a night before can teach: its evening's air, and how it fell from this hour on."""
    # This hour of that day, by the sun: so long before or after its sunset.
    then_s = night.sunset_utc_s + now_utc_s - tonight.sunset_utc_s
    ends_s = night.sunrise_utc_s + _LATE_S
    around = outside.between(min(then_s - NEAR_S, night.sunset_utc_s), ends_s)
    rows = {utc_s: temp_c for utc_s, temp_c in around.items() if utc_s >= night.sunset_utc_s}
    if len(rows) * 60.0 < _LEAST_SHARE * (ends_s - night.sunset_utc_s):
        return _Before(None, None, None)
    low_c = min(rows.values())
    start_s = night.sunset_utc_s + AFTER_SUNSET_S
    start_c = outside.about(start_s)
    then_c = outside.about(then_s)
    return _Before(
        None if start_c is None else Evening(start_c, dew.about(start_s), low_c),
        None if then_c is None else then_c - low_c,
        None if then_c is None else _course_k(around, then_c, then_s, night.sunrise_utc_s),
    )


def _course_k(
    rows: Mapping[int, float], then_c: float, then_s: float, sunrise_s: float
) -> list[float] | None:
    """How far it had fallen at each step to sunrise. None: the record has gaps."""
    found = []
    for step in range(COURSE_STEPS):
        at_s = int(then_s + (sunrise_s - then_s) * step / (COURSE_STEPS - 1)) // 60 * 60
        near = [rows[each] for each in range(at_s - 300, at_s + 360, 60) if each in rows]
        if not near:
            return None
        found.append(then_c - fmean(near))
    return found
