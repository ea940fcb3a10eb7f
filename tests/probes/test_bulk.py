"""One conversion for all, and what keeps its old values out.

The kernel here is a pretended one (tests/support/w1kernel.py) over real files; its
times are the data sheet's, on a clock turned by hand.
"""

from pathlib import Path

import pytest

from greenkeeper.clock import HandClock
from greenkeeper.model import Fault
from greenkeeper.probes.onewire import BulkSetting, OnewireGroup, master_of
from tests.support.w1kernel import PretendKernel
from tests.support.w1tree import MASTER, W1Tree

ROMS = {
    "bench-left": "28-0316a2795a01",
    "bench-right": "28-0316a279ff77",
    "ridge": "28-031600aabb12",
    "outdoors": "28-0316d2c3e4f5",
}
UNNAMED = "28-0316ffffff01"


class Bench:
    """A tree, its pretended kernel, and the group under test."""

    def __init__(self, folder: Path, *, bulk_file: bool = True) -> None:
        self.tree = W1Tree(folder / "devices")
        for rom in ROMS.values():
            self.tree.add(rom, 10.0)
        if bulk_file:
            self.tree.bulk_file()
        self.clock = HandClock(utc_s=0.0)
        self.kernel = PretendKernel(self.clock)
        self.group = self.make("auto")

    def make(self, bulk: BulkSetting, **roms: str) -> OnewireGroup:
        return OnewireGroup(roms or ROMS, self.tree.folder, bulk, self.clock, files=self.kernel)

    def set_all(self, temp_c: float) -> None:
        for rom in ROMS.values():
            self.tree.set_temp(rom, temp_c)

    def read(self) -> set[float | None]:
        return {reading.temp_c for reading in self.group.read().values()}

    @property
    def master(self) -> Path:
        return self.kernel.real(self.tree.folder / MASTER)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_four_probes_cost_one_conversion(bench: Bench) -> None:
    started_s = bench.clock.mono_s()
    assert bench.read() == {10.0}
    assert bench.kernel.conversions == 1
    assert sorted(bench.kernel.reads) == sorted(ROMS.values())
    assert bench.clock.mono_s() - started_s == pytest.approx(0.75 + 4 * 0.012)


def test_the_trigger_is_eight_bytes_in_one_write(bench: Bench) -> None:
    bench.read()
    assert bench.kernel.written == [b"trigger\n"]


def test_every_cycle_gives_the_new_value(bench: Bench) -> None:
    for temp_c in (9.0, 8.0, 7.0):
        bench.set_all(temp_c)
        assert bench.read() == {temp_c}
    assert bench.kernel.conversions == 3


def test_a_shared_value_is_as_old_as_its_trigger(bench: Bench) -> None:
    started_s = bench.clock.mono_s()
    assert {reading.taken_s for reading in bench.group.read().values()} == {started_s}


def test_a_plain_value_is_as_old_as_its_own_read(tmp_path: Path) -> None:
    bench = Bench(tmp_path, bulk_file=False)
    taken_s = [reading.taken_s for reading in bench.group.read().values()]
    assert taken_s == pytest.approx([1000.0 + 0.762 * turn for turn in range(4)])


def test_switched_off_each_probe_costs_its_own_conversion(bench: Bench) -> None:
    bench.group = bench.make("off")
    assert bench.read() == {10.0}
    assert bench.kernel.written == []
    assert bench.kernel.conversions == 4


def test_a_single_probe_is_read_plainly(bench: Bench) -> None:
    bench.group = bench.make("auto", ridge=ROMS["ridge"])
    assert bench.read() == {10.0}
    assert bench.kernel.written == []


def test_a_trigger_that_reached_nobody_never_passes_off_old_values(bench: Bench) -> None:
    """The driver marks every probe as converted and reports success all the same."""
    bench.read()
    bench.kernel.presence = False
    for temp_c in (4.0, 3.0, 2.0):
        bench.set_all(temp_c)
        assert bench.read() == {temp_c}
    bench.set_all(1.0)
    bench.kernel.presence = True
    assert bench.read() == {1.0}


@pytest.mark.parametrize(("share", "trusted"), [(0.89, False), (0.91, True)])
def test_a_trigger_is_trusted_from_nine_tenths_of_the_conversion_on(
    bench: Bench, share: float, trusted: bool
) -> None:
    bench.kernel.trigger_s = share * 0.75
    assert bench.read() == {10.0}
    assert (bench.kernel.conversions == 1) is trusted


def test_nine_bit_probes_need_no_longer_than_their_own_conversion(bench: Bench) -> None:
    for rom in ROMS.values():
        bench.tree.put(rom, "resolution", "9\n")
        bench.tree.put(rom, "conv_time", "95\n")
    assert bench.read() == {10.0}
    assert bench.kernel.conversions == 1


