package store

// hours holds the kept hourly sums to the readings they are sums of.
func (c *checking) hours() error {
	wrong, err := texts(c.ctx, c, `SELECT 'the hourly sums of ' || p.name || ' do not agree with its readings in ' || count(*) || ' hours' FROM (
		SELECT place_id FROM (SELECT * FROM reading_hours EXCEPT `+hourSums+` GROUP BY 1, 2)
		UNION ALL SELECT place_id FROM (`+hourSums+` GROUP BY 1, 2 EXCEPT SELECT * FROM reading_hours)) w
		JOIN places p ON p.id = w.place_id GROUP BY p.id`)
	c.found(wrong...)
	return err
}
