package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// labDayPage makes batches in one go: a shared head, and a row a species.
type labDayPage struct {
	frame
	Form       form
	Rows       []labDayRow
	Used       store.UsedNames
	Species    []choice
	Settings   []choice // departures that a row may give to some bags
	Conditions []grow.Condition
	Sterile    []choice // runs with bags that wait, nil for none
	LikeLast   bool
}

// labDayRow is one batch to be. Its fields bear the paths that errors use.
type labDayRow struct {
	Name    string // batches[0]
	Number  int
	Strains []string
}

// labDayRows is how many species one lab day may have on the page.
const labDayRows = 8

func (s *Server) showLabDay(c echo.Context) error {
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	last, err := s.store.LastHead(ctx)
	first := grow.KindOf(err) == grow.NotFound
	if err != nil && !first {
		return err
	}
	now := s.store.Now().In(farm.Zone)
	v := url.Values{"lab_day": {labDayName(now)}, "lab_day_offered": {labDayName(now)}, "inoculated_at": {now.Format("2006-01-02T15:04")}}
	for name, value := range map[string]*string{"steriliser_run": last.SteriliserRun, "recipe": last.Recipe, "operator": last.Operator, "place": last.Place} {
		v.Set(name, deref(value))
	}
	if last.BagWetG != nil {
		v.Set("bag_wet_g", farm.MassTyped(*last.BagWetG, grow.Bucket))
	}
	for name, value := range map[string]*float64{"moisture_pct": last.MoisturePct, "spawn_rate_pct": last.SpawnRatePct} {
		if value != nil {
			v.Set(name, numberWords(*value))
		}
	}
	for _, name := range []string{"recipe", "moisture_pct", "spawn_rate_pct", "substrate_lot", "note"} { // made up on the substrate page, or a lot of it
		if value := c.QueryParam(name); value != "" {
			v.Set(name, value)
		}
	}
	if g, err := strconv.ParseFloat(c.QueryParam("bag_wet_g"), 64); err == nil { // in grams, whatever the farm types
		v.Set("bag_wet_g", farm.MassTyped(g, grow.Bucket))
	}
	for _, name := range []string{"species", "bags"} { // planned on the page of the week ahead
		if value := c.QueryParam(name); value != "" {
			v.Set("batches[0]."+name, value)
		}
	}
	for key, condition := range farm.Conditions {
		v.Set("conditions."+key, usual(condition, last.Conditions[key], first))
	}
	for i := range labDayRows {
		if err := setNewID(v, fmt.Sprintf("batches[%d].id", i)); err != nil {
			return err
		}
	}
	return s.drawLabDay(c, http.StatusOK, newForm(v), !first)
}

// labDayName is what a lab day is called unless somebody calls it otherwise.
func labDayName(on time.Time) string { return "Lab " + on.Format("Mon 2 Jan 2006") }

// nameAfterDay lets a lab day's name follow the day of inoculation while nobody
// has changed what the page offered.
func nameAfterDay(v url.Values, zone *time.Location) {
	if at := timeField(v, "inoculated_at", zone, new(grow.Problems)); at != nil && typed(v, "lab_day") == typed(v, "lab_day_offered") {
		v.Set("lab_day", labDayName(at.In(zone)))
		v.Set("lab_day_offered", labDayName(at.In(zone)))
	}
}

// usual is what the head offers for a condition: like the last time; the first
// time its normal value, in plain sight to be corrected.
func usual(c grow.Condition, last *string, first bool) string {
	switch {
	case last != nil:
		return *last
	case first && c.Normal != nil:
		return *c.Normal
	}
	return ""
}

func setNewID(v url.Values, name string) error {
	id, err := newID()
	v.Set(name, string(id))
	return err
}

