"""How values are written. Expectations are the convention's examples and plain arithmetic.

Source: Homie convention 5.0.0, "Payloads"; ISO 8601 for dates and durations.
"""

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from greenkeeper.broker import payloads
from tests.support import homie_rules


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (21.0, "21.00"),
        (-0.0625, "-0.06"),
        (0.0, "0.00"),
        (-0.0, "0.00"),
        (-0.001, "0.00"),
        (1e20, "100000000000000000000.00"),
    ],
)
def test_a_decimal_has_fixed_places_and_no_negative_zero(value: float, written: str) -> None:
    assert payloads.decimal(value) == written


@pytest.mark.parametrize("value", [None, float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_absent(value: float | None) -> None:
    assert payloads.decimal(value) is None


@settings(deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_is_a_float_of_the_convention(value: float) -> None:
    written = payloads.decimal(value)
    assert written is not None
    assert homie_rules.FLOAT.fullmatch(written)
    assert abs(Decimal(written) - Decimal(value)) <= Decimal("0.005")


def test_truth_is_written_in_the_conventions_words() -> None:
    assert [payloads.boolean(True), payloads.boolean(False)] == ["true", "false"]


def test_an_enum_takes_only_its_own_words_to_the_letter() -> None:
    assert payloads.member("night", ("day", "night")) == "night"
    assert payloads.member("Night", ("day", "night")) is None


def test_an_instant_is_iso_8601_with_its_offset() -> None:
    # RFC 3339, section 5.8, example 1, to the whole second.
    assert payloads.instant(482196050.52) == "1985-04-12T23:20:50+00:00"


@settings(deadline=None)
@given(st.floats(-1e11, 1e11))
def test_an_instant_is_the_moment_it_was_made_from(utc_s: float) -> None:
    written = payloads.instant(utc_s)
    in_calendar = -62135596800 <= utc_s < 253402300800  # years 1 to 9999
    assert (written is not None) == in_calendar
    if written is not None:
        moment = datetime.fromisoformat(written)
        assert moment - datetime(1970, 1, 1, tzinfo=UTC) <= timedelta(seconds=utc_s)
        assert abs(moment.timestamp() - utc_s) < 1.001


@pytest.mark.parametrize("utc_s", [float("nan"), float("inf"), 1e18])
def test_a_moment_beyond_the_calendar_is_absent(utc_s: float) -> None:
    assert payloads.instant(utc_s) is None


@pytest.mark.parametrize(
    ("seconds", "written"),
    [
        (0.0, "PT0S"),
        (59.9, "PT59S"),
        (60.0, "PT1M"),
        (3600.0, "PT1H"),
        (90061.0, "PT25H1M1S"),
        (-5.0, "PT0S"),
    ],
)
def test_a_duration_counts_hours_minutes_and_whole_seconds(seconds: float, written: str) -> None:
    assert payloads.duration(seconds) == written


@settings(deadline=None)
@given(st.floats(0, 1e12))
def test_every_duration_is_one_of_the_convention(seconds: float) -> None:
    assert homie_rules.DURATION.fullmatch(payloads.duration(seconds))


def test_an_empty_text_is_one_zero_byte_because_nothing_means_deleted() -> None:
    assert payloads.text("") == "\0"
    assert payloads.text("\ufeff") == "\0"


def test_a_text_keeps_what_people_write() -> None:
    words = "Bench: 4.9 °C – “heat on”, naïve 🌱"
    assert payloads.text(words) == words


@settings(deadline=None)
@given(
    st.text(st.characters())
    | st.text(st.sampled_from("a\0\n\x7f\x85\ud800\udfff\ufffe\uffff\ufdd0\ufeff"))
)
def test_any_text_becomes_one_that_every_broker_takes(value: str) -> None:
    written = payloads.text(value)
    encoded = written.encode()  # no lone surrogate left
    assert not encoded.startswith(b"\xef\xbb\xbf")
    assert 0 < len(written) <= payloads.LONGEST_TEXT
    if written != "\0":
        # MQTT 5.0, 1.5.4: control characters and non-characters should not be there.
        assert not any(ord(c) < 0x20 or 0x7F <= ord(c) <= 0x9F for c in written)
        assert not any(ord(c) & 0xFFFE == 0xFFFE or 0xFDD0 <= ord(c) <= 0xFDEF for c in written)
