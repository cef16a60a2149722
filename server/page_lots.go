package server

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// lotsPage lists the lots and makes new ones.
type lotsPage struct {
	frame
	Form    form
	Lots    []lotLine
	Past    []lotLine // used up or out
	Next    string
	Used    store.UsedNames
	Kinds   []choice
	Species []choice
	Names   []string // of lots that one may be made from
}

// lotLine is a lot in a list.
type lotLine struct {
	store.Lot
	Words string
}

func (s *Server) showLots(c echo.Context) error {
	ctx := c.Request().Context()
	if name := c.QueryParam("name"); name != "" {
		lot, _, err := s.store.LotAlone(ctx, name)
		if err != nil {
			return err
		}
		return c.Redirect(http.StatusSeeOther, "/L/"+string(lot.Code))
	}
	today := grow.DateOf(s.store.Now(), s.store.Zone(ctx)).String()
	return s.drawLots(c, http.StatusOK, formOf("kind", string(grow.SpawnLot), "made_on", today))
}

func (s *Server) drawLots(c echo.Context, status int, form form) error {
	f, farm, err := s.frame(c, "Lots")
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	page, err := s.store.Lots(ctx, store.LotFilter{Kind: grow.LotKind(c.QueryParam("kind")), After: c.QueryParam("after")})
	if err != nil {
		return err
	}
	p := lotsPage{frame: f, Form: form, Kinds: lotKindChoices(), Species: append([]choice{{"", "not one species"}}, speciesChoices(farm)...)}
	for _, l := range page.Lots {
		line := lotLine{l, lotWords(l)}
		if l.State.Out() {
			p.Past = append(p.Past, line)
			continue
		}
		p.Lots, p.Names = append(p.Lots, line), append(p.Names, l.Name)
	}
	if page.Next != nil {
		p.Next = "/lots?" + url.Values{"after": {*page.Next}, "kind": {c.QueryParam("kind")}}.Encode()
	}
	if p.Used, err = s.store.Used(ctx); err != nil {
		return err
	}
	return s.show(c, status, "lots", p)
}

func lotKindChoices() []choice {
	var out []choice
	for _, k := range grow.LotKinds {
		out = append(out, choice{string(k), k.Words()})
	}
	return out
}

// stockWords says how stock stands: grown over, mouldy, used up, out.
func stockWords(state grow.State, kind grow.LotKind, pct *float64, bad *grow.Contamination) string {
	words := "growing"
	switch {
	case state == grow.Culled:
		words = "out"
	case state == grow.Finished:
		words = "used up"
	case state == grow.Colonised:
		words = "grown over"
	case kind == grow.SubstrateLot:
		words = "there"
	case pct != nil:
		words = "growing, " + numberWords(*pct) + "\u00a0%"
	}
	if bad != nil {
		words = "mould: " + plainWords(bad.What) + ", " + words
	}
	return words
}

func lotWords(l store.Lot) string {
	words := []string{l.Kind.Words()}
	if l.MadeOn != nil {
		words = append(words, "made "+dayWords(l.MadeOn.Time()))
	}
	words = append(words, stockWords(l.State, l.Kind, l.ColonisedPct, l.Contaminated))
	if l.Expired && !l.State.Out() {
		words = append(words, "past its date")
	}
	if l.Jars > 0 {
		words = append(words, plural(l.Jars, "jar", "jars"))
	}
	return strings.Join(words, " · ")
}

// postLotForm makes a lot and leads on to its labels.
func (s *Server) postLotForm(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	d := grow.LotDraft{ID: idOf(v), LotFields: lotFieldsOf(v, &p)}
	if n := wholeField(v, "jars", &p); n != nil {
		d.Jars = *n
	}
	err = p.Err("this lot cannot be made like this")
	var lot store.Lot
	var jars []store.Jar
	if err == nil {
		lot, jars, _, err = s.store.CreateLot(c.Request().Context(), actorOf(c), d)
	}
	if err != nil {
		f, ok := newForm(v).refused(err)
		if !ok {
			return err
		}
		return s.drawLots(c, statusOf(grow.KindOf(err)), f)
	}
	return c.Redirect(http.StatusSeeOther, "/L/"+string(lot.Code)+onlyIf(len(jars) > 0, "?made="+strconv.Itoa(len(jars))))
}

// lotSeparators stand between the names of lots in a field. A lot that has one in
// its name is written by its code.
const lotSeparators = ",;\r\n"

// lotFieldsOf reads the fields of a lot from a form. What it was made from
// stands in one field, with commas between.
func lotFieldsOf(v url.Values, p *grow.Problems) grow.LotFields {
	f := grow.LotFields{Kind: grow.LotKind(v.Get("kind")), Name: typed(v, "name"), MadeFrom: []string{}, Strain: text(v, "strain"), Amount: text(v, "amount"),
		Look: text(v, "look"), Recipe: text(v, "recipe"), SteriliserRun: text(v, "steriliser_run"), Note: text(v, "note"),
		MadeOn: dateField(v, "made_on", p), ExpiresOn: dateField(v, "expires_on", p)}
	if slug := grow.Slug(v.Get("species")); slug != "" {
		f.Species = &slug
	}
	for name := range strings.FieldsFuncSeq(v.Get("made_from"), func(r rune) bool { return strings.ContainsRune(lotSeparators, r) }) {
		if name = strings.TrimSpace(name); name != "" {
			f.MadeFrom = append(f.MadeFrom, name)
		}
	}
	return f
}
