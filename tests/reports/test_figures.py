"""How many digits a sum is told with."""

import pytest

from greenkeeper.reports.words import figure


@pytest.mark.parametrize(
    ("value", "decimals", "told"),
    [
        (0.0, 1, "0.0"), (3.44, 1, "3.4"), (12.34, 1, "12.3"), (816.3, 1, "816"),
        (-150.6, 1, "-151"),
        (0.333, 2, "0.33"), (4.234, 2, "4.23"), (22.16, 2, "22.2"), (221.52, 2, "222"),
    ],
)  # fmt: skip
def test_a_sum_has_three_figures(value: float, decimals: int, told: str) -> None:
    assert figure(value, decimals) == told
