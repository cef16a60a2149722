package server

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// lotPage is a lot, or one jar of it: what was seen of it, what it came from and
// what came from it.
type lotPage struct {
	frame
	store.LotWhole
	Form    form
	Code    grow.Code // of what is shown
	Name    string
	State   string
	Out     bool
	Lines   []jarLine
	Up      []treeLine
	Down    []treeLine
	More    int // of Down that are not shown
	Made    string
	Open    string
	Rows    []traceRow
	Kinds   []choice
	Species []choice
	Used    store.UsedNames
	Whats   []choice
	Whys    []choice
	Bags    int // that came from it
	Bad     int
	Alive   int
}

// Mix tells whether it is substrate, which batches are filled with.
func (p lotPage) Mix() bool { return p.Lot.Kind == grow.SubstrateLot }

// jarLine is a jar in a list.
type jarLine struct {
	store.Jar
	Words string
}

// treeLine is a lot in a tree, by how far it stands in.
type treeLine struct {
	store.LotNode
	Words string
}

// mostBranches is how many lots of a tree a page shows.
const mostBranches = 200

// showLot opens what a label of the kind lot is on: a lot, a jar or a run.
func (s *Server) showLot(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	none := s.drawLot(c, http.StatusOK, code, nil, "")
	if grow.KindOf(none) != grow.NotFound {
		return none
	}
	err = s.drawRun(c, http.StatusOK, code, nil, "")
	if grow.KindOf(err) == grow.NotFound { // then it is no lot either
		return none
	}
	return err
}

// drawLot shows a lot or jar; refused is the form with what was wrong with it.
func (s *Server) drawLot(c echo.Context, status int, code grow.Code, refused *form, open string) error {
	ctx := c.Request().Context()
	w, err := s.store.Lot(ctx, string(code))
	if err != nil {
		return err
	}
	p := lotPage{LotWhole: w, Code: w.Lot.Code, Name: w.Lot.Name, Form: lotForm(w.Lot), Open: open, Made: c.QueryParam("made"), Kinds: lotKindChoices(),
		State: stockWords(w.Lot.State, w.Lot.Kind, w.Lot.ColonisedPct, w.Lot.Contaminated), Out: w.Lot.State.Out(), Whats: words(grow.Whats()), Whys: words(grow.CullWhys)}
	if j := w.Jar; j != nil {
		p.Code, p.Name = j.Code, store.JarName(w.Lot.Name, j.Number)
		p.State, p.Out = stockWords(j.State, w.Lot.Kind, j.ColonisedPct, j.Contaminated), j.State.Out()
	}
	if refused != nil {
		p.Form = *refused
	}
	var farm *store.Farm
	if p.frame, farm, err = s.frame(c, p.Name); err != nil {
		return err
	}
	p.Species = append([]choice{{"", "not one species"}}, speciesChoices(farm)...)
	p.fill()
	if p.Used, err = s.store.Used(ctx); err != nil {
		return err
	}
	return s.show(c, status, "lot", p)
}

// fill puts the tree, the jars and the counts into words.
func (p *lotPage) fill() {
	for _, j := range p.Jars {
		p.Lines = append(p.Lines, jarLine{j, stockWords(j.State, p.Lot.Kind, j.ColonisedPct, j.Contaminated)})
	}
	p.Up, p.Down = treeLines(p.Above), treeLines(p.Below)
	if p.More = len(p.Down) - mostBranches; p.More > 0 {
		p.Down = p.Down[:mostBranches]
	}
	for _, b := range p.Batches {
		p.Bags, p.Bad, p.Alive = p.Bags+b.Bags, p.Bad+b.Contaminated, p.Alive+b.Alive
	}
	if r := p.Against; r != nil {
		p.Rows = []traceRow{{Row: *r, Label: r.Value, With: newWhisker(r.With), Without: newWhisker(r.Without)}}
	}
}

func treeLines(nodes []store.LotNode) []treeLine {
	var out []treeLine
	for _, n := range nodes {
		words := []string{n.Kind.Words()}
		if n.MadeOn != nil {
			words = append(words, "made "+dayWords(n.MadeOn.Time()))
		}
		if n.Jar != nil {
			words = append(words, "jar "+numberWords(float64(*n.Jar)))
		}
		var bad *grow.Contamination
		if n.Contaminated != nil {
			bad = &grow.Contamination{What: *n.Contaminated}
		}
		out = append(out, treeLine{n, strings.Join(append(words, stockWords(n.State, n.Kind, nil, bad)), " · ")})
	}
	return out
}

// Steps is how far a line stands in, not more than a phone has room for.
func (l treeLine) Steps() int { return min(l.Depth, 6) }

// words are choices named by themselves.
func words(list []string) []choice {
	out := make([]choice, len(list))
	for i, w := range list {
		out[i] = choice{w, plainWords(w)}
	}
	return out
}

