"""Prints what a season costs: a year of hours, and every question asked of it.

Run: python -m tests.bench.bench_season
"""

import resource
import time

from greenkeeper.reports import season, season_climate, season_house
from greenkeeper.settings.load import load
from tests.settings import shipped
from tests.support import weatherfiles


def main() -> None:
    settings = load(shipped.FOLDER / "greenkeeper.yaml")
    sheet = season_house.described(settings)
    file = season_climate.WeatherFile("essen.csv", weatherfiles.german_csv(5).encode())
    began_s = time.perf_counter()
    climate = season_climate.climate(settings, sheet, file)
    read_s = time.perf_counter()
    shares: list[float] = []
    season.facts(settings, season_house.held(settings), climate, shares.append)
    done_s = time.perf_counter()
    peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"a year's file read and its sun placed: {read_s - began_s:6.2f} s")
    print(f"{len(shares)} seasons of 8760 hours:             {done_s - read_s:6.2f} s")
    print(f"memory at its peak:                    {peak_mib:6.1f} MiB")


if __name__ == "__main__":
    main()
