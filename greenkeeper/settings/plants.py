"""RHS hardiness ratings as winter minima.

Source: RHS hardiness rating sheet; a rating's range is that of absolute winter
minimum temperatures. The lower end is what the plant is said to stand, so that is the
minimum used here. The lower bound of H7 is open: -25 is this project's own figure.
"""

from enum import StrEnum


class Rating(StrEnum):
    H1A = "H1a"
    H1B = "H1b"
    H1C = "H1c"
    H2 = "H2"
    H3 = "H3"
    H4 = "H4"
    H5 = "H5"
    H6 = "H6"
    H7 = "H7"


_MINIMUM_C = {
    Rating.H1A: 15.0,
    Rating.H1B: 10.0,
    Rating.H1C: 5.0,
    Rating.H2: 1.0,
    Rating.H3: -5.0,
    Rating.H4: -10.0,
    Rating.H5: -15.0,
    Rating.H6: -20.0,
    Rating.H7: -25.0,
}


def minimum_c(rating: Rating) -> float:
    """The lowest temperature in °C a plant of this rating is said to stand."""
    return _MINIMUM_C[rating]
