-- A label scanned at the bench by mistake made a bag that never was. Once that is
-- taken back its label is a blank again; the row stays, for its log is never
-- deleted, without a label and counted nowhere.
ALTER TABLE bags ADD COLUMN given_back_at INTEGER;
