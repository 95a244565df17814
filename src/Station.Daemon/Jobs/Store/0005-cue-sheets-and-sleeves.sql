-- Track starts the operator fixed: the newest cue sheet of each side. All that ever came stand in the record's events.jsonl.
CREATE TABLE cue_sheets (
    record_id     TEXT NOT NULL COLLATE NOCASE REFERENCES records (id),
    side          TEXT NOT NULL,      -- one letter
    file_name     TEXT NOT NULL,
    cue_text      TEXT NOT NULL,      -- as dropped
    received_at   INTEGER NOT NULL,
    PRIMARY KEY (record_id, side)
);

-- The newest picture of each record's sleeve; the picture itself lies in the archive.
CREATE TABLE sleeves (
    record_id     TEXT NOT NULL PRIMARY KEY COLLATE NOCASE REFERENCES records (id),
    file_name     TEXT NOT NULL,      -- as dropped
    path          TEXT NOT NULL,      -- relative to the station folder when inside it
    sha256        TEXT NOT NULL,
    bytes         INTEGER NOT NULL,
    media_type    TEXT NOT NULL,
    width_pixels  INTEGER NOT NULL,
    height_pixels INTEGER NOT NULL,
    received_at   INTEGER NOT NULL
);
