-- Lists of batches by the state of their bags.
CREATE INDEX bags_by_state ON bags (state, batch_id);
