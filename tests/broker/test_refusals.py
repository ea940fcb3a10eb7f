"""Reason codes and connection errors in plain words."""

import errno
import socket
import ssl

import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from greenkeeper.broker import refusals


def codes_of(packet_type: int) -> set[int]:
    """Every failure code that MQTT 5.0, table 2-6, gives this packet, as paho knows them."""
    names = ReasonCode(packet_type).names
    return {
        code
        for code, uses in names.items()
        if code >= 0x80
        for at in uses.values()
        if packet_type in at
    }


@pytest.mark.parametrize("packet", ["CONNACK", "PUBACK"])
def test_every_refusal_of_the_standard_has_words_of_its_own(packet: str) -> None:
    for code in codes_of(getattr(PacketTypes, packet)):
        assert "unknown" not in refusals.words(code)
        assert f"0x{code:02X}" in refusals.words(code)


def test_an_unknown_code_is_at_least_shown() -> None:
    assert refusals.words(0xFE) == "it gives an unknown reason (MQTT reason 0xFE)"


def test_what_passes_by_itself_calls_for_nobody() -> None:
    assert not refusals.needs_a_person(0x8B)
    assert refusals.needs_a_person(0x86)
    assert refusals.needs_a_person(0xFE)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (ConnectionRefusedError(errno.ECONNREFUSED, "x"), "nothing listens there"),
        (OSError(errno.EHOSTUNREACH, "x"), "the machine is not there"),
        (OSError(errno.EPERM, "Operation not permitted"), "operation not permitted"),
        (OSError("of its own"), "oserror"),
        (TimeoutError("timed out"), "no answer"),
        (socket.gaierror(-2, "Name or service not known"), "its name is not known"),
    ],
)
def test_why_no_connection_came_about(error: OSError, words: str) -> None:
    assert refusals.of_connecting(error) == words


def test_a_certificate_of_the_future_points_to_the_clock() -> None:
    error = ssl.SSLCertVerificationError()
    error.verify_code, error.verify_message = 9, "certificate is not yet valid"
    assert refusals.of_connecting(error).endswith("Is this machine's clock set?")
