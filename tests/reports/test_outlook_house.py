"""What the outlook says of a house that it cannot reckon with."""

import re

import pytest

from greenkeeper.reports import outlook_house
from tests.reports.nights import HOUSE


@pytest.mark.parametrize(
    ("stated_w", "told"),
    [
        ((None, 500.0), r"outputs\.heater\.power_w is missing .* until greenkeeper learn"),
        ((900.0, None), r"outputs\.spare\.power_w is missing .* Write the watts"),
        ((None, None), r"outputs\.heater\.power_w and outputs\.spare\.power_w are missing"),
    ],
)
def test_of_two_heaters_the_one_whose_power_is_missing_is_named(
    stated_w: tuple[float | None, float | None], told: str
) -> None:
    heater, heat = HOUSE.outputs["heater"], HOUSE.zones["bench"].heat
    assert heat is not None
    outputs = {
        name: heater.model_copy(update={"power_w": power_w})
        for name, power_w in zip(("heater", "spare"), stated_w, strict=True)
    }
    two = HOUSE.model_copy(update={"outputs": outputs})
    said = outlook_house.no_power(two, heat.model_copy(update={"second_output": "spare"}))
    assert re.search(told, said)
