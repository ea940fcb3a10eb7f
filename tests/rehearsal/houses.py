"""Settings and stages for rehearsals: the demo's house, at a tick of a minute to be quick."""

from datetime import UTC, datetime
from pathlib import Path

from greenkeeper.house.glass import Glass
from greenkeeper.house.network import Parameters
from greenkeeper.house.wax import NO_WAX
from greenkeeper.house.weather import Surroundings, Weather
from greenkeeper.rehearsal.run import Span, Stage
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.house import House
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Settings

DEMO = Path(__file__).resolve().parents[2] / "config" / "demo.yaml"
DAY_S = 86_400.0
JANUARY = datetime(2026, 1, 10, tzinfo=UTC).timestamp()


def settings(*, poll_s: int = 60, **house: object) -> Settings:
    """The demo's, its house changed so. Its probes stay believed at that tick."""
    found = load(DEMO)
    written = found.house.model_dump(exclude_unset=True, by_alias=True)
    return found.model_copy(
        update={
            "poll_s": float(poll_s),
            # The invented year as it is of itself, with a frostier winter than the demo's months.
            "site": found.site.model_copy(update={"monthly_mean_c": None}),
            "house": House.model_validate({**written, **house}),
            "probes": {
                name: probe.model_copy(update={"stale_s": 3.0 * poll_s})
                for name, probe in found.probes.items()
            },
        }
    )


def invented(days: float = 3.0, of: Settings | None = None) -> tuple[Settings, Stage, Span]:
    found = of or settings()
    return found, stage_of(found, None), Span(JANUARY, JANUARY + days * DAY_S)


class Fixed:
    """Weather that never changes."""

    def __init__(self, outdoor_c: float) -> None:
        self._around = Surroundings(outdoor_c, 0.0)

    def at(self, utc_s: float) -> Surroundings:
        return self._around


class ColdSpell(Fixed):
    """A little frost, and deep frost in some hours, counted from JANUARY on."""

    def __init__(self, hours: range) -> None:
        super().__init__(-5.0)
        self._hours = hours

    def at(self, utc_s: float) -> Surroundings:
        mild = super().at(utc_s)
        cold = (utc_s - JANUARY) // 3600.0 in self._hours
        return mild._replace(outdoor_c=-25.0) if cold else mild


def stage(
    weather: Weather, parameters: Parameters | None = None, glass: Glass | None = None
) -> Stage:
    """A house of chosen figures, without panes: its sun falls as on level ground."""
    found = parameters or Parameters.from_settings(settings().house)
    return Stage(found, weather, glass, NO_WAX)
