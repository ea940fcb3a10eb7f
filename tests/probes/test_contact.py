"""A look at contacts: what stands, what pulses, what bounces, and what cannot be read."""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from greenkeeper.clock import HandClock
from greenkeeper.gpio import LineError
from greenkeeper.gpio.chips import Chip
from greenkeeper.gpio.lines import Lines
from greenkeeper.gpio.open_lines import open_lines
from greenkeeper.model import ContactReading
from greenkeeper.pins import Board
from greenkeeper.probes.contact import (
    GAPS_S,
    NOISE,
    SAMPLES,
    UNSETTLED_S,
    GpioContacts,
    UnreachableContacts,
)
from greenkeeper.settings.switches import GpioInput
from tests.support.fakekernel import FakeKernel, install

PIN = 26
ALWAYS = ("door-open", "contactor-closed")  # contacts that stand
PULSING = ("mains-present", "heater-current")


class Wire:
    """A line whose level is a function of time, and the time that passes between samples."""

    def __init__(self, level: Callable[[float], bool] = lambda _: True) -> None:
        self.level = level
        self.now_s = 0.0
        self.samples_s: list[float] = []
        self.error: OSError | None = None
        self.chip = Chip(Path("wire"), "wire", 28)

    def pause(self, seconds: float) -> None:
        self.now_s += seconds

    def contact(self, clock: HandClock, tells: str, active: str = "high") -> GpioContacts:
        settings = GpioInput.model_validate(
            {"kind": "gpio", "tells": tells, "pin": PIN, "active": active}
        )
        return GpioContacts({"it": settings}, Lines(self), clock, self.pause)

    # As a Backend, and as the line it gives.

    def claim_input(self, *_: object) -> "Wire":
        return self

    claim = claim_input

    def read(self) -> bool:
        if self.error is not None:
            raise self.error
        self.samples_s.append(self.now_s)
        return self.level(self.now_s)

    def drive(self, level: bool) -> None:
        raise AssertionError("an input is never driven")

    def release(self) -> None:
        """Nothing is held."""

    def idle(self) -> None:
        """Nothing is open."""


@pytest.fixture
def clock() -> HandClock:
    return HandClock(utc_s=0.0)


def said(contact: GpioContacts) -> bool | None:
    return contact.read()["it"].active


@pytest.mark.parametrize("tells", [*ALWAYS, *PULSING])
@pytest.mark.parametrize("active", ["high", "low"])
@pytest.mark.parametrize("level", [True, False])
def test_a_level_that_stands_is_what_the_contact_says(
    clock: HandClock, tells: str, active: str, level: bool
) -> None:
    contact = Wire(lambda _: level).contact(clock, tells, active)
    assert contact.read() == {"it": ContactReading(1000.0, level is (active == "high"))}


def test_a_look_lasts_a_quarter_of_a_second_and_longer_than_any_turn_of_mains(
    clock: HandClock,
) -> None:
    wire = Wire()
    wire.contact(clock, "door-open").read()
    assert len(wire.samples_s) == SAMPLES
    assert 0.2 < wire.samples_s[-1] - wire.samples_s[0] < 0.26


def pulses(hz: float, share: float, phase: float, high: bool) -> Callable[[float], bool]:
    return lambda now_s: ((now_s * hz + phase) % 1.0 < share) is high


# An opto-coupler behind a bridge is on but for the crossings, 100 or 120 times a second.
# Without the bridge it is on for somewhat less than every other half-wave: a fifth of the
# time is far below what any of them has (worked out from their drop of a few volts).
@given(
    hz=st.sampled_from([50.0, 60.0, 100.0, 120.0]) | st.floats(45.0, 130.0),
    share=st.floats(0.2, 0.98),
    phase=st.floats(0.0, 1.0),
    tells=st.sampled_from(PULSING),
    high=st.booleans(),
)
def test_mains_that_pulses_is_there_at_any_frequency_and_phase(
    hz: float, share: float, phase: float, tells: str, high: bool
) -> None:
    wire = Wire(pulses(hz, share, phase, high))
    contact = wire.contact(HandClock(utc_s=0.0), tells, "high" if high else "low")
    assert said(contact) is True


def test_even_gaps_could_miss_the_pulses_altogether() -> None:
    """Why they are uneven: 50 Hz sampled every 10 ms meets the same two moments for ever."""
    wave = pulses(50.0, 0.4, 0.05, True)
    assert not any(wave(0.008 + 0.010 * sample) for sample in range(SAMPLES))
    assert len(set(GAPS_S)) == SAMPLES


@pytest.mark.parametrize("tells", [*ALWAYS, *PULSING])
@pytest.mark.parametrize("level", [True, False])
def test_a_few_disturbed_samples_change_nothing(clock: HandClock, tells: str, level: bool) -> None:
    """A contactor that breaks a coil's current sends one of these through every wire beside it."""
    sparks = Wire(lambda now_s: level is not (0.100 < now_s < 0.108))
    assert said(sparks.contact(clock, tells)) is level


@pytest.mark.parametrize("tells", ALWAYS)
def test_a_contact_that_bounces_keeps_its_last_state_and_its_age(
    clock: HandClock, tells: str
) -> None:
    wire = Wire(lambda _: False)
    contact = wire.contact(clock, tells)
    contact.read()
    clock.advance(10.0)
    turned_s = wire.now_s + 0.1
    wire.level = lambda now_s: now_s > turned_s  # it turns in the middle of a look
    assert contact.read() == {"it": ContactReading(1000.0, False)}
    clock.advance(10.0)
    assert contact.read() == {"it": ContactReading(1020.0, True)}


