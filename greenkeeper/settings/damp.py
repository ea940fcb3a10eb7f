"""The settings types for humidity: hygrometers, and what counts as damp.

Lives here: what schema.py joins to probes and zones, as far as water in the air goes. A
hygrometer is no probe: it stands in a section of its own, so that nothing that takes
temperatures can ever be given a humidity.
"""

from typing import Annotated, Literal

from pydantic import Field

from greenkeeper.settings.basics import Checked, DiffK, Id, TempC
from greenkeeper.settings.sensors import OnBroker, OnChip


class HygrometerCommon(Checked):
    beside: Id | None = Field(
        None, description="The probe at the same spot: with both there is a dew point."
    )
    offset_pct: float = Field(0.0, ge=-20, le=20, description="Added to what it says.")
    stale_s: float = Field(
        90.0, ge=5, le=3600, description="Older than this, the last good reading counts no more."
    )
    lowest_pct: float = Field(5.0, ge=0, le=50, description="Below this: out of range.")
    frozen_s: float = Field(
        21_600.0,
        ge=0,
        le=172_800,
        description="Not moved at all for this long while the probe beside it did. 0: never.",
    )


class KernelHygrometer(OnChip, HygrometerCommon):
    kind: Literal["kernel"]


class ScriptedHygrometer(HygrometerCommon):
    kind: Literal["scripted"]
    file: str = Field(
        min_length=1, description="CSV of seconds,rh_pct; an empty rh_pct is a missing reading."
    )


class BrokerHygrometer(OnBroker, HygrometerCommon):
    kind: Literal["broker"]
    unit: Literal["%", "share"] = Field("%", description="Per cent, or a share of one.")


Hygrometer = Annotated[
    KernelHygrometer | BrokerHygrometer | ScriptedHygrometer, Field(discriminator="kind")
]


class Wetness(Checked):
    """When damp is told; control/wetness.py has the sources."""

    wet_pct: float = Field(
        90.0, ge=60, le=99, description="From here on leaves hardly dry: they count as wet."
    )
    leaf_below_k: DiffK = Field(
        1.5, ge=0, le=5, description="So much colder than its air a leaf may be."
    )
    mould_from_c: TempC = Field(
        5.0, ge=-5, le=25, description="Wet hours count at this temperature and above."
    )
    mould_after_s: float = Field(
        21_600.0, ge=3600, le=86_400, description="Wet for so long within a day: a warning."
    )


class Airing(Checked):
    """When damp is let out; control/airing.py has the reasons."""

    output: Id = Field(description="The output that switches the fan, or a vent's name.")
    above_pct: float = Field(85.0, ge=50, le=98, description="Aired from this damp on.")
    hysteresis_pct: float = Field(5.0, ge=1, le=30, description="Until it is so much drier.")
    drier_g_m3: float = Field(
        0.5, ge=0.1, le=10, description="So much less water outdoor air must carry."
    )
    margin_k: DiffK = Field(
        1.0, ge=0, le=10, description="It stops this far above heat-off and the plants' minimum."
    )
    outdoor_least_c: TempC | None = Field(
        None, ge=-10, le=25, description="Not while it is colder outdoors than this."
    )
    for_s: float = Field(900.0, ge=60, le=14_400, description="One airing's longest time.")
    rest_s: float = Field(1800.0, ge=0, le=43_200, description="From one airing to the next.")
