"""The tables of the log, and why nothing in them can change.

A run is one row of `runs` with its causes, curves and missing readings as child rows. Children go
in first, their foreign keys deferred, and the run's row last: once it is there, a trigger refuses
further children. Longer texts (limit file, pattern file, station file, versions) and frequency
grids are kept once per different content, under their SHA-256. A calibration is one row of
`calibrations`, a unit's stay in service one of `services` with the rows of `service_steps` that
were made since, measurements from before the log one of `imported_records`. A release of a limit
file is one of `releases`, what a person did by right of a role, or was refused, one of `role_acts`.

Triggers refuse every UPDATE and DELETE. INSERT OR REPLACE deletes without a word unless the
connection has recursive_triggers on, so further triggers refuse to insert what exists; they hold
for any program that opens the file. Only dropping a trigger goes round them, and then the chain
of hashes (see `chain`) shows what was changed.
"""

from __future__ import annotations

from station.records.database.triggers import following, never_changed, never_late, never_replaced

APPLICATION_ID = 0x53544C47  # marks the file as a log of this software

FIRST_PREVIOUS_HASH = "0" * 64

TABLES = (
    """CREATE TABLE texts (
        sha256 TEXT PRIMARY KEY,
        text TEXT NOT NULL
    ) STRICT""",
    """CREATE TABLE grids (
        sha256 TEXT PRIMARY KEY,
        frequency_hz BLOB NOT NULL
    ) STRICT""",
    """CREATE TABLE runs (
        seq INTEGER PRIMARY KEY,
        run_id TEXT NOT NULL UNIQUE,
        serial TEXT NOT NULL,
        model TEXT NOT NULL,
        revision TEXT NOT NULL,
        attempt INTEGER NOT NULL CHECK (attempt >= 1),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        started_utc TEXT NOT NULL,
        monotonic_s REAL NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('pass', 'fail', 'void')),
        next_step TEXT NOT NULL,
        numbers TEXT NOT NULL CHECK (json_valid(numbers)),
        margins TEXT NOT NULL CHECK (json_valid(margins)),
        limit_name TEXT NOT NULL,
        limit_sha256 TEXT NOT NULL REFERENCES texts,
        station_name TEXT NOT NULL,
        station_sha256 TEXT NOT NULL REFERENCES texts,
        versions_sha256 TEXT NOT NULL REFERENCES texts,
        recording_name TEXT,
        recording_sha256 TEXT,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL,
        CHECK ((recording_name IS NULL) = (recording_sha256 IS NULL))
    ) STRICT""",
    """CREATE TABLE causes (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        reading TEXT NOT NULL,
        side TEXT NOT NULL,
        margin REAL,
        unit TEXT NOT NULL,
        at_hz REAL,
        severity REAL,
        happened TEXT NOT NULL,
        advice TEXT NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE curves (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        unit TEXT NOT NULL,
        grid_sha256 TEXT NOT NULL REFERENCES grids,
        float32_values BLOB NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT""",
    """CREATE TABLE missing (
        run INTEGER NOT NULL REFERENCES runs DEFERRABLE INITIALLY DEFERRED,
        position INTEGER NOT NULL,
        name TEXT NOT NULL,
        happened TEXT NOT NULL,
        remedy TEXT NOT NULL,
        PRIMARY KEY (run, position)
    ) STRICT, WITHOUT ROWID""",
    "CREATE INDEX runs_by_serial ON runs (serial)",
    "CREATE INDEX runs_by_time ON runs (started_utc)",
)

CHILD_TABLES = ("causes", "curves", "missing")
SHARED_TABLES = ("texts", "grids")

VERSION_1 = (
    *TABLES,
    *(sql for table in ("runs", *SHARED_TABLES, *CHILD_TABLES) for sql in never_changed(table)),
    *(never_replaced(table) for table in SHARED_TABLES),
    *(never_late(table) for table in CHILD_TABLES),
    *following("runs", "run_id", "run"),
)

