"""A dawn that is left to the sun, and what is said where something is missing for it."""

import pytest

from tests.settings.examples import changed, remarks, said

_ON = "      leave_dawn_to_sun: true\n"
_HEAT = "      setpoint_c: 5\n"
_PULSED = f"{_HEAT}      strategy: proportion\n"
_FORECAST = "forecast: {topic: weather/tonight}\nbroker: {host: hub}\njournal:"


def _text(heat: str = _PULSED, *more: tuple[str, str], forecast: str = _FORECAST) -> str:
    return changed((_HEAT, heat + _ON), ("journal:", forecast), *more)


def test_with_pulses_plants_and_a_forecast_it_is_sound() -> None:
    assert said(_text()) == []
    assert not any("leave_dawn" in each for each in remarks(_text()))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            _text(_HEAT),
            "found true, with strategy: hysteresis; allowed with strategy: proportion",
        ),
        (
            _text(_PULSED, (", min_c: 4", ", max_c: 40")),
            "found true, where no plant of the zone has a min_c;"
            " allowed with plants that say their min_c",
        ),
        (
            _text(forecast="journal:"),
            "found true, and no forecast; allowed with forecast: in the settings"
            "\n    Nothing else knows of the coming morning.",
        ),
    ],
)
def test_what_is_missing_for_it_is_told(text: str, expected: str) -> None:
    (fault,) = said(text)
    assert "zones.bench.heat.leave_dawn_to_sun: " in fault
    assert fault.endswith(expected)


def test_where_nothing_is_in_reserve_that_is_said() -> None:
    at_the_minimum = _PULSED.replace("setpoint_c: 5", "setpoint_c: 4")
    (remark,) = (each for each in remarks(_text(at_the_minimum)) if "leave_dawn" in each)
    assert "lets nothing go: the setpoint is at the plants' minimum" in remark
