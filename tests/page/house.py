"""An invented house and its records, as the page finds them. Nothing here was measured.

Lives here: the settings file, a journal written by the keeper's own store, a status file
as the keeper writes it, and outlooks; all at moments of our own. Does not live here:
serving (serving.py).
"""

import json
import math
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from greenkeeper.control import make_plan
from greenkeeper.journal.rows import Minute, OutputMinute, ProbeMinute, Switching
from greenkeeper.journal.store import Keeping, Run, Store
from greenkeeper.model import Event, Now, Phase
from greenkeeper.settings.load import load
from greenkeeper.status import About, StatusDocument, document
from tests.control.houses import Player

BRUSSELS = ZoneInfo("Europe/Brussels")
# A Tuesday in January, 21:40 in Brussels.
NOW_UTC_S = 1_926_189_600.0
NIGHTS = 20
_DAY_S = 86_400

SETTINGS = """\
site:
  name: fern-corner
  latitude: 50.8
  longitude: 4.4
  timezone: Europe/Brussels
  outdoor_probe: outdoors
  monthly_mean_c: [3.6, 4.1, 6.9, 9.8, 13.6, 16.5, 18.5, 18.2, 15.1, 11.3, 7.2, 4.2]
probes:
  bench-left: {kind: modelled, place: bench}
  bench-right: {kind: modelled, place: bench}
  ridge: {kind: modelled, place: ridge}
  outdoors: {kind: modelled, place: outdoors}
outputs:
  heater: {kind: modelled, drives: heater, power_w: 1200}
  fan: {kind: modelled, drives: fan, power_w: 25, min_on_s: 120, min_off_s: 120}
zones:
  bench:
    probes: [bench-left, bench-right]
    heat: {output: heater, setpoint: from-plants, margin_k: 1}
    cool: {output: fan, setpoint_c: 26}
plants:
  - {name: lemon, zone: bench, min_c: 4, max_c: 38}
  - {name: fuchsia, zone: bench, min_c: 1}
tariff: {currency: EUR, per_kwh: 0.32}
house:
  length_m: 2.4
  width_m: 1.8
  shape: span
  eaves_m: 1.2
  ridge_m: 1.8
  cover: twin-wall-10
  improvements:
    winter-lining: {lining: bubble-film, price: 40, lasts_years: 4}
"""


class House:
    """Its folder, with what the page reads in it."""

    def __init__(self, folder: Path, settings: str = SETTINGS) -> None:
        self.folder = folder
        self.file = folder / "house.yaml"
        self.state, self.runtime = folder / "state", folder / "run"
        for each in (self.state, self.runtime):
            each.mkdir(exist_ok=True)
        self.write_settings(settings)

    @property
    def journal(self) -> Path:
        return self.state / "journal.db"

    def write_settings(self, settings: str) -> None:
        folders = f"folders: {{state: {self.state}, runtime: {self.runtime}}}\n"
        self.file.write_text(settings + folders, encoding="utf-8")

    def write_status(self, status: StatusDocument | dict[str, Any]) -> None:
        (self.runtime / "status.json").write_text(json.dumps(status), encoding="utf-8")

    def stop_keeper(self) -> None:
        (self.runtime / "status.json").unlink(missing_ok=True)

    def write_outlooks(self, *said: dict[str, Any]) -> None:
        lines = "".join(json.dumps(each) + "\n" for each in said)
        (self.state / "outlooks.jsonl").write_text(lines, encoding="utf-8")

    def write_journal(self, nights: int = NIGHTS, *, until_utc_s: float = NOW_UTC_S) -> None:
        """Frosty nights and mild days, an hour ago an alarm."""
        rows = minutes(until_utc_s - nights * _DAY_S, until_utc_s)
        start = Now(1000.0, rows[0].utc_s, True)
        store = Store.open(
            self.journal, Run("b", "1.2.3", start), Keeping("fern-corner", "UTC", 9999, 9999)
        )
        when_s = until_utc_s - 3600.0
        text = "3.8 °C, 0.2 K below the minimum of lemon"
        notes = [
            Switching(when_s, 1.0, "heater", 1200.0, True, "bench-left 4.9 °C"),
            Event("below-minimum", Phase.RAISED, "bench", text, 1.0, when_s),
        ]
        store.write(list(rows), list(notes), rows[-1].utc_s)
        store.close()


