-- Audits a person asked for: every copy that was not read since is due, whatever the cycle and the hours say. One is under way at a time.
CREATE TABLE audits (
    id       TEXT NOT NULL PRIMARY KEY,
    asked_at INTEGER NOT NULL
);
CREATE TABLE audit_places (
    audit_id    TEXT NOT NULL REFERENCES audits (id),
    place       TEXT NOT NULL,
    finished_at INTEGER NULL,               -- nothing was left to be read there
    copies_read INTEGER NOT NULL DEFAULT 0,
    damaged     INTEGER NOT NULL DEFAULT 0, -- of these
    mended      INTEGER NOT NULL DEFAULT 0, -- of the damaged ones
    PRIMARY KEY (audit_id, place)
);
CREATE INDEX audit_places_open ON audit_places (place) WHERE finished_at IS NULL;
