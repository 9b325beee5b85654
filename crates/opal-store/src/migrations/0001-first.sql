-- 'OPAL' in ASCII: tells a store from any other SQLite file.
PRAGMA application_id = 1330659660;

CREATE TABLE stone (
    no        INTEGER PRIMARY KEY AUTOINCREMENT,
    mark      TEXT NOT NULL UNIQUE,
    name      TEXT NOT NULL UNIQUE COLLATE NOCASE,
    taken_in  TEXT NOT NULL,
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1))
) STRICT;

CREATE TABLE evidence (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    stone       INTEGER NOT NULL REFERENCES stone (no),
    revision    INTEGER NOT NULL CHECK (revision >= 1),
    taken_in    TEXT NOT NULL,
    file_name   TEXT NOT NULL,
    syntax      TEXT NOT NULL CHECK (syntax IN ('toml', 'json')),
    text        TEXT NOT NULL,
    fingerprint TEXT NOT NULL,
    UNIQUE (stone, revision)
) STRICT;

-- A mesh is kept once, however many revisions refer to it.
CREATE TABLE mesh (
    sha256 TEXT PRIMARY KEY,
    bytes  BLOB NOT NULL
) STRICT;

CREATE TABLE evidence_mesh (
    evidence INTEGER NOT NULL REFERENCES evidence (id),
    place    INTEGER NOT NULL,
    name     TEXT NOT NULL,
    sha256   TEXT NOT NULL REFERENCES mesh (sha256),
    PRIMARY KEY (evidence, place)
) STRICT;

CREATE TABLE run (
    id          INTEGER PRIMARY KEY AUTOINCREMENT,
    stone       INTEGER NOT NULL REFERENCES stone (no),
    at          TEXT NOT NULL,
    what        TEXT NOT NULL,
    inputs      TEXT NOT NULL,
    -- An unsigned 64-bit number as decimal text.
    seed        TEXT NOT NULL,
    n_interiors INTEGER NOT NULL,
    version     TEXT NOT NULL,
    output      TEXT NOT NULL
) STRICT;
CREATE INDEX run_by_inputs ON run (stone, what, inputs);

CREATE TABLE event (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    stone INTEGER NOT NULL REFERENCES stone (no),
    at    TEXT NOT NULL,
    kind  TEXT NOT NULL,
    body  TEXT NOT NULL
) STRICT;
CREATE INDEX event_by_stone ON event (stone, id);

-- The last row of a key counts; the others are its history.
CREATE TABLE setting (
    id     INTEGER PRIMARY KEY AUTOINCREMENT,
    key    TEXT NOT NULL,
    text   TEXT NOT NULL,
    set_at TEXT NOT NULL
) STRICT;
CREATE INDEX setting_by_key ON setting (key, id);

-- Records are only ever added to; the database itself refuses the rest.
CREATE TRIGGER evidence_stays BEFORE UPDATE ON evidence BEGIN SELECT RAISE(ABORT, 'evidence is only added to'); END;
CREATE TRIGGER evidence_kept BEFORE DELETE ON evidence BEGIN SELECT RAISE(ABORT, 'evidence is only added to'); END;
CREATE TRIGGER run_stays BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'runs are only added to'); END;
CREATE TRIGGER run_kept BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'runs are only added to'); END;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events are only added to'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events are only added to'); END;
CREATE TRIGGER setting_stays BEFORE UPDATE ON setting BEGIN SELECT RAISE(ABORT, 'settings are only added to'); END;
CREATE TRIGGER setting_kept BEFORE DELETE ON setting BEGIN SELECT RAISE(ABORT, 'settings are only added to'); END;
