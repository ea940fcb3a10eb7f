"""Prints how far outlooks are from what came, on real weather of whole winters.

The house is the default one, unheated, lived through by its own model in the file's wind and sun
and without a clear sky's loss; the outlook is told what its probes would have. The one that looks
ahead is that very house: those figures are about the weather and the way of looking ahead alone.
Below it the house as `greenkeeper learn` finds it, from fourteen January nights of its heated twin
in the same weather; and as its owner describes it, each figure up to three tenths wrong.

At 16:00 with the outdoor air known beforehand, and as the last nights fell; and two hours and a
quarter after sunset by the evening method, without and with the dew point. The nights that the
evening method is made for stand apart: clear, by the file's own clouds. Not a test: it judges
nothing; the goals of the project are printed beside.

Run: python -m tests.bench.bench_outlook
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from random import Random
from statistics import fmean
from tempfile import TemporaryDirectory
from typing import NamedTuple

from greenkeeper import moisture, sun
from greenkeeper.house.learning.lesson import lesson
from greenkeeper.house.model import follow, inputs_of, settled
from greenkeeper.house.network import Parameters, Weights, weights
from greenkeeper.house.records.read import parse
from greenkeeper.house.records.record import Record
from greenkeeper.house.wind import loss_share
from greenkeeper.journal.reader import Journal
from greenkeeper.learned import Learned
from greenkeeper.outlook.ahead import STEP_S, House, Measured
from greenkeeper.outlook.course import (
    COURSE_STEPS,
    Course,
    Dark,
    Point,
    Wind,
    by_evening,
    by_last_nights,
)
from greenkeeper.outlook.evening import AFTER_SUNSET_S, Evening, fit
from greenkeeper.rehearsal.stage import Stage, stage_of
from greenkeeper.reports import learning_data, outlook_data, outlook_house
from greenkeeper.reports.outlook_data import Place
from greenkeeper.settings.schema import Settings
from tests.reports.nights import HOUSE
from tests.support import rehearsed_journal
from tests.support.weatherfiles import GREENSBORO, SAND_POINT, german_csv, german_rows

HOUR_S, DAY_S = 3600.0, 86_400.0
DAY_STEPS = int(DAY_S / STEP_S)
LATE_S = 900.0  # after the evening's air
YEAR_UTC_S = datetime(2025, 1, 1, tzinfo=UTC).timestamp()
BEFORE_DAYS = 32  # of record, before the first outlook
# Two stretches of each file's year, by day.
WINTER = (("2025-01-03", "2025-03-31"), ("2025-09-14", "2025-12-28"))
P = Parameters.from_settings(HOUSE.house)._replace(
    element_lag_s=0.0, probe_lag_s=0.0, sky_w_per_k=0.0
)
WAYS = ("air known", "and wind", "last nights", "evening's air", "and dew point")
TAUGHT_NIGHTS = 14
WRONG_BY = 0.3
CLEAR = 0.25  # of the sky in clouds, from sunset to sunrise on average: two eighths and less
GOALS = "goals: air and wind known under 1.0 on all nights, evening's air under 2.0 on clear ones"


class Sky(NamedTuple):
    """Of one hour: the share that clouds cover, and the dew point."""

    clouds: float
    dew_c: float


def american_skies(file: Path) -> list[Sky]:
    """Columns TotCld, in tenths, and Dew-point of a TMY3 year."""
    rows = (line.split(",") for line in file.read_text().splitlines()[2:])
    return [Sky(float(row[25]) / 10.0, float(row[31 + 3])) for row in rows]


def german_skies(region: int) -> list[Sky]:
    """Column 5, clouds in eighths (9: fog), and the dew point of columns 8 and 11."""
    return [
        Sky(min(1.0, float(row[5]) / 8.0), moisture.dew_point_c(float(row[8]), float(row[11])))
        for row in german_rows(region)
    ]


class Site(NamedTuple):
    name: str
    record: Record
    where: Place
    zone_h: int
    skies: list[Sky]  # by the hour of the year, standard time

    def sky(self, utc_s: float) -> Sky:
        return self.skies[int((utc_s - YEAR_UTC_S) / HOUR_S + self.zone_h) % len(self.skies)]

    def is_clear(self, dark: Dark) -> bool:
        hours = range(int((dark.sunrise_utc_s - dark.sunset_utc_s) / HOUR_S) + 1)
        return fmean(self.sky(dark.sunset_utc_s + h * HOUR_S).clouds for h in hours) <= CLEAR


def sites() -> Iterator[Site]:
    for name, file, where, zone_h in (
        ("Greensboro", GREENSBORO, Place(36.1, -79.95), -5),
        ("Sand Point", SAND_POINT, Place(55.3, -160.5), -9),
    ):
        yield Site(name, parse(file.read_bytes(), name), where, zone_h, american_skies(file))
    for region, name, where in (
        (4, "Potsdam", Place(52.4, 13.1)),
        (5, "Essen", Place(51.4, 7.0)),
        (13, "Mühldorf", Place(48.3, 12.5)),
    ):
        record = parse(german_csv(region).encode(), name)
        yield Site(name, record, where, 1, german_skies(region))


@lru_cache(maxsize=256)
def step_in(wind_m_s: float) -> tuple[Parameters, Weights]:
    windy = P._replace(loss_w_per_k=P.loss_w_per_k * loss_share(wind_m_s))
    return windy, weights(windy, False, False, STEP_S)


class Lived(NamedTuple):
    """The house through a stretch of a file."""

    site: Site
    from_utc_s: float
    past: list[Measured]

    def outdoor_c(self, utc_s: float) -> float:
        return self.site.record.at(utc_s).outdoor_c

    def step_of(self, utc_s: float) -> int:
        return int((utc_s - self.from_utc_s) / STEP_S)

    def day_before(self, utc_s: float) -> list[Measured]:
        end = self.step_of(utc_s)
        return self.past[end - DAY_STEPS : end]

    def low_c(self, from_utc_s: float, to_utc_s: float) -> float:
        steps = self.past[self.step_of(from_utc_s) : self.step_of(to_utc_s)]
        return min(each.inside_c for each in steps if each.inside_c is not None)


def lived(site: Site, begins: str, ends: str) -> Lived:
    from_s, to_s = (
        datetime.fromisoformat(each).replace(tzinfo=UTC).timestamp() for each in (begins, ends)
    )
    state = settled(P, site.record.at(from_s)._replace(sun_w_m2=0.0))
    past = []
    for number in range(int((to_s - from_s) / STEP_S)):
        middle_s = from_s + (number + 0.5) * STEP_S
        around = site.record.at(middle_s)
        windy, step = step_in(round(around.wind_m_s * 2.0) / 2.0)
        state = follow(step, step.added(inputs_of(windy, around, 0.0)), state)
        lit = sun.elevation_deg(middle_s, *site.where) > 0.0
        shown_c = round(state.air_c * 16.0) / 16.0
        past.append(Measured(shown_c, around.outdoor_c, lit=lit))
    return Lived(site, from_s, past)


def twin(site: Site) -> Settings:
    """The same house with a heater, in the same place."""
    probes = {
        name: probe.model_copy(
            update={"stale_s": 180.0} | ({"place": "outdoors"} if name == "outdoors" else {})
        )
        for name, probe in HOUSE.probes.items()
    }
    where = {"latitude": site.where.latitude, "longitude": site.where.longitude}
    return HOUSE.model_copy(
        update={"site": HOUSE.site.model_copy(update=where), "probes": probes, "poll_s": 60.0}
    )


def learned(site: Site) -> Learned:
    """What `greenkeeper learn` makes of the twin's nights in January."""
    settings, from_s = twin(site), YEAR_UTC_S + 10 * DAY_S
    lags = P._replace(element_lag_s=120.0, probe_lag_s=120.0)
    stage: Stage = stage_of(settings, site.record)._replace(parameters=lags)
    now_s = from_s + (TAUGHT_NIGHTS + 1) * DAY_S
    with TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        rehearsed_journal.lived(file, settings, stage, from_s, TAUGHT_NIGHTS + 1)
        with Journal(file) as journal:
            return lesson(
                learning_data.subject(settings),
                learning_data.evidence(journal, settings, now_s),
                (),
                (),
                now_s,
            ).learned


