"""The maker of trees writes what the kernel writes."""

from pathlib import Path

import pytest

from tests.support.tables import rows
from tests.support.w1tree import W1Tree, crc8, frame, slave_text

ROM = "28-0316a2795a01"


@pytest.mark.parametrize("row", rows("onewire_crc"), ids=lambda row: row["bytes"])
def test_the_tree_computes_the_published_checksums(row: dict[str, str]) -> None:
    assert crc8(bytes.fromhex(row["bytes"])) == int(row["crc"], 16)


def test_a_tree_at_20_6875_reads_like_a_published_capture(tmp_path: Path) -> None:
    """Published by a user in 2016: 331 sixteenths, byte 6 = 0x10 - 0xb of a genuine part."""
    tree = W1Tree(tmp_path / "devices")
    tree.add(ROM, 20.6875)
    assert tree.get(ROM, "w1_slave") == (
        "4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n"
    )


def test_a_clone_s_frame_reads_like_a_published_capture() -> None:
    """raspberrypi/linux pull request 3540 (2020): ten bits, reserved bytes of a clone."""
    assert slave_text(bytes.fromhex("58 01 14 05 3f a5 a5 66 e7")) == (
        "58 01 14 05 3f a5 a5 66 e7 : crc=e7 YES\n58 01 14 05 3f a5 a5 66 e7 t=21500\n"
    )


def test_silence_on_an_old_kernel_reads_like_a_published_capture(tmp_path: Path) -> None:
    """Kernels before 5.8: the second line shows an old frame beside the new nonsense."""
    tree = W1Tree(tmp_path / "devices")
    tree.add(ROM, 20.375)
    tree.all_ones(ROM)
    assert tree.get(ROM, "w1_slave") == (
        "ff ff ff ff ff ff ff ff ff : crc=c9 NO\n46 01 4b 46 7f ff 0a 10 85 t=-62\n"
    )


@pytest.mark.parametrize("row", rows("ds18b20_registers"), ids=lambda row: row["temp_c"])
def test_the_tree_encodes_the_data_sheet_s_table(row: dict[str, str]) -> None:
    data = frame(round(float(row["temp_c"]) * 16))
    assert data[:2] == bytes.fromhex(row["wire"])
    assert data[1] << 8 | data[0] == int(row["register"], 16)
