-- A photo is kept once, however many stones it shows.
CREATE TABLE photo (
    sha256 TEXT PRIMARY KEY,
    bytes  BLOB NOT NULL
) STRICT;

CREATE TABLE stone_photo (
    id     INTEGER PRIMARY KEY AUTOINCREMENT,
    stone  INTEGER NOT NULL REFERENCES stone (no),
    at     TEXT NOT NULL,
    name   TEXT NOT NULL,
    sha256 TEXT NOT NULL REFERENCES photo (sha256),
    UNIQUE (stone, sha256)
) STRICT;

CREATE TRIGGER photo_stays BEFORE UPDATE ON photo BEGIN SELECT RAISE(ABORT, 'photos are only added to'); END;
CREATE TRIGGER photo_kept BEFORE DELETE ON photo BEGIN SELECT RAISE(ABORT, 'photos are only added to'); END;
CREATE TRIGGER stone_photo_stays BEFORE UPDATE ON stone_photo BEGIN SELECT RAISE(ABORT, 'photos are only added to'); END;
CREATE TRIGGER stone_photo_kept BEFORE DELETE ON stone_photo BEGIN SELECT RAISE(ABORT, 'photos are only added to'); END;
