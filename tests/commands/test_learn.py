"""`greenkeeper learn`: from a real journal of a house that is known to what is told of it."""

import json
import sqlite3
import sys
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from freezegun import freeze_time

from greenkeeper import commands, learned_file
from greenkeeper.journal.rows import Minute, OutputMinute
from greenkeeper.learned import Estimate, Kept, Learned
from tests.support.lived_nights import Lived, lived, written

HOUSE, NIGHTS = 3, 6
MARGIN = 3.0  # standard uncertainties: a test must not fail for an honest one in ten


class Grower:
    """Somebody who types the command in the house's last noon."""

    def __init__(self, folder: Path, played: Lived) -> None:
        self.folder, self.played = folder, played
        self.journal = folder / "journal.db"
        self.settings: dict[str, Any] = played.settings.model_dump(
            mode="json", exclude_unset=True, by_alias=True
        )
        self.settings["folders"] = {"state": str(folder), "runtime": str(folder)}

    def types(self, *words: str) -> int:
        file = self.folder / "house.yaml"
        file.write_text(yaml.safe_dump(self.settings), encoding="utf-8")
        with freeze_time(datetime.fromtimestamp(self.played.to_utc_s, UTC)):
            return commands.main(["learn", "--settings", str(file), *words])

    @property
    def kept(self) -> Kept:
        return learned_file.read(self.folder / learned_file.FILE_NAME).kept

    @property
    def learned(self) -> Learned:
        assert self.kept.learned is not None
        return self.kept.learned

    def changed(self, sql: str) -> None:
        with closing(sqlite3.connect(self.journal)) as db:
            db.execute(sql)
            db.commit()


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> tuple[Lived, bytes]:
    found = lived(HOUSE, NIGHTS, poll_s=60.0)
    file = tmp_path_factory.mktemp("journal") / "journal.db"
    written(file, found.minutes)
    return found, file.read_bytes()


@pytest.fixture
def grower(played: tuple[Lived, bytes], tmp_path: Path) -> Grower:
    (tmp_path / "journal.db").write_bytes(played[1])
    return Grower(tmp_path, played[0])


