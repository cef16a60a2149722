-- Bags that were sold or given away are read by the day on which they left.
CREATE INDEX bags_by_parting ON bags (ended_at, id) WHERE state = 'finished';
