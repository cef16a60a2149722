-- How many bags a room, rack or shelf takes; null: nobody said.
ALTER TABLE places ADD COLUMN capacity_bags INTEGER CHECK (capacity_bags BETWEEN 1 AND 100000);
