"""Invented forecasts, in the form that services give away."""

import json
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

LATITUDE, LONGITUDE = 50.8, 4.4


def moment(utc_s: float) -> str:
    return datetime.fromtimestamp(utc_s, UTC).isoformat().replace("+00:00", "Z")


def document(
    made_utc_s: float, temp_c: Callable[[float], float], *, hours: int = 60, step_h: int = 1
) -> dict[str, Any]:
    """temp_c: of the hours since it was made."""
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [LONGITUDE, LATITUDE, 60]},
        "properties": {
            "meta": {
                "updated_at": moment(made_utc_s),
                "units": {"air_temperature": "celsius", "wind_speed": "m/s"},
            },
            "timeseries": [
                {
                    "time": moment(made_utc_s + 3600.0 * hour),
                    "data": {
                        "instant": {"details": {"air_temperature": temp_c(hour), "wind_speed": 2.1}}
                    },
                }
                for hour in range(0, hours, step_h)
            ],
        },
    }


def written(found: dict[str, Any]) -> bytes:
    return json.dumps(found).encode()
