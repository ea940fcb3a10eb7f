# ruff: noqa: S608 - every word of these queries stands in this file
"""Sixty rehearsed nights: what lastnight, learn and tonight say of them, held against plain SQL.

The very control keeps the demo's house through twelve December days, which are written five
times over. The questions to the journal here share no line with the program's.
"""

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from freezegun import freeze_time

from greenkeeper.commands import main
from greenkeeper.rehearsal.stage import stage_of
from greenkeeper.settings.load import load
from greenkeeper.settings.schema import Settings
from tests.rehearsal.houses import DEMO
from tests.support.rehearsed_journal import lived

# Noon at Brussels, UTC+1 all winter.
FIRST_UTC_S = datetime(2025, 12, 9, 11, tzinfo=UTC).timestamp()
DAYS, TIMES = 12, 5
LAST_MORNING = datetime(2026, 2, 7, 11, tzinfo=UTC)
AFTERNOON = datetime(2026, 2, 6, 14, 30, tzinfo=UTC)
LEAST_C = 4.8
COLD = "2025-12-10"
CHEAP, DEAR = 0.21, 0.37

# Each minute's night, by the evening: noon at Brussels is 11:00 UTC.
EVENING = "date(utc_s - 39600, 'unixepoch')"
PRICE = f"""CASE WHEN strftime('%w', utc_s + 3600, 'unixepoch') IN ('0', '6')
    OR time(utc_s + 3600, 'unixepoch') >= '22:30' OR time(utc_s + 3600, 'unixepoch') < '06:30'
    THEN {CHEAP} ELSE {DEAR} END"""


def house(folder: Path) -> Path:
    """The demo's, with prices by the hour, and no more probes and outputs than are asked for."""
    text = yaml.safe_load(DEMO.read_text())
    del text["probes"]["ridge"], text["outputs"]["fan"], text["zones"]["bench"]["cool"]
    del text["site"]["monthly_mean_c"]  # the invented year of itself has more frost
    text["poll_s"] = 60
    # So near the setpoint of 5 °C that a relay's dip goes below it.
    text["plants"][0]["min_c"] = LEAST_C
    text["zones"]["bench"]["heat"]["margin_k"] = 0.2
    for probe in text["probes"].values():
        probe["stale_s"] = 180
    text["tariff"] = {
        "per_kwh": DEAR,
        "hours": [
            {"from": "22:30", "to": "06:30", "days": "weekdays", "per_kwh": CHEAP},
            {"days": "weekend", "per_kwh": CHEAP},
        ],
    }
    text["folders"] = {"state": str(folder)}
    file = folder / "house.yaml"
    file.write_text(yaml.safe_dump(text))
    return file


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("sixty")
    settings: Settings = load(house(made))
    lived(made / "j.db", settings, stage_of(settings, None), FIRST_UTC_S, DAYS, times=TIMES)
    return made


@pytest.fixture(scope="module")
def db(folder: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(f"file:{folder}/j.db?mode=ro", uri=True)) as opened:
        yield opened


Ask = Callable[..., Any]


@pytest.fixture
def ask(folder: Path, capsys: pytest.CaptureFixture[str]) -> Ask:
    """A command's words -> what it prints, as data where it is asked to be."""

    def asked(words: str, at: datetime = LAST_MORNING) -> Any:
        told = [*words.split(), "--settings", f"{folder}/house.yaml", "--file", f"{folder}/j.db"]
        with freeze_time(at):
            main(told)
        out = capsys.readouterr().out
        return json.loads(out) if "--json" in told else out

    return asked


def by_evening(db: sqlite3.Connection, what: str, of: str) -> dict[str, Any]:
    return dict(db.execute(f"SELECT {EVENING} AS evening, {what} FROM {of} GROUP BY evening"))


BENCH = "minute JOIN probe ON probe.id = probe WHERE name LIKE 'bench-%'"
COLDEST = f"(SELECT utc_s, min(mean_c) AS c FROM {BENCH} GROUP BY utc_s)"
OUTDOORS = "minute JOIN probe ON probe.id = probe WHERE name = 'outdoors'"
HEAT = "output_minute JOIN output ON output.id = output WHERE name = 'heater'"


