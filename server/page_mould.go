package server

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/grow/trace"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// mouldPage is what follows one tap on mould: keep it closed, what happens to
// the bag now, which others to watch; what and where can wait.
type mouldPage struct {
	frame
	Bag          store.Bag
	Age, Found   string
	Logged       *grow.Entry
	CautionSeen  bool // on this device: one line will do
	Decide       []tile
	Near         []nearBag
	NearWords    string
	What         string
	Do, PointsTo string
	Form         form
}

// nearBag is a living bag that shares something with the mouldy one.
type nearBag struct {
	store.AtRisk
	Because string
}

// WatchWords is the button for all of them.
func (p mouldPage) WatchWords() string {
	if len(p.Near) == 1 {
		return "Watch it"
	}
	return fmt.Sprintf("Watch all %d", len(p.Near))
}

// Whats are the kinds of contamination with their looks.
func (p mouldPage) Whats() []grow.Contaminant { return grow.Contaminants() }

// Wheres are the parts of a bag.
func (p mouldPage) Wheres() []choice {
	out := []choice{{"", "not said"}}
	for _, w := range grow.WhereParts() {
		out = append(out, choice{w.Where, w.Label})
	}
	return out
}

func (s *Server) showMould(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	return s.drawMould(c, http.StatusOK, code, nil)
}

// drawMould shows it with what was typed and refused, nil for nothing.
func (s *Server) drawMould(c echo.Context, status int, code grow.Code, refused *form) error {
	t, err := s.store.Trace(c.Request().Context(), code)
	if err != nil {
		return err
	}
	if t.Bag.Contaminated == nil {
		return c.Redirect(http.StatusSeeOther, "/B/"+string(t.Bag.Code))
	}
	f, farm, err := s.frame(c, "Mould or wrong")
	if err != nil {
		return err
	}
	b := t.Bag
	kind, _ := grow.ContaminantOf(b.Contaminated.What)
	p := mouldPage{frame: f, Bag: b, Age: grow.Age(b.Day, grow.DateOf(b.Batch.InoculatedAt, farm.Zone)), Found: foundWords(b),
		Logged: loggedEntry(b, c.QueryParam("logged")), CautionSeen: cookieValue(c, cookieCaution) != "", What: b.Contaminated.What,
		Do: kind.Do, PointsTo: kind.PointsTo, Form: formOf("where", deref(b.Contaminated.Where))}
	if refused != nil {
		p.Form, p.What = *refused, cmp.Or(refused.Value("what"), p.What)
	}
	if f.May("grower") {
		p.Decide = decideTiles(b, grow.DateOf(s.store.Now(), farm.Zone)+1, kind.OutToday)
		p.Near = nearBags(t, farm)
		p.NearWords = nearWords(p.Near)
	}
	return s.show(c, status, "mould", p)
}

func foundWords(b store.Bag) string {
	c, _ := grow.ContaminantOf(b.Contaminated.What)
	words := capital(c.Label)
	if c.What == "unsure" {
		words = "Mould or wrong, not sure what"
	}
	if b.Contaminated.Where != nil {
		w, _ := grow.WhereOf(*b.Contaminated.Where)
		words += ", " + w.Label
	}
	return words + "; found " + dayWords(b.Contaminated.At)
}

func capital(words string) string {
	if words == "" {
		return ""
	}
	r := []rune(words)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}

// lower is words that go on in a sentence.
func lower(words string) string {
	if words == "" {
		return ""
	}
	r := []rune(words)
	return strings.ToLower(string(r[0])) + string(r[1:])
}

// decideTiles are what can happen to the bag now. A kind that makes loose
// spores leaves today.
func decideTiles(b store.Bag, tomorrow grow.Date, outToday bool) []tile {
	if b.State.Out() {
		return nil
	}
	out := tile{Bag: b.Code, Word: "Out now", Logs: "closed, in a second closed bag", Shape: one("out"), Fields: logs("kind", "cull", "why", "contaminated", "next", "mould"), Mould: true, Largest: outToday}
	apart := tile{Bag: b.Code, Word: "Set apart", Logs: "away from clean bags", Shape: one("apart"), Fields: logs("kind", "isolate", "next", "mould")}
	keep := tile{Bag: b.Code, Word: "Keep here, ask tomorrow", Logs: "it heads the day until then", Shape: shape{Layers: []string{"unmarked-box", "watch"}}, Fields: logs("kind", "again", "on", tomorrow.String(), "for", "look", "next", "mould")}
	if b.State == grow.Isolated {
		return []tile{out, keep}
	}
	return []tile{out, apart, keep}
}

