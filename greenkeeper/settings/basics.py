"""What every group of settings is made of: the checked model, names and temperatures.

Lives here: the pieces that the other modules of settings types share. Does not live here: any key.
"""

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from greenkeeper import units

ID_PATTERN = r"^[a-z0-9]+(-[a-z0-9]+)*$"  # Homie 5 topic IDs, without its odd edges
TOPIC_PATTERN = r"^[^$+#\x00-\x1f][^+#\x00-\x1f]*$"  # MQTT 5.0, 4.7: no wildcard
CHIP_NAME_PATTERN = r"^[A-Za-z0-9_.,@+-]+$"
CHIP_PLACE_PATTERN = r"^[A-Za-z0-9_.,:@-]+$"

Id = Annotated[str, Field(pattern=ID_PATTERN, max_length=40)]


# A temperature may carry its unit ("41 °F"); a bare number is °C.
TempC = Annotated[float, BeforeValidator(units.temperature_c)]
# A difference likewise; a bare number is kelvin.
DiffK = Annotated[float, BeforeValidator(units.difference_k)]


class Checked(BaseModel):
    model_config = ConfigDict(
        extra="forbid", strict=True, frozen=True, allow_inf_nan=False, use_enum_values=False
    )
