package server

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// placePage is what should stand in a room, on a rack or a shelf, and what was
// seen otherwise.
type placePage struct {
	frame
	store.PlaceWhole
	Batches []placedBatch
	// Places and Growing are where many bags may come from at once.
	Places  []store.Place
	Growing []store.Batch
	Did     placedState
	Form    form
}

// placedBatch are the bags of one batch that should stand somewhere.
type placedBatch struct {
	Batch grow.BatchCode
	Short string
	Name  string
	Day   int
	Bags  []thingBag
}

// byBatches groups bags that come in the order of their batches.
func byBatches(hits []store.BagHit) (out []placedBatch) {
	for _, b := range thingBags(hits) {
		if n := len(out); n == 0 || out[n-1].Batch != b.Batch {
			out = append(out, placedBatch{Batch: b.Batch, Short: b.Short, Name: b.SpeciesName, Day: b.Day})
		}
		last := &out[len(out)-1]
		last.Bags = append(last.Bags, b)
	}
	return out
}

// Numbers are "1-4, 7", those of the bags.
func (b placedBatch) Numbers() string {
	var numbers []int
	for _, bag := range b.Bags {
		numbers = append(numbers, bag.Number)
	}
	return runsOf(numbers)
}

// runsOf joins rising numbers, neighbours as a range.
func runsOf(numbers []int) string {
	var words []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		switch {
		case j == i:
			words = append(words, strconv.Itoa(numbers[i]))
		default:
			words = append(words, fmt.Sprintf("%d-%d", numbers[i], numbers[j]))
		}
		i = j + 1
	}
	return strings.Join(words, ", ")
}

// mostPlaced is how many bags the page links one by one; of more the list to
// print has all.
const mostPlaced = 240

// Listed tells whether the page links its bags one by one.
func (p placePage) Listed() bool { return len(p.Bags) <= mostPlaced }

// Within is how many more stand on its racks and shelves.
func (p placePage) Within() int { return p.Place.Bags - len(p.Bags) }

// Inner is what a rack or shelf is called inside this place.
func (p placePage) Inner(r store.Room) string {
	return strings.TrimPrefix(r.Name, p.Place.Name+grow.PlaceSeparator)
}

// Full is how full a place is, drawn and in words.
func (p placePage) Full() fullness { return fullnessOf(p.Place) }

// FullOf is the same of a rack or a shelf.
func (p placePage) FullOf(r store.Room) fullness { return fullnessOf(r) }

// mostNotSeen is how many bags that the last round missed are linked one by one.
const mostNotSeen = 24

// FirstNotSeen are those that the page links.
func (p placePage) FirstNotSeen() []store.BagHit { return p.NotSeen[:min(len(p.NotSeen), mostNotSeen)] }

// MoreNotSeen is how many it does not.
func (p placePage) MoreNotSeen() int { return max(0, len(p.NotSeen)-mostNotSeen) }

// fullness is a bar of 100 units with its word.
type fullness struct {
	Words string
	Share int // 0-100; -1 where nobody said how many bags the place takes
	Over  bool
}

func fullnessOf(r store.Room) fullness {
	f := fullness{Words: roomWords(r), Share: -1}
	if r.CapacityBags == nil {
		return f
	}
	f.Share = min(100, 100*r.Bags / *r.CapacityBags)
	switch most := *r.CapacityBags; {
	case r.Bags > most:
		f.Words, f.Over = fmt.Sprintf("%d of %d bags: %d over", r.Bags, most, r.Bags-most), true
	case r.Bags == most:
		f.Words += ": full"
	}
	return f
}

func (s *Server) showPlace(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	d, err := s.deviceState(c.Request().Context(), actorOf(c))
	if err != nil {
		return err
	}
	did := d.Placed
	if did.Page != code || c.QueryParam("did") == "" {
		did = placedState{} // shown once, after the act
	}
	return s.drawPlace(c, http.StatusOK, code, form{}, did)
}

func (s *Server) drawPlace(c echo.Context, status int, code grow.Code, form form, did placedState) error {
	ctx := c.Request().Context()
	w, err := s.store.Place(ctx, code)
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, w.Place.Name)
	if err != nil {
		return err
	}
	if form.values == nil {
		form = formOf("name", w.Place.Name)
		if w.Place.CapacityBags != nil {
			form.values.Set("capacity_bags", fmt.Sprint(*w.Place.CapacityBags))
		}
	}
	p := placePage{frame: f, PlaceWhole: w, Batches: byBatches(w.Bags), Did: did, Form: form}
	if f.May("grower") {
		page, err := s.store.Batches(ctx, store.BatchFilter{Limit: 50})
		if err != nil {
			return err
		}
		p.Growing = page.Batches
		if p.Places, err = s.store.Places(ctx); err != nil {
			return err
		}
	}
	return s.show(c, status, "place", p)
}

// BatchChoices and PlaceChoices are what many bags can be moved here from.
func (p placePage) BatchChoices() []choice { return batchChoices(p.Growing) }

// PlaceChoices leave out the place itself.
func (p placePage) PlaceChoices() []choice { return placeChoices(p.Places, p.Place.Code) }

// placeListPage is a place's bags as a list to hang on the rack.
type placeListPage struct {
	frame
	store.PlaceWhole
	Batches []placedBatch
}

// Seen says of a bag what speaks against its standing there, "" for nothing.
func (p placeListPage) Seen(code grow.Code) string {
	for _, b := range p.SeenElsewhere {
		if b.Code == code {
			return "seen at " + b.Seen.Place + ", " + dayWords(b.Seen.At)
		}
	}
	if slices.ContainsFunc(p.NotSeen, func(b store.BagHit) bool { return b.Code == code }) {
		return "not seen since " + dayWords(p.LastRound.BeganAt)
	}
	return ""
}

