"""A rehearsal's picture: every figure over the time it stands for, and no words over others."""

from pathlib import Path
from typing import Any

import pytest

from greenkeeper.rehearsal.faults import KINDS, Fault
from greenkeeper.rehearsal.ledger import Hour, Result, ZoneFigures
from greenkeeper.reports import picture, rehearsal_picture
from greenkeeper.settings.schema import Settings

FROM_UTC_S = 1_768_003_200.0  # 2026-01-10 00:00
_DAY_S = 86_400.0
SETTINGS = Settings.model_validate(
    {
        "site": {"name": "hillside"},
        "probes": {"shelf": {"kind": "modelled", "place": "bench"}},
        "outputs": {"bar": {"kind": "modelled", "drives": "heater", "power_w": 800}},
        "zones": {"shelf": {"probes": ["shelf"], "heat": {"output": "bar", "setpoint_c": 5}}},
    }
)


def lived(days: int) -> Result:
    """Every hour of a day as warm as it is late."""
    hours = tuple(
        Hour(
            FROM_UTC_S + 3600.0 * at, *(float(at % 24),) * 3, outdoor_c=0.0, heat_kwh=0.1,
            heated=0.5, cooled=0.2, cost=None, below_s=0.0, locked=False,
        )
        for at in range(24 * days)
    )  # fmt: skip
    zone = ZoneFigures(
        "shelf", 4.0, 38.0, 0.0, FROM_UTC_S, 11.5, 23.0, FROM_UTC_S, 0.0, 0.0, 0.0, 0.0, 0.0, hours
    )
    return Result(
        FROM_UTC_S, FROM_UTC_S + days * _DAY_S, 24 * days, (zone,), (), 1.0, None, (),
        frozenset(), 0.0,
    )  # fmt: skip


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    kept: list[Any] = []
    monkeypatch.setattr(picture, "save", lambda figure, file: kept.append(figure))
    return kept


@pytest.mark.parametrize(("days", "first_h"), [(3, 0.5), (30, 12.0)])
def test_a_mean_stands_in_the_middle_of_what_it_is_the_mean_of(
    drawn: list[Any], days: int, first_h: float
) -> None:
    rehearsal_picture.draw(Path("winter.png"), SETTINGS, lived(days))
    temperatures, heat = drawn[0].axes
    mean = temperatures.lines[0].get_xdata()
    assert mean[0] == pytest.approx(picture.day(FROM_UTC_S + first_h * 3600.0))
    assert heat.patches[0].get_x() == pytest.approx(picture.day(FROM_UTC_S))


@pytest.mark.parametrize("name", KINDS)
def test_what_broke_on_the_first_day_is_told_clear_of_the_axis_unit(
    drawn: list[Any], name: str
) -> None:
    fault = Fault(name, FROM_UTC_S, FROM_UTC_S + _DAY_S / 2.0)
    rehearsal_picture.draw(Path("winter.png"), SETTINGS, lived(30), fault)
    figure = drawn[0]
    figure.draw_without_rendering()
    heat = figure.axes[-1]
    unit, broken = heat._left_title, heat._right_title
    assert broken.get_text().endswith(KINDS[name])
    assert unit.get_window_extent().x1 < broken.get_window_extent().x0
