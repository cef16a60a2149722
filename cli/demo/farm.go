package demo

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"slices"
	"time"

	"bagmark/grow"
	"bagmark/store"
)

// The farm: an invented one in an invented harbour, with invented people.
const (
	Name     = "Tidewrack Mushrooms, Lornhaven"
	Zone     = "Atlantic/Faroe"
	seed     = 20260314
	mostWait = 30 * time.Minute // a phone hands in what it has by then
)

var (
	maren = store.Actor{Person: "Maren", Device: "bench tablet", Role: store.Owner}
	joss  = store.Actor{Person: "Joss", Device: "Joss's phone", Role: store.Grower}
	wick  = store.Actor{Person: "Wick", Device: "rack phone", Role: store.Grower}
)

// farm is the farm while it is made.
type farm struct {
	ctx     context.Context
	store   *store.Store
	clock   *clock
	source  *source
	zone    *time.Location
	today   grow.Date
	runs    int
	blanks  []grow.Code
	batches []*batch
	said    []saying // since it was last handed in
}

// saying is an entry on its way to the farm.
type saying struct {
	by    store.Actor
	draft grow.Draft
}

// Make makes the farm in dir, which must be empty or not there, as it stands
// at now.
func Make(ctx context.Context, dir string, now time.Time) (in SignIn, err error) {
	if err := mustBeEmpty(dir); err != nil {
		return in, err
	}
	defer func() {
		if err != nil && ctx.Err() != nil {
			err = ctx.Err() // the database calls it many names
		}
		if err != nil {
			err = errors.Join(err, emptyAgain(dir))
		}
	}()
	zone, err := time.LoadLocation(Zone)
	if err != nil {
		return in, err
	}
	f := &farm{ctx: ctx, clock: &clock{}, source: newSource(seed), zone: zone, today: grow.DateOf(now, zone)}
	f.clock.moveTo(f.at(plans[0].ago+1, 9, 0))
	f.store, err = store.Open(ctx, dir, store.Options{Now: f.clock.now, Random: f.source, Alone: true, TimeZone: Zone})
	if err != nil {
		return in, err
	}
	if in, err = f.live(); err == nil {
		err = errors.Join(f.upstream(now), f.air(now), f.lastRound(now))
	}
	if err = errors.Join(err, f.store.Close()); err != nil {
		return in, err
	}
	return in, in.write(dir)
}

// at is a time of day so many days ago.
func (f *farm) at(ago, hour, minute int) time.Time {
	y, m, d := (f.today - grow.Date(ago)).Time().Date()
	return time.Date(y, m, d, hour, minute, 0, 0, f.zone)
}

func (f *farm) newID() grow.ID {
	id, err := grow.NewID(f.source)
	if err != nil {
		panic("demo: the seeded source never fails: " + err.Error())
	}
	return id
}

// live sets the farm up and works every day of it until yesterday evening.
func (f *farm) live() (SignIn, error) {
	in, err := f.setUp()
	if err != nil {
		return in, err
	}
	for i, p := range plans {
		f.batches = append(f.batches, newBatch(f, p, i))
	}
	for ago := plans[0].ago; ago >= 1; ago-- {
		if err := errors.Join(f.morning(ago), f.labDay(ago), f.afternoon(ago)); err != nil {
			return in, err
		}
	}
	return in, nil
}

// setUp makes the owner and the others, with secrets that no seed gives away.
func (f *farm) setUp() (in SignIn, err error) {
	in.Name = maren.Person
	if in.Passphrase, err = newPassphrase(); err != nil {
		return in, err
	}
	first := store.FirstRun{OwnerName: in.Name, Passphrase: in.Passphrase, DeviceName: maren.Device, Over: store.OverHTTP,
		Settings: store.Settings{Name: Name, TimeZone: Zone, Margin: 0.05, FirstLookDay: grow.FirstLookDay, Units: "metric", F0Target: 15, F0TargetSteam: 3, AltitudeM: 210}}
	for _, name := range []string{"oyster", "king", "lion", "enoki", "shiitake", "beech"} {
		first.Grown = append(first.Grown, kinds[name].slug)
	}
	for _, name := range []string{"shiitake", "beech"} { // the farm's own figures: it waits longer than most
		first.SpeciesDays = append(first.SpeciesDays, grow.Override{Slug: kinds[name].slug, RipeningDays: &[2]float64{42, 60}})
	}
	f.source.secret = true
	defer func() { f.source.secret = false }()
	session, err := f.store.SetUp(f.ctx, first)
	if err != nil {
		return in, err
	}
	if err := f.store.SignOut(f.ctx, session.Actor); err != nil {
		return in, err
	}
	for _, a := range []store.Actor{joss, wick} {
		if _, err := f.store.AddPerson(f.ctx, maren, a.Person, a.Role, ""); err != nil {
			return in, err
		}
	}
	return in, nil
}

// say notes an entry that somebody makes at a time.
func (f *farm) say(by store.Actor, at time.Time, d grow.Draft) {
	if d.ID == "" {
		d.ID = f.newID()
	}
	d.At = &at
	f.said = append(f.said, saying{by, d})
}

// handIn gives the farm what has been said, in the order of the day. A refusal
// is a mistake of this package.
func (f *farm) handIn() error {
	slices.SortStableFunc(f.said, func(a, b saying) int { return cmp.Compare(a.draft.At.UnixMicro(), b.draft.At.UnixMicro()) })
	for len(f.said) > 0 {
		first, n := f.said[0], 0
		var drafts []grow.Draft
		for n < len(f.said) && f.said[n].by == first.by && f.said[n].draft.At.Sub(*first.draft.At) < mostWait {
			drafts = append(drafts, f.said[n].draft)
			n++
		}
		f.clock.moveTo(drafts[n-1].At.Add(20 * time.Second))
		results, err := f.store.AddEntries(f.ctx, first.by, drafts)
		if err != nil {
			return err
		}
		for i, r := range results {
			if r.Err != nil {
				return &grow.Error{Kind: grow.Internal, Message: "the demo farm could not be made: " + string(drafts[i].Kind) + " was refused", Cause: r.Err}
			}
		}
		f.said = f.said[n:]
	}
	return nil
}

// addPhoto keeps a picture and gives its id.
func (f *farm) addPhoto(by store.Actor, p picture) (string, error) {
	data, err := p.jpeg()
	if err != nil {
		return "", err
	}
	id, _, err := f.store.AddPhoto(f.ctx, by, store.Picture{JPEG: data, Width: pictureWidth, Height: pictureHeight, SentSHA256: sha256.Sum256(data)})
	return id, err
}
