package store

import (
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bagmark/grow"
)

// invite starts a pairing for the owner.
func (f *deskFarm) invite(t *testing.T) string {
	t.Helper()
	secret, expires, err := f.StartPairing(t.Context(), f.owner)
	if err != nil {
		t.Fatal(err)
	}
	if got := expires.Sub(f.clock.now()); got != 120*time.Second {
		t.Errorf("a pairing lives %s, want 2 minutes", got)
	}
	return secret
}

func TestPairingIsUsedOnce(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	secret := f.invite(t)
	// 128 bits in Crockford's Base 32, which has no I, L, O and U.
	if !regexp.MustCompile(`^[0-9A-HJKMNP-TV-Z]{26}$`).MatchString(secret) {
		t.Errorf("the secret is %s", secret)
	}
	for range 3 { // link previews and a second look use nothing up
		if p := must(f.PairingOf(t.Context(), secret))(t); p.Person != deskOwner || p.State != PairingWaiting {
			t.Errorf("shown as %+v", p)
		}
	}
	var good atomic.Int32
	var all sync.WaitGroup
	for range 16 {
		all.Go(func() {
			in, err := f.Pair(t.Context(), secret, "Odile's phone", OverHTTP)
			switch {
			case err != nil && grow.KindOf(err) == grow.NotFound:
			case err != nil:
				t.Errorf("got %v, want not found", err)
			default:
				good.Add(1)
				if in.Actor.Role != Grower || in.Actor.Person != deskOwner {
					t.Errorf("joined as %+v, want the owner with a grower's rights", in.Actor)
				}
				if who, err := f.Who(t.Context(), in.Secret, OverHTTP); err != nil || who != in.Actor {
					t.Errorf("shown as %+v, %v", who, err)
				}
			}
		})
	}
	all.Wait()
	if good.Load() != 1 {
		t.Errorf("%d devices joined by one pairing", good.Load())
	}
	if n := len(must(f.Devices(t.Context()))(t)); n != 2 {
		t.Errorf("%d devices, want the office and the phone", n)
	}
	_, err := f.PairingOf(t.Context(), secret)
	wantKind(t, "a look afterwards", err, grow.NotFound)
}

func TestPairingEnds(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		end  func(t *testing.T, f *deskFarm)
		want bool
	}{
		{"after 119 seconds", func(_ *testing.T, f *deskFarm) { f.clock.move(119 * time.Second) }, true},
		{"after two minutes", func(_ *testing.T, f *deskFarm) { f.clock.move(120 * time.Second) }, false},
		{"when the office shows another", func(t *testing.T, f *deskFarm) { f.invite(t) }, false},
		{"when the office signs out", func(t *testing.T, f *deskFarm) {
			if err := f.SignOut(t.Context(), f.owner); err != nil {
				t.Fatal(err)
			}
		}, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			secret := f.invite(t)
			test.end(t, f)
			_, err := f.Pair(t.Context(), secret, "phone", OverHTTP)
			if (err == nil) != test.want {
				t.Errorf("got %v, want joined: %v", err, test.want)
			}
		})
	}
}

func TestPairingIsReadAsTyped(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	secret := f.invite(t)
	typed := strings.NewReplacer("0", "o", "1", "l").Replace(strings.ToLower(secret))
	must(f.Pair(t.Context(), typed, "phone", OverHTTP))(t)
}

func TestPairingForSomebodyElse(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	pia := must(f.AddPerson(t.Context(), f.owner, "Pia Invented", Viewer, ""))(t)
	secret, _, err := f.StartPairingFor(t.Context(), f.owner, pia.ID)
	if err != nil {
		t.Fatal(err)
	}
	in := must(f.Pair(t.Context(), secret, "Pia's phone", OverHTTP))(t)
	if in.Actor.Role != Viewer || in.Actor.PersonID != pia.ID {
		t.Errorf("joined as %+v, want Pia with her own rights", in.Actor)
	}
	_, _, err = f.StartPairingFor(t.Context(), in.Actor, f.owner.PersonID)
	wantKind(t, "a viewer invites a device of the owner's", err, grow.Forbidden)
	_, _, err = f.StartPairing(t.Context(), Actor{Role: Owner})
	wantKind(t, "a token invites", err, grow.Forbidden)
}

func TestOfficeSeesAndRefusesWhoJoined(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	in := must(f.Pair(t.Context(), f.invite(t), "a stranger's phone", OverHTTP))(t)
	f.clock.move(time.Second)
	f.invite(t)
	f.clock.move(121 * time.Second)
	got := must(f.PairedBy(t.Context(), f.owner))(t)
	if len(got) != 2 || got[0].State != PairingTooOld || got[1].State != PairingJoined || got[1].Device != "a stranger's phone" {
		t.Fatalf("the office sees %+v", got)
	}
	if err := f.RevokeDevice(t.Context(), f.owner, got[1].DeviceID); err != nil {
		t.Fatal(err)
	}
	_, err := f.Who(t.Context(), in.Secret, OverHTTP)
	wantKind(t, "the refused phone", err, grow.Unauthorized)
}

func TestRevokeDeviceOfOthers(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	must(f.AddPerson(t.Context(), f.owner, "Gil Invented", Grower, "six dry cellars"))(t)
	gil := must(f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "phone", OverHTTP, Owner))(t)
	must(f.NewToken(t.Context(), "scale", Sensor))(t)
	for _, d := range must(f.Devices(t.Context()))(t) {
		if d.ID != gil.Actor.DeviceID {
			wantKind(t, d.Name, f.RevokeDevice(t.Context(), gil.Actor, d.ID), grow.Forbidden)
		}
		if err := f.RevokeDevice(t.Context(), Actor{PersonID: gil.Actor.PersonID, Role: Owner}, d.ID); err != nil {
			t.Errorf("an owner ends %s: %v", d.Name, err)
		}
	}
	wantKind(t, "once more", f.RevokeDevice(t.Context(), gil.Actor, gil.Actor.DeviceID), grow.NotFound)
}

func TestNewTokenRefuses(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	_, err := f.NewToken(t.Context(), "scale", "king")
	wantKind(t, "an unknown role", err, grow.Invalid)
	_, err = f.NewToken(t.Context(), "", Sensor)
	wantKind(t, "no name", err, grow.Invalid)
}