func (s *Server) drawLabDay(c echo.Context, status int, form form, likeLast bool) error {
	f, farm, err := s.frame(c, "New lab day")
	if err != nil {
		return err
	}
	p := labDayPage{frame: f, Form: form, LikeLast: likeLast, Species: append([]choice{{"", "none"}}, speciesChoices(farm)...), Settings: departureChoices(farm.Conditions)}
	if p.Used, err = s.store.Used(c.Request().Context()); err != nil {
		return err
	}
	left, err := s.store.SterileLeft(c.Request().Context())
	if err != nil {
		return err
	}
	for i, l := range left {
		if i == 0 {
			p.Sterile = []choice{{"", "none"}}
		}
		p.Sterile = append(p.Sterile, choice{string(l.Code), l.Choice()})
	}
	var strains []string
	for _, list := range p.Used.Strains {
		strains = append(strains, list...)
	}
	slices.Sort(strains)
	for i := range labDayRows {
		p.Rows = append(p.Rows, labDayRow{Name: fmt.Sprintf("batches[%d]", i), Number: i + 1, Strains: slices.Compact(strains)})
	}
	for _, key := range farm.Conditions.Keys() {
		p.Conditions = append(p.Conditions, farm.Conditions[key])
	}
	return s.show(c, status, "lab-day", p)
}

// ValueChoices are a condition's values, unknown first.
func (p labDayPage) ValueChoices(c grow.Condition) []choice { return valueChoices(c) }

func valueChoices(c grow.Condition) []choice {
	out := []choice{{"", "not known"}}
	for _, v := range c.Values {
		word := plainWords(v)
		if c.Normal != nil && v == *c.Normal {
			word += ", as usual"
		}
		out = append(out, choice{v, word})
	}
	return out
}

// speciesChoices offers what the farm grows first.
func speciesChoices(farm *store.Farm) []choice {
	var grown, rest []choice
	for _, sp := range farm.Species {
		one := choice{string(sp.Slug), sp.Name}
		if slices.Contains(farm.Grown, sp.Slug) {
			grown = append(grown, one)
		} else {
			rest = append(rest, one)
		}
	}
	return append(grown, rest...)
}

// departureChoices are the values that are not normal, and unknown.
func departureChoices(cs grow.Conditions) []choice {
	out := []choice{{"", "none"}}
	for _, key := range cs.Keys() {
		for _, v := range cs[key].Values {
			if cs[key].Departs(&v) {
				out = append(out, choice{key + "=" + v, cs[key].Label + ": " + plainWords(v)})
			}
		}
	}
	return out
}

