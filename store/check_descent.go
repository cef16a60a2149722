package store

import (
	"database/sql"
	"fmt"
	"slices"
)

// descent holds what a recall follows to what it must be: no lot made from itself,
// jars of the lots they are said to be of, sterile bags that became the bags with
// their label, names kept under their own key.
func (c *checking) descent() error {
	for _, step := range []func() ([]string, error){c.circles, c.strayJars, c.straySterile, c.strayNames} {
		problems, err := step()
		if err != nil {
			return err
		}
		c.found(problems...)
	}
	return nil
}

// circles are the lots that were made from themselves: what is left of the tree
// once every lot without a source or without a lot made from it is taken off.
func (c *checking) circles() ([]string, error) {
	up, down := map[int64][]int64{}, map[int64][]int64{}
	err := c.each(`SELECT lot_id, from_id FROM lot_sources`, nil, func(rows *sql.Rows) error {
		var lot, from int64
		err := rows.Scan(&lot, &from)
		up[lot], down[from] = append(up[lot], from), append(down[from], lot)
		return err
	})
	if err != nil {
		return nil, err
	}
	takeEnds(up, down)
	takeEnds(down, up)
	var left []int64
	for lot := range up {
		left = append(left, lot)
	}
	return c.texts(`SELECT 'lot ' || name || ' is made from itself by way of other lots' FROM lots WHERE id IN (SELECT value FROM json_each(?)) ORDER BY id`, jsonList(left))
}

// takeEnds takes lots off a graph that have nothing on one side, until all that are
// left have.
func takeEnds(side, other map[int64][]int64) {
	var ends []int64
	for lot := range other {
		if len(side[lot]) == 0 {
			ends = append(ends, lot)
		}
	}
	for len(ends) > 0 {
		lot := ends[len(ends)-1]
		ends = ends[:len(ends)-1]
		for _, next := range other[lot] {
			side[next] = slices.DeleteFunc(side[next], func(l int64) bool { return l == lot })
			if len(side[next]) == 0 {
				delete(side, next)
				ends = append(ends, next)
			}
		}
		delete(other, lot)
	}
}

func (c *checking) strayJars() ([]string, error) {
	return c.texts(`SELECT 'lot ' || l.name || ' is made from a jar that is of another lot than is said' FROM lot_sources s JOIN jars j ON j.id = s.jar_id JOIN lots l ON l.id = s.lot_id
		WHERE j.lot_id <> s.from_id`)
}

func (c *checking) straySterile() ([]string, error) {
	return c.texts(`SELECT 'the sterile bag ' || s.code || ' and the bag with its label are not said to be one' FROM sterile_bags s
		LEFT JOIN bags g ON g.code = s.code LEFT JOIN old_codes o ON o.code = s.code WHERE coalesce(g.id, o.bag_id) IS NOT s.bag_id`)
}

// strayNames are places, lots and runs that would not be found by their own names.
func (c *checking) strayNames() (problems []string, err error) {
	for _, kind := range []coded{codedPlaces, codedLots, codedRuns} {
		err = c.each(`SELECT name, name_key FROM `+kind.table, nil, func(rows *sql.Rows) error {
			var name, key string
			err := rows.Scan(&name, &key)
			if err == nil && key != nameKey(name) {
				problems = append(problems, fmt.Sprintf("the %s %s is kept under another name", kind.word, name))
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	return problems, nil
}
