-- How far each alert got with each receiver. An alert without rows here was not yet offered to anybody.
CREATE TABLE alert_deliveries (
    alert_id      TEXT NOT NULL REFERENCES alerts (id),
    receiver      TEXT NOT NULL,      -- the receiver's name in the configuration
    state         TEXT NOT NULL,      -- pending, delivered, abandoned
    attempt       INTEGER NOT NULL DEFAULT 0,   -- raised before each try
    not_before    INTEGER NOT NULL DEFAULT 0,
    delivered_at  INTEGER NULL,
    last_error    TEXT NULL,
    PRIMARY KEY (alert_id, receiver)
);
CREATE INDEX alert_deliveries_due ON alert_deliveries (receiver, state, not_before);
