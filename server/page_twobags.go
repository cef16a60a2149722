package server

import (
	"net/http"
	"slices"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// twoBagsPage sets two single bags side by side, day by day: what happened
// here, no verdict.
type twoBagsPage struct {
	frame
	Form form
	Bags []oneOfTwo // none or two
	Days []dayOfTwo
}

// oneOfTwo is a bag with its departures as the label prints them.
type oneOfTwo struct {
	store.Bag
	Made       grow.Date
	Departures []string
}

// dayOfTwo is what the logs of both bags say of one day of their lives.
type dayOfTwo struct {
	Day  int
	Logs [2][]grow.Entry
}

func (s *Server) showTwoBags(c echo.Context) error {
	f, farm, err := s.frame(c, "Two bags side by side")
	if err != nil {
		return err
	}
	p, status := twoBagsPage{frame: f, Form: newForm(c.QueryParams())}, http.StatusOK
	if c.QueryParam("a") != "" && c.QueryParam("b") != "" {
		var ok bool
		if err := s.fillTwoBags(c, farm, &p); err != nil {
			if p.Form, ok = p.Form.refused(err); !ok {
				return err
			}
			status, p.Bags = statusOf(grow.KindOf(err)), nil
		}
	}
	return s.show(c, status, "two-bags", p)
}

func (s *Server) fillTwoBags(c echo.Context, farm *store.Farm, p *twoBagsPage) error {
	var wrong grow.Problems
	for _, name := range []string{"a", "b"} {
		ref, err := scanner.ParseTyped(c.QueryParam(name))
		if err == nil {
			var b store.Bag
			b, err = s.store.Bag(c.Request().Context(), ref.Code)
			p.Bags = append(p.Bags, newOneOfTwo(b, farm))
		}
		if err != nil && asError(err).Kind == grow.Internal {
			return err
		}
		if err != nil {
			wrong.Add(name, "%s", asError(err).Message)
		}
	}
	if err := wrong.Err("two bags are needed"); err != nil {
		return err
	}
	p.Days = daysOfTwo(p.Bags[0].Bag, p.Bags[1].Bag, farm)
	return nil
}

func newOneOfTwo(b store.Bag, farm *store.Farm) oneOfTwo {
	one := oneOfTwo{Bag: b, Made: grow.DateOf(b.Batch.InoculatedAt, farm.Zone)}
	for _, c := range b.Conditions {
		if c.Printed != "" {
			one.Departures = append(one.Departures, c.Printed)
		}
	}
	return one
}

// daysOfTwo lists the days of which either log says something, entries in the
// order in which they happened, without what was taken back.
func daysOfTwo(a, b store.Bag, farm *store.Farm) []dayOfTwo {
	at := map[int]*dayOfTwo{}
	for side, bag := range []store.Bag{a, b} {
		for _, e := range slices.Backward(bag.Entries) {
			if e.VoidedBy != "" || e.Kind == grow.KindVoid {
				continue
			}
			day := grow.Day(bag.Batch.InoculatedAt, e.At, farm.Zone)
			if at[day] == nil {
				at[day] = &dayOfTwo{Day: day}
			}
			at[day].Logs[side] = append(at[day].Logs[side], e)
		}
	}
	var out []dayOfTwo
	for _, d := range at {
		out = append(out, *d)
	}
	slices.SortFunc(out, func(a, b dayOfTwo) int { return a.Day - b.Day })
	return out
}
