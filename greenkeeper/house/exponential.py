"""The exponential of a rate matrix, without any cancellation.

Lives here: exp(rates · dt) for matrices whose off-diagonal entries are not negative,
as those of every network of heat flows are. Does not live here: what the entries mean.
A closed form by eigenvalues was rejected: it divides by differences of time constants,
and two lags set to the same value are nothing unusual.
"""

import itertools
import math

Matrix = list[list[float]]


def exponential(rates: Matrix, dt_s: float) -> Matrix:
    """exp(rates · dt_s), every entry good to rounding, whether rates are equal or not.

    rates: square, per second, off-diagonal entries >= 0, diagonal entries <= 0.
    Lifting the diagonal by its largest rate leaves sums and products of non-negative
    numbers only, so nothing cancels (Xue & Ye, "Entrywise relative perturbation bounds
    for exponentials of essentially non-negative matrices", Numer. Math. 110, 2008; from
    memory). The relative error is a few 1e-16, times fastest rate × dt_s where that is
    above one: nothing for minutes, and 1e-7 for thirty years of a probe with a lag of 3 s.
    """
    fastest = max(-row[i] for i, row in enumerate(rates))
    halvings = max(0, math.ceil(math.log2(fastest * dt_s))) if fastest * dt_s > 1.0 else 0
    part_s = dt_s / 2**halvings
    lifted = [
        [part_s * (rate + (fastest if i == j else 0.0)) for j, rate in enumerate(row)]
        for i, row in enumerate(rates)
    ]
    sunk = math.exp(-fastest * part_s)
    result = [[sunk * entry for entry in row] for row in _series(lifted)]
    for _ in range(halvings):
        result = _product(result, result)
    return result


def _series(matrix: Matrix) -> Matrix:
    """Taylor's series of exp, until a further term changes no digit of any entry."""
    size = range(len(matrix))
    term = [[float(i == j) for j in size] for i in size]
    total = term
    for count in itertools.count(1):
        term = [[entry / count for entry in row] for row in _product(term, matrix)]
        larger = [[total[i][j] + term[i][j] for j in size] for i in size]
        if larger == total:
            break
        total = larger
    return total


def _product(left: Matrix, right: Matrix) -> Matrix:
    return [_mixture(row, right) for row in left]


def _mixture(weights: list[float], rows: Matrix) -> list[float]:
    total = [0.0] * len(weights)
    for weight, row in zip(weights, rows, strict=True):
        if weight != 0.0:  # most are zero: parts that do not touch
            total = [sum_ + weight * entry for sum_, entry in zip(total, row, strict=True)]
    return total
