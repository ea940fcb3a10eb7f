"""RHS hardiness ratings against the society's own sheet."""

from greenkeeper.settings.plants import Rating, minimum_c
from tests.support import tables

_SHEET = {row["rating"]: row for row in tables.rows("rhs_hardiness")}


def test_every_rating_of_the_sheet_is_known() -> None:
    assert {rating.value for rating in Rating} == set(_SHEET)


def test_a_ratings_minimum_is_the_lower_end_of_its_range() -> None:
    for rating in Rating:
        row = _SHEET[rating.value]
        if row["from_c"]:
            assert minimum_c(rating) == float(row["from_c"])
        else:
            assert minimum_c(rating) == -25.0 < float(row["to_c"])
