"""A house loses more in wind, by as much as the published surface resistances say."""

import pytest

from greenkeeper.house import wind
from tests.support import tables


def test_at_the_usual_wind_the_house_loses_what_its_figure_says() -> None:
    assert wind.loss_share(wind.USUAL_M_S) == 1.0


@pytest.mark.parametrize("row", tables.rows("wind_on_glass"), ids=lambda row: row["wind_m_s"])
def test_the_skin_loses_what_iso_6946_makes_of_the_wind(row: dict[str, str]) -> None:
    u_w_m2k = wind._skin_w_m2k(float(row["wind_m_s"]))
    assert u_w_m2k == pytest.approx(float(row["u_w_m2k"]), abs=0.01)


def test_more_wind_never_loses_less_and_a_gale_less_than_twice_a_calm() -> None:
    shares = [wind.loss_share(tenth / 10.0) for tenth in range(200)]
    assert shares == sorted(shares)
    assert 0.6 < shares[5] < 0.8
    assert shares[100] < 2.0 * shares[5]
