package server

import (
	"fmt"
	"net/http"
	"slices"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// wrongLabelPage puts a label right: two labels on each other's bags, or a
// label that is lost, torn or wet.
type wrongLabelPage struct {
	frame
	Bag  store.Bag
	Form form
	Near []nearLabel // whose labels this one is most easily mistaken for
}

// nearLabel is a bag whose label may be on this one.
type nearLabel struct {
	Code grow.Code
	Name string
}

// logLine is one line of a bag's log: what was logged, or a label put right.
type logLine struct {
	Entry   *grow.Entry
	Relabel *store.Relabel
}

// Log is all that happened to the bag and its label, newest first.
func (p bagPage) Log() []logLine {
	var out []logLine
	labels := p.Relabels
	for i := range p.Bag.Entries {
		for len(labels) > 0 && labels[0].At.After(p.Bag.Entries[i].At) {
			out, labels = append(out, logLine{Relabel: &labels[0]}), labels[1:]
		}
		out = append(out, logLine{Entry: &p.Bag.Entries[i]})
	}
	for i := range labels {
		out = append(out, logLine{Relabel: &labels[i]})
	}
	return out
}

func relabelWords(r store.Relabel) string {
	if r.Swap {
		return fmt.Sprintf("label swapped with %s: from %s to %s", r.New.Spaced(), r.Was, r.Is)
	}
	return fmt.Sprintf("label %s replaced by %s", r.Old.Spaced(), r.New.Spaced())
}

// near are the bags scanned last at this device's bench, and those beside it in
// its batch.
func (s *Server) near(c echo.Context, b store.Bag) ([]nearLabel, error) {
	ctx := c.Request().Context()
	d, err := s.deviceState(ctx, actorOf(c))
	if err != nil {
		return nil, err
	}
	whole, err := s.store.Batch(ctx, b.Batch.Code)
	if err != nil {
		return nil, err
	}
	var out []nearLabel
	add := func(code grow.Code, name string) {
		if code != b.Code && !slices.ContainsFunc(out, func(n nearLabel) bool { return n.Code == code }) {
			out = append(out, nearLabel{code, name})
		}
	}
	for _, m := range d.Bench.Recent[:min(len(d.Bench.Recent), 3)] {
		add(m.Bag, m.Name)
	}
	for _, x := range whole.Bags {
		if away := x.Number - b.Number; away >= -2 && away <= 2 {
			add(x.Code, fmt.Sprintf("%s #%d", b.Batch.Short, x.Number))
		}
	}
	return out, nil
}

func (s *Server) showWrongLabel(c echo.Context) error {
	return s.drawWrongLabel(c, http.StatusOK, form{})
}

func (s *Server) drawWrongLabel(c echo.Context, status int, form form) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	b, err := s.store.Bag(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Wrong label")
	if err != nil {
		return err
	}
	near, err := s.near(c, b)
	if err != nil {
		return err
	}
	return s.show(c, status, "wrong-label", wrongLabelPage{frame: f, Bag: b, Form: form, Near: near})
}

func (s *Server) postWrongLabel(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	next, err := s.putLabelRight(c, code, v.Get("act"), typed(v, "other"), typed(v, "blank"))
	if err == nil {
		return c.Redirect(http.StatusSeeOther, next)
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawWrongLabel(c, statusOf(grow.KindOf(err)), f)
}

// putLabelRight gives the page that follows.
func (s *Server) putLabelRight(c echo.Context, code grow.Code, act, other, blank string) (string, error) {
	ctx, who := c.Request().Context(), actorOf(c)
	if act == "swap" {
		ref, err := typedCode(other, "other")
		if err != nil {
			return "", err
		}
		return "/B/" + string(code) + "?did=swap", s.store.SwapLabels(ctx, who, code, ref)
	}
	var take *grow.Code
	if blank != "" {
		ref, err := typedCode(blank, "blank")
		if err != nil {
			return "", err
		}
		take = &ref
	}
	fresh, err := s.store.NewLabel(ctx, who, code, take)
	if err != nil {
		return "", err
	}
	if take != nil {
		return "/B/" + string(fresh), nil
	}
	return "/print?made=1&codes=" + string(fresh), nil
}

func typedCode(text, field string) (grow.Code, error) {
	ref, err := scanner.ParseTyped(text)
	if err != nil {
		p := grow.Problems{field: err.Error()}
		return "", p.Err("nothing was changed")
	}
	return ref.Code, nil
}
