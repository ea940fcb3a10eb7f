"""Chips that the kernel reads, against real files in its format, good and broken."""

import errno
import os
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from greenkeeper.clock import HandClock
from greenkeeper.model import Fault, Reading
from greenkeeper.probes.chips import ChipFault, Quantity, Wanted, listed, measured
from greenkeeper.probes.collector import Collector
from greenkeeper.probes.kernel import KernelGroup, kernel_groups
from greenkeeper.probes.sysfs import KernelFiles
from tests.support.chiptree import ChipTree
from tests.support.waiting import eventually

TEMP, RH = Quantity.TEMPERATURE, Quantity.HUMIDITY
BME = Wanted("bme280")


@pytest.fixture
def tree(tmp_path: Path) -> ChipTree:
    return ChipTree(tmp_path / "sys")


class FailingFiles(KernelFiles):
    """A driver that answers with an error of its own for one file."""

    def __init__(self, name: str, error: int) -> None:
        self.name = name
        self.error = error

    def read(self, path: Path) -> bytes:
        if path.name == self.name:
            raise OSError(self.error, os.strerror(self.error))
        return super().read(path)


def read(tree: ChipTree, wanted: Wanted = BME, quantity: Quantity = TEMP) -> float | ChipFault:
    return measured(wanted, quantity, tree.folders, KernelFiles())


def refused(found: float | ChipFault) -> ChipFault:
    assert isinstance(found, ChipFault)
    return found


def group(tree: ChipTree, wanted: Wanted = BME) -> KernelGroup:
    return KernelGroup({"bench": wanted}, tree.folders, HandClock(utc_s=0.0))


# --- what the files mean ---------------------------------------------------------------


def test_a_chip_that_gives_values_ready_for_use(tree: ChipTree) -> None:
    tree.add_bme280()
    assert read(tree) == 5.13
    assert read(tree, quantity=RH) == 87.331
    assert group(tree).read() == {"bench": Reading(1000.0, 5.13)}


def test_a_chip_that_gives_raw_numbers_with_offset_and_scale(tree: ChipTree) -> None:
    tree.add_si7020()
    chip = Wanted("si7020")
    assert read(tree, chip) == pytest.approx(4.998, abs=0.001)
    assert read(tree, chip, RH) == pytest.approx(85.007, abs=0.001)


def test_without_offset_and_scale_a_raw_number_is_thousandths(tree: ChipTree) -> None:
    tree.add_iio("plain", "1-0048", in_temp_raw="-2500")
    assert read(tree, Wanted("plain")) == -2.5


def test_a_scale_that_all_channels_share(tree: ChipTree) -> None:
    tree.add_iio("four", "1-0048", in_temp1_raw="80", in_temp_scale="62.5")
    assert read(tree, Wanted("four", channel=1)) == 5.0


def test_a_chip_of_the_other_kind(tree: ChipTree) -> None:
    tree.add_hwmon("shtc3", "1-0070", temp1_input="-1250", humidity1_input="93000")
    assert read(tree, Wanted("shtc3")) == -1.25
    assert read(tree, Wanted("shtc3"), RH) == 93.0


def test_one_channel_of_several(tree: ChipTree) -> None:
    tree.add_hwmon("pair", "1-0048", temp1_input="5000", temp2_input="7000")
    assert read(tree, Wanted("pair")) == 5.0
    assert read(tree, Wanted("pair", channel=2)) == 7.0
    (chip,) = listed(tree.folders, KernelFiles())
    assert chip.channels(TEMP) == [None, 2]


@hypothesis_settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50)
@given(milli=st.integers(-55_000, 125_000))
def test_every_thousandth_is_exact(tree: ChipTree, milli: int) -> None:
    if not list(listed(tree.folders, KernelFiles())):
        tree.add_bme280()
    tree.put("1-0076", "in_temp_input", str(milli))
    assert read(tree) == milli / 1000.0


# --- which chip is meant -----------------------------------------------------------------


def test_a_chip_is_found_under_whatever_number(tree: ChipTree) -> None:
    tree.add_bme280(number=7)
    reader = group(tree)
    assert reader.read()["bench"].temp_c == 5.13
    tree.vanish("1-0076")
    tree.add_iio("other", "1-0048", 7, in_temp_input="99000")
    tree.add_bme280(number=0, temp="4000")
    assert reader.read()["bench"].temp_c == 4.0


def test_two_of_one_name_are_told_apart_by_where_they_sit(tree: ChipTree) -> None:
    tree.add_bme280("1-0076", 0, temp="5000")
    tree.add_bme280("1-0077", 1, temp="-3000")
    assert read(tree, Wanted("bme280", "1-0077")) == -3.0
    found = refused(read(tree))
    assert found.fault is Fault.MISSING
    assert "at: 1-0076 or at: 1-0077" in found.detail


