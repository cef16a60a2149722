package store

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bagmark/grow"
)

func TestSignIn(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	ended := must(f.AddPerson(t.Context(), f.owner, "Former Invented", Grower, "six dry cellars"))(t)
	must(f.AddPerson(t.Context(), f.owner, "Pia Invented", Viewer, ""))(t)
	if err := f.EndPerson(t.Context(), f.owner, ended.ID); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name, who, passphrase string
		most                  Role
		want                  Role // "" for refused
	}{
		{"right", deskOwner, deskPassphrase, Owner, Owner},
		{"in another case", " odile   INVENTED", deskPassphrase, Owner, Owner},
		{"limited", deskOwner, deskPassphrase, Grower, Grower},
		{"wrong passphrase", deskOwner, "seven damp cellar", Owner, ""},
		{"unknown", "Nobody Invented", deskPassphrase, Owner, ""},
		{"ended", "Former Invented", "six dry cellars", Owner, ""},
		{"joins by pairing only", "Pia Invented", "", Owner, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			in, err := f.SignIn(t.Context(), test.who, test.passphrase, "phone", OverHTTP, test.most)
			if test.want == "" {
				wantKind(t, "sign in", err, grow.Unauthorized)
				if got := err.Error(); got != "the name or the passphrase is wrong" {
					t.Errorf("the refusal says more than it may: %s", got)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			who := must(f.Who(t.Context(), in.Secret, OverHTTP))(t)
			if who != in.Actor || who.Role != test.want || who.Person != deskOwner || who.Device != "phone" {
				t.Errorf("signed in as %+v, shown as %+v, want role %s", in.Actor, who, test.want)
			}
		})
	}
}

func TestSecretIsGoodForOneWayOnly(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	second := must(f.SecondSecret(t.Context(), f.owner, OverHTTP, Grower))(t)
	token := must(f.NewToken(t.Context(), "scale", Sensor))(t)
	for _, test := range []struct {
		name, secret string
		over         Over
		want         Role
	}{
		{"https", f.own.Secret, OverHTTPS, Owner},
		{"https over http", f.own.Secret, OverHTTP, ""},
		{"http, limited", second.Secret, OverHTTP, Grower},
		{"http over https", second.Secret, OverHTTPS, ""},
		{"token", token, OverToken, Sensor},
		{"token as a cookie", token, OverHTTP, ""},
		{"cookie as a token", f.own.Secret, OverToken, ""},
		{"nothing", "", OverHTTP, ""},
		{"a hash", string(secretSum(f.own.Secret)), OverHTTPS, ""},
	} {
		got, err := f.Who(t.Context(), test.secret, test.over)
		if test.want == "" {
			wantKind(t, test.name, err, grow.Unauthorized)
		} else if err != nil || got.Role != test.want {
			t.Errorf("%s: got %+v, %v, want role %s", test.name, got, err, test.want)
		}
	}
}

func TestSecretsEndTogetherAndAtOnce(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name string
		end  func(f *deskFarm, a Actor) error
	}{
		{"signing out", func(f *deskFarm, a Actor) error { return f.SignOut(context.Background(), a) }},
		{"revoked", func(f *deskFarm, a Actor) error { return f.RevokeDevice(context.Background(), f.owner, a.DeviceID) }},
		{"revoked by its person", func(f *deskFarm, a Actor) error { return f.RevokeDevice(context.Background(), a, a.DeviceID) }},
		{"person ended", func(f *deskFarm, a Actor) error { return f.EndPerson(context.Background(), f.owner, a.PersonID) }},
		{"passphrase changed by an owner", func(f *deskFarm, a Actor) error {
			return f.ChangePassphrase(context.Background(), f.owner, a.PersonID, "", "nine dry cellars")
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			must(f.AddPerson(t.Context(), f.owner, "Gil Invented", Grower, "six dry cellars"))(t)
			in := must(f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "phone", OverHTTPS, Owner))(t)
			second := must(f.SecondSecret(t.Context(), in.Actor, OverHTTP, Grower))(t)
			must(f.Who(t.Context(), in.Secret, OverHTTPS))(t)
			must(f.Who(t.Context(), second.Secret, OverHTTP))(t)
			if err := test.end(f, in.Actor); err != nil {
				t.Fatal(err)
			}
			_, err := f.Who(t.Context(), in.Secret, OverHTTPS)
			wantKind(t, "over HTTPS", err, grow.Unauthorized)
			_, err = f.Who(t.Context(), second.Secret, OverHTTP)
			wantKind(t, "over HTTP", err, grow.Unauthorized)
			_, err = f.SecondSecret(t.Context(), in.Actor, OverHTTP, Grower)
			wantKind(t, "another secret", err, grow.Unauthorized)
			must(f.Who(t.Context(), f.own.Secret, OverHTTPS))(t)
		})
	}
}

