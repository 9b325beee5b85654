-- Schema 1 with one stone, as version 0.1.0 wrote it. Never edited.
PRAGMA foreign_keys = OFF;
PRAGMA application_id = 1330659660;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE event (
    id    INTEGER PRIMARY KEY AUTOINCREMENT,
    stone INTEGER NOT NULL REFERENCES stone (no),
    at    TEXT NOT NULL,
    kind  TEXT NOT NULL,
    body  TEXT NOT NULL
) STRICT;
INSERT INTO "event" VALUES(1,1,'2026-01-02T03:04:03Z','note','{"words":"looked again"}');
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
INSERT INTO "evidence" VALUES(1,1,1,'2026-01-02T03:04:00Z','gully.toml','toml','one','a515579b6d5270416bb8af1638c46e40f31d5256b2b50f77935dd7b568555ac9');
INSERT INTO "evidence" VALUES(2,1,2,'2026-01-02T03:04:01Z','gully.toml','toml','two','2ec0d395cf2648fc77f8222dd52d4f776f8dac19e07a0b75d4c2e027e8c9cde7');
CREATE TABLE evidence_mesh (
    evidence INTEGER NOT NULL REFERENCES evidence (id),
    place    INTEGER NOT NULL,
    name     TEXT NOT NULL,
    sha256   TEXT NOT NULL REFERENCES mesh (sha256),
    PRIMARY KEY (evidence, place)
) STRICT;
INSERT INTO "evidence_mesh" VALUES(1,0,'rough.ply','265540042a8cde29ccc2ba937d5b4dd770b6d9efd2a7a8a07545d22a960b6d7c');
INSERT INTO "evidence_mesh" VALUES(2,0,'rough.ply','265540042a8cde29ccc2ba937d5b4dd770b6d9efd2a7a8a07545d22a960b6d7c');
CREATE TABLE mesh (
    sha256 TEXT PRIMARY KEY,
    bytes  BLOB NOT NULL
) STRICT;
INSERT INTO "mesh" VALUES('265540042a8cde29ccc2ba937d5b4dd770b6d9efd2a7a8a07545d22a960b6d7c',X'010203');
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
INSERT INTO "run" VALUES(1,1,'2026-01-02T03:04:02Z','bid','abc','18446744073709551614',1000,'0.1.0','{"format":"opalwright-bid/1"}');
CREATE TABLE setting (
    id     INTEGER PRIMARY KEY AUTOINCREMENT,
    key    TEXT NOT NULL,
    text   TEXT NOT NULL,
    set_at TEXT NOT NULL
) STRICT;
CREATE TABLE stone (
    no        INTEGER PRIMARY KEY AUTOINCREMENT,
    mark      TEXT NOT NULL UNIQUE,
    name      TEXT NOT NULL UNIQUE COLLATE NOCASE,
    taken_in  TEXT NOT NULL,
    invented  INTEGER NOT NULL CHECK (invented IN (0, 1))
) STRICT;
INSERT INTO "stone" VALUES(1,'9931c31d297cedaa4ec5a72101279c13','Gully 7','2026-01-02T03:04:00Z',0);
CREATE INDEX run_by_inputs ON run (stone, what, inputs);
CREATE INDEX event_by_stone ON event (stone, id);
CREATE INDEX setting_by_key ON setting (key, id);
CREATE TRIGGER evidence_stays BEFORE UPDATE ON evidence BEGIN SELECT RAISE(ABORT, 'evidence is only added to'); END;
CREATE TRIGGER evidence_kept BEFORE DELETE ON evidence BEGIN SELECT RAISE(ABORT, 'evidence is only added to'); END;
CREATE TRIGGER run_stays BEFORE UPDATE ON run BEGIN SELECT RAISE(ABORT, 'runs are only added to'); END;
CREATE TRIGGER run_kept BEFORE DELETE ON run BEGIN SELECT RAISE(ABORT, 'runs are only added to'); END;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events are only added to'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events are only added to'); END;
CREATE TRIGGER setting_stays BEFORE UPDATE ON setting BEGIN SELECT RAISE(ABORT, 'settings are only added to'); END;
CREATE TRIGGER setting_kept BEFORE DELETE ON setting BEGIN SELECT RAISE(ABORT, 'settings are only added to'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('stone',1);
INSERT INTO "sqlite_sequence" VALUES('evidence',2);
INSERT INTO "sqlite_sequence" VALUES('run',1);
INSERT INTO "sqlite_sequence" VALUES('event',1);
COMMIT;
