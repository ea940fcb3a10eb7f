"""Prints what learning makes of thirty drawn houses, beside what they truly are.

Not a test: it judges nothing; the small cousin in tests/commands/test_learn.py does. The
targets: loss within 10 % in the median, the slow time constant within 20 %, and the stated
span holds the truth 80 to 97 times in a hundred. Nothing was fitted to these houses: the
method's own errors were set on others (house/learning/figures.py).

Fourteen nights of deep winter each, a tick every 30 s, with doors, sun on probes and noise
(tests/support/rehearsal.py). "truth" is the house in the wind that blew in its dark hours:
that is what its nights can tell. "usual wind" is the figure the house was drawn with.

Run: python -m tests.bench.bench_learning [HOW_MANY [FIRST]]
"""

import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from statistics import median
from typing import NamedTuple

from greenkeeper.house.learning.lesson import lesson
from greenkeeper.journal.reader import Journal
from greenkeeper.learned import Estimate, Learned
from greenkeeper.reports import learning_data
from tests.support.lived_nights import figures_of, lived, written

NIGHTS = 14
NAMES = (
    "loss_w_per_k", "slow_s", "rise_k", "lag_s", "fast_s", "air_kj_per_k", "mass_kj_per_k",
    "mass_w_per_k",
)  # fmt: skip
_NINE_IN_TEN = 1.645


class Seen(NamedTuple):
    number: int
    learned: Learned
    truth: dict[str, float]
    usual: dict[str, float]
    took_s: float


def seen(number: int) -> Seen:
    played = lived(number, NIGHTS)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "journal.db"
        written(file, played.minutes)
        began_s = time.perf_counter()
        with Journal(file) as journal:
            settings, now_s = played.settings, played.to_utc_s
            learned = lesson(
                learning_data.subject(settings),
                learning_data.evidence(journal, settings, now_s),
                learning_data.dawns(journal, settings, now_s),
                (),
                now_s,
            ).learned
        took_s = time.perf_counter() - began_s
    truth = played.truth(learned) if learned.nights else figures_of(played.house)
    return Seen(number, learned, truth, figures_of(played.house), took_s)


def main(how_many: int, first: int) -> None:
    # Every sixth drawn house has no probe outdoors: nothing can be learned there.
    seen_by = (number for number in range(first, first + 2 * how_many) if number % 6 != 5)
    numbers = list(seen_by)[:how_many]
    with ProcessPoolExecutor(max_workers=2) as pool:
        houses = []
        print("house  nights  loss W/K: truth    found    off      slow h: truth    found    off")
        for each in pool.map(seen, numbers):
            houses.append(each)
            print(_row(each), flush=True)
    print()
    print("                 known  median off   nine in ten   bias    span holds it  in usual wind")
    for name in NAMES:
        print(_summary(name, houses))
    took = [each.took_s for each in houses]
    print(f"\none lesson takes {median(took):.1f} s, {max(took):.1f} s at most")


def _row(each: Seen) -> str:
    loss = _pair(each, "loss_w_per_k", 1.0)
    slow = _pair(each, "slow_s", 3600.0)
    return f"{each.number:>5}{each.learned.nights:>8}{'':>9}{loss}{'':>8}{slow}"


def _pair(each: Seen, name: str, unit: float) -> str:
    truth, figure = each.truth[name], each.learned.figures()[name]
    if not isinstance(figure, Estimate):
        return f"{truth / unit:>9.1f}{'not told':>16}"
    off = figure.value / truth - 1.0
    return f"{truth / unit:>9.1f}{figure.value / unit:>9.1f}{100.0 * off:>6.0f} %"[:24]


def _summary(name: str, houses: list[Seen]) -> str:
    found = [(each.learned.figures()[name], each.truth[name], each.usual[name]) for each in houses]
    known = [(f, truth, usual) for f, truth, usual in found if isinstance(f, Estimate)]
    if not known:
        return f"{name:<16}{0:>6}"
    off = [f.value / truth - 1.0 for f, truth, _ in known]
    sizes = sorted(abs(each) for each in off)

    def held(which: int) -> float:
        return sum(
            abs(row[0].value - row[which]) <= _NINE_IN_TEN * row[0].sigma for row in known
        ) / len(known)

    return (
        f"{name:<16}{len(known):>6}{100.0 * median(sizes):>10.1f} %"
        f"{100.0 * sizes[int(0.9 * (len(sizes) - 1))]:>12.1f} %{100.0 * median(off):>7.1f} %"
        f"{100.0 * held(1):>12.0f} %{100.0 * held(2):>13.0f} %"
    )


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*given, *(30, 0)[len(given) :])
