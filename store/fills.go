package store

import "fmt"

// Fill rules
//
// A reading belongs to the source that brought it first. What another one brings
// to it later, carbon dioxide from a second instrument, is noted in reading_fills
// value by value, so that either can be taken back without the other.

// readingValues are the columns of a reading's values.
var readingValues = [3]string{"temp", "rh", "co2"}

// fill puts values into a reading that lacks them.
func (t *tx) fill(place, at int64, was, now [3]*int64, source int64) error {
	for i, column := range readingValues {
		if was[i] != nil || now[i] == nil {
			continue
		}
		if _, err := t.exec(`UPDATE readings SET `+column+` = ? WHERE place_id = ? AND at = ?`, *now[i], place, at); err != nil {
			return err
		}
		_, err := t.exec(`INSERT INTO reading_fills (place_id, at, value, source_id) SELECT ?1, ?2, ?3, ?4 FROM readings WHERE place_id = ?1 AND at = ?2 AND source_id <> ?4`, place, at, column, source)
		if err != nil {
			return err
		}
	}
	return nil
}

// unfill takes back all that a source brought, or only what was taken back under a
// number. A reading that others filled is theirs from then on.
func (t *tx) unfill(source int64, takeback ...int64) error {
	const all, some = `?2 = 0`, `at IN (SELECT at FROM readings_taken_back WHERE takeback_id = ?2)`
	span, number := all, int64(0)
	if len(takeback) > 0 {
		span, number = some, takeback[0]
	}
	const filled = `(place_id, at) IN (SELECT place_id, at FROM reading_fills WHERE value = '%[1]s'`
	var steps []string
	for _, column := range readingValues { // its own values in readings of others
		steps = append(steps, fmt.Sprintf(`UPDATE readings SET %[1]s = NULL WHERE `+filled+` AND source_id = ?1) AND `+span, column))
	}
	steps = append(steps, `DELETE FROM reading_fills WHERE source_id = ?1 AND `+span)
	kept := ` WHERE source_id = ?1 AND ` + span + ` AND (place_id, at) IN (SELECT place_id, at FROM reading_fills)`
	for _, column := range readingValues { // its values in its own readings that others filled
		steps = append(steps, fmt.Sprintf(`UPDATE readings SET %[1]s = NULL`+kept+` AND NOT (`+filled+`))`, column))
	}
	steps = append(steps,
		`DELETE FROM readings WHERE source_id = ?1 AND `+span+` AND (place_id, at) NOT IN (SELECT place_id, at FROM reading_fills)`,
		`UPDATE readings SET source_id = (SELECT f.source_id FROM reading_fills f WHERE f.place_id = readings.place_id AND f.at = readings.at ORDER BY f.value LIMIT 1) WHERE source_id = ?1 AND `+span,
		`DELETE FROM reading_fills WHERE EXISTS (SELECT 1 FROM readings r WHERE r.place_id = reading_fills.place_id AND r.at = reading_fills.at AND r.source_id = reading_fills.source_id) AND ?1 <> 0 AND `+span)
	for _, step := range steps {
		if _, err := t.exec(step, source, number); err != nil {
			return err
		}
	}
	return nil
}
