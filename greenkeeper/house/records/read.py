"""From the text of a weather file, whichever kind it is, to a Record.

Lives here: telling the kinds apart. Does not live here: the kinds (epw.py, tmy3.py,
table.py), and opening the file.
"""

import codecs

from greenkeeper.house import days
from greenkeeper.house.records import epw, plausible, table, tmy3
from greenkeeper.house.records.faults import WeatherError, shown
from greenkeeper.house.records.record import Place, Record

_KINDS = (
    "an EPW file (its first word is LOCATION), a TMY3 file (its second line begins with "
    f"'{tmy3.SECOND_LINE}') or a CSV whose first line names its columns: time,outdoor_c,..."
)


def parse(content: bytes, file: str, place: Place | None = None) -> Record:
    """The weather in a file. Raises WeatherError, and then nothing of it is used.

    place: where the house stands, for a CSV, which does not say.
    """
    text = _decoded(content, file)
    lines = text[:20_000].splitlines()
    first = lines[0] if lines else ""
    if first.upper().startswith(epw.FIRST_WORD):
        record = epw.parse(text, file)
    elif len(lines) > 1 and lines[1].startswith(tmy3.SECOND_LINE):
        record = tmy3.parse(text, file)
    elif table.is_head(first):
        record = table.parse(text, file)
    else:
        raise WeatherError(file, shown(first), _KINDS, line=1, hint=_why_not(first))
    plausible.check(record, record.place or place, file)
    return record


def _why_not(first: str) -> str:
    if days.is_head(first):
        return "It tells of days, and this wants hours; greenkeeper season takes it as it is."
    parted = first.replace(";", ",").replace("\t", ",")
    if table.is_head(parted) or days.is_head(parted):
        return "Put commas between its columns, and points into its numbers: 3.5"
    return "This is no weather file."


def _decoded(content: bytes, file: str) -> str:
    """UTF-8, or the Latin-1 of older files, in which only a place's name can be beyond ASCII."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise WeatherError(file, "text in UTF-16", "UTF-8", hint="Save it as CSV in UTF-8.")
    if b"\0" in content:
        raise WeatherError(file, "bytes that are no text", _KINDS, hint="Unpack it first?")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")