func lotForm(l store.Lot) form {
	v := url.Values{"kind": {string(l.Kind)}, "name": {l.Name}}
	for name, value := range map[string]*string{"strain": l.Strain, "amount": l.Amount, "look": l.Look, "recipe": l.Recipe, "steriliser_run": l.SteriliserRun, "note": l.Note} {
		v.Set(name, deref(value))
	}
	if l.Species != nil {
		v.Set("species", string(*l.Species))
	}
	for name, d := range map[string]*grow.Date{"made_on": l.MadeOn, "expires_on": l.ExpiresOn} {
		if d != nil {
			v.Set(name, d.String())
		}
	}
	var from []string
	for _, s := range l.MadeFrom {
		if s.Jar != nil || strings.ContainsAny(s.Name, lotSeparators) {
			from = append(from, string(s.Code))
		} else {
			from = append(from, s.Name)
		}
	}
	v.Set("made_from", strings.Join(from, ", "))
	return newForm(v)
}

func (s *Server) postLotFields(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	fields := lotFieldsOf(v, &p)
	if err = p.Err("this lot cannot be corrected like this"); err == nil {
		_, err = s.store.PatchLot(c.Request().Context(), actorOf(c), string(code), func(f *grow.LotFields) error { *f = fields; return nil })
	}
	return s.afterLot(c, code, v, "correct", err)
}

// afterLot leads back to the lot, or shows it again with what was refused.
func (s *Server) afterLot(c echo.Context, code grow.Code, v url.Values, open string, refusal error) error {
	return backTo(c, "/L/"+string(code), v, refusal, func(status int, f form) error { return s.drawLot(c, status, code, &f, open) })
}

func (s *Server) postLotEntryForm(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	if err := s.mustBeLot(ctx, code); err != nil {
		return err
	}
	d, err := parseEntryForm(v, code, s.store.Zone(ctx))
	if err == nil {
		_, _, err = s.store.AddStockEntry(ctx, actorOf(c), d)
	}
	return s.afterLot(c, code, v, v.Get("kind"), err)
}

func (s *Server) postLotPhoto(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	data, err := pictureBytes(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	photo, _, err := s.keepPhoto(ctx, actorOf(c), data)
	var id grow.ID
	if err == nil {
		id, err = newID()
	}
	if err == nil {
		_, _, err = s.store.AddStockEntry(ctx, actorOf(c), grow.Draft{ID: id, Bag: code, Kind: grow.KindPhoto, Details: grow.Details{Photo: photo}})
	}
	return s.afterLot(c, code, url.Values{}, "photo", err)
}

func (s *Server) postJarsForm(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var p grow.Problems
	count := 0
	if n := wholeField(v, "count", &p); n != nil {
		count = *n
	}
	if err = p.Err("these jars cannot be made"); err == nil {
		_, _, _, err = s.store.AddJars(c.Request().Context(), actorOf(c), string(code), store.LabelsDraft{ID: idOf(v), Count: count})
	}
	return s.afterLot(c, code, v, "jars", err)
}

// JarCodes are all jars' labels in one run.
func (p lotPage) JarCodes() string {
	out := make([]string, len(p.Jars))
	for i, j := range p.Jars {
		out[i] = string(j.Code)
	}
	return strings.Join(out, ",")
}

// recallPage is what came from a lot, to be printed and walked with.
type recallPage struct {
	frame
	Of    string
	Back  string // the page of what it is of
	Lots  []treeLine
	Parts []recallPart
	// Sterile are bags of a run that no batch has taken, the control among them.
	Sterile []store.SterileBag
	Total   int
	// Maybe are bags of a jar's lot of which nobody scanned the jar.
	Maybe []recallPart
	Spawn bool // it is of a lot, a jar or a run
}

// recallPart is the bags at one place, or those that left in one way.
type recallPart struct {
	Title string
	Tick  string // what is ticked off on paper, "" for nothing
	Bags  []store.Recalled
}

// Picked is what was picked from its bags.
func (p recallPart) Picked() store.Picked { return store.PickedFrom(p.Bags) }

func (s *Server) showRecall(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	r, err := s.store.Recall(c.Request().Context(), string(code))
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "Recall of "+r.Of)
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "recall", recallPage{frame: f, Of: r.Of, Back: grow.LotCode.Path(code), Lots: treeLines(r.Lots), Parts: recallParts(r.Bags), Total: len(r.Bags),
		Sterile: r.Sterile, Maybe: recallParts(r.Maybe), Spawn: true})
}

// recallParts puts bags under where they are now, in the order of the list.
func recallParts(bags []store.Recalled) []recallPart {
	var out []recallPart
	for _, b := range bags {
		tick, title := "Found", "Still here: "+onlyIf(b.Place == nil, "no place said")+deref(b.Place)
		switch b.State {
		case grow.Finished:
			tick, title = "", capital(plainWords(deref(b.EndedWhy)))
			if why := deref(b.EndedWhy); why == "sold" || why == "given" {
				tick, title = "Told", "Left the farm: "+plainWords(why)
			}
			title += onlyIf(b.To != nil, ", to "+deref(b.To))
		case grow.Culled:
			tick, title = "", "Thrown out"
		}
		i := slices.IndexFunc(out, func(p recallPart) bool { return p.Title == title })
		if i < 0 {
			i, out = len(out), append(out, recallPart{Title: title, Tick: tick})
		}
		out[i].Bags = append(out[i].Bags, b)
	}
	return out
}
