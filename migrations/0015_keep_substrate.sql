-- The lot of substrate that a batch's bags were filled with, and what a logger's
-- file left open when a run's readings were read.
ALTER TABLE batches ADD COLUMN substrate_lot_id INTEGER REFERENCES lots (id);
CREATE INDEX batches_by_substrate ON batches (substrate_lot_id) WHERE substrate_lot_id IS NOT NULL;
ALTER TABLE run_series ADD COLUMN assumed TEXT;