// mostNear is how many bags one tap may put on watch.
const mostNear = 60

// nearBags are those made near it first, in the order of the bench and the
// nearest first, then those that share a departure, a
// lot or a run; those on watch already are left out by the page's reader, who
// may untick.
func nearBags(t store.Trace, farm *store.Farm) []nearBag {
	var near, rest []nearBag
	for _, r := range t.AtRisk {
		n := nearBag{r, becauseWords(r, t, farm)}
		if r.Steps != 0 {
			near = append(near, n)
		} else {
			rest = append(rest, n)
		}
	}
	slices.SortStableFunc(near, func(a, b nearBag) int {
		return cmp.Or(cmp.Compare(max(a.Steps, -a.Steps), max(b.Steps, -b.Steps)), cmp.Compare(a.Steps, b.Steps))
	})
	all := append(near, rest...)
	return all[:min(len(all), mostNear)]
}

// becauseWords says why a bag is to be watched, as its own page will show it:
// what the two were made with first, then lots and places, two things at most.
func becauseWords(r store.AtRisk, t store.Trace, farm *store.Farm) string {
	var words, rest []string
	for _, key := range r.Shares {
		switch word, plain := sharedWords[key]; {
		case key == trace.KeyMadeNear:
			words = append([]string{madeNearWords(r.Steps)}, words...)
		case plain:
			rest = append(rest, word)
		default:
			words = append(words, sharedDeparture(key, t, farm))
		}
	}
	words = append(words, rest...)
	which := ""
	if t.Bag.Contaminated != nil {
		which = "mouldy "
	}
	return fmt.Sprintf("%s: %s%s #%d", strings.Join(words[:min(2, len(words))], ", "), which, t.Batch.Code, t.Bag.Number)
}

// madeNearWords say how near two bags were made: by places at the bench, or by
// the clock where there were more bags between them.
func madeNearWords(steps int) string {
	switch n := max(steps, -steps); {
	case n == 1:
		return "made next to it"
	case n <= 5:
		return "made within five bags of it"
	}
	return "made within fifteen minutes of it"
}

func sharedDeparture(key string, t store.Trace, farm *store.Farm) string {
	for _, c := range t.Bag.Conditions {
		if c.Key == key && c.Value != nil {
			return c.Label + " " + plainWords(*c.Value)
		}
	}
	if c, ok := farm.Conditions[key]; ok {
		return c.Label
	}
	return plainWords(key)
}

func nearWords(near []nearBag) string {
	beside := 0
	for _, n := range near {
		if n.Steps != 0 {
			beside++
		}
	}
	switch {
	case beside == 0:
		return plural(len(near), "other bag shares", "other bags share") + " something with it. Watch?"
	case beside == len(near):
		return plural(beside, "bag was", "bags were") + " made just before or after it. Watch?"
	}
	return fmt.Sprintf("%s made just before or after it, %d more share something with it. Watch?", plural(beside, "bag was", "bags were"), len(near)-beside)
}

// postWatchAll puts the ticked bags on watch; each tick carries its own id, so
// the same form twice is the same entries.
func (s *Server) postWatchAll(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var drafts []grow.Draft
	for _, pair := range v["bag"] {
		bag, id, _ := strings.Cut(pair, " ")
		drafts = append(drafts, grow.Draft{ID: grow.ID(id), Bag: grow.Code(bag), Kind: grow.KindWatch,
			Details: grow.Details{Because: typed(v, "because-"+bag), Of: code}})
	}
	if len(drafts) == 0 {
		return c.Redirect(http.StatusSeeOther, "/B/"+string(code))
	}
	results, err := s.store.AddEntries(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return err
	}
	return s.showDone(c, "On watch", "/B/"+string(code), "Back to the mouldy bag", results, drafts)
}
