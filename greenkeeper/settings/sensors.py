"""The settings types of what measures: probes, their buses, and what they share with hygrometers.

Lives here: what schema.py joins to `probes:`, `onewire:` and `chips:`. Does not live here: humidity
(damp.py), contacts (switches.py).
"""

from typing import Annotated, Literal

from pydantic import Field

from greenkeeper.pointer import PATTERN as POINTER_PATTERN
from greenkeeper.settings.basics import (
    CHIP_NAME_PATTERN,
    CHIP_PLACE_PATTERN,
    TOPIC_PATTERN,
    Checked,
    DiffK,
    TempC,
)

ROM_PATTERN = r"^(10|22|28|3b|42)-[0-9a-f]{12}$"


class OnChip(Checked):
    """A sensor that the kernel reads by itself."""

    chip: str = Field(
        pattern=CHIP_NAME_PATTERN,
        max_length=60,
        description="The chip's name as the kernel shows it: 'bme280'.",
    )
    at: str | None = Field(
        None,
        pattern=CHIP_PLACE_PATTERN,
        max_length=120,
        description="Where it sits: '1-0076' is address 0x76 of I2C bus 1.",
    )
    channel: int | None = Field(
        None, ge=0, le=15, description="Which of several, where the chip has more than one."
    )


class OnBroker(Checked):
    """A sensor that somebody else publishes on the broker."""

    topic: str = Field(
        pattern=TOPIC_PATTERN, max_length=200, description="The topic of its reports."
    )
    field: str | None = Field(
        None,
        pattern=POINTER_PATTERN,
        max_length=200,
        description="JSON pointer to the number; without it, the report is the number.",
    )


class ProbeCommon(Checked):
    offset_k: DiffK = Field(0.0, ge=-5, le=5, description="Added to what the probe says.")
    stale_s: float = Field(
        45.0, ge=5, le=3600, description="Older than this, the last good reading counts no more."
    )
    lowest_c: TempC = Field(-40.0, ge=-55, le=125, description="Below this: out of range.")
    highest_c: TempC = Field(60.0, ge=-55, le=125, description="Above this: out of range.")
    jump_k: DiffK = Field(
        4.0, gt=0, le=50, description="A greater step between two readings must be confirmed."
    )
    jump_confirm_s: float = Field(
        30.0, ge=0, le=600, description="How long a jump must stand before it is believed."
    )
    frozen_s: float = Field(
        7200.0,
        ge=0,
        le=86_400,
        description="Not moved at all for this long while a neighbour did: frozen. 0: never.",
    )
    frozen_k: DiffK = Field(
        1.0, ge=0.25, le=20, description="How far that neighbour must have moved meanwhile."
    )
    flaky_share: float = Field(
        0.1, ge=0.01, le=1, description="More of the last hour's readings failed: a warning."
    )


class OnewireProbe(ProbeCommon):
    kind: Literal["onewire"]
    rom: str = Field(
        pattern=ROM_PATTERN,
        description="The probe's id on the bus, with its family: '28-0316a2795a01'.",
    )


class KernelProbe(OnChip, ProbeCommon):
    kind: Literal["kernel"]


class ScriptedProbe(ProbeCommon):
    kind: Literal["scripted"]
    file: str = Field(
        min_length=1, description="CSV of seconds,temp_c; an empty temp_c is a missing reading."
    )


class ModelledProbe(ProbeCommon):
    kind: Literal["modelled"]
    place: Literal["bench", "ridge", "outdoors", "tent"] = Field(
        description="Where in the modelled house the probe hangs."
    )


class BrokerProbe(OnBroker, ProbeCommon):
    kind: Literal["broker"]
    unit: Literal["°C", "°F", "K"] = Field("°C", description="What it counts in.")


Probe = Annotated[
    OnewireProbe | KernelProbe | BrokerProbe | ScriptedProbe | ModelledProbe,
    Field(discriminator="kind"),
]


class Onewire(Checked):
    folder: str = Field(
        "/sys/bus/w1/devices",
        min_length=1,
        description="Where the kernel shows the 1-Wire devices.",
    )
    bulk: Literal["auto", "off"] = Field(
        "auto", description="'auto': one conversion for all probes where the kernel offers it."
    )


class Chips(Checked):
    iio_folder: str = Field(
        "/sys/bus/iio/devices", min_length=1, description="Where the kernel shows its IIO chips."
    )
    hwmon_folder: str = Field(
        "/sys/class/hwmon", min_length=1, description="Where the kernel shows its hwmon chips."
    )