def test_every_night_of_the_table_is_as_sql_sums_it(ask: Ask, db: sqlite3.Connection) -> None:
    rows = {row["evening"]: row for row in ask("lastnight --nights 60 --json")}
    lows_c = by_evening(db, "min(low_c)", BENCH)
    outdoors_c = by_evening(db, "min(low_c)", OUTDOORS)
    heat_s = by_evening(db, "sum(on_s)", HEAT)
    kwh = by_evening(db, "sum(on_s * power_w) / 3.6e6", HEAT)
    cost = by_evening(db, f"sum(on_s * power_w / 3.6e6 * {PRICE})", HEAT)
    pulses = by_evening(db, "sum(switchings)", HEAT)
    for evening, row in rows.items():
        if not row["recorded_h"]:
            continue
        assert row["zone_lows_c"]["bench"] == lows_c[evening]
        assert row["outdoor_low_c"] == outdoors_c[evening]
        assert row["heat_s"] == pytest.approx(heat_s[evening])
        assert row["kwh"] == pytest.approx(kwh[evening])
        assert row["cost"] == pytest.approx(cost[evening]), evening
        assert row["pulses"] == pulses[evening]
    assert sum(bool(row["recorded_h"]) for row in rows.values()) == DAYS * TIMES
    assert sum(kwh.values()) > 50.0, "winter enough to tell anything"
    assert CHEAP < sum(cost.values()) / sum(kwh.values()) < DEAR


def test_one_night_is_as_sql_sums_it_to_the_degree_hour(ask: Ask, db: sqlite3.Connection) -> None:
    told = ask(f"lastnight --evening {COLD} --json")
    (zone,), (heater,) = told["zones"], told["ran"]
    mine = f"FROM {COLDEST} WHERE {EVENING} = '{COLD}'"
    below = db.execute(
        f"SELECT sum(c < {LEAST_C}), sum(max(0, {LEAST_C} - c)) / 60,"
        f" sum(c >= {LEAST_C} AND c < {LEAST_C + 1.0}) {mine}"
    )
    ((minutes, k_h, near),) = below
    assert minutes > 0
    assert zone["bands"]["below_s"] == 60 * minutes
    assert zone["bands"]["near_s"] == 60 * near
    plumbago = next(each for each in zone["plants"] if each["name"] == "plumbago")
    assert plumbago["below_k_h"] == pytest.approx(k_h)
    ((low_c,),) = db.execute(f"SELECT min(low_c) FROM {BENCH} AND {EVENING} = '{COLD}'")
    assert zone["low"]["temp_c"] == low_c
    money = f"SELECT sum(on_s * power_w / 3.6e6 * {PRICE}) FROM {HEAT}"
    ((cost,),) = db.execute(f"{money} AND {EVENING} = '{COLD}'")
    assert heater["cost"] == pytest.approx(cost)
    switched = "switching JOIN output ON output.id = output WHERE is_on"
    ((pulses,),) = db.execute(f"SELECT count(*) FROM {switched} AND {EVENING} = '{COLD}'")
    assert heater["pulses"] == pulses
    assert told["gaps"] == []
    said = ask(f"lastnight --evening {COLD}")
    assert f"fell {LEAST_C - low_c:.1f} K below its tenderest plant's minimum" in said
    assert f"{cost:.2f} EUR" in said


def test_the_winter_is_the_sum_of_its_nights(ask: Ask, db: sqlite3.Connection) -> None:
    (winter,) = ask("lastnight --winter --json")
    until = "utc_s < strftime('%s', '2026-02-07 11:00')"
    ((kwh, cost, pulses),) = db.execute(
        f"SELECT sum(on_s * power_w) / 3.6e6, sum(on_s * power_w / 3.6e6 * {PRICE}),"
        f" sum(switchings) FROM {HEAT} AND {until}"
    )
    ((frost_k_h,),) = db.execute(
        "SELECT sum(max(0, -c)) FROM"
        f" (SELECT avg(mean_c) AS c FROM {OUTDOORS} AND {until} GROUP BY utc_s / 3600)"
    )
    assert winter["kwh"] == pytest.approx(kwh)
    assert winter["cost"] == pytest.approx(cost)
    assert winter["pulses"] == pulses
    assert winter["frost_k_h"] == pytest.approx(frost_k_h)
    frosty = by_evening(db, "min(low_c)", f"{OUTDOORS} AND {until}")
    frosts = sorted(evening for evening, low_c in frosty.items() if low_c < 0.0)
    assert (winter["first_frost"], winter["last_frost"]) == (frosts[0], frosts[-1])
    assert winter["with_frost"] == len(frosts)
    chilled = by_evening(db, "min(low_c)", f"{BENCH} AND {until}")
    assert winter["below"] == sum(low_c < LEAST_C for low_c in chilled.values())


