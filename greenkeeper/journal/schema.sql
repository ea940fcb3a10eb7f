-- The layout of the journal, which is its own document: SQLite keeps the comments inside
-- each statement, so that `sqlite3 journal.db .schema` still tells all this in ten years.

CREATE TABLE meta (
    -- THE JOURNAL OF ONE GREENHOUSE: what was measured, what was switched, and why.
    --
    -- Times      utc_s is POSIX seconds, UTC: read it with datetime(utc_s, 'unixepoch').
    --            mono_s is the machine's monotonic clock: it never jumps, begins anew at
    --            each boot, and is the one to trust for how long something took.
    -- Intervals  a row stamped utc_s stands for utc_s <= t < utc_s + 60 (minute tables) or
    --            + 3600 (hour tables): the start belongs to it, the end to the next.
    -- Keys       in the four big tables id is utc_s * 1000 + the number of the probe or
    --            output, and the two are read off it. One growing integer is what SQLite
    --            appends to without touching older pages; a key of two columns made it
    --            rewrite three pages where one is new. To search a span quickly, compare
    --            id: WHERE id >= strftime('%s', '2031-01-14') * 1000.
    -- Numbers    run, probe and output name a row of the table of that name, by its id.
    -- Missing    NULL, or no row at all. Never a number.
    -- Writer     one program, `greenkeeper run`, by one connection. Everybody else reads.
    -- Commits    minutes and zone changes in batches (journal.batch_s, 10 minutes unless set);
    --            switchings too, but on the card at once, in journal.db-jotted, from which
    --            the next start takes them; alarms at once. A power cut costs at most one batch
    --            of minutes.
    -- Version    PRAGMA user_version is that of this layout.
    --
    -- This table says whose journal it is. Written at each start.
    name  TEXT NOT NULL PRIMARY KEY,  -- 'site'; 'timezone' (as in the tz database)
    value TEXT NOT NULL               -- as in the settings
) STRICT, WITHOUT ROWID;

CREATE TABLE run (
    -- One row for each start of the keeper, so that gaps can be explained.
    -- Written at the start; the last three columns when it stops.
    id             INTEGER PRIMARY KEY,
    boot_id        TEXT NOT NULL,  -- the kernel's name for this boot: mono_s compares only within one
    version        TEXT NOT NULL,  -- of the program
    started_utc_s  REAL NOT NULL,  -- when it started, by the civil clock of that moment
    started_mono_s REAL NOT NULL,  -- the same by the monotonic clock
    stopped_utc_s  REAL,           -- NULL: still running, or ended by a power cut or a kill
    stopped_mono_s REAL,           -- NULL: likewise
    clean          INTEGER         -- 1: stopped as asked; 0: stopped by a fault; NULL: likewise
) STRICT;

CREATE TABLE probe (
    -- What the small numbers in `minute` and `hour` mean. Written when a probe is first seen.
    -- A name goes on with another source under a new id: nothing is renamed behind its back.
    id     INTEGER PRIMARY KEY CHECK (id < 1000),
    name   TEXT NOT NULL,  -- as in the settings
    source TEXT NOT NULL,  -- what it was: 'onewire 28-0316a2795a01'; empty: unknown
    UNIQUE (name, source)
) STRICT;

CREATE TABLE output (
    -- What the small numbers in the output tables mean. Written when an output is first seen.
    -- A name whose power changes in the settings gets a new id, so that past energy stays true.
    id      INTEGER PRIMARY KEY CHECK (id < 1000),
    name    TEXT NOT NULL,  -- as in the settings
    power_w REAL,           -- rated power in watts; energy in Wh is on_s * power_w / 3600. NULL: not stated
    UNIQUE (name, power_w)
) STRICT;

CREATE TABLE minute (
    -- Temperatures of one probe in one minute, its offset applied. Written in batches;
    -- deleted after journal.minutes_days, when only `hour` remains.
    -- Where a minute comes twice (a restart, a clock set back) the figures are added up.
    id     INTEGER PRIMARY KEY,
    utc_s  INTEGER AS (id / 1000) VIRTUAL,  -- start of the minute
    probe  INTEGER AS (id % 1000) VIRTUAL REFERENCES probe (id),
    n      INTEGER NOT NULL,  -- measurements believed
    low_c  REAL,              -- coldest of them, degrees Celsius. NULL: none was believed
    mean_c REAL,              -- their mean, degrees Celsius. NULL: likewise
    high_c REAL,              -- warmest of them, degrees Celsius. NULL: likewise
    bad    INTEGER NOT NULL   -- ticks without a measurement that could be believed
) STRICT;

CREATE TABLE output_minute (
    -- How long one output was on in one minute. Written and deleted with `minute`.
    -- A row with 0 says that it was off; no row says that nobody was watching.
    -- Time counts from one tick to the next and never beyond the expiry of the ON: what lies
    -- between an expiry and a late tick is claimed for nothing.
    id         INTEGER PRIMARY KEY,
    utc_s      INTEGER AS (id / 1000) VIRTUAL,  -- start of the minute
    output     INTEGER AS (id % 1000) VIRTUAL REFERENCES output (id),
    on_s       REAL NOT NULL,     -- seconds on, as commanded
    switchings INTEGER NOT NULL   -- times it went from off to on
) STRICT;

