-- What a capture is filed as when a person found that its label is wrong; null: what the label says. The label itself stays, since the bag keeps it.
ALTER TABLE captures ADD COLUMN filed_record TEXT NULL COLLATE NOCASE REFERENCES records (id);
ALTER TABLE captures ADD COLUMN filed_sides TEXT NULL;
CREATE INDEX captures_filed ON captures (filed_record) WHERE filed_record IS NOT NULL;

-- What a capture's music is told by. In a table of its own: 30 kB a side that only a comparison reads.
CREATE TABLE programmes (
    capture_id    TEXT NOT NULL PRIMARY KEY REFERENCES captures (id),
    fingerprint   BLOB NOT NULL
);

-- Captures that a person filed under another name. Written in the transaction that does it; what follows on the disk is done afterwards.
CREATE TABLE identifications (
    id            TEXT NOT NULL PRIMARY KEY,
    job_id        TEXT NOT NULL REFERENCES jobs (id),
    capture_id    TEXT NOT NULL REFERENCES captures (id),
    from_label    TEXT NOT NULL,      -- the capture's label until then; another than now when no bag held it
    from_record   TEXT NOT NULL COLLATE NOCASE,
    from_sides    TEXT NOT NULL,
    from_part     INTEGER NULL,
    from_number   INTEGER NOT NULL,
    from_takes    TEXT NOT NULL,      -- A-1, or A-1, B-1
    to_record     TEXT NOT NULL COLLATE NOCASE,
    to_sides      TEXT NOT NULL,
    to_part       INTEGER NULL,
    to_takes      TEXT NOT NULL,
    decided_at    INTEGER NOT NULL,
    finished_at   INTEGER NULL        -- nothing under the old name is left to be put right
);
CREATE INDEX identifications_job ON identifications (job_id);
CREATE INDEX identifications_label ON identifications (from_label COLLATE NOCASE);
CREATE INDEX identifications_open ON identifications (finished_at) WHERE finished_at IS NULL;
