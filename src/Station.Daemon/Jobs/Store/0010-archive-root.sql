-- Which archive this station writes to: the id in the marker of its root. One row, or none before the first start that knows of markers.
CREATE TABLE archive_root (
    one       INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    marker_id TEXT NOT NULL,
    noted_at  INTEGER NOT NULL
);