CREATE TABLE hour (
    -- `minute` summed by hours. Written in the same commit as the minutes it sums: the hour
    -- that is running once it is over. Deleted after journal.keep_days.
    id     INTEGER PRIMARY KEY,
    utc_s  INTEGER AS (id / 1000) VIRTUAL,  -- start of the hour
    probe  INTEGER AS (id % 1000) VIRTUAL REFERENCES probe (id),
    n      INTEGER NOT NULL,  -- measurements believed
    low_c  REAL,              -- coldest of them, degrees Celsius. NULL: none was believed
    mean_c REAL,              -- their mean, degrees Celsius. NULL: likewise
    high_c REAL,              -- warmest of them, degrees Celsius. NULL: likewise
    bad    INTEGER NOT NULL   -- ticks without a measurement that could be believed
) STRICT;

CREATE TABLE output_hour (
    -- `output_minute` summed by hours. Written and deleted with `hour`.
    id         INTEGER PRIMARY KEY,
    utc_s      INTEGER AS (id / 1000) VIRTUAL,  -- start of the hour
    output     INTEGER AS (id % 1000) VIRTUAL REFERENCES output (id),
    on_s       REAL NOT NULL,     -- seconds on, as commanded
    switchings INTEGER NOT NULL,  -- times it went from off to on
    minutes    INTEGER NOT NULL   -- minutes that were watched
) STRICT;

CREATE TABLE switching (
    -- Every change of an output. Written in batches; until then it is in journal.db-jotted.
    -- Every output is off when a run starts; one still on when a run ends went off with it.
    utc_s  REAL NOT NULL,
    run    INTEGER NOT NULL REFERENCES run (id),
    mono_s REAL NOT NULL,
    output INTEGER NOT NULL REFERENCES output (id),
    is_on  INTEGER NOT NULL,  -- 1: went on, 0: went off
    reason TEXT NOT NULL,     -- in words, for people
    PRIMARY KEY (utc_s, run, mono_s, output)
) STRICT, WITHOUT ROWID;

CREATE TABLE zone_change (
    -- What a zone wanted and was held to, from here until its next row. Written in batches,
    -- for each zone when a run and when a UTC day starts, and whenever one of the last eight
    -- changes.
    utc_s           REAL NOT NULL,
    run             INTEGER NOT NULL REFERENCES run (id),
    mono_s          REAL NOT NULL,
    zone            TEXT NOT NULL,  -- as in the settings
    period          TEXT NOT NULL,  -- 'day' or 'night'
    heat_setpoint_c REAL,           -- heat goes on at or below. NULL: no heat here
    cool_setpoint_c REAL,           -- cooling goes on at or above. NULL: no cooling here
    min_c           REAL,           -- the tenderest plant's minimum. NULL: none stated
    max_c           REAL,           -- the lowest maximum of its plants. NULL: none stated
    heat_wanted     INTEGER,        -- 1: the zone asks for heat, granted or not. NULL: no heat here
    cool_wanted     INTEGER,        -- 1: the zone asks for cooling, granted or not. NULL: no cooling here
    PRIMARY KEY (utc_s, run, mono_s, zone)
) STRICT, WITHOUT ROWID;

CREATE TABLE event (
    -- What happened, in the order it happened. Alarms are written at once, the rest in batches.
    id      INTEGER PRIMARY KEY,
    utc_s   REAL NOT NULL,
    mono_s  REAL NOT NULL,
    run     INTEGER NOT NULL REFERENCES run (id),
    code    TEXT NOT NULL,  -- such as 'zone-blind'; hardware-notes/messages.md explains each
    phase   TEXT NOT NULL,  -- 'raised', 'cleared', or 'noted' for what has no end of its own
    subject TEXT NOT NULL,  -- the probe, zone, output or part it is about
    text    TEXT NOT NULL   -- in words, for people
) STRICT;
CREATE INDEX event_by_time ON event (utc_s);

CREATE TABLE clock_step (
    -- The civil clock was set while the keeper ran. Written with the batch it falls in.
    -- A step forward leaves a gap in the minutes, a step back brings minutes a second time.
    id           INTEGER PRIMARY KEY,
    mono_s       REAL NOT NULL,
    run          INTEGER NOT NULL REFERENCES run (id),
    before_utc_s REAL NOT NULL,  -- what the clock would have said
    after_utc_s  REAL NOT NULL   -- what it says now
) STRICT;

CREATE VIEW temperatures AS
    -- For people: `minute` with names and readable times.
    SELECT datetime(minute.utc_s, 'unixepoch') AS utc, probe.name AS probe,
           n, low_c, round(mean_c, 2) AS mean_c, high_c, bad
    FROM minute JOIN probe ON probe.id = minute.probe;

CREATE VIEW energy AS
    -- For people: hours on and energy by UTC day and output. kwh is NULL without a power.
    SELECT date(output_hour.utc_s, 'unixepoch') AS day, output.name AS output,
           sum(on_s) / 3600.0 AS on_h, sum(on_s * power_w) / 3.6e6 AS kwh,
           sum(switchings) AS switchings
    FROM output_hour JOIN output ON output.id = output_hour.output
    GROUP BY day, output.name;
