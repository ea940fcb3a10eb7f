"""One house with a full record for all tests that only look, and one each for the others."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.page import house as houses
from tests.page.house import House
from tests.page.serving import Served, served


@pytest.fixture(scope="session")
def lived_in(tmp_path_factory: pytest.TempPathFactory) -> House:
    house = House(tmp_path_factory.mktemp("lived-in"))
    house.write_journal()
    house.write_status(houses.status(house))
    house.write_outlooks(*(houses.outlook(days_ago=days) for days in range(12, -1, -1)))
    return house


@pytest.fixture(scope="module")
def page(lived_in: House) -> Iterator[Served]:
    """Of the house that is lived in. Look, and change nothing.

    No longer than a module: tests that freeze the clock would freeze its loop as well.
    """
    with served(lived_in) as found:
        yield found


@pytest.fixture
def house(tmp_path: Path) -> House:
    """A house of the test's own, on its first day: no journal, no keeper."""
    return House(tmp_path)