class Believed(NamedTuple):
    """The house that looks ahead."""

    name: str
    house: House
    takes_wind: bool = True  # a loss that was learned is of the wind of its nights


def as_learned(site: Site) -> Believed:
    found = learned(site)
    made = outlook_house.variants(twin(site), YEAR_UTC_S, found).bare
    loss = found.value("loss_w_per_k")
    off = "not told" if loss is None else f"{100.0 * (loss / P.loss_w_per_k - 1.0):+.0f} %"
    return Believed(f"as learned, loss {off}", House(made), takes_wind=loss is None)


def as_described(site: Site) -> Believed:
    chance = Random(site.name)

    def wrong(figure: float) -> float:
        return figure * chance.uniform(1.0 - WRONG_BY, 1.0 + WRONG_BY)

    made = P._replace(
        loss_w_per_k=wrong(P.loss_w_per_k),
        air_j_per_k=wrong(P.air_j_per_k),
        mass_j_per_k=wrong(P.mass_j_per_k),
        mass_w_per_k=wrong(P.mass_w_per_k),
    )
    return (
        f"ill described, loss {100.0 * (made.loss_w_per_k / P.loss_w_per_k - 1.0):+.0f} %",
        House(made),
    )


VERY_HOUSE = Believed("the very house", House(P))


