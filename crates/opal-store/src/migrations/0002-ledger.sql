-- The books: entries by number, without a gap, each with what it moved.
CREATE TABLE ledger_entry (
    number   INTEGER PRIMARY KEY CHECK (number >= 1),
    recorded TEXT NOT NULL,
    currency TEXT NOT NULL CHECK (length(currency) = 3),
    body     TEXT NOT NULL
) STRICT;

CREATE TABLE ledger_posting (
    entry   INTEGER NOT NULL REFERENCES ledger_entry (number),
    place   INTEGER NOT NULL CHECK (place >= 0),
    account TEXT NOT NULL,
    minor   INTEGER NOT NULL,
    PRIMARY KEY (entry, place)
) STRICT, WITHOUT ROWID;

-- Finds the last result of a kind, whatever it rested on.
CREATE INDEX run_by_kind ON run (stone, what, id);

CREATE TRIGGER ledger_entry_next BEFORE INSERT ON ledger_entry
WHEN NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM ledger_entry)
BEGIN SELECT RAISE(ABORT, 'the books have no gaps'); END;
CREATE TRIGGER ledger_posting_with_its_entry BEFORE INSERT ON ledger_posting
WHEN NEW.entry <> (SELECT max(number) FROM ledger_entry)
BEGIN SELECT RAISE(ABORT, 'the books are only added to'); END;
CREATE TRIGGER ledger_entry_stays BEFORE UPDATE ON ledger_entry BEGIN SELECT RAISE(ABORT, 'the books are only added to'); END;
CREATE TRIGGER ledger_entry_kept BEFORE DELETE ON ledger_entry BEGIN SELECT RAISE(ABORT, 'the books are only added to'); END;
CREATE TRIGGER ledger_posting_stays BEFORE UPDATE ON ledger_posting BEGIN SELECT RAISE(ABORT, 'the books are only added to'); END;
CREATE TRIGGER ledger_posting_kept BEFORE DELETE ON ledger_posting BEGIN SELECT RAISE(ABORT, 'the books are only added to'); END;
