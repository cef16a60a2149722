package store

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"fmt"
)

// runVerdicts works out anew what the readings of every steriliser run say, and holds what
// is kept of it and the batches it made against that.
func (c *checking) runVerdicts() error {
	var problems []string
	err := c.each(`SELECT r.name, s.probe, s.readings, s.sha256 FROM run_series s JOIN steriliser_runs r ON r.id = s.run_id ORDER BY s.id`, nil, func(rows *sql.Rows) error {
		var name, probe string
		var readings, kept []byte
		err := rows.Scan(&name, &probe, &readings, &kept)
		if sum := sha256.Sum256(readings); !bytes.Equal(sum[:], kept) {
			problems = append(problems, fmt.Sprintf("the readings of %s by %s are not what was kept", RunName(name), probe))
		}
		return err
	})
	if err != nil {
		return err
	}
	runs, err := c.runs(c.farm, `1 ORDER BY r.id`)
	if err != nil {
		return err
	}
	for _, r := range runs {
		same, err := c.verdictStands(c.farm, r)
		switch {
		case err != nil && isFault(err):
			return err
		case err != nil:
			problems = append(problems, fmt.Sprintf("%s cannot be judged: %s", RunName(r.Name), err))
		case !same:
			problems = append(problems, fmt.Sprintf("%s is kept with another verdict than its readings give", RunName(r.Name)))
		}
	}
	err = c.eachOutOfLine(c.farm, func(r Run, b Batch) error {
		problems = append(problems, fmt.Sprintf("batch %s does not say of %s what its readings say", b.Code, RunName(r.Name)))
		return nil
	})
	c.found(problems...)
	return err
}
