"""What a reader has to know of a weather file's place.

Lives here: how far it is from the site, in a sentence. Does not live here: reading files
(house/records), and what season and rehearse make of one.
"""

import math

from greenkeeper.house.records.record import Place
from greenkeeper.settings.schema import Site

_EARTH_KM = 6371.0
# Nearer, typical years differ more by the hill and the coast than by the distance (a judgement).
_FAR_KM = 200.0


def far(place: Place | None, site: Site, hours: str) -> str:
    """A sentence where the file is of another region than the site; "" where it is not.

    hours: whose hours of the clock count, for night and tariff.
    """
    if place is None or site.latitude is None or site.longitude is None:
        return ""
    km = apart_km(place.latitude, place.longitude, site.latitude, site.longitude)
    if km < _FAR_KM:
        return ""
    return (
        f"That is {round(km, -1 if km < 1000.0 else -2):.0f} km from your site: good for trying "
        f"things out, not for your bill. Sun and dark are those of that place, the hours of night "
        f"and tariff those of {hours}."
    )


def apart_km(
    latitude: float, longitude: float, other_latitude: float, other_longitude: float
) -> float:
    """Along the great circle, by the haversine formula, which is exact on a sphere."""
    north, other_north = math.radians(latitude), math.radians(other_latitude)
    east = math.radians(other_longitude - longitude)
    half = math.sin((other_north - north) / 2.0) ** 2
    half += math.cos(north) * math.cos(other_north) * math.sin(east / 2.0) ** 2
    return 2.0 * _EARTH_KM * math.asin(min(1.0, math.sqrt(half)))
