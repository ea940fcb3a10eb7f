"""The 1-Wire group against real files in the kernel's format, good and broken."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from greenkeeper.clock import HandClock
from greenkeeper.model import Fault, Reading
from greenkeeper.probes.onewire import OnewireGroup, onewire_groups
from tests.support.tables import rows
from tests.support.w1tree import W1Tree, slave_text, with_crc

ROM = "28-0316a2795a01"
OTHER = "28-0316a279ff77"
THIRD = "28-031600aabb12"


@pytest.fixture
def tree(tmp_path: Path) -> W1Tree:
    made = W1Tree(tmp_path / "devices")
    made.add(ROM, 20.0)
    return made


def group(tree: W1Tree, **roms: str) -> OnewireGroup:
    return OnewireGroup(roms or {"bench": ROM}, tree.folder, "auto", HandClock(utc_s=0.0))


def read(tree: W1Tree, rom: str = ROM) -> Reading:
    return group(tree, bench=rom).read()["bench"]


@pytest.mark.parametrize("row", rows("ds18b20_registers"), ids=lambda row: row["temp_c"])
def test_the_data_sheet_s_registers_are_read_exactly(tree: W1Tree, row: dict[str, str]) -> None:
    data = with_crc(bytes.fromhex(row["wire"] + "4b 46 7f ff") + b"\x10\x10")
    tree.frame(ROM, data)
    assert read(tree) == Reading(1000.0, float(row["temp_c"]))


@pytest.mark.parametrize("row", rows("ds18s20_registers"), ids=lambda row: row["temp_c"])
def test_the_older_chip_s_registers_are_read_exactly(tree: W1Tree, row: dict[str, str]) -> None:
    rom = "10-000802a1b2c3"
    tree.add(rom)
    register = int(row["register"], 16).to_bytes(2, "little")
    remain = bytes.fromhex(row["count_remain"])
    tree.frame(rom, with_crc(register + b"\x4b\x46\xff\xff" + remain + b"\x10"))
    assert read(tree, rom).temp_c == float(row["temp_c"])


@pytest.mark.parametrize("rom", [ROM, "22-0000001b2c3d", "42-0000001b2c3d", "10-000802a1b2c3"])
def test_every_sixteenth_is_exact_although_the_kernel_truncates(tree: W1Tree, rom: str) -> None:
    if rom != ROM:
        tree.add(rom)
    reader = group(tree, bench=rom)
    for sixteenths in range(-5 * 16, 5 * 16):
        tree.set_temp(rom, sixteenths / 16)
        assert reader.read()["bench"].temp_c == sixteenths / 16


def test_a_clone_s_published_capture_reads_21_5(tree: W1Tree) -> None:
    """raspberrypi/linux pull request 3540 (2020)."""
    tree.text(ROM, slave_text(bytes.fromhex("58 01 14 05 3f a5 a5 66 e7")))
    assert read(tree).temp_c == 21.5


BREAK: dict[str, tuple[Callable[[W1Tree, str], None], Fault]] = {
    "checksum failed": (W1Tree.crc_no, Fault.CHECKSUM),
    "all zero": (W1Tree.all_zero, Fault.ALL_ZERO),
    "all ones": (W1Tree.all_ones, Fault.MISSING),
    "power-on": (W1Tree.power_on, Fault.POWER_ON),
    "conversion failed": (W1Tree.conversion_failed, Fault.CONVERSION),
    "empty": (W1Tree.empty, Fault.MISSING),
    "short": (W1Tree.short, Fault.UNREADABLE),
    "garbage": (W1Tree.garbage, Fault.UNREADABLE),
    "rubbish": (W1Tree.rubbish, Fault.UNREADABLE),
    "vanished": (W1Tree.vanish, Fault.MISSING),
    "no file": (lambda tree, rom: tree.take_away(rom, "w1_slave"), Fault.MISSING),
}


@pytest.mark.parametrize("what", BREAK)
def test_a_broken_probe_gives_its_reason_and_no_number(tree: W1Tree, what: str) -> None:
    harm, fault = BREAK[what]
    harm(tree, ROM)
    reading = read(tree)
    assert reading.fault is fault
    assert reading.temp_c is None
    assert reading.detail


@pytest.mark.parametrize("what", BREAK)
def test_a_broken_probe_reads_again_once_it_is_well(tree: W1Tree, what: str) -> None:
    reader = group(tree)
    assert reader.read()["bench"].temp_c == 20.0
    BREAK[what][0](tree, ROM)
    assert reader.read()["bench"].temp_c is None
    if what == "vanished":
        tree.appear(ROM)
        assert reader.read()["bench"].fault is Fault.POWER_ON
    tree.set_temp(ROM, 19.5)
    assert reader.read()["bench"].temp_c == 19.5


@pytest.mark.parametrize("what", BREAK)
def test_a_broken_probe_does_not_harm_its_neighbours(tree: W1Tree, what: str) -> None:
    tree.add(OTHER, 7.0625)
    BREAK[what][0](tree, ROM)
    readings = group(tree, bench=ROM, ridge=OTHER).read()
    assert readings["bench"].temp_c is None
    assert readings["ridge"].temp_c == 7.0625


def test_a_true_85_is_a_reading(tree: W1Tree) -> None:
    tree.set_temp(ROM, 85.0)
    assert read(tree).temp_c == 85.0


def test_a_missing_probe_s_detail_carries_the_system_s_words(tree: W1Tree) -> None:
    tree.vanish(ROM)
    assert "No such file or directory" in read(tree).detail


def test_a_folder_in_place_of_the_file_is_missing_with_the_system_s_words(tree: W1Tree) -> None:
    tree.take_away(ROM, "w1_slave")
    (tree.folder / ROM / "w1_slave").mkdir()
    reading = read(tree)
    assert reading.fault is Fault.MISSING
    assert "Is a directory" in reading.detail


def test_a_link_that_leads_to_itself_is_missing(tree: W1Tree) -> None:
    (tree.folder / OTHER).symlink_to(tree.folder / OTHER)
    assert read(tree, OTHER).fault is Fault.MISSING


def test_without_any_bus_every_probe_is_missing(tmp_path: Path) -> None:
    reader = OnewireGroup({"bench": ROM}, tmp_path / "none", "auto", HandClock(utc_s=0.0))
    assert reader.read()["bench"].fault is Fault.MISSING


def test_a_probe_that_comes_after_the_start_is_read(tree: W1Tree) -> None:
    reader = group(tree, bench=ROM, ridge=OTHER)
    assert reader.read()["ridge"].fault is Fault.MISSING
    tree.add(OTHER, 3.5)
    assert reader.read()["ridge"].temp_c == 3.5


def test_probes_in_a_plain_tree_without_bus_masters_are_read(tmp_path: Path) -> None:
    place = tmp_path / ROM
    place.mkdir()
    (place / "w1_slave").write_text(slave_text(bytes.fromhex("58 01 14 05 3f a5 a5 66 e7")))
    reader = OnewireGroup({"bench": ROM}, tmp_path, "auto", HandClock(utc_s=0.0))
    assert reader.read()["bench"].temp_c == 21.5


def test_each_bus_is_a_group_of_its_own(tree: W1Tree) -> None:
    tree.add_master("w1_bus_master2")
    tree.add(OTHER, master="w1_bus_master2")
    tree.add(THIRD)
    probes = {"bench": ROM, "outdoors": OTHER, "ridge": THIRD}
    groups = onewire_groups(probes, tree.folder, "auto", HandClock(utc_s=0.0))
    assert [one.names for one in groups] == [("bench", "ridge"), ("outdoors",)]
    assert all(one.blocking for one in groups)


def test_a_probe_on_no_known_bus_makes_all_one_group(tree: W1Tree) -> None:
    tree.add_master("w1_bus_master2")
    tree.add(OTHER, master="w1_bus_master2")
    probes = {"bench": ROM, "outdoors": OTHER, "ridge": THIRD}
    (one,) = onewire_groups(probes, tree.folder, "auto", HandClock(utc_s=0.0))
    assert one.names == ("bench", "outdoors", "ridge")


def test_no_probes_make_no_group(tmp_path: Path) -> None:
    assert onewire_groups({}, tmp_path, "auto", HandClock(utc_s=0.0)) == []


def test_the_library_is_kept_from_loading_kernel_modules(tree: W1Tree) -> None:
    read(tree)
    assert os.environ["W1THERMSENSOR_NO_KERNEL_MODULE"] == "1"


def test_the_library_s_own_folder_is_left_alone(tree: W1Tree) -> None:
    read(tree)
    from w1thermsensor import W1ThermSensor

    assert Path("/sys/bus/w1/devices") == W1ThermSensor.BASE_DIRECTORY


NEARLY = st.builds(
    lambda data, word, milli: (
        f"{data.hex(' ')} : crc={data[8]:02x} {word}\n{data.hex(' ')} t={milli}\n"
    ).encode(),
    st.one_of(st.binary(min_size=9, max_size=9), st.binary(min_size=8, max_size=8).map(with_crc)),
    st.sampled_from(["YES", "NO"]),
    st.integers(),
)


@hypothesis_settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.one_of(st.binary(max_size=200), st.text().map(str.encode), NEARLY))
@pytest.mark.parametrize("rom", [ROM, "10-000802a1b2c3", "3b-0000001b2c3d"])
def test_any_bytes_whatever_give_a_number_or_a_reason_never_both(
    tmp_path: Path, rom: str, data: bytes
) -> None:
    place = tmp_path / rom
    place.mkdir(exist_ok=True)
    (place / "w1_slave").write_bytes(data)
    reader = OnewireGroup({"bench": rom}, tmp_path, "auto", HandClock(utc_s=0.0))
    reading = reader.read()["bench"]
    assert (reading.temp_c is None) == (reading.fault is not None)
    assert (reading.fault is None) == (reading.detail == "")
