package server

import (
	"crypto/rand"
	"fmt"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bagmark/grow"
)

// newID is a fresh id for a form; each form of a page has its own.
func newID() (grow.ID, error) { return grow.NewID(rand.Reader) }

// idOf is the id that stands hidden in a form, so that a second tap or a retry
// makes nothing twice; nil where there is none.
func idOf(v url.Values) *grow.ID {
	id, err := grow.ParseID(v.Get("id"))
	if err != nil {
		return nil
	}
	return &id
}

func dateWords(d grow.Date) string { return d.Time().Format("Mon 2 Jan 2006") }

func dayWords(t time.Time) string { return t.Format("Mon 2 Jan") }

// numberWords writes a number without needless zeros.
func numberWords(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }

// tenthWords writes a measurement to a tenth.
func tenthWords(n float64) string { return strconv.FormatFloat(n, 'f', 1, 64) }

// shareWords writes a rate of 0 to 1 in per cent, with a decimal below ten.
func shareWords(rate float64) string {
	pct := 100 * rate
	if pct > 0 && pct < 9.95 && math.Abs(pct-math.Round(pct)) > 0.05 {
		return fmt.Sprintf("%.1f\u00a0%%", pct)
	}
	return fmt.Sprintf("%.0f\u00a0%%", pct)
}

// plainWords turns a key into words: bottom_corner is bottom corner.
func plainWords(key string) string { return strings.ReplaceAll(key, "_", " ") }

// plural is "1 bag" or "7 bags".
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func deref(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

func cautionOf(topic string) grow.Caution {
	c, _ := grow.CautionOf(grow.CautionTopic(topic))
	return c
}

// entryWords says what an entry says, as the log of a farm that writes so shows it.
func entryWords(e grow.Entry, u grow.Units) string {
	switch e.Kind {
	case grow.KindMarked:
		if e.Bench {
			return "scanned as it left the bench"
		}
		return "label is on the bag"
	case grow.KindLook:
		return map[string]string{"glance": "seen in passing, clean", "turned": "turned in the hand, clean"}[e.Seen] + onlyIf(e.Seen == "" || e.Seen == "in_hand", "looked at, clean")
	case grow.KindColonised:
		return colonisedWords(e)
	case grow.KindContaminated:
		return mouldWords(e)
	case grow.KindSign:
		s, _ := grow.SignOf(e.Sign)
		return s.Label
	case grow.KindCondition:
		if e.Key == grow.SpawnJarKey {
			return "spawn from the jar or lot " + valueWords(e.Value)
		}
		return plainWords(e.Key) + ": " + valueWords(e.Value) + onlyIf(e.Basis != "" && e.Basis != "recorded", " ("+e.Basis+")")
	}
	return moreEntryWords(e, u)
}

func moreEntryWords(e grow.Entry, u grow.Units) string {
	switch e.Kind {
	case grow.KindWatch:
		return "on watch" + onlyIf(e.Because != "", ": "+e.Because)
	case grow.KindUnwatch:
		return "no longer on watch" + onlyIf(e.Because != "", ": "+e.Because)
	case grow.KindAgain:
		return "come back " + dateWords(*e.On) + onlyIf(e.For == "fruiting", ", to move it to fruiting")
	case grow.KindMove:
		return "moved to " + e.Place
	case grow.KindShake:
		return "shaken again"
	case grow.KindIsolate:
		return "set apart"
	case grow.KindRelease:
		return "brought back"
	case grow.KindCull:
		return "out, closed" + onlyIf(e.Why != "", ": "+plainWords(e.Why))
	case grow.KindFruiting:
		return "to fruiting" + onlyIf(e.Place != "", ", "+e.Place) + onlyIf(e.Opening != "", ", opened: "+plainWords(e.Opening))
	case grow.KindHarvest:
		return "picked " + u.Weighed(*e.Grams) + flushWords(e.Flush)
	case grow.KindFinish:
		return "finished: " + plainWords(e.Why) + onlyIf(e.To != "", ", "+e.To)
	case grow.KindPhoto:
		return "photo"
	case grow.KindNote:
		return e.Text
	case grow.KindVoid:
		return "took back an entry"
	}
	return string(e.Kind)
}

func onlyIf(yes bool, words string) string {
	if yes {
		return words
	}
	return ""
}

func flushWords(flush *int) string {
	if flush == nil {
		return ""
	}
	return fmt.Sprintf(", flush %d", *flush)
}

func valueWords(v grow.Value) string {
	if v.Known == nil {
		return grow.Unknown
	}
	return plainWords(*v.Known)
}

func colonisedWords(e grow.Entry) string {
	var words string
	switch {
	case e.Pct == nil:
		words = "not grown over yet"
	case *e.Pct >= grow.GrownOverPct:
		words = "grown over"
	default:
		words = "grown over to " + numberWords(*e.Pct) + " %"
	}
	return words + onlyIf(len(e.Bare) > 0, ", bare: "+strings.Join(e.Bare, ", "))
}

func mouldWords(e grow.Entry) string {
	c, _ := grow.ContaminantOf(e.What)
	words := c.Label
	if e.What == "unsure" {
		words = "mould or wrong, not sure what"
	}
	if w, ok := grow.WhereOf(e.Where); ok {
		words += ", " + w.Label
	}
	if e.ExtentPct != nil {
		words += ", " + numberWords(*e.ExtentPct) + " % of the wall"
	}
	return words
}