def test_what_is_told_is_what_the_house_is(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    assert grower.types() == 0
    learned = grower.learned
    assert learned.nights == NIGHTS
    for name, truth in grower.played.truth(learned).items():
        figure = learned.figures()[name]
        assert isinstance(figure, Estimate), f"{name}: {figure}"
        assert abs(figure.value - truth) < MARGIN * figure.sigma, name
    truth = grower.played.truth(learned)
    assert learned.value("loss_w_per_k") == pytest.approx(truth["loss_w_per_k"], rel=0.15)
    assert learned.value("slow_s") == pytest.approx(truth["slow_s"], rel=0.3)
    told = capsys.readouterr().out
    assert (
        f"heat loss {learned.value('loss_w_per_k'):>14.0f} W/K".split()
        == (next(line for line in told.splitlines() if line.startswith("heat loss")).split()[:4])
    )
    assert all(len(line) <= 80 for line in told.splitlines())


def test_what_was_learned_can_be_seen_again(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    assert grower.types("--kept") == 1
    assert "nothing has been learned yet" in capsys.readouterr().err
    grower.types()
    first = capsys.readouterr().out
    assert grower.types("--kept") == 0
    assert capsys.readouterr().out == first


def test_without_a_power_only_ratios_are_told(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    grower.settings["outputs"]["heater"] = {"kind": "gpio", "pin": 17}
    grower.changed("UPDATE output SET power_w = NULL")
    grower.settings["house"] = {"loss_w_per_k": 200.0}
    assert grower.types("--json") == 0
    told = json.loads(capsys.readouterr().out)
    truth = grower.played.truth(grower.learned)
    assert told["learned"]["rise_k"]["value"] == pytest.approx(truth["rise_k"], rel=0.15)
    assert "power_w is not stated" in told["learned"]["loss_w_per_k"]["reason"]
    assert told["settings"] == {"loss_w_per_k": 200.0}


def test_nights_with_another_heater_teach_nothing_of_this_one(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    grower.changed("UPDATE output SET power_w = 777 WHERE name = 'heater'")
    assert grower.types() == 1
    assert "No night so far could teach anything" in capsys.readouterr().out


def test_a_changed_house_is_a_finding_and_kept_for_the_keeper(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    grower.types()
    (line,) = grower.kept.past
    before = {name: figure._replace(value=figure.value / 2.0, sigma=figure.sigma / 2.0)
              for name, figure in line.figures.items()}  # fmt: skip
    earlier = line._replace(
        from_utc_s=line.from_utc_s - 9e5, to_utc_s=line.from_utc_s - 60.0, figures=before
    )
    learned_file.write(grower.folder / learned_file.FILE_NAME, Kept(None, (earlier,)))
    capsys.readouterr()
    assert grower.types() == 1
    assert "Changed: the house loses more than before: up" in capsys.readouterr().out
    assert [notice.code for notice in grower.learned.notices] == ["loss-changed"]


def test_a_night_without_a_record_is_named_and_another_journal_only_looked_at(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    day_s = grower.played.to_utc_s - 2 * 86_400
    for table in ("minute", "output_minute"):
        grower.changed(
            f"DELETE FROM {table} WHERE id >= {day_s} * 1000 AND id < ({day_s} + 86400) * 1000"  # noqa: S608 - own numbers
        )
    assert grower.types("--file", str(grower.journal)) == 0
    told = capsys.readouterr().out
    assert f"{NIGHTS - 1} nights, " in told
    assert "Nights that taught nothing" in told
    assert grower.kept == Kept()


@pytest.mark.parametrize(
    ("key", "value", "why"),
    [
        ("outdoor_probe", None, "site.outdoor_probe is missing"),
        ("latitude", None, "without them nobody knows when it is dark"),
    ],
)
def test_a_site_that_says_too_little_is_refused_in_words(
    grower: Grower, capsys: pytest.CaptureFixture[str], key: str, value: object, why: str
) -> None:
    grower.settings["site"][key] = value
    if key == "latitude":
        grower.settings["site"]["longitude"] = None
    assert grower.types() == 1
    assert why in capsys.readouterr().err


def test_a_damaged_file_costs_the_history_and_is_told(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    (grower.folder / learned_file.FILE_NAME).write_text("{", encoding="utf-8")
    assert grower.types() == 0
    assert "makes no sense" in capsys.readouterr().err
    assert len(grower.kept.past) == 1


def test_where_it_cannot_be_kept_it_is_told_all_the_same(
    grower: Grower, capsys: pytest.CaptureFixture[str]
) -> None:
    (grower.folder / f".{learned_file.FILE_NAME}.new").mkdir()
    assert grower.types() == 1
    told = capsys.readouterr()
    assert "heat loss" in told.out
    assert "not kept" in told.err


def test_without_numpy_it_says_what_to_install(
    grower: Grower, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "numpy", None)
    assert grower.types() == 1
    assert "EXTRAS=learn" in capsys.readouterr().err


def test_kept_and_a_file_are_refused_together(grower: Grower) -> None:
    with pytest.raises(SystemExit) as ended:
        grower.types("--kept", "--file", "x")
    assert ended.value.code == 2


def staged(minutes: Sequence[Minute], powers_w: tuple[float, float]) -> list[Minute]:
    """The same heat, minute by minute, out of two heaters: the second joins where the first is
    not enough."""
    rows: list[Minute] = []
    for row in minutes:
        if not isinstance(row, OutputMinute) or row.power_w is None:
            rows.append(row)
            continue
        first_s = min(60.0, row.on_s * row.power_w / powers_w[0])
        second_s = (row.on_s * row.power_w - first_s * powers_w[0]) / powers_w[1]
        rows.append(row._replace(power_w=powers_w[0], on_s=first_s))
        rows.append(row._replace(output="spare", power_w=powers_w[1], on_s=second_s))
    return rows


def test_two_heaters_in_stages_teach_what_one_of_their_power_does(
    grower: Grower, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    grower.types()
    alone, (head, *_) = grower.learned, capsys.readouterr().out.splitlines()
    heater = grower.settings["outputs"]["heater"]
    whole_w = heater["power_w"]
    first_w, second_w = 0.2 * whole_w, 0.8 * whole_w
    grower.journal.unlink()
    rows = staged(grower.played.minutes, (first_w, second_w))
    assert any(isinstance(row, OutputMinute) and row.output == "spare" and row.on_s for row in rows)
    written(grower.journal, rows)
    heater["power_w"] = first_w
    grower.settings["outputs"]["spare"] = {**heater, "power_w": second_w}
    grower.settings["zones"]["bench"]["heat"]["second_output"] = "spare"
    (grower.folder / learned_file.FILE_NAME).unlink()
    assert grower.types() == 0
    both, said = grower.learned, capsys.readouterr().out
    assert both.nights == alone.nights
    assert both.power_w == first_w
    # The search ends where more of it would gain next to nothing, so not in quite the same place.
    for name in ("loss_w_per_k", "fast_s", "lag_s", "air_kj_per_k", "mass_kj_per_k", "rise_k"):
        first, whole = both.figures()[name], alone.figures()[name]
        assert isinstance(first, Estimate), name
        assert isinstance(whole, Estimate), name
        share = 0.2 if name == "rise_k" else 1.0
        assert abs(first.value - share * whole.value) < 0.3 * share * whole.sigma, name
    rise_k = both.value("rise_k")
    assert rise_k is not None
    assert said.startswith(head)
    told = " ".join(said.split())
    assert (
        f"spare counts by its {second_w:.0f} W: both together hold about {rise_k / 0.2:.0f} K"
        in told
    )
