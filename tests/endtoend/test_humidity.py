"""A house with a humidity chip, from the kernel's files to journal, status and screen."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

from greenkeeper import folders
from greenkeeper.assembly import assemble, reassemble
from greenkeeper.clock import HandClock
from greenkeeper.daemon import Keeper
from greenkeeper.reports import board
from greenkeeper.settings.load import load
from tests.support.chiptree import ChipTree

SETTINGS = """\
site: {{name: orchard-house}}
probes:
  bench: {{kind: kernel, chip: bme280, at: 1-0076}}
chips: {{iio_folder: {tree.folders.iio}, hwmon_folder: {tree.folders.hwmon}}}
folders: {{state: {root}/state, runtime: {root}/run}}
zones:
  bench: {{probes: [bench]}}
"""
HYGROMETER = """\
hygrometers:
  bench-damp: {kind: kernel, chip: bme280, at: 1-0076, beside: bench}
"""


def house(tmp_path: Path, extra: str = HYGROMETER) -> tuple[ChipTree, Path]:
    tree = ChipTree(tmp_path / "sys")
    tree.add_bme280()
    file = tmp_path / "house.yaml"
    file.write_text(SETTINGS.format(tree=tree, root=tmp_path) + extra, encoding="utf-8")
    return tree, file


def status(tmp_path: Path) -> dict:
    return json.loads((tmp_path / "run" / "status.json").read_text(encoding="utf-8"))


def test_humidity_reaches_status_screen_and_journal_and_a_lost_chip_is_told(tmp_path):
    tree, file = house(tmp_path)
    settings = load(file)
    clock = HandClock(utc_s=1.8e9)
    keeper = Keeper(assemble(file, settings, clock), clock)

    def ticks(number: int) -> None:
        for _ in range(number):
            clock.advance(10.0)
            keeper.tick()

    ticks(3)
    seen = status(tmp_path)
    assert seen["hygrometers"]["bench-damp"]["rh_pct"] == 87.33
    assert seen["hygrometers"]["bench-damp"]["dew_point_c"] == 3.2
    assert "  bench-damp         87 %   dew point 3.2 °C" in board.lines(seen)
    tree.vanish("1-0076")
    ticks(40)
    seen = status(tmp_path)
    assert seen["hygrometers"]["bench-damp"]["rh_pct"] is None
    assert ("probe-missing", "bench-damp") in {
        (alarm["code"], alarm["subject"]) for alarm in seen["alarms"]
    }
    assert any("the kernel shows no chip bme280" in line for line in board.lines(seen))
    keeper.stop()
    keeper.run()
    with closing(sqlite3.connect(folders.journal_file(settings))) as db:
        rows = db.execute(
            "SELECT name, source, sum(n), min(low_pct), max(high_pct)"
            " FROM humidity_minute JOIN hygrometer ON hygrometer.id = hygrometer"
        ).fetchall()
    assert rows == [("bench-damp", "kernel bme280 1-0076", 3, 87.331, 87.331)]


def test_a_hygrometer_may_be_added_while_the_keeper_runs(tmp_path):
    _, file = house(tmp_path, extra="")
    clock = HandClock(utc_s=1.8e9)
    keeper = Keeper(assemble(file, load(file), clock), clock, rebuild=reassemble)
    keeper.reload()
    file.write_text(file.read_text(encoding="utf-8") + HYGROMETER, encoding="utf-8")
    before = keeper.parts.collector
    keeper.run(until_s=clock.mono_s() + 25.0)
    assert keeper.parts.collector is before  # probes and outputs were left alone
    assert keeper.memory.hygrometers["bench-damp"].good_pct == 87.331
