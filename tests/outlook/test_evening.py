"""The FAO's evening method, to the digit of its book's example."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.outlook.evening import LEAST_EVENINGS, Evening, fit
from tests.support.tables import rows

BOOK = [{name: float(value) for name, value in row.items()} for row in rows("fao_ten_nights")]
NIGHTS = [Evening(row["start_c"], row["dew_point_c"], row["low_c"]) for row in BOOK]
DRY = [each._replace(dew_point_c=None) for each in NIGHTS]


def test_the_books_ten_nights_by_the_air_alone() -> None:
    found = fit(DRY)
    assert found is not None
    assert found.slope == pytest.approx(0.502812148, abs=5e-10)
    assert found.offset_c == pytest.approx(-5.908548931, abs=5e-10)
    assert found.spread_k == pytest.approx(0.638, abs=0.0005)
    for row in BOOK:
        assert found.low_c(row["start_c"]) == pytest.approx(row["by_air_c"], abs=0.005)


def test_the_books_ten_nights_with_the_dew_point_stage_by_stage() -> None:
    found = fit(NIGHTS)
    assert found is not None
    assert found.dew_slope == pytest.approx(0.026471645, abs=5e-10)
    assert found.offset_c == pytest.approx(-5.821986654, abs=5e-10)
    assert found.spread_k == pytest.approx(0.631, abs=0.0005)
    for row in BOOK:
        low_c = found.low_c(row["start_c"], row["dew_point_c"])
        assert low_c == pytest.approx(row["by_both_c"], abs=0.005)
    # The published prediction. Least squares over both at once would say -1.029.
    assert found.low_c(10.0, 2.0) == pytest.approx(-0.7409219, abs=5e-8)


def test_one_dew_point_that_is_missing_leaves_all_of_them_out() -> None:
    found = fit([*NIGHTS[:-1], DRY[-1]])
    assert found is not None
    assert found.dew_slope is None


def test_a_fit_by_dew_points_asks_for_one() -> None:
    found = fit(NIGHTS)
    assert found is not None
    with pytest.raises(ValueError, match="dew point"):
        found.low_c(3.0)


def test_too_few_evenings_and_evenings_all_alike_fit_nothing() -> None:
    assert fit(DRY[: LEAST_EVENINGS - 1]) is None
    assert fit([DRY[0]] * LEAST_EVENINGS) is None


@given(
    st.lists(st.floats(-20, 20), min_size=LEAST_EVENINGS, max_size=30, unique=True),
    st.floats(-2, 2),
    st.floats(-10, 10),
)
def test_nights_on_a_line_give_that_line(
    starts: list[float], slope: float, offset_c: float
) -> None:
    found = fit([Evening(start, None, slope * start + offset_c) for start in starts])
    if max(starts) - min(starts) < 1.0:
        return
    assert found is not None
    assert found.low_c(3.0) == pytest.approx(slope * 3.0 + offset_c, abs=1e-6)
    assert found.spread_k == pytest.approx(0.0, abs=1e-6)
