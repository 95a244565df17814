-- The places each bag lies at: the archive itself and its replicas. The bags and their manifests are the truth; this says when each copy was last read.
CREATE TABLE bag_copies (
    capture_id    TEXT NOT NULL REFERENCES captures (id),
    place         TEXT NOT NULL,      -- 'archive', or the replica's name in the configuration
    state         TEXT NOT NULL,      -- behind: to be made; verified: the last reading found all of it right; damaged: it did not
    tag_manifest  TEXT NULL,          -- SHA-256 of the bag's tag manifest when it was proved
    verified_at   INTEGER NULL,       -- the last reading that found all of it right
    looked_at     INTEGER NOT NULL,   -- the last try to make or to read it; 0: none yet
    problem       TEXT NULL,          -- what that try found
    PRIMARY KEY (capture_id, place)
);
CREATE INDEX bag_copies_round ON bag_copies (place, state, looked_at);
CREATE INDEX captures_archived ON captures (archived_at) WHERE archived_at IS NOT NULL;
CREATE INDEX captures_to_release ON captures (archived_at) WHERE archived_at IS NOT NULL AND location <> '';

INSERT INTO bag_copies (capture_id, place, state, verified_at, looked_at)
SELECT id, 'archive', 'verified', archived_at, archived_at FROM captures WHERE archived_at IS NOT NULL AND bag IS NOT NULL;
