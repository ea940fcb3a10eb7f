-- What layout 2 added to layout 1: relative humidity, beside the temperatures and never
-- among them. A new journal gets this after schema.sql, whose first table explains all.

CREATE TABLE hygrometer (
    -- What the small numbers in `humidity_minute` and `humidity_hour` mean. Written when a
    -- hygrometer is first seen; as with probes, nothing is renamed behind its back.
    id     INTEGER PRIMARY KEY CHECK (id < 1000),
    name   TEXT NOT NULL,  -- as in the settings
    source TEXT NOT NULL,  -- what it was: 'kernel bme280 1-0076'; empty: unknown
    UNIQUE (name, source)
) STRICT;

CREATE TABLE humidity_minute (
    -- Relative humidity at one hygrometer in one minute, its offset applied. Written and
    -- deleted with `minute`, and like it in everything else.
    id         INTEGER PRIMARY KEY,
    utc_s      INTEGER AS (id / 1000) VIRTUAL,  -- start of the minute
    hygrometer INTEGER AS (id % 1000) VIRTUAL REFERENCES hygrometer (id),
    n          INTEGER NOT NULL,  -- measurements believed
    low_pct    REAL,              -- driest of them, per cent over water. NULL: none was believed
    mean_pct   REAL,              -- their mean, per cent. NULL: likewise
    high_pct   REAL,              -- dampest of them, per cent. NULL: likewise
    bad        INTEGER NOT NULL   -- ticks without a measurement that could be believed
) STRICT;

CREATE TABLE humidity_hour (
    -- `humidity_minute` summed by hours. Written and deleted with `hour`.
    id         INTEGER PRIMARY KEY,
    utc_s      INTEGER AS (id / 1000) VIRTUAL,  -- start of the hour
    hygrometer INTEGER AS (id % 1000) VIRTUAL REFERENCES hygrometer (id),
    n          INTEGER NOT NULL,  -- measurements believed
    low_pct    REAL,              -- driest of them, per cent over water. NULL: none was believed
    mean_pct   REAL,              -- their mean, per cent. NULL: likewise
    high_pct   REAL,              -- dampest of them, per cent. NULL: likewise
    bad        INTEGER NOT NULL   -- ticks without a measurement that could be believed
) STRICT;
