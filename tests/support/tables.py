"""Published (or computed, where the head says so) numbers kept beside the tests.

Every file in tests/tables/ opens with comment lines: quantity, unit, source, edition
or page, allowed difference. Then a header row, then the numbers.
"""

import csv
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "tables"


def rows(name: str) -> list[dict[str, str]]:
    """The rows of tests/tables/NAME.csv, by column."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def values(name: str) -> dict[str, float]:
    """A table of the two columns quantity and value, as one mapping."""
    return {row["quantity"]: float(row["value"]) for row in rows(name)}