# Calibrations are a chain of their own: a run names the one it used, in a text of its setup.
CALIBRATIONS = """CREATE TABLE calibrations (
        seq INTEGER PRIMARY KEY,
        calibration_id TEXT NOT NULL UNIQUE,
        calibrated_utc TEXT NOT NULL,
        calibrated_by TEXT NOT NULL CHECK (calibrated_by <> ''),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        station_name TEXT NOT NULL,
        device TEXT NOT NULL,
        input INTEGER NOT NULL CHECK (input >= 1),
        role TEXT NOT NULL,
        filed_full_scale REAL NOT NULL CHECK (filed_full_scale > 0.0),
        means TEXT NOT NULL CHECK (means IN ('calibrator', 'resistor')),
        nominal REAL NOT NULL,
        unit TEXT NOT NULL,
        full_scale_before REAL NOT NULL CHECK (full_scale_before > 0.0),
        full_scale REAL NOT NULL CHECK (full_scale > 0.0),
        standard_uncertainty REAL NOT NULL CHECK (standard_uncertainty >= 0.0),
        drift_db REAL,
        drift_limit_db REAL NOT NULL CHECK (drift_limit_db > 0.0),
        temperature_c REAL NOT NULL,
        verdict TEXT NOT NULL CHECK (verdict IN ('accepted', 'refused')),
        happened TEXT NOT NULL,
        remedy TEXT NOT NULL,
        station_sha256 TEXT NOT NULL REFERENCES texts,
        versions_sha256 TEXT NOT NULL REFERENCES texts,
        recording_name TEXT NOT NULL,
        recording_sha256 TEXT NOT NULL,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""

VERSION_2 = (
    CALIBRATIONS,
    *never_changed("calibrations"),
    *following("calibrations", "calibration_id", "calibration"),
    "CREATE INDEX calibrations_by_place ON calibrations (station_name, role)",
    "ALTER TABLE runs ADD COLUMN calibrations_sha256 TEXT REFERENCES texts",
    "ALTER TABLE runs ADD COLUMN temperature_c REAL",
)

# What was done to the files of the log: recordings let go by rule, leftovers swept up, and a
# damaged database set aside. `name` is the file or folder.
UPKEEP = """CREATE TABLE upkeep (
        seq INTEGER PRIMARY KEY,
        entry_id TEXT NOT NULL UNIQUE,
        done_utc TEXT NOT NULL,
        kind TEXT NOT NULL CHECK (kind IN ('let go', 'swept up', 'set aside')),
        name TEXT NOT NULL,
        contents_sha256 TEXT,
        reason TEXT NOT NULL CHECK (reason <> ''),
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""

VERSION_3 = (
    UPKEEP,
    *never_changed("upkeep"),
    *following("upkeep", "entry_id", "upkeep entry"),
    "CREATE INDEX upkeep_by_name ON upkeep (name)",
)

# A service is told step by step, each step durable at once: whoever is called away, or loses the
# power, finds everything he had done. Steps are therefore a chain of their own.
SERVICES = """CREATE TABLE services (
        seq INTEGER PRIMARY KEY,
        service_id TEXT NOT NULL UNIQUE,
        opened_utc TEXT NOT NULL,
        opened_by TEXT NOT NULL CHECK (opened_by <> ''),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        station_name TEXT NOT NULL,
        serial TEXT NOT NULL,
        model TEXT NOT NULL,
        revision TEXT NOT NULL,
        complaint TEXT NOT NULL,
        limits_from TEXT NOT NULL CHECK (limits_from IN ('run', 'archive', 'shelf', 'service')),
        limit_name TEXT NOT NULL,
        limit_sha256 TEXT NOT NULL REFERENCES texts,
        as_built TEXT NOT NULL,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""
SERVICE_STEPS = """CREATE TABLE service_steps (
        seq INTEGER PRIMARY KEY,
        step_id TEXT NOT NULL UNIQUE,
        service_id TEXT NOT NULL REFERENCES services (service_id),
        made_utc TEXT NOT NULL,
        made_by TEXT NOT NULL CHECK (made_by <> ''),
        kind TEXT NOT NULL
            CHECK (kind IN ('before', 'after', 'part', 'cause', 'partner', 'closed')),
        run_id TEXT REFERENCES runs (run_id),
        part TEXT NOT NULL,
        batch TEXT NOT NULL,
        partner TEXT NOT NULL,
        words TEXT NOT NULL,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL,
        CHECK ((kind IN ('before', 'after')) = (run_id IS NOT NULL)),
        CHECK ((kind IN ('part', 'cause')) = (part <> '')),
        CHECK ((kind = 'partner') = (partner <> ''))
    ) STRICT"""
STEPS_END = """CREATE TRIGGER service_steps_end BEFORE INSERT ON service_steps
    WHEN EXISTS (
        SELECT 1 FROM service_steps WHERE service_id = NEW.service_id AND kind = 'closed')
    BEGIN SELECT RAISE(ABORT, 'the log is append-only: the service is closed'); END"""
IMPORTED_RECORDS = """CREATE TABLE imported_records (
        seq INTEGER PRIMARY KEY,
        record_id TEXT NOT NULL UNIQUE,
        imported_utc TEXT NOT NULL,
        imported_by TEXT NOT NULL CHECK (imported_by <> ''),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        serial TEXT NOT NULL,
        model TEXT NOT NULL,
        revision TEXT NOT NULL,
        measured_on TEXT NOT NULL CHECK (measured_on <> ''),
        origin TEXT NOT NULL CHECK (origin <> ''),
        file_name TEXT NOT NULL,
        contents_sha256 TEXT NOT NULL REFERENCES texts,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""

VERSION_4 = (
    SERVICES,
    SERVICE_STEPS,
    IMPORTED_RECORDS,
    *(
        sql
        for table, key, one in (
            ("services", "service_id", "service"),
            ("service_steps", "step_id", "service step"),
            ("imported_records", "record_id", "imported record"),
        )
        for sql in (*never_changed(table), *following(table, key, one))
    ),
    STEPS_END,
    "CREATE INDEX services_by_serial ON services (serial)",
    "CREATE INDEX service_steps_by_service ON service_steps (service_id)",
    "CREATE INDEX imported_records_by_serial ON imported_records (serial)",
)

# A release is taken into the log where it is made, and by every station that first sees it: from
# then on the station knows which revision a unit asks for, whatever lies in the limits folder.
RELEASES = """CREATE TABLE releases (
        seq INTEGER PRIMARY KEY,
        release_id TEXT NOT NULL UNIQUE,
        taken_in_utc TEXT NOT NULL,
        model TEXT NOT NULL,
        revision TEXT NOT NULL,
        serial_pattern TEXT NOT NULL,
        holds_from TEXT,
        released_utc TEXT NOT NULL,
        released_by TEXT NOT NULL CHECK (released_by <> ''),
        public_key TEXT NOT NULL,
        limit_name TEXT NOT NULL,
        limit_sha256 TEXT NOT NULL REFERENCES texts,
        release_sha256 TEXT NOT NULL REFERENCES texts,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""

# `details` is a JSON object; what it holds depends on the act (see roleact.py).
ROLE_ACTS = """CREATE TABLE role_acts (
        seq INTEGER PRIMARY KEY,
        act_id TEXT NOT NULL UNIQUE,
        acted_utc TEXT NOT NULL,
        person TEXT NOT NULL,
        role TEXT NOT NULL,
        act TEXT NOT NULL CHECK (act <> ''),
        subject TEXT NOT NULL,
        details TEXT NOT NULL CHECK (json_valid(details)),
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""

VERSION_5 = (
    RELEASES,
    *never_changed("releases"),
    *following("releases", "release_id", "release"),
    "CREATE INDEX releases_by_model ON releases (model)",
    ROLE_ACTS,
    *never_changed("role_acts"),
    *following("role_acts", "act_id", "role act"),
    # NULL in runs that were stored before; `operator` and `badge` where nobody had to sign in.
    "ALTER TABLE runs ADD COLUMN trial INTEGER CHECK (trial IN (0, 1))",
    "ALTER TABLE runs ADD COLUMN operator TEXT",
    "ALTER TABLE runs ADD COLUMN badge TEXT",
)

# A decision rule follows from the limit text; what it said of the run is kept beside the margins.
DECISIONS = (
    "ALTER TABLE runs ADD COLUMN decision TEXT CHECK (decision IS NULL OR json_valid(decision))",
)

# `plan` holds the units, the operators and the order of the steps (see log/gauges.py).
GAUGE_STUDIES = """CREATE TABLE gauge_studies (
        seq INTEGER PRIMARY KEY,
        study_id TEXT NOT NULL UNIQUE,
        planned_utc TEXT NOT NULL,
        planned_by TEXT NOT NULL CHECK (planned_by <> ''),
        simulated INTEGER NOT NULL CHECK (simulated IN (0, 1)),
        title TEXT NOT NULL,
        model TEXT NOT NULL,
        plan TEXT NOT NULL CHECK (json_valid(plan)),
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL
    ) STRICT"""
GAUGE_ENTRIES = """CREATE TABLE gauge_entries (
        seq INTEGER PRIMARY KEY,
        entry_id TEXT NOT NULL UNIQUE,
        study_id TEXT NOT NULL REFERENCES gauge_studies (study_id),
        step INTEGER NOT NULL CHECK (step >= 1),
        run_id TEXT NOT NULL REFERENCES runs (run_id),
        measured_utc TEXT NOT NULL,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL,
        UNIQUE (study_id, step)
    ) STRICT"""

GAUGES = (
    GAUGE_STUDIES,
    *never_changed("gauge_studies"),
    *following("gauge_studies", "study_id", "gauge study"),
    GAUGE_ENTRIES,
    *never_changed("gauge_entries"),
    *following("gauge_entries", "entry_id", "gauge entry"),
    "CREATE INDEX gauge_entries_by_run ON gauge_entries (run_id)",
)

# What a damaged database could not be read for. A gap in a chain that stands here is known: the
# numbers, and the hash of the last entry that is lost, by which paper can still name it. A lost
# text or grid has no number, only its hash.
LOSSES = """CREATE TABLE losses (
        seq INTEGER PRIMARY KEY,
        loss_id TEXT NOT NULL UNIQUE,
        upkeep_id TEXT NOT NULL,
        lost_from TEXT NOT NULL,
        first_number INTEGER,
        last_number INTEGER,
        lost_hash TEXT NOT NULL,
        previous_hash TEXT NOT NULL,
        hash TEXT NOT NULL,
        CHECK ((first_number IS NULL) = (last_number IS NULL))
    ) STRICT"""

KNOWN_LOSSES = (
    LOSSES,
    *never_changed("losses"),
    *following("losses", "loss_id", "loss"),
    "CREATE INDEX losses_by_hash ON losses (lost_hash)",
)

# Limits may compare a curve with a population, which stands in a file of its own.
PATTERNS = ("ALTER TABLE runs ADD COLUMN pattern_sha256 TEXT REFERENCES texts",)

# What a run was made for that is no production is written with it: a scan that was void to the end,
# stopped or killed leaves no entry of its gauge study or service behind, and which units are a
# station's reference units only its station file says.
SET_APART = (
    "ALTER TABLE runs ADD COLUMN set_apart TEXT CHECK (set_apart IN ('gauge', 'service', 'check'))",
)

# Element n brings a database of schema version n to version n + 1.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    VERSION_1,
    VERSION_2,
    VERSION_3,
    VERSION_4,
    VERSION_5,
    DECISIONS,
    GAUGES,
    KNOWN_LOSSES,
    PATTERNS,
    SET_APART,
)