def misses(run: Lived, believed: Believed = VERY_HOUSE) -> Iterator[tuple[bool, dict[str, float]]]:
    """Of each evening: whether the night was clear, and what was said less what came, by way."""
    house = believed.house
    now_s = run.from_utc_s + BEFORE_DAYS * DAY_S + (16 - run.site.zone_h) * HOUR_S
    while True:
        dark = outlook_data.coming(run.site.where, now_s)
        until_s = dark.sunrise_utc_s + HOUR_S
        if run.step_of(until_s) >= len(run.past):
            return
        found = {}
        for name, from_s, course in _courses(run, dark, now_s, until_s):
            past = run.day_before(from_s)
            state = house.now(past)
            if course is None or (course.winds and not believed.takes_wind):
                continue
            if state is not None:
                said = house.ahead(
                    state,
                    course,
                    from_s,
                    until_s,
                    sun_w=house.sun_w(past),
                    sunset_utc_s=dark.sunset_utc_s,
                )
                found[name] = said.low_c - run.low_c(from_s, until_s)
        yield run.site.is_clear(dark), found
        now_s += DAY_S


def _courses(
    run: Lived, dark: Dark, now_s: float, until_s: float
) -> Iterator[tuple[str, float, Course | None]]:
    evenings, falls_k = _before(run, dark, now_s)
    hours = range(int((until_s - now_s) / HOUR_S) + 2)
    points = tuple(Point(now_s + h * HOUR_S, run.outdoor_c(now_s + h * HOUR_S)) for h in hours)
    known, windy, nights, evening, damp = WAYS
    winds = tuple(Wind(at_s, run.site.record.at(at_s).wind_m_s) for at_s, _ in points)
    yield known, now_s, Course("", "known", points, (0.0, 0.0))
    yield windy, now_s, Course("", "known", points, (0.0, 0.0), winds)
    yield (
        nights,
        now_s,
        by_last_nights(
            Point(now_s, run.outdoor_c(now_s)),
            falls_k,
            dark,
            _courses_k(run, dark, now_s, len(falls_k)),
        ),
    )
    start_s = dark.sunset_utc_s + AFTER_SUNSET_S
    start_c, dew_c = run.outdoor_c(start_s), run.site.sky(start_s).dew_c
    line, damp_line = fit([each._replace(dew_point_c=None) for each in evenings]), fit(evenings)
    if line is not None and damp_line is not None:
        yield evening, start_s + LATE_S, by_evening(line, start_c, None, dark)
        yield damp, start_s + LATE_S, by_evening(damp_line, start_c, dew_c, dark)


def _courses_k(run: Lived, dark: Dark, now_s: float, nights: int) -> list[list[float]]:
    way_s = (dark.sunrise_utc_s - now_s) / (COURSE_STEPS - 1)
    found = []
    for back in range(1, nights + 1):
        then_s = now_s - back * DAY_S
        then_c = run.outdoor_c(then_s)
        found.append([then_c - run.outdoor_c(then_s + k * way_s) for k in range(COURSE_STEPS)])
    return found


def _before(run: Lived, dark: Dark, now_s: float) -> tuple[list[Evening], list[float]]:
    evenings, falls_k = [], []
    for back in range(1, outlook_data.NIGHTS + 1):
        moved_s = back * DAY_S
        sunset_s, sunrise_s = dark.sunset_utc_s - moved_s, dark.sunrise_utc_s - moved_s
        if sunset_s < run.from_utc_s:
            break
        quarters = range(int((sunrise_s + HOUR_S - sunset_s) / 900.0) + 1)
        low_c = min(run.outdoor_c(sunset_s + each * 900.0) for each in quarters)
        start_s = sunset_s + AFTER_SUNSET_S
        evenings.append(Evening(run.outdoor_c(start_s), run.site.sky(start_s).dew_c, low_c))
        falls_k.append(run.outdoor_c(now_s - moved_s) - low_c)
    return evenings, falls_k


def main() -> None:
    print(f"{'mean miss of the inside low, K':<49}" + "".join(f"{way:>17}" for way in WAYS))
    for site in sites():
        runs = [lived(site, *stretch) for stretch in WINTER]
        for believed in (VERY_HOUSE, as_learned(site), as_described(site)):
            found = [each for run in runs for each in misses(run, believed)]
            _row(site.name, believed.name, "nights", [each for _, each in found])
            _row("", "", "clear", [each for clear, each in found if clear])
    print("in brackets the mean: below zero it was said colder than it came")
    print(GOALS)


def _row(site: str, house: str, of: str, found: list[dict[str, float]]) -> None:
    cells = []
    for way in WAYS:
        mine = [each[way] for each in found if way in each]
        cells.append(f"{fmean(map(abs, mine)):.2f} ({fmean(mine):+.2f})" if mine else "none")
    cells = [f"{cell:>17}" for cell in cells]
    print(f"{site:<11}{house:<26}{len(found):>4} {of:<7}{''.join(cells)}", flush=True)


if __name__ == "__main__":
    main()
