"""Hygrometers that fail, lie or hang: heat never hears of them."""

import os
from collections.abc import Callable

from tests.faults.fault import Fault, Heat
from tests.faults.house import BREAKS_S, MENDS_S, House
from tests.support.chiptree import ChipTree

AT = "1-0076"
HUMIDITY = "in_humidityrelative_input"


def aired(act: Callable[[House, ChipTree], None], poll_s: float = 10.0) -> Callable[[House], None]:
    """The bench has a hygrometer and may be aired; then this happens to its chip."""

    def inject(house: House) -> None:
        tree = ChipTree(house.folder / "sys")
        tree.add_bme280(AT)
        house.write_settings(
            poll_s=poll_s,
            extra="hygrometers:\n"
            f"  damp: {{kind: kernel, chip: bme280, at: {AT}, beside: left}}\n"
            f"chips: {{iio_folder: {tree.folders.iio}, hwmon_folder: {tree.folders.hwmon}}}\n",
        )
        text = house.file.read_text(encoding="utf-8")
        assert text.count("    cool:") == 1
        more = "    hygrometer: damp\n    air: {output: fan}\n    cool:"
        house.file.write_text(text.replace("    cool:", more), encoding="utf-8")
        act(house, tree)

    return inject


def gone(house: House, tree: ChipTree) -> None:
    house.at(BREAKS_S, tree.vanish, AT)
    house.at(MENDS_S, tree.add_bme280, AT, 3)


def says(text: str) -> Callable[[House, ChipTree], None]:
    def act(house: House, tree: ChipTree) -> None:
        house.at(BREAKS_S, tree.put, AT, HUMIDITY, text)
        house.at(MENDS_S, tree.put, AT, HUMIDITY, "87331")

    return act


def broken(house: House, tree: ChipTree) -> None:
    def mend() -> None:
        tree.vanish(AT)
        tree.add_bme280(AT)

    house.at(BREAKS_S, tree.broken, AT, HUMIDITY)
    house.at(MENDS_S, mend)


def hangs(house: House, tree: ChipTree) -> None:
    def release() -> None:
        file = tree.file(AT, HUMIDITY)
        writer = os.open(file, os.O_WRONLY | os.O_NONBLOCK)
        tree.put(AT, HUMIDITY, "87331")
        os.write(writer, b"87331\n")
        os.close(writer)

    house.at(BREAKS_S, tree.hang, AT, HUMIDITY)
    house.at(MENDS_S, release)


FAULTS = (
    Fault("hygrometer-gone", "the humidity chip is unplugged, and back under another number",
          aired(gone), Heat.GOES_ON, ("probe-missing",)),
    Fault("hygrometer-broken", "every read of the humidity chip fails",
          aired(broken), Heat.GOES_ON, ("probe-missing",)),
    Fault("hygrometer-nonsense", "its kernel file holds some text",
          aired(says("damp")), Heat.GOES_ON, ("probe-unreadable",)),
    Fault("hygrometer-bone-dry", "a broken humidity chip says 0 %",
          aired(says("0")), Heat.GOES_ON, ("probe-out-of-range",)),
    Fault("hygrometer-hangs", "its kernel file does not answer",
          aired(hangs, poll_s=2.0), Heat.GOES_ON, ("probe-stale",)),
)  # fmt: skip