func (s *Server) postLabDay(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	nameAfterDay(v, farm.Zone)
	drafts, rows, err := parseLabDay(v, farm)
	if err == nil {
		if _, err = s.store.CreateLabDay(ctx, actorOf(c), drafts, waitingOf(v, rows)); err == nil {
			return c.Redirect(http.StatusSeeOther, "/print?made=1&lab_day="+url.QueryEscape(typed(v, "lab_day")))
		}
		err = inRows(err, rows)
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawLabDay(c, statusOf(grow.KindOf(err)), f, false)
}

// waitingOf tells of which run each draft takes the sterile bags that wait.
func waitingOf(v url.Values, rows []int) map[int]grow.Code {
	out := map[int]grow.Code{}
	for i, row := range rows {
		if run := typed(v, fmt.Sprintf("batches[%d].sterile", row)); run != "" {
			out[i] = grow.Code(run)
		}
	}
	return out
}

// parseLabDay reads the head and every row that names a species. rows tells
// which row of the page each draft came from.
func parseLabDay(v url.Values, farm *store.Farm) (drafts []grow.BatchDraft, rows []int, err error) {
	var p grow.Problems
	head := parseBatchFields(v, farm, &p)
	for i := range labDayRows {
		name := fmt.Sprintf("batches[%d].", i)
		if typed(v, name+"species") == "" {
			if typed(v, name+"bags") != "" || typed(v, name+"sterile") != "" {
				p.Add(name+"species", "is missing: which species are these bags?")
			}
			continue
		}
		d := grow.BatchDraft{BatchFields: head}
		d.Species, d.Strain, d.SpawnLot = grow.Slug(v.Get(name+"species")), text(v, name+"strain"), text(v, name+"spawn_lot")
		if typed(v, name+"bags") != "" || typed(v, name+"sterile") == "" { // else all that wait
			d.Bags = countField(v, name+"bags", &p)
		}
		d.BagConditions = parseBagConditions(v, name+"bag_conditions[0]", &p)
		if id := v.Get(name + "id"); id != "" {
			draftID := grow.ID(id)
			d.ID = &draftID
		}
		drafts, rows = append(drafts, d), append(rows, i)
	}
	if len(drafts) == 0 {
		p.Add("batches[0].species", "is missing: a lab day has at least one species")
	}
	return drafts, rows, p.Err("this lab day cannot be made as it is")
}

// parseBatchFields reads what the batches of a lab day share, or one batch's
// correction; wet is what a bag of it weighs by now.
func parseBatchFields(v url.Values, farm *store.Farm, p *grow.Problems, wet ...*float64) grow.BatchFields {
	f := grow.BatchFields{
		Species: grow.Slug(v.Get("species")), LabDay: text(v, "lab_day"), Strain: text(v, "strain"), SpawnLot: text(v, "spawn_lot"),
		BagWetG: typedGrams(farm.Writing, grow.Bucket, v, "bag_wet_g", p, wet...), MoisturePct: numberField(v, "moisture_pct", p), SpawnRatePct: numberField(v, "spawn_rate_pct", p),
		SteriliserRun: text(v, "steriliser_run"), SubstrateLot: text(v, "substrate_lot"), Recipe: text(v, "recipe"), Operator: text(v, "operator"), Place: text(v, "place"), Note: text(v, "note"),
		LabelsLater: dateField(v, "labels_later", p), Conditions: map[string]*string{},
	}
	if at := timeField(v, "inoculated_at", farm.Zone, p); at != nil {
		f.InoculatedAt = *at
	}
	for name := range v {
		if key, ok := strings.CutPrefix(name, "conditions."); ok {
			if value := text(v, name); value != nil {
				f.Conditions[key] = value
			}
		}
	}
	return f
}

// parseBagConditions reads "bags 7-11 with the hood off", or "about six".
func parseBagConditions(v url.Values, name string, p *grow.Problems) []grow.BagConditions {
	set, bags := v.Get(name+".conditions"), typed(v, name+".bags")
	if set == "" {
		if bags != "" {
			p.Add(name+".conditions", "is missing: what was different about these bags?")
		}
		return nil
	}
	key, value, _ := strings.Cut(set, "=")
	b := grow.BagConditions{Bags: bags, Conditions: map[string]*string{key: &value}}
	if about, ok := strings.CutPrefix(strings.ToLower(bags), "about "); ok {
		b.Bags = ""
		n, err := strconv.Atoi(strings.TrimSpace(about))
		if err != nil {
			p.Add(name+".bags", "must be like 7-11, or: about 6")
		}
		b.About = n
	}
	return []grow.BagConditions{b}
}

func countField(v url.Values, name string, p *grow.Problems) int {
	s := typed(v, name)
	if s == "" {
		p.Add(name, "is missing: how many bags?")
		return 1
	}
	n, err := strconv.Atoi(s)
	if err != nil {
		p.Add(name, "must be a whole number")
		return 1
	}
	return n
}

// inRows moves the problems of the n-th draft to the row it came from; what is
// wrong with the head stands at the head.
func inRows(err error, rows []int) error {
	e := asError(err)
	moved := map[string]string{}
	for field, message := range e.Fields {
		moved[rowField(field, rows)] = message
	}
	return &grow.Error{Kind: e.Kind, Message: e.Message, Fields: moved, Cause: e.Cause}
}

// headFields stand once for all rows.
var headFields = []string{"inoculated_at", "lab_day", "steriliser_run", "substrate_lot", "recipe", "operator", "place", "note", "bag_wet_g", "moisture_pct", "spawn_rate_pct", "labels_later"}

func rowField(field string, rows []int) string {
	var n int
	if _, err := fmt.Sscanf(field, "batches[%d]", &n); err != nil || n >= len(rows) {
		return field
	}
	_, rest, _ := strings.Cut(field, "].")
	if slices.Contains(headFields, rest) || strings.HasPrefix(rest, "conditions.") {
		return rest
	}
	if at := strings.Index(rest, ".conditions."); at >= 0 {
		rest = rest[:at] + ".conditions" // the row has one choice for the condition and its value
	}
	return fmt.Sprintf("batches[%d].%s", rows[n], rest)
}