def test_one_chip_shown_both_ways_is_one_chip(tree: ChipTree) -> None:
    tree.add_iio("sht", "1-0044", in_temp_input="5000")
    tree.add_hwmon("sht", "1-0044", temp1_input="5000", humidity1_input="90000")
    assert read(tree, Wanted("sht")) == 5.0
    assert read(tree, Wanted("sht"), RH) == 90.0


def test_probes_of_one_chip_share_a_group_and_other_chips_have_their_own(tree: ChipTree) -> None:
    wanted = {
        "a": Wanted("pair", channel=1),
        "b": BME,
        "c": Wanted("pair", channel=2),
    }
    groups = kernel_groups(wanted, tree.folders, HandClock(utc_s=0.0))
    assert [each.names for each in groups] == [("a", "c"), ("b",)]


# --- every way of failing ------------------------------------------------------------------


def test_nothing_at_all_is_a_missing_chip(tmp_path: Path) -> None:
    tree = ChipTree(tmp_path / "sys")
    for folder in tree.folders:
        folder.rmdir()
    assert refused(read(tree)) == ChipFault(Fault.MISSING, "the kernel shows no chip bme280")


def test_a_chip_without_the_wanted_quantity_says_so(tree: ChipTree) -> None:
    tree.add_iio("bmp280", "1-0076", in_temp_input="5000")
    found = refused(read(tree, Wanted("bmp280", "1-0076"), RH))
    assert found == ChipFault(Fault.MISSING, "the chip bmp280 at 1-0076 gives no humidity")


def test_a_true_error_of_the_kernel_is_a_fault(tree: ChipTree) -> None:
    tree.add_bme280()
    tree.broken("1-0076", "in_temp_input")
    found = refused(read(tree))
    assert found == ChipFault(Fault.MISSING, f"it cannot be read: {os.strerror(errno.EIO)}")
    tree.vanish("1-0076")
    tree.add_bme280()
    assert read(tree) == 5.13


@pytest.mark.parametrize(
    ("error", "fault"),
    [
        (errno.EAGAIN, Fault.MISSING),
        (errno.ETIMEDOUT, Fault.MISSING),
        (errno.EREMOTEIO, Fault.MISSING),
        (errno.ENODEV, Fault.MISSING),
        (errno.EBADMSG, Fault.CHECKSUM),
    ],
)
def test_each_error_of_a_driver_is_a_fault(tree: ChipTree, error: int, fault: Fault) -> None:
    tree.add_bme280()
    files = FailingFiles("in_temp_input", error)
    found = refused(measured(BME, TEMP, tree.folders, files))
    assert found.fault is fault
    assert os.strerror(error) in found.detail


@pytest.mark.parametrize(
    "rubbish", [b"", b"\n", b"warm\n", b"nan\n", b"inf\n", b"\xff\xfe", b"5 6"]
)
@pytest.mark.parametrize("attribute", ["in_temp_raw", "in_temp_scale", "in_temp_offset"])
def test_rubbish_in_any_file_is_no_number(tree: ChipTree, attribute: str, rubbish: bytes) -> None:
    tree.add_si7020()
    tree.rubbish("1-0040", attribute, rubbish)
    assert refused(read(tree, Wanted("si7020"))).fault is Fault.UNREADABLE


def test_a_chip_that_says_its_sensor_is_broken_is_believed_in_that(tree: ChipTree) -> None:
    tree.add_hwmon("board", "1-0048", temp1_input="5000", temp1_fault="1")
    found = refused(read(tree, Wanted("board")))
    assert found.fault is Fault.MISSING
    assert "broken" in found.detail
    tree.put("1-0048", "temp1_fault", "0")
    assert read(tree, Wanted("board")) == 5.0


@hypothesis_settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
@given(data=st.binary(max_size=40))
def test_no_content_whatever_ends_a_read(tree: ChipTree, data: bytes) -> None:
    if not list(listed(tree.folders, KernelFiles())):
        tree.add_bme280()
    tree.rubbish("1-0076", "in_temp_input", data)
    reading = group(tree).read()["bench"]
    assert (reading.temp_c is None) is (reading.fault is not None)


def test_a_hung_chip_blinds_itself_alone_and_heals(tree: ChipTree) -> None:
    tree.add_bme280("1-0076", 0, temp="5000")
    tree.add_bme280("1-0077", 1, temp="6000")
    clock = HandClock(utc_s=0.0)
    wanted = {"a": Wanted("bme280", "1-0076"), "b": Wanted("bme280", "1-0077")}
    gate = tree.hang("1-0076", "in_temp_input")
    collector = Collector(kernel_groups(wanted, tree.folders, clock), clock, deadline_s=0.2)
    try:
        first = collector.collect()
        assert first["a"].temp_c is None
        assert first["b"].temp_c == 6.0
        threading.Thread(target=gate.write_text, args=("4000\n",), daemon=True).start()
        eventually(lambda: collector.collect()["a"].temp_c == 4.0, "the read that hung")
    finally:
        gate.unlink(missing_ok=True)
        collector.close()
