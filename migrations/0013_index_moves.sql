-- Where bags stood and until when they grew over, for the air they had.
CREATE INDEX entries_moves ON entries (bag_id, at, seq) WHERE kind IN ('move', 'fruiting');
