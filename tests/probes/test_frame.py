"""Which frames may be believed: checksums, published captures, failure signatures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.model import Fault
from greenkeeper.probes.frame import crc8, refusal
from tests.support.tables import rows
from tests.support.w1tree import POWER_ON, POWER_ON_DS18S20, frame, slave_text, with_crc

CAPTURE_2016 = "4b 01 4b 46 7f ff 05 10 e1 : crc=e1 YES\n4b 01 4b 46 7f ff 05 10 e1 t=20687\n"
CAPTURE_CLONE = "58 01 14 05 3f a5 a5 66 e7 : crc=e7 YES\n58 01 14 05 3f a5 a5 66 e7 t=21500\n"
CAPTURE_SILENCE = "ff ff ff ff ff ff ff ff ff : crc=c9 NO\n46 01 4b 46 7f ff 0a 10 85 t=-62\n"


def fault_of(text: str, family: str = "28") -> Fault | None:
    refused = refusal(text, family)
    return None if refused is None else refused.fault


@pytest.mark.parametrize("row", rows("onewire_crc"), ids=lambda row: row["bytes"])
def test_checksums_are_the_published_ones(row: dict[str, str]) -> None:
    assert crc8(bytes.fromhex(row["bytes"])) == int(row["crc"], 16)


@given(st.binary(min_size=8, max_size=8), st.integers(0, 71), st.integers(0, 71))
def test_one_or_two_flipped_bits_never_pass_the_checksum(data: bytes, one: int, two: int) -> None:
    flipped = int.from_bytes(with_crc(data), "little") ^ (1 << one | 1 << two)
    assert crc8(flipped.to_bytes(9, "little")) != 0


@pytest.mark.parametrize("text", [CAPTURE_2016, CAPTURE_CLONE], ids=["2016", "clone"])
def test_published_captures_of_good_readings_are_believed(text: str) -> None:
    assert refusal(text, "28") is None


def test_silence_is_missing_although_an_old_frame_stands_beside_it() -> None:
    assert fault_of(CAPTURE_SILENCE) is Fault.MISSING


def test_all_ones_are_missing_even_if_the_kernel_vouched_for_them() -> None:
    text = CAPTURE_SILENCE.replace("NO", "YES").replace(
        "46 01 4b 46 7f ff 0a 10 85", "ff " * 8 + "ff"
    )
    assert fault_of(text) is Fault.MISSING


def test_an_empty_answer_is_missing_and_names_both_causes() -> None:
    refused = refusal("", "28")
    assert refused is not None
    assert refused.fault is Fault.MISSING
    assert "respond" in refused.detail
    assert "damaged" in refused.detail


def test_a_failed_checksum_is_never_a_temperature() -> None:
    damaged = bytes([0x4F]) + bytes.fromhex("01 4b 46 7f ff 05 10 e1")
    assert fault_of(slave_text(damaged)) is Fault.CHECKSUM


def test_the_kernel_s_no_is_final_even_where_the_bytes_look_right() -> None:
    assert fault_of(CAPTURE_2016.replace("YES", "NO")) is Fault.CHECKSUM


def test_a_wrong_checksum_is_found_although_the_kernel_says_yes() -> None:
    assert fault_of(CAPTURE_2016.replace("4b 01", "4f 01")) is Fault.CHECKSUM


def test_nine_zero_bytes_are_a_shorted_bus_although_their_checksum_is_right() -> None:
    text = slave_text(bytes(9))
    assert text.startswith("00 00 00 00 00 00 00 00 00 : crc=00 YES\n")
    assert fault_of(text) is Fault.ALL_ZERO


def test_a_true_ice_point_is_believed() -> None:
    assert refusal(slave_text(frame(0)), "28") is None


def test_85_with_byte_6_at_0c_is_the_power_on_value() -> None:
    assert fault_of(slave_text(POWER_ON)) is Fault.POWER_ON


def test_85_with_byte_6_at_10_was_measured() -> None:
    data = frame(85 * 16)
    assert data[6] == 0x10
    assert refusal(slave_text(data), "28") is None


def test_85_from_a_clone_whose_byte_6_says_nothing_is_taken_for_the_power_on_value() -> None:
    clone = with_crc(bytes.fromhex("50 05 14 05 7f a5 a5 66"))
    assert fault_of(slave_text(clone)) is Fault.POWER_ON


@pytest.mark.parametrize("sixteenths", [85 * 16 - 1, 85 * 16 + 1])
def test_one_step_beside_85_is_a_measurement(sixteenths: int) -> None:
    assert refusal(slave_text(frame(sixteenths)), "28") is None


def test_the_power_on_value_of_a_ds18s20_is_known_too() -> None:
    assert fault_of(slave_text(POWER_ON_DS18S20, family="10"), "10") is Fault.POWER_ON


def test_127_9375_is_a_failed_conversion() -> None:
    data = with_crc(bytes.fromhex("ff 07 4b 46 7f ff 0c 10"))
    assert slave_text(data).endswith("t=127937\n")
    assert fault_of(slave_text(data)) is Fault.CONVERSION


def test_a_ds18s20_whose_count_per_degree_is_zero_is_unreadable() -> None:
    data = with_crc(bytes.fromhex("32 00 4b 46 ff ff 0c 00"))
    assert fault_of(slave_text(data, family="10"), "10") is Fault.UNREADABLE


def test_a_thermocouple_converter_is_no_probe() -> None:
    data = with_crc(bytes.fromhex("90 01 00 19 f0 ff ff ff"))
    assert fault_of(slave_text(data), "3b") is Fault.UNREADABLE
    assert fault_of(slave_text(frame(0x190)), "3b") is None


def test_two_lines_that_differ_are_unreadable() -> None:
    first, _ = CAPTURE_2016.splitlines()
    _, second = CAPTURE_CLONE.splitlines()
    assert fault_of(f"{first}\n{second}\n") is Fault.UNREADABLE


@pytest.mark.parametrize(
    "text",
    [
        CAPTURE_2016.splitlines()[0],
        CAPTURE_2016[:-5],
        CAPTURE_2016.replace("YES", "MAYBE"),
        CAPTURE_2016.replace("4b 01", "4b 0g"),
        CAPTURE_2016.replace("t=20687", "t=warm"),
        CAPTURE_2016.replace("t=20687", "t=" + "9" * 400),
        CAPTURE_2016 + CAPTURE_2016,
        "20.6\n",
        "YES",
        "\x00\ufffd",
    ],
)
def test_text_that_is_no_answer_is_unreadable_and_shown(text: str) -> None:
    refused = refusal(text, "28")
    assert refused is not None
    assert refused.fault is Fault.UNREADABLE
    assert repr(text[:40]) in refused.detail
