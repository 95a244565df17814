-- Cuts belong to one playing of a side: a cue sheet is in force for the take it was written for, and for no other.
CREATE TABLE fixed_divisions (
    record_id     TEXT NOT NULL COLLATE NOCASE REFERENCES records (id),
    side          TEXT NOT NULL,      -- one letter
    take          INTEGER NOT NULL,   -- the take's number; 0: the next take that comes
    revision      INTEGER NOT NULL,   -- counts what was said about this take
    file_name     TEXT NOT NULL,
    cue_text      TEXT NULL,          -- as given; null: taken back, the service divides by itself
    received_at   INTEGER NOT NULL,
    told_at       INTEGER NULL,       -- it stands in the record's events.jsonl
    settled_at    INTEGER NULL,       -- the take's job was looked at since, and none was at work
    PRIMARY KEY (record_id, side, take)
);
CREATE INDEX fixed_divisions_open ON fixed_divisions (record_id) WHERE told_at IS NULL OR settled_at IS NULL;

-- Until now one cue sheet was in force for every take of its side; it was for the one that was there, or for the first to come.
INSERT INTO fixed_divisions (record_id, side, take, revision, file_name, cue_text, received_at, told_at, settled_at)
SELECT c.record_id, c.side,
       coalesce((SELECT max(number) FROM takes t WHERE t.record_id = c.record_id AND t.side = c.side AND t.state IN ('pending', 'accepted')), 0),
       1, c.file_name, c.cue_text, c.received_at, c.received_at, c.received_at
FROM cue_sheets c;
DROP TABLE cue_sheets;
