"""What of a journal counts as evidence of the house, where something else heats too."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from greenkeeper.house.learning.nights import Evidence, Skipped
from greenkeeper.journal.reader import Journal
from greenkeeper.journal.rows import OutputMinute
from greenkeeper.reports import learning_data
from greenkeeper.reports.night import Span
from greenkeeper.settings.house import House
from greenkeeper.settings.schema import Heat, Settings
from tests.reports.nights import HOUSE, minutes_of, written

FROM_UTC_S = datetime(2031, 1, 14, 0, tzinfo=UTC).timestamp()
MORNING_UTC_S = FROM_UTC_S + 36 * 3600.0


def house(*, tented: bool, mat_w: float | None = 150.0) -> Settings:
    mat = HOUSE.outputs["heater"].model_copy(update={"power_w": mat_w})
    zone = HOUSE.zones["bench"]
    nursery = zone.model_copy(
        update={"probes": ("outdoors",), "heat": Heat(output="mat", setpoint_c=12.0)}
    )
    tent = {"tent": {"zone": "nursery"}} if tented else {}
    return HOUSE.model_copy(
        update={
            "outputs": {**HOUSE.outputs, "mat": mat},
            "zones": {"bench": zone, "nursery": nursery},
            "house": House.model_validate(tent),
        }
    )


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The heater on for 12 s of every minute; the mat for 30 s, all the time."""
    made = tmp_path_factory.mktemp("mat") / "journal.db"
    span = Span(FROM_UTC_S, MORNING_UTC_S)
    rows = minutes_of(span, lambda h: 5.0, on_s=lambda h: 12.0)
    rows += [
        OutputMinute(utc_s, "mat", 150.0, 30.0, 0)
        for utc_s in range(int(span.from_utc_s), int(span.to_utc_s), 60)
    ]
    written(made, sorted(rows, key=lambda row: row.utc_s))
    return made


def newest(file: Path, settings: Settings) -> Evidence:
    with Journal(file) as journal:
        found = next(iter(learning_data.evidence(journal, settings, MORNING_UTC_S)))
    assert isinstance(found, Evidence)
    return found


def test_what_heats_under_a_tent_warms_the_house_by_its_share_of_the_power(file: Path) -> None:
    night = newest(file, house(tented=True))
    assert all(night.undisturbed)
    # 30 s at 150 W are 3 s at 1500 W.
    assert [each for each in night.heater_s if each is not None] == pytest.approx(
        [15.0] * len(night.heater_s)
    )


def test_another_heater_in_the_same_air_disturbs(file: Path) -> None:
    night = newest(file, house(tented=False))
    assert not any(night.undisturbed)
    assert set(night.heater_s) == {12.0}


def test_a_heater_under_the_tent_whose_power_nobody_states_disturbs(file: Path) -> None:
    assert not any(newest(file, house(tented=True, mat_w=None)).undisturbed)


def in_pairs(second_w: float | None = 150.0) -> Settings:
    """The bench heated by both: the mat joins as its second heater."""
    alone = house(tented=False, mat_w=second_w)
    bench = alone.zones["bench"]
    assert bench.heat is not None
    heat = bench.heat.model_copy(update={"second_output": "mat"})
    zones = {"bench": bench.model_copy(update={"heat": heat})}
    return alone.model_copy(update={"zones": zones})


def test_a_second_heater_of_the_zone_counts_by_its_share_of_the_power(file: Path) -> None:
    night = newest(file, in_pairs())
    assert all(night.undisturbed)
    assert [each for each in night.heater_s if each is not None] == pytest.approx(
        [15.0] * len(night.heater_s)
    )


def test_a_second_heater_whose_power_nobody_states_disturbs(file: Path) -> None:
    assert not any(newest(file, in_pairs(second_w=None)).undisturbed)


def test_nights_of_another_second_heater_end_the_search(file: Path) -> None:
    with Journal(file) as journal:
        (found,) = learning_data.evidence(journal, in_pairs(second_w=400.0), MORNING_UTC_S)
    assert isinstance(found, Skipped)
    assert "the settings said 150 W of mat, and now say 400 W" in found.reason


@pytest.mark.parametrize(("now_w", "told"), [(2000.0, "and now say 2000 W"), (None, "say nothing")])
def test_nights_of_another_power_are_named_and_end_the_search(
    file: Path, now_w: float | None, told: str
) -> None:
    heater = HOUSE.outputs["heater"].model_copy(update={"power_w": now_w})
    settings = HOUSE.model_copy(update={"outputs": {"heater": heater}})
    with Journal(file) as journal:
        (found,) = learning_data.evidence(journal, settings, MORNING_UTC_S)
    assert isinstance(found, Skipped)
    assert "the settings said 1500 W of heater" in found.reason
    assert told in found.reason
