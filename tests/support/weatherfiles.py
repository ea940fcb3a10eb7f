"""Weather files for tests: real ones that registry packages carry, and made ones.

Greensboro and Sand Point are NREL's TMY3 years in the package pvlib; the German test
reference years of 2010 (DWD/BBSR) are in demandlib. Nothing of them is copied here.
"""

from importlib.resources import files
from pathlib import Path

import pvlib

GREENSBORO = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
SAND_POINT = Path(pvlib.__file__).parent / "data" / "703165TY.csv"

_EPW_HEAD = """\
LOCATION,Invented,XX,XXX,made for a test,999999,{latitude},{longitude},{offset},100.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,from a TMY3 year
COMMENTS 2,
DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31
"""


def german_year(region: int) -> Path:
    """One of the fifteen test reference years of 2010."""
    name = f"TRY2010_{region:02d}_Jahr.dat"
    return Path(str(files("demandlib"))) / "vdi" / "resources_weather" / name


def german_rows(region: int) -> list[list[str]]:
    """Its hours as they stand in the file: column 8 is the air, 13 and 14 the sun, 16 the sky."""
    text = german_year(region).read_text("latin-1")
    return [line.split() for line in text.partition("***\n")[2].splitlines()]


def german_csv(region: int, year: int = 2025) -> str:
    """The same year as a plain CSV of our own format; its hours are UTC+1."""
    lines = ["time,outdoor_c,sun_w_m2,diffuse_w_m2,wind_m_s,sky_w_m2"]
    for row in german_rows(region):
        month, day, hour = (int(text) for text in row[2:5])
        stamp = f"{year}-{month:02d}-{day:02d}T{hour - 1:02d}:59:59+01:00"
        level = float(row[13]) + float(row[14])
        lines.append(f"{stamp},{row[8]},{level:g},{row[14]},{row[7]},{row[16]}")
    return "\n".join(lines) + "\n"


def epw_of_greensboro(
    *, latitude: float = 36.1, longitude: float = -79.95, offset: float = -5.0
) -> str:
    """Greensboro's year in the other format."""
    out = [_EPW_HEAD.format(latitude=latitude, longitude=longitude, offset=offset)]
    for line in GREENSBORO.read_text().splitlines()[2:]:
        f = line.split(",")
        month, day, year = f[0].split("/")
        hour = int(f[1][:2])
        cells = [
            year, month, day, str(hour), "60", "A7", f[31], f[34], f[37], f"{float(f[40]) * 100:g}",
            f[2], f[3], "9999", f[4], f[7], f[10], *["999999"] * 3, "9999", f[43], f[46], f[25],
            f[28], "9999", "99999", "9", "999999999", "10", "0.1", "0", "88", "0.2", "0", "0",
        ]  # fmt: skip
        out.append(",".join(cells) + "\n")
    return "".join(out)
