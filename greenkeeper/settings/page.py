"""The settings of the page that a phone shows.

Lives here: the keys of `page:`. Does not live here: rules over several keys (checks/page.py),
serving it (greenkeeper/page).
"""

from typing import Annotated, Literal

from pydantic import Field

from greenkeeper.settings.basics import Checked

LANGUAGE_PATTERN = (
    r"^[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|[0-9]{3}))?$"  # RFC 5646, its usual part
)
HOST_NAME_PATTERN = r"^[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?$"
ADDRESS_PATTERN = r"^[0-9a-fA-F:.]+$"  # what ip_address takes is asked in checks/page.py

HostName = Annotated[str, Field(pattern=HOST_NAME_PATTERN, max_length=253)]


class Page(Checked):
    address: str = Field(
        "127.0.0.1",
        pattern=ADDRESS_PATTERN,
        max_length=45,
        description="Where it listens; 0.0.0.0: to everybody in the network.",
    )
    port: int = Field(8470, ge=1024, le=65535, description="And on which port.")
    names: tuple[HostName, ...] = Field(
        (), strict=False, description="Names with a dot under which it may be called up."
    )
    access_word_file: str | None = Field(
        None,
        min_length=1,
        description="A file with the word that opens it; a relative name is a systemd credential.",
    )
    units: Literal["celsius", "fahrenheit"] = Field(
        "celsius", description="How temperatures are shown."
    )
    language: str = Field(
        "en-GB",
        pattern=LANGUAGE_PATTERN,
        max_length=20,
        description="Whose way of writing numbers and dates it takes.",
    )
    weather_file: str | None = Field(
        None, min_length=1, description="A weather file for what the season costs."
    )
