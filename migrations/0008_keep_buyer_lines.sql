-- The farm's own lines on a buyer's label: its name, a telephone number.
ALTER TABLE farm ADD COLUMN buyer_lines TEXT NOT NULL DEFAULT '';
