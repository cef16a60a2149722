-- How the farm's pages and papers are written. Until now the units were one choice;
-- a farm that printed on Letter sheets has Letter in its printer.
ALTER TABLE farm ADD COLUMN temperature TEXT NOT NULL DEFAULT 'c' CHECK (temperature IN ('c', 'f'));
ALTER TABLE farm ADD COLUMN weight TEXT NOT NULL DEFAULT 'metric' CHECK (weight IN ('metric', 'imperial'));
ALTER TABLE farm ADD COLUMN paper TEXT NOT NULL DEFAULT 'a4' CHECK (paper IN ('a4', 'letter'));
ALTER TABLE farm ADD COLUMN clock TEXT NOT NULL DEFAULT '24' CHECK (clock IN ('24', '12'));
ALTER TABLE farm ADD COLUMN week_starts TEXT NOT NULL DEFAULT 'monday' CHECK (week_starts IN ('monday', 'sunday', 'saturday'));
UPDATE farm SET temperature = 'f', weight = 'imperial' WHERE units = 'imperial';
UPDATE farm SET paper = 'letter' WHERE default_sheet LIKE 'letter-%';
