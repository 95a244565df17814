-- Which job's copies of a side lie where in listening/. The folder's record.json is the truth; this finds it without a search.
CREATE TABLE published_sides (
    record_id  TEXT NOT NULL,
    side       TEXT NOT NULL,
    job_id     TEXT NOT NULL,
    folder     TEXT NOT NULL,      -- below listening/, '/' between its two parts
    blocks     TEXT NOT NULL,      -- how often each loudness occurs on the side: for the gain of the whole record
    peak       REAL NULL,          -- largest sample of its copies, linear
    PRIMARY KEY (record_id, side)
);

-- Counted up with everything that names and tags may depend on; 0 once the record's copies were looked at since.
ALTER TABLE records ADD COLUMN copies_due INTEGER NOT NULL DEFAULT 0;
CREATE INDEX records_copies_due ON records (copies_due) WHERE copies_due > 0;
