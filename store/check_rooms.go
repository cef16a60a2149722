package store

import "bagmark/grow"

// Between which instants anything that a farm keeps by the hour can lie, in
// microseconds since 1970: the years 2000 to 2200.
const firstMicros, lastMicros = 946684800000000, 7258118400000000

// rooms looks at the readings and logs of rooms: for values that none could have
// been taken with, and holds the kept hourly sums to the readings they are sums of.
func (c *checking) rooms() error {
	impossible := 0
	for _, query := range []string{
		`SELECT p.name || ' has ' || count(*) || ' readings with a time or a value that cannot be' FROM readings r JOIN places p ON p.id = r.place_id
			WHERE at NOT BETWEEN ?1 AND ?2 OR temp NOT BETWEEN -40 * ?3 AND 85 * ?3 OR rh NOT BETWEEN 0 AND 100 * ?3 OR co2 NOT BETWEEN 0 AND 200000 * ?3 GROUP BY p.id`,
		`SELECT 'the log of ' || p.name || ' has ' || count(*) || ' lines with a time or a temperature that cannot be' FROM room_log l JOIN places p ON p.id = l.place_id
			WHERE at NOT BETWEEN ?1 AND ?2 OR temp NOT BETWEEN 0 AND 45 * ?3 GROUP BY p.id`,
	} {
		wrong, err := texts(c.ctx, c, query, firstMicros, lastMicros, grow.ReadingScale)
		if err != nil {
			return err
		}
		impossible += len(wrong)
		c.found(wrong...)
	}
	if impossible > 0 {
		return nil // they may be too large to be added up
	}
	wrong, err := texts(c.ctx, c, `SELECT 'the hourly sums of ' || p.name || ' do not agree with its readings in ' || count(*) || ' hours' FROM (
		SELECT place_id FROM (SELECT * FROM reading_hours EXCEPT `+hourSums+` GROUP BY 1, 2)
		UNION ALL SELECT place_id FROM (`+hourSums+` GROUP BY 1, 2 EXCEPT SELECT * FROM reading_hours)) w
		JOIN places p ON p.id = w.place_id GROUP BY p.id`)
	c.found(wrong...)
	return err
}