def test_what_is_learned_is_what_the_heat_held(ask: Ask, db: sqlite3.Connection) -> None:
    """In long dark hours heat is loss: kWh over kelvin hours, from midnight to six."""
    told = ask("learn --json")
    loss = told["learned"]["loss_w_per_k"]
    dark = "time(utc_s, 'unixepoch') >= '23:00' OR time(utc_s, 'unixepoch') < '05:00'"
    heated = (
        f"SELECT utc_s / 3600 FROM {HEAT} AND ({dark}) AND utc_s >= strftime('%s', '2026-01-23')"
        " GROUP BY utc_s / 3600 HAVING sum(on_s) > 900"
    )
    ((k_h,),) = db.execute(
        f"SELECT sum(c) / 60 FROM (SELECT minute.utc_s, min(CASE WHEN name LIKE 'bench-%' THEN"
        " mean_c END) - max(CASE WHEN name = 'outdoors' THEN mean_c END) AS c FROM minute"
        f" JOIN probe ON probe.id = probe WHERE utc_s / 3600 IN ({heated}) GROUP BY utc_s)"
    )
    ((kwh,),) = db.execute(
        f"SELECT sum(on_s * power_w) / 3.6e6 FROM {HEAT} AND utc_s / 3600 IN ({heated})"
    )
    # What the mass gives or takes in those hours is left out of the plain sum.
    assert loss["value"] == pytest.approx(1000.0 * kwh / k_h, rel=0.2)


def test_the_outlook_falls_as_far_as_the_nights_before_and_its_heat_comes(
    ask: Ask, db: sqlite3.Connection
) -> None:
    (told,) = ask("tonight --json", AFTERNOON)
    assert told["kind"] == "nights"
    now_s = int(AFTERNOON.timestamp())
    falls_k = sorted(
        db.execute(
            "SELECT (SELECT avg(mean_c) FROM minute JOIN probe ON probe.id = probe"
            " WHERE name = 'outdoors' AND utc_s BETWEEN :then - 900 AND :then + 899)"
            " - (SELECT min(mean_c) FROM minute JOIN probe ON probe.id = probe"
            " WHERE name = 'outdoors' AND utc_s BETWEEN :then + 6000 AND :then + 65000)",
            {"then": now_s - back * 86_400},
        ).fetchone()[0]
        for back in range(1, 31)
    )
    middle_k = (falls_k[14] + falls_k[15]) / 2.0
    # Ten nights ago the sun set up to a quarter of an hour sooner; the program goes by the sun.
    assert told["outdoor_c"] - told["outdoor_low"]["temp_c"] == pytest.approx(middle_k, abs=0.25)
    kept = told["ways"]["kept"]
    assert kept["low_c"] > LEAST_C - 1.0
    assert CHEAP * kept["kwh"] <= kept["cost"] <= DEAR * kept["kwh"]
    said = ask("tonight", AFTERNOON)
    assert f"{kept['kwh']:.1f} kWh, {kept['cost']:.2f} EUR" in said
    assert max(map(len, said.splitlines())) <= 80


def test_outlooks_are_scored_as_sql_scores_them(
    ask: Ask, db: sqlite3.Connection, folder: Path
) -> None:
    for back in range(6, 0, -1):
        made = datetime.fromtimestamp(AFTERNOON.timestamp() - back * 86_400, UTC)
        ask("tonight --keep", made)
    scored = ask("tonight --score --json")
    assert len(scored) == 6
    for each in scored:
        made_s, until_s = (
            datetime.fromisoformat(each["said"][name]).timestamp()
            for name in ("made_utc", "until_utc")
        )
        ((came_c,),) = db.execute(
            f"SELECT min(low_c) FROM {BENCH} AND utc_s >= ? AND utc_s < ?", (made_s, until_s)
        )
        assert each["inside_c"] == came_c
    assert "6 nights" in ask("tonight --score")
