-- Times are UTC milliseconds since 1970. Ids are UUIDs of version 7: their text order is their age.

CREATE TABLE records (
    id            TEXT NOT NULL PRIMARY KEY COLLATE NOCASE,
    artist        TEXT NULL,
    title         TEXT NULL,
    sheet_name    TEXT NULL,          -- file name the current sheet came under
    sheet_yaml    TEXT NULL,          -- the current sheet, as dropped
    sheet_at      INTEGER NULL,
    created_at    INTEGER NOT NULL
);

-- One dropped file. What it holds of which side is said by takes and take_spans.
CREATE TABLE captures (
    id            TEXT NOT NULL PRIMARY KEY,
    file_name     TEXT NOT NULL,
    record_id     TEXT NOT NULL COLLATE NOCASE REFERENCES records (id),
    sides         TEXT NOT NULL,      -- letters in the order of the file: A, AB
    part          INTEGER NULL,
    number        INTEGER NOT NULL,   -- the N of c<N>
    side_assumed  INTEGER NOT NULL DEFAULT 0,
    bytes         INTEGER NOT NULL,
    received_at   INTEGER NOT NULL,
    sha256        TEXT NULL,          -- known after the capture was read once
    frames        INTEGER NULL,
    sample_rate   INTEGER NULL,
    location      TEXT NOT NULL,      -- where the dropped file is now: a path, or '' once only the bag holds it
    bag           TEXT NULL,
    archived_at   INTEGER NULL
);
CREATE UNIQUE INDEX captures_label ON captures (record_id, sides, number);
CREATE INDEX captures_sha256 ON captures (sha256);

CREATE TABLE takes (
    id            TEXT NOT NULL PRIMARY KEY,
    record_id     TEXT NOT NULL COLLATE NOCASE REFERENCES records (id),
    side          TEXT NOT NULL,
    number        INTEGER NOT NULL,   -- never reused
    state         TEXT NOT NULL,      -- pending, accepted, superseded, discarded, void
    decided_at    INTEGER NULL,
    reason        TEXT NULL
);
CREATE UNIQUE INDEX takes_number ON takes (record_id, side, number);

CREATE TABLE take_spans (
    take_id       TEXT NOT NULL REFERENCES takes (id),
    ordinal       INTEGER NOT NULL,
    capture_id    TEXT NOT NULL REFERENCES captures (id),
    start_frame   INTEGER NOT NULL,
    end_frame     INTEGER NULL,       -- null: to the end of the capture
    PRIMARY KEY (take_id, ordinal)
);
CREATE INDEX take_spans_capture ON take_spans (capture_id);

-- The queue and the truth.
CREATE TABLE jobs (
    id            TEXT NOT NULL PRIMARY KEY,
    kind          TEXT NOT NULL,
    state         TEXT NOT NULL,
    capture_id    TEXT NOT NULL REFERENCES captures (id),
    priority      INTEGER NOT NULL DEFAULT 0,
    attempt       INTEGER NOT NULL DEFAULT 0,   -- raised when claimed, before any work
    failures      INTEGER NOT NULL DEFAULT 0,   -- failed tries since the last stage that succeeded
    crashes       INTEGER NOT NULL DEFAULT 0,   -- claims that ended with the process, since the last stage that succeeded
    owner         TEXT NULL,
    lease_until   INTEGER NULL,
    not_before    INTEGER NOT NULL DEFAULT 0,
    verdict       TEXT NULL,
    reason        TEXT NULL,
    accepted_at   INTEGER NULL,                 -- set when a person accepted a held take
    accepted_why  TEXT NULL,
    pending_move  TEXT NULL,                    -- a move of the dropped file that was decided and may be half done
    created_at    INTEGER NOT NULL,
    finished_at   INTEGER NULL
);
CREATE INDEX jobs_queue ON jobs (state, priority DESC, created_at);
CREATE INDEX jobs_created ON jobs (created_at);
CREATE INDEX jobs_capture ON jobs (capture_id);

CREATE TABLE job_stages (
    job_id        TEXT NOT NULL REFERENCES jobs (id),
    name          TEXT NOT NULL,
    outcome       TEXT NOT NULL,      -- done, retry, failed, duplicate
    attempt       INTEGER NOT NULL,
    started_at    INTEGER NOT NULL,
    ended_at      INTEGER NOT NULL,
    result        TEXT NULL,          -- what the stage hands to the next ones, JSON
    reason        TEXT NULL,
    PRIMARY KEY (job_id, name)
);

-- Outbox: written in the transaction that makes the news true.
CREATE TABLE alerts (
    id            TEXT NOT NULL PRIMARY KEY,   -- the webhook-id, the same on every try
    type          TEXT NOT NULL,
    job_id        TEXT NULL REFERENCES jobs (id),
    subject       TEXT NOT NULL,
    body          TEXT NOT NULL,      -- the JSON data of the event
    created_at    INTEGER NOT NULL,
    state         TEXT NOT NULL,      -- pending, delivered, abandoned
    attempt       INTEGER NOT NULL DEFAULT 0,
    not_before    INTEGER NOT NULL DEFAULT 0,
    delivered_at  INTEGER NULL,
    last_error    TEXT NULL
);
CREATE INDEX alerts_outbox ON alerts (state, not_before);
CREATE INDEX alerts_created ON alerts (created_at);