def minutes(from_utc_s: float, to_utc_s: float) -> list[Minute]:
    rows: list[Minute] = []
    for utc_s in range(int(from_utc_s) // 60 * 60, int(to_utc_s), 60):
        hour = (utc_s % _DAY_S) / 3600.0
        outdoor_c = round(2.0 + 6.0 * math.cos((hour - 14.0) / 12.0 * math.pi), 2)
        inside_c = max(4.6 + 0.4 * math.sin(utc_s / 700.0), outdoor_c + 4.0)
        heating = 30.0 if inside_c < 5.0 and outdoor_c < 1.0 else 0.0
        for name, temp_c in (
            ("bench-left", inside_c),
            ("bench-right", inside_c + 0.5),
            ("ridge", inside_c + 1.0),
            ("outdoors", outdoor_c),
        ):
            rows.append(ProbeMinute(utc_s, name, "", 6, temp_c, temp_c, temp_c, 0))
        rows.append(OutputMinute(utc_s, "heater", 1200.0, heating, int(heating > 0.0)))
        rows.append(OutputMinute(utc_s, "fan", 25.0, 0.0, 0))
    return rows


def status(
    house: House, *, at_utc_s: float = NOW_UTC_S - 4.0, bench_c: float = 6.1
) -> StatusDocument:
    """As the keeper of this house would have written it."""
    settings = load(house.file)
    player = Player(make_plan(settings), Now(1000.0, at_utc_s - 400.0, True))
    temps = {"bench-left": bench_c, "bench-right": bench_c + 0.2, "ridge": 7.0, "outdoors": -1.3}
    for _ in range(40):
        tick = player.tick(temps)
    about = About(
        version="0.1.0",
        site=settings.site.name,
        timezone=settings.site.timezone,
        started_utc_s=at_utc_s - 3 * _DAY_S,
        poll_s=settings.poll_s,
        outdoor_probe=settings.site.outdoor_probe,
        zone_probes={name: zone.probes for name, zone in settings.zones.items()},
        zone_minimum_c={"bench": 4.0},
        modes={"heater": "heat", "fan": "cool"},
        rated_operations={"heater": 100_000},
        contacts={},
    )
    made = document(tick, about)
    made["utc_s"] = at_utc_s
    return made


def alarm(made: StatusDocument, *, level: int = 3) -> StatusDocument:
    """The same, with something wrong."""
    made["zones"]["bench"] |= {"coldest_c": 3.4}
    made["alarms"] = [
        {
            "code": "below-minimum",
            "level": level,
            "title": "plants are below their minimum",
            "subject": "bench",
            "text": "3.4 °C, 0.6 K below the minimum of lemon",
            "since_utc_s": made["utc_s"] - 600.0,
            "name": "below-minimum-bench",
            "seen": False,
        }
    ]
    return made


def outlook(*, days_ago: int = 0, **changes: Any) -> dict[str, Any]:
    made_utc_s = NOW_UTC_S - 5 * 3600.0 - days_ago * _DAY_S
    return {
        "made_utc_s": made_utc_s,
        "until_utc_s": made_utc_s + 17 * 3600.0,
        "zone": "bench",
        "source": "nights",
        "outdoor_low_c": -4.2,
        "least_c": -6.0,
        "most_c": -2.1,
        "inside_low_c": 4.6,
        "outdoor_low_utc_s": made_utc_s + 13 * 3600.0,
        "cold_low_c": -0.8,
        "kwh": 5.3,
        "advice": "The heater will do. Lay the fleece by 17:40 to save 2.1 of 5.3 kWh.",
        "grave": False,
        **changes,
    }