def test_a_contact_that_never_settles_is_unknown_and_says_why(clock: HandClock) -> None:
    wire = Wire(lambda _: True)
    contact = wire.contact(clock, "contactor-closed")
    contact.read()
    wire.level = pulses(50.0, 0.5, 0.0, True)
    clock.advance(1.0)
    assert said(contact) is True
    clock.advance(UNSETTLED_S - 0.1)
    assert said(contact) is True
    clock.advance(0.1)
    reading = contact.read()["it"]
    assert reading.active is None
    assert "does not settle" in reading.detail
    assert f"of {SAMPLES} samples" in reading.detail
    wire.level = lambda _: False
    assert said(contact) is False


def test_a_contact_that_bounces_at_the_very_first_look_is_unknown(clock: HandClock) -> None:
    contact = Wire(pulses(40.0, 0.5, 0.0, True)).contact(clock, "door-open")
    assert said(contact) is None


@given(
    level=st.lists(st.booleans(), min_size=SAMPLES, max_size=SAMPLES),
    tells=st.sampled_from([*ALWAYS, *PULSING]),
    active=st.sampled_from(["high", "low"]),
)
def test_whatever_a_line_does_a_contact_says_so_only_of_what_was_seen(
    level: list[bool], tells: str, active: str
) -> None:
    course = iter(level)
    contact = Wire(lambda _: next(course)).contact(HandClock(utc_s=0.0), tells, active)
    seen = sum(each is (active == "high") for each in level)
    verdict = said(contact)
    if verdict is True:
        assert seen > NOISE
        assert tells in PULSING or seen >= SAMPLES - NOISE
    elif verdict is False:
        assert seen <= NOISE
    else:
        assert tells in ALWAYS


# --- on lines -------------------------------------------------------------------------


@pytest.fixture
def kernel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FakeKernel:
    kernel = FakeKernel.boot(tmp_path / "dev")
    install(monkeypatch, kernel)
    return kernel


@pytest.fixture(params=["lgpio", "gpiod"])
def lines(request: pytest.FixtureRequest, kernel: FakeKernel, tmp_path: Path) -> Lines:
    return open_lines(Board(backend=request.param), tmp_path)


def two(lines: Lines, clock: HandClock) -> GpioContacts:
    inputs = {
        "mirror": {"tells": "contactor-closed", "pin": 26, "active": "high"},
        "mains": {"tells": "mains-present", "pin": 12, "active": "low", "pull": "none"},
    }
    checked = {n: GpioInput.model_validate({"kind": "gpio", **i}) for n, i in inputs.items()}
    return GpioContacts(checked, lines, clock, lambda _: None)


def test_contacts_are_claimed_with_their_pulls_when_made_and_let_go_when_closed(
    lines: Lines, kernel: FakeKernel, clock: HandClock
) -> None:
    contacts = two(lines, clock)
    assert (contacts.names, contacts.blocking) == (("mirror", "mains"), True)
    contacts.close()
    contacts.close()
    assert kernel.changes(26) == [("input", "up"), ("free", None)]
    assert kernel.changes(12) == [("input", "none"), ("free", None)]
    assert kernel.open_chips == 0


def test_a_broken_wire_says_what_its_pull_says(
    lines: Lines, kernel: FakeKernel, clock: HandClock
) -> None:
    contacts = two(lines, clock)
    kernel.force(26, 0)
    assert contacts.read()["mirror"].active is False
    kernel.let_be(26)
    assert contacts.read()["mirror"].active is True  # the contactor counts as closed


def test_a_line_that_cannot_be_read_is_unknown_and_never_open(
    lines: Lines, kernel: FakeKernel, clock: HandClock
) -> None:
    contacts = two(lines, clock)
    kernel.failing = {"read": errno.EIO}
    for name, pin in (("mirror", 26), ("mains", 12)):
        reading = contacts.read()[name]
        assert (reading.taken_s, reading.active) == (1000.0, None)
        assert f"GPIO{pin} cannot be used" in reading.detail
    kernel.failing = {}
    assert contacts.read()["mirror"] == ContactReading(1000.0, True)


def test_a_line_that_another_program_holds_spoils_no_other_and_is_taken_once_it_is_free(
    lines: Lines, kernel: FakeKernel, clock: HandClock
) -> None:
    kernel.hold(26, owner=os.getppid())
    contacts = two(lines, clock)
    kernel.force(12, 0)
    readings = contacts.read()
    assert readings["mirror"].active is None
    assert "GPIO26 is busy" in readings["mirror"].detail
    assert readings["mains"].active is True
    kernel.hold(26, owner=2**22)  # beyond any process: its holder has died
    assert contacts.read()["mirror"].active is True


def test_a_board_that_cannot_be_reached_leaves_every_contact_unknown(clock: HandClock) -> None:
    contacts = UnreachableContacts(["mirror", "door"], LineError("no chip here"), clock)
    assert contacts.names == ("mirror", "door")
    assert contacts.read() == {
        "mirror": ContactReading(1000.0, None, "no chip here"),
        "door": ContactReading(1000.0, None, "no chip here"),
    }
    contacts.close()