func TestRightsChangeAtOnce(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	gil := must(f.AddPerson(t.Context(), f.owner, "Gil Invented", Viewer, "six dry cellars"))(t)
	in := must(f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "phone", OverHTTP, Grower))(t)
	for _, test := range []struct{ give, want Role }{{Viewer, Viewer}, {Grower, Grower}, {Owner, Grower}, {Viewer, Viewer}} {
		if err := f.ChangeRole(t.Context(), f.owner, gil.ID, test.give); err != nil {
			t.Fatal(err)
		}
		if who := must(f.Who(t.Context(), in.Secret, OverHTTP))(t); who.Role != test.want {
			t.Errorf("given %s over a sign-in limited to grower: %s, want %s", test.give, who.Role, test.want)
		}
	}
}

// How long sign-ins last is the farm's own rule: months, so that a phone in
// the bag room stays signed in.
func TestSignInsAge(t *testing.T) {
	t.Parallel()
	const day = 24 * time.Hour
	for _, test := range []struct {
		name string
		uses []time.Duration // between one use and the next
		want bool
	}{
		{"179 days without use", []time.Duration{179 * day}, true},
		{"181 days without use", []time.Duration{181 * day}, false},
		{"used twice in between", []time.Duration{150 * day, 150 * day, 90 * day}, true},
		{"400 days in all", []time.Duration{150 * day, 150 * day, 100 * day}, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			f := newDeskFarm(t)
			token := must(f.NewToken(t.Context(), "office script", Viewer))(t)
			var err error
			for _, wait := range test.uses {
				f.clock.move(wait)
				_, err = f.Who(t.Context(), f.own.Secret, OverHTTPS)
			}
			if (err == nil) != test.want {
				t.Errorf("got %v, want still signed in: %v", err, test.want)
			}
			must(f.Who(t.Context(), token, OverToken))(t)
			if got := len(must(f.Devices(t.Context()))(t)); (got == 2) != test.want {
				t.Errorf("%d devices are listed beside the token's", got-1)
			}
		})
	}
}

func TestUseIsNotedOnceAMinute(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	used := func() time.Time { return must(f.Devices(t.Context()))(t)[0].UsedAt }
	start := used()
	for _, test := range []struct {
		wait time.Duration
		want time.Duration // since the start
	}{{30 * time.Second, 0}, {29 * time.Second, 0}, {time.Second, time.Minute}, {59 * time.Second, time.Minute}, {time.Second, 2 * time.Minute}} {
		f.clock.move(test.wait)
		must(f.Who(t.Context(), f.own.Secret, OverHTTPS))(t)
		if got := used().Sub(start); got != test.want {
			t.Errorf("after %s more: noted %s after the start, want %s", test.wait, got, test.want)
		}
	}
}

// A use that cannot be noted because the writer is busy keeps nobody out.
func TestWhoDoesNotWaitForAWriter(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	f.clock.move(time.Hour)
	err := f.writing(t.Context(), func(*tx) error {
		_, err := f.Who(t.Context(), f.own.Secret, OverHTTPS)
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func TestOnlyHashesAreKept(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	token := must(f.NewToken(t.Context(), "office script", Owner))(t)
	pairing, _, err := f.StartPairing(t.Context(), f.owner)
	if err != nil {
		t.Fatal(err)
	}
	for _, secret := range []string{token, f.own.Secret} {
		if b, err := base64.RawURLEncoding.DecodeString(secret); err != nil || len(b) != 32 {
			t.Errorf("%s is not 256 bits in base64url (RFC 4648 section 5): %v", secret, err)
		}
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	data := must(os.ReadFile(filepath.Join(f.dir, databaseName)))(t)
	if !bytes.Contains(data, secretSum(token)) {
		t.Fatal("the token's hash is not where it is looked for")
	}
	for _, secret := range []string{token, f.own.Secret, pairing, deskPassphrase} {
		raw, _ := base64.RawURLEncoding.DecodeString(secret)
		if bytes.Contains(data, []byte(secret)) || len(raw) == 32 && bytes.Contains(data, raw) {
			t.Errorf("%q stands in the database", secret)
		}
	}
}

func TestTidyDevice(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ give, want string }{
		{"  Phone\tof\nOdile ", "Phone of Odile"},
		{"", "a device without a name"},
		{"\x00\xff", "a device without a name"},
		{fmt.Sprintf("%0100d", 0), fmt.Sprintf("%060d", 0)},
	} {
		if got := tidyDevice(test.give); got != test.want {
			t.Errorf("%q: got %q, want %q", test.give, got, test.want)
		}
	}
}

// BenchmarkWho measures the look-up of a cookie, which each request pays,
// against the least that SQLite can be asked in a transaction.
func BenchmarkWho(b *testing.B) {
	ctx := context.Background()
	s, err := Open(ctx, b.TempDir(), Options{})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	token, err := s.NewToken(ctx, "bench", Viewer)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := s.Who(ctx, token, OverToken); err != nil {
			b.Fatal(err)
		}
	}
	whole := b.Elapsed()
	start := time.Now()
	for range b.N {
		if err := s.reading(ctx, func(t *tx) error { return t.one(`SELECT 1`, nil, new(int)) }); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(whole)/float64(time.Since(start)), "times-the-least")
}
