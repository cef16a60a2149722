-- How many bags one steriliser load takes; 0: nobody said.
ALTER TABLE farm ADD COLUMN load_bags INTEGER NOT NULL DEFAULT 0 CHECK (load_bags BETWEEN 0 AND 2000);