def test_without_the_files_of_newer_kernels_twelve_bits_are_assumed(bench: Bench) -> None:
    for rom in ROMS.values():
        bench.tree.take_away(rom, "resolution")
        bench.tree.take_away(rom, "conv_time")
    assert bench.read() == {10.0}
    assert bench.kernel.conversions == 1


def test_a_value_left_by_an_earlier_program_is_thrown_away(bench: Bench) -> None:
    bench.kernel.finish_conversion(bench.master)  # at 10 °C, and never read
    bench.set_all(3.0)
    bench.group = bench.make("off")
    assert bench.read() == {3.0}


def test_an_unnamed_probe_that_nobody_reads_does_not_slow_plain_reads_for_ever(
    bench: Bench,
) -> None:
    bench.tree.add(UNNAMED)
    bench.kernel.finish_conversion(bench.master)
    bench.group = bench.make("off")
    bench.read()
    assert bench.kernel.bulk_state(bench.master) == 1
    before = len(bench.kernel.reads)
    bench.read()
    assert len(bench.kernel.reads) == before + len(ROMS)


def test_a_probe_missed_after_a_trigger_never_hands_over_that_old_value(bench: Bench) -> None:
    bench.read()
    bench.kernel.finish_conversion(bench.master)  # triggered, at 10 °C, then not read
    bench.set_all(4.0)
    bench.kernel.presence = False
    assert bench.read() == {4.0}


@pytest.mark.parametrize("bulk", ["auto", "off"])
def test_a_conversion_begun_by_another_program_is_waited_for(
    bench: Bench, bulk: BulkSetting
) -> None:
    bench.group = bench.make(bulk)
    bench.kernel.begin_conversion(bench.master)
    bench.kernel.finishes_at_s = bench.clock.mono_s() + 0.5
    assert bench.read() == {10.0}


def test_a_bus_that_says_for_ever_that_it_converts_is_not_waited_for_for_ever(
    bench: Bench,
) -> None:
    bench.group = bench.make("off")
    bench.kernel.begin_conversion(bench.master)
    readings = bench.group.read().values()
    assert {reading.fault for reading in readings} == {Fault.MISSING}


def test_a_kernel_without_the_file_is_asked_again_now_and_then(tmp_path: Path) -> None:
    bench = Bench(tmp_path, bulk_file=False)
    assert bench.read() == {10.0}
    bench.tree.bulk_file()
    assert bench.read() == {10.0}
    assert bench.kernel.written == []
    bench.clock.advance(600.0)
    assert bench.read() == {10.0}
    assert bench.kernel.written == [b"trigger\n"]


def test_a_file_that_may_not_be_written_means_plain_reads(bench: Bench) -> None:
    bench.kernel.locked = True
    assert bench.read() == {10.0}
    assert bench.kernel.conversions == 4


def test_the_missing_file_is_never_created(tmp_path: Path) -> None:
    bench = Bench(tmp_path, bulk_file=False)
    real = OnewireGroup(ROMS, bench.tree.folder, "auto", bench.clock)
    assert {reading.temp_c for reading in real.read().values()} == {10.0}
    assert not (bench.master / "therm_bulk_read").exists()


def test_on_plain_files_that_answer_at_once_plain_reads_happen(bench: Bench) -> None:
    real = OnewireGroup(ROMS, bench.tree.folder, "auto", bench.clock)
    assert {reading.temp_c for reading in real.read().values()} == {10.0}
    assert (bench.master / "therm_bulk_read").read_bytes() == b"trigger\n"


def test_the_power_on_value_is_found_after_a_shared_conversion_too(bench: Bench) -> None:
    """The driver's own check for it runs in single conversions only."""
    bench.tree.power_on(ROMS["ridge"])
    assert bench.group.read()["ridge"].fault is Fault.POWER_ON
    assert bench.kernel.conversions == 1


def test_one_group_over_two_buses_triggers_each(bench: Bench) -> None:
    bench.tree.add_master("w1_bus_master2")
    second = {"pit-left": "28-0316aaaaaa01", "pit-right": "28-0316aaaaaa02"}
    for rom in second.values():
        bench.tree.add(rom, 5.0, master="w1_bus_master2")
    bench.tree.bulk_file(master="w1_bus_master2")
    bench.group = bench.make("auto", **ROMS, **second)
    assert bench.read() == {10.0, 5.0}
    assert bench.kernel.conversions == 2
    assert master_of("28-0316aaaaaa01", bench.tree.folder, bench.kernel) != bench.master
