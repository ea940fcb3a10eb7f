"""The settings types of what is wired: outputs, vents, the enable line, contacts that tell.

Lives here: what schema.py joins to `outputs:`, `vents:`, `gpio:`, `enable:` and `inputs:`. Does not
live here: what switches when (zones, in schema.py).
"""

from typing import Annotated, Literal

from pydantic import Field

from greenkeeper.pins import CHIP_PATTERN, Backend, Board, Level, Pull
from greenkeeper.pointer import PATTERN as POINTER_PATTERN
from greenkeeper.settings.basics import TOPIC_PATTERN, Checked, Id


class OutputCommon(Checked):
    power_w: float | None = Field(None, gt=0, le=20000, description="For the energy record.")
    min_on_s: float = Field(60.0, ge=0, le=3600, description="Shortest time on.")
    min_off_s: float = Field(60.0, ge=0, le=3600, description="Shortest time off.")
    longest_on_s: float | None = Field(
        None,
        ge=600,
        le=2_678_400,
        description="Longest time on in one go; without it 12 hours where it heats.",
    )
    role: Literal["isolator"] | None = Field(
        None, description="'isolator': a second contact in series with heaters."
    )
    isolates: tuple[Id, ...] = Field(
        (), strict=False, description="An isolator's heaters; without it, all of them."
    )
    settle_s: float = Field(
        1.0,
        ge=0.1,
        le=60,
        description="How long an isolator is closed before heat goes on, and after it went off.",
    )


class GpioOutput(OutputCommon):
    kind: Literal["gpio"]
    pin: int = Field(ge=0, le=27, description="BCM number, not the header's.")
    on_level: Level = Field(
        Level.HIGH,
        strict=False,
        description="The level that switches on; many ready-made relay boards want 'low'.",
    )
    unsafe_pin: bool = Field(
        False, description="true: use this pin although it moves at boot or has another job."
    )
    rated_operations: int = Field(
        100_000, ge=1000, le=100_000_000, description="Switchings its contact is rated for."
    )
    wanted_years: float = Field(
        5.0, ge=0.5, le=100, description="How long it is to last: 'proportion' keeps to it."
    )


class ModelledOutput(OutputCommon):
    kind: Literal["modelled"]
    drives: Literal["heater", "fan", "circulation", "isolator", "vent-open", "vent-close"] = Field(
        description="What it is in the modelled house."
    )


HOLD = "{hold_s}"  # in an order's text: how long the switch may stay on without the next


class BrokerOutput(OutputCommon):
    """A ready-made switch with a timer of its own, told and asked over the broker."""

    kind: Literal["broker"]
    topic: str = Field(
        pattern=TOPIC_PATTERN, max_length=200, description="Where it takes its orders."
    )
    order_on: str = Field(
        min_length=1,
        max_length=200,
        description="The order to be on; {hold_s} in it becomes the seconds of hold_s.",
    )
    order_off: str = Field(min_length=1, max_length=200, description="The order to be off.")
    answers: str = Field(
        pattern=TOPIC_PATTERN, max_length=200, description="Where it reports its state."
    )
    answer_field: str | None = Field(
        None,
        pattern=POINTER_PATTERN,
        max_length=200,
        description="JSON pointer to the state; without it, the report is the state.",
    )
    says_on: str = Field(min_length=1, max_length=200, description="What it reports when on.")
    says_off: str = Field(min_length=1, max_length=200, description="What it reports when off.")
    hold_s: float = Field(
        60.0, ge=15, le=3600, description="Its own timer: without another order it goes off."
    )
    confirm_s: float = Field(
        10.0, ge=1, le=120, description="Longest time from an order to its answer."
    )


Output = Annotated[GpioOutput | BrokerOutput | ModelledOutput, Field(discriminator="kind")]


class Gpio(Checked):
    backend: Backend = Field(
        "auto",
        description="'auto': lgpio where it is installed, else gpiod. 'mock': gpiozero's pretend "
        "pins, for trying things out.",
    )
    chip: str = Field(
        "auto",
        pattern=CHIP_PATTERN,
        description="'auto': the chip with the header's lines, found by its label.",
    )

    @property
    def board(self) -> Board:
        return Board(self.backend, self.chip)


class Vent(Checked):
    """A motor with two relays, one for each way, and switches at both ends of its travel."""

    open: Id = Field(description="The output whose relay opens it.")
    close: Id = Field(description="The output whose relay closes it.")
    run_s: float = Field(60.0, ge=2, le=600, description="From closed to open.")
    pause_s: float = Field(1.0, ge=0.1, le=30, description="Both relays off before it turns back.")


class Enable(Checked):
    """A line that moves while the keeper is well, for a charge pump or a monostable."""

    pin: int = Field(ge=0, le=27, description="BCM number, not the header's.")
    hz: float = Field(5.0, ge=1, le=20, description="How often it goes up and down.")
    unsafe_pin: bool = Field(
        False, description="true: use this pin although it moves at boot or has another job."
    )


# --- inputs --------------------------------------------------------------------------


class InputCommon(Checked):
    tells: Literal["door-open", "mains-present", "contactor-closed", "heater-current"] = Field(
        description="What is so while the input is active."
    )
    of: Id | None = Field(
        None, description="The zone of a door; the heater of everything else. Without it: of all."
    )
    settle_s: float = Field(
        5.0, ge=1, le=600, description="How long after a switching it may still tell the old state."
    )


class GpioInput(InputCommon):
    kind: Literal["gpio"]
    pin: int = Field(ge=0, le=27, description="BCM number, not the header's.")
    active: Level = Field(
        strict=False, description="The level that says so; a broken wire should say the worse."
    )
    pull: Pull = Field(
        "up", description="The pin's own resistor; 'none' where the circuit has one."
    )
    unsafe_pin: bool = Field(
        False, description="true: use this pin although it moves at boot or has another job."
    )


class ScriptedInput(InputCommon):
    kind: Literal["scripted"]
    file: str = Field(
        min_length=1, description="CSV of seconds,active; an empty active is an unreadable one."
    )


Input = Annotated[GpioInput | ScriptedInput, Field(discriminator="kind")]