func (s *Server) showPlaceList(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	w, err := s.store.Place(c.Request().Context(), code)
	if err != nil {
		return err
	}
	f, _, err := s.frame(c, "What should stand at "+w.Place.Name)
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "place-list", placeListPage{frame: f, PlaceWhole: w, Batches: byBatches(w.Bags)})
}

// placedState is what a device last said of a bag that was seen elsewhere.
type placedState struct {
	Page  grow.Code `json:"page"` // the place whose page it was said on
	Bag   grow.Code `json:"bag"`
	Words string    `json:"words"`
	Entry grow.ID   `json:"entry"`
	// Was is where it had been seen, if saying where it is outdid that.
	Was  *store.Sighting `json:"was,omitempty"`
	Done []grow.ID       `json:"done,omitempty"`
}

// postSeen says where a bag is that was seen elsewhere than where it should
// stand: where it was seen, or where its log says.
func (s *Server) postSeen(c echo.Context) error {
	code, err := codeParam(c)
	if err != nil {
		return err
	}
	_, refusal, err := s.perform(c, func(x *deed) error {
		before := x.d.Placed
		if x.how.done(&x.d.Placed.Done) {
			return nil
		}
		act := placedAct{Server: s, ctx: c.Request().Context(), deed: x, page: code}
		err := act.do()
		if err != nil {
			x.d.Placed = before // refused: it may come again
		}
		return err
	})
	if err == nil {
		err = refusal
	}
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, grow.PlaceCode.Path(code)+"?did=said")
}

// placedAct is one answer to where a bag is.
type placedAct struct {
	*Server
	*deed
	ctx  context.Context
	page grow.Code
}

func (a placedAct) do() error {
	switch a.v.Get("act") {
	case "undo":
		return a.undo()
	case "there", "here":
		return a.say()
	}
	return grow.Errorf(grow.Invalid, "this form was changed; open the page again")
}

func (a placedAct) say() error {
	bag, err := a.asked(grow.Code(a.v.Get("bag")))
	if err != nil {
		return err
	}
	there := a.v.Get("act") == "there"
	name := fmt.Sprintf("%s #%d", bag.Short, bag.Number)
	d, words := glance(), name+" is where its log says, "+deref(bag.Place)+"."
	if there {
		d = grow.Draft{Kind: grow.KindMove, Details: grow.Details{Place: bag.Seen.Place}}
		words = name + " stands at " + bag.Seen.Place + " now."
	}
	d.Bag = bag.Code
	if err := a.how.stamp(&d, 0); err != nil {
		return err
	}
	e, _, _, err := a.store.AddEntry(a.ctx, a.who, d)
	if err != nil {
		return err
	}
	a.d.Placed = placedState{Page: a.page, Bag: bag.Code, Words: words, Entry: e.ID, Done: a.d.Placed.Done}
	if there {
		return nil
	}
	a.d.Placed.Was = &bag.Seen
	return a.store.See(a.ctx, a.who, store.Round{Place: deref(bag.Place)}, a.how.when(a.store.Now()), bag.Code)
}

// asked is the bag that the page asks about; somebody may have answered since.
func (a placedAct) asked(code grow.Code) (store.SeenBag, error) {
	w, err := a.store.Place(a.ctx, a.page)
	if err != nil {
		return store.SeenBag{}, err
	}
	for _, b := range append(w.SeenElsewhere, w.SeenHere...) {
		if b.Code == code {
			return b, nil
		}
	}
	return store.SeenBag{}, grow.Errorf(grow.Conflict, "somebody has said meanwhile where this bag is; open the page again")
}

func (a placedAct) undo() error {
	last := a.d.Placed
	if last.Entry == "" {
		return grow.Errorf(grow.Conflict, "there is nothing to take back")
	}
	if err := a.takeBack(a.ctx, a.who, last.Bag, []grow.ID{last.Entry}); err != nil {
		return err
	}
	a.d.Placed = placedState{Page: a.page, Words: "Taken back.", Done: last.Done}
	if last.Was == nil {
		return nil
	}
	if err := a.store.Unsee(a.ctx, "", last.Bag); err != nil {
		return err
	}
	return a.store.See(a.ctx, store.Actor{Person: last.Was.By, Device: a.who.Device}, store.Round{Place: last.Was.Place}, last.Was.At, last.Bag)
}

// afterPlace leads back to the place, or shows it again with what was refused.
func (s *Server) afterPlace(c echo.Context, code grow.Code, v url.Values, refusal error) error {
	return backTo(c, grow.PlaceCode.Path(code), v, refusal, func(status int, f form) error { return s.drawPlace(c, status, code, f, placedState{}) })
}

// postCapacity says how many bags a place takes; an empty field, that nobody
// knows.
func (s *Server) postCapacity(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	var bags *int
	if text := typed(v, "capacity_bags"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil {
			n = 0 // refused below, with what it must be
		}
		bags = &n
	}
	_, err = s.store.SetCapacity(c.Request().Context(), actorOf(c), code, bags)
	return s.afterPlace(c, code, v, err)
}

// postPlaceName gives a place another name.
func (s *Server) postPlaceName(c echo.Context) error {
	code, v, err := codedForm(c)
	if err != nil {
		return err
	}
	_, err = s.store.RenamePlace(c.Request().Context(), actorOf(c), code, typed(v, "name"))
	return s.afterPlace(c, code, v, err)
}
