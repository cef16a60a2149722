package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/store"
)

// aheadOf is the page with a question.
func aheadOf(kg, species, week string, more ...string) string {
	v := url.Values{"kg": {kg}, "species": {species}, "week": {week}}
	for i := 0; i+1 < len(more); i += 2 {
		v.Set(more[i], more[i+1])
	}
	return "/week-ahead?" + v.Encode()
}

// TestWeekAheadPage: what bags promise stands first; a question is answered in
// sentences, and its lab day has species and number of bags filled in.
func TestWeekAheadPage(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.open("/week-ahead").ok().says("main", "What your bags promise will stand here").has(0, "tbody tr")
	codes := b.ripe("4")
	for _, code := range codes {
		b.saw(code, `"kind":"fruiting"`)
	}
	today := grow.DateOf(b.store.Now(), b.store.Zone(t.Context()))
	p := b.open("/week-ahead").ok().says("main", "Still this week: ").says("main", "Next week: ").says("main", "king oyster").has(9, "tbody tr").
		says("main", "By built-in figures, in part or in all, until four of your batches are done: king oyster.")
	if picked := p.Find("select[name=week] option[selected]").Text(); !strings.Contains(picked, "week") {
		t.Errorf("the form offers %q", picked)
	}
	b.open("/").ok().has(1, `main a[href="/week-ahead"]`)
	name := "Édesfa laska"
	if err := b.store.PutSpecies(t.Context(), store.Actor{Person: "Ana"}, grow.Override{Slug: "pleurotus-eryngii", Name: &name}); err != nil {
		t.Fatal(err)
	}
	b.open("/week-ahead").ok().says("main", "édesfa laska")
	week := (today + 70).String()
	b.open(aheadOf("8", "pleurotus-eryngii", week, "load_bags", "12")).ok().says("#answer .lead", "Make ").says("#answer", "For nine chances in ten: ").
		says("#answer", "steriliser load").says("#answer", "of 12 (as you said)").says("#answer", "What the rooms take is not said").
		says("#answer", "Fewer than 4 batches of yours are done").says("#answer", "ask here again on").has(0, "#answer a[href^='/lab-day']")
	b.open(aheadOf("0,01", "pleurotus-eryngii", (today+7).String())).ok().says("#answer .lead", "The bags alive are likely to give 0.01 kg")
	p = b.open(aheadOf("12,4", "lentinula-edodes", (today+14).String())).ok().says("#answer .lead", "Too late to make shiitake for that week: the last day was").
		says("#answer", "come in time for the week of")
	next, _ := p.Find("#answer .buttons a").Attr("href")
	if !strings.Contains(next, "kg=12.4&") {
		t.Errorf("12.4 kg of a week in reach are asked for by %s", next)
	}
	p = b.open(next).ok().says("#answer .lead", "Make ").has(1, "#answer a[href^='/lab-day']")
	bags := strings.Fields(strings.TrimPrefix(p.Find("#answer .lead").Text(), "Make "))[0]
	link, _ := p.Find("#answer a[href^='/lab-day']").Attr("href")
	lab := b.open(link).ok()
	if got := lab.Find(`input[name="batches[0].bags"]`).AttrOr("value", ""); got != bags {
		t.Errorf("the lab day has %q bags, the answer %q", got, bags)
	}
	if got := lab.Find(`select[name="batches[0].species"] option[selected]`).AttrOr("value", ""); got != "lentinula-edodes" {
		t.Errorf("the lab day makes %q", got)
	}
}

// TestWeekAheadRefusals: each fault stands at its field, with what was typed.
func TestWeekAheadRefusals(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	today := grow.DateOf(b.store.Now(), b.store.Zone(t.Context()))
	for _, x := range []struct{ name, path, field, says string }{
		{"nothing", aheadOf("0", "pleurotus-eryngii", today.String()), "kg", "must be more than 0"},
		{"less", aheadOf("-3", "pleurotus-eryngii", today.String()), "kg", "must be more than 0"},
		{"words", aheadOf("some", "pleurotus-eryngii", today.String()), "kg", "must be a number of kg"},
		{"no weight", aheadOf("", "pleurotus-eryngii", today.String()), "kg", "is missing"},
		{"species", aheadOf("8", "moon", today.String()), "species", "is not a species this farm knows"},
		{"past", aheadOf("8", "pleurotus-eryngii", (today - 7).String()), "week", "lies in the past"},
		{"far", aheadOf("8", "pleurotus-eryngii", (today + 900).String()), "week", "is too far off"},
		{"no day", aheadOf("8", "pleurotus-eryngii", "soon"), "week", "must be a date"},
		{"load", aheadOf("8", "pleurotus-eryngii", today.String(), "load_bags", "0"), "load_bags", "must be 1 to 2000"},
	} {
		p := b.open(x.path)
		p.want(http.StatusBadRequest)
		p.says("#f-"+strings.ReplaceAll(x.field, "_", "-")+"-error", x.says)
	}
	b.get("/api/v1/week-ahead?grams=x&week=soon").refused(400, "invalid", "grams", "week")
}

// TestWeekAheadAsTheFarmWrites: pounds, and weeks from Sunday; programs get grams
// and weeks from Monday all the same.
func TestWeekAheadAsTheFarmWrites(t *testing.T) {
	t.Parallel()
	b := newTestBrowser(t)
	b.ripe("4")
	err := b.store.PutSettings(t.Context(), store.Actor{Person: "Ana"}, func(s *store.Settings) error {
		s.Writing = grow.UnitsOf("imperial")
		s.WeekStarts, s.LoadBags = grow.FromSunday, 40
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	today := grow.DateOf(b.store.Now(), b.store.Zone(t.Context()))
	p := b.open(aheadOf("20", "pleurotus-eryngii", (today+70).String())).ok().says("#answer", "lb").says("#answer", "of 40 (your settings)").says("h2", "promise, lb")
	p.has(0, "input[name=load_bags]")
	value := p.Find("select[name=week] option").First().AttrOr("value", "")
	if first, err := grow.ParseDate(value); err != nil || first.Time().Weekday() != 0 {
		t.Errorf("the first week starts on %s", value)
	}
	got := b.get("/api/v1/week-ahead?grams=9000&species=pleurotus-eryngii&week=" + (today + 70).String()).want(200)
	if got.at("week_starts") != "monday" || got.at("want", "grams") != 9000. || got.at("steriliser_load", "bags") != 40. {
		t.Errorf("a program gets %s", got.body)
	}
	last, err := grow.ParseDate(got.at("weeks", 0, "to").(string))
	if err != nil || last.Time().Weekday() != 0 {
		t.Errorf("its first week ends on %v", got.at("weeks", 0, "to"))
	}
	table := b.get("/api/v1/export/week-ahead.csv").want(200).body
	if lines := strings.Split(strings.TrimSpace(string(table)), "\n"); len(lines) != 10 || !strings.HasPrefix(lines[0], "from,to,species,") {
		t.Errorf("nine weeks of one species are\n%s", table)
	}
}
