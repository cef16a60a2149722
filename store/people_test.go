package store

import (
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"bagmark/grow"

	"github.com/google/go-cmp/cmp"
)

func TestSetUpWorksOnce(t *testing.T) {
	t.Parallel()
	f := newBareFarm(t)
	settings := must(f.Farm(t.Context()))(t).Settings
	settings.Name, settings.TimeZone = "Invented Farm", "Europe/Lisbon"
	days := [3]float64{11, 15, 22}
	run := FirstRun{Settings: settings, OwnerName: deskOwner, Passphrase: deskPassphrase, Over: OverHTTP,
		SpeciesDays: []grow.Override{{Slug: "pleurotus-eryngii", Days: &days}}}
	var good atomic.Int32
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			in, err := f.SetUp(t.Context(), run)
			if err == nil {
				good.Add(1)
				if who, err := f.Who(t.Context(), in.Secret, OverHTTP); err != nil || who.Role != Owner {
					t.Errorf("the owner is shown as %+v, %v", who, err)
				}
			} else if grow.KindOf(err) != grow.Conflict {
				t.Errorf("got %v, want a conflict", err)
			}
		})
	}
	all.Wait()
	if good.Load() != 1 {
		t.Errorf("the farm was set up %d times", good.Load())
	}
	farm := must(f.Farm(t.Context()))(t)
	if king, _ := farm.SpeciesOf("pleurotus-eryngii", nil); !farm.SetUp || farm.Name != "Invented Farm" || king.SpawnRun.Days.Typical != days[1] {
		t.Errorf("set up %v as %q with %v days", farm.SetUp, farm.Name, king.SpawnRun.Days)
	}
	if people := must(f.People(t.Context()))(t); len(people) != 1 || people[0].Role != Owner {
		t.Errorf("people: %+v", people)
	}
}

func TestSetUpNamesEveryFault(t *testing.T) {
	t.Parallel()
	f := newBareFarm(t)
	_, err := f.SetUp(t.Context(), FirstRun{Settings: Settings{TimeZone: "Atlantis/Old Town", Margin: 0.05, FirstLookDay: 7, Units: "metric"},
		Passphrase: "password", SpeciesDays: []grow.Override{{Slug: "stone-soup"}}})
	wantKind(t, "set up", err, grow.Invalid)
	for _, field := range []string{"time_zone", "owner_name", "passphrase", "species_days[0]"} {
		if !strings.Contains(err.Error(), field+": ") {
			t.Errorf("%s is not named: %v", field, err)
		}
	}
}

func TestLastOwnerStays(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	gil := must(f.AddPerson(t.Context(), f.owner, "Gil Invented", Grower, ""))(t)
	wantKind(t, "end the only owner", f.EndPerson(t.Context(), f.owner, f.owner.PersonID), grow.Conflict)
	wantKind(t, "demote the only owner", f.ChangeRole(t.Context(), f.owner, f.owner.PersonID, Grower), grow.Conflict)
	wantKind(t, "an owner without a passphrase", f.ChangeRole(t.Context(), f.owner, gil.ID, Owner), grow.Conflict)
	for _, step := range []error{
		f.ChangePassphrase(t.Context(), f.owner, gil.ID, "", "six dry cellars"),
		f.ChangeRole(t.Context(), f.owner, gil.ID, Owner),
		f.EndPerson(t.Context(), f.owner, f.owner.PersonID),
	} {
		if step != nil {
			t.Fatal(step)
		}
	}
	wantKind(t, "end somebody twice", f.EndPerson(t.Context(), f.owner, f.owner.PersonID), grow.NotFound)
}

func TestAddPerson(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	former := must(f.AddPerson(t.Context(), f.owner, "Former Invented", Grower, ""))(t)
	if err := f.EndPerson(t.Context(), f.owner, former.ID); err != nil {
		t.Fatal(err)
	}
	grower := Actor{PersonID: 77, Role: Grower}
	for _, test := range []struct {
		name       string
		by         Actor
		person     string
		role       Role
		passphrase string
		want       grow.ErrorKind // "" for added
	}{
		{"a grower", f.owner, "Gil Invented", Grower, "six dry cellars", ""},
		{"by pairing only", f.owner, "  Pia   Invented ", Viewer, "", ""},
		{"by a grower", grower, "Ada Invented", Viewer, "", grow.Forbidden},
		{"an owner without a passphrase", f.owner, "Ada Invented", Owner, "", grow.Invalid},
		{"a sensor", f.owner, "Ada Invented", Sensor, "", grow.Invalid},
		{"no name", f.owner, "  ", Grower, "", grow.Invalid},
		{"a name of two lines", f.owner, "Ada\nInvented", Grower, "", grow.Invalid},
		{"a name in use", f.owner, "ODILE invented", Grower, "", grow.Conflict},
		{"a name in the log already", f.owner, "former Invented", Grower, "", grow.Conflict},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			added, err := f.AddPerson(t.Context(), test.by, test.person, test.role, test.passphrase)
			if test.want != "" {
				wantKind(t, test.person, err, test.want)
			} else if err != nil || added.Name != strings.Join(strings.Fields(test.person), " ") {
				t.Errorf("added %q, %v", added.Name, err)
			}
		})
	}
}

func TestPeopleListsThoseWhoEndedLast(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	a := must(f.AddPerson(t.Context(), f.owner, "Ada Invented", Grower, ""))(t)
	must(f.AddPerson(t.Context(), f.owner, "Zoe Invented", Viewer, ""))(t)
	if err := f.EndPerson(t.Context(), f.owner, a.ID); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range must(f.People(t.Context()))(t) {
		names = append(names, p.Name)
		if ended := p.EndedAt != nil; ended != (p.ID == a.ID) {
			t.Errorf("%s: ended %v", p.Name, ended)
		}
	}
	if diff := cmp.Diff([]string{deskOwner, "Zoe Invented", "Ada Invented"}, names); diff != "" {
		t.Error(diff)
	}
}

func TestChangePassphrase(t *testing.T) {
	t.Parallel()
	f := newDeskFarm(t)
	gil := must(f.AddPerson(t.Context(), f.owner, "Gil Invented", Grower, "six dry cellars"))(t)
	mine := must(f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "phone", OverHTTP, Owner))(t)
	other := must(f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "tablet", OverHTTP, Owner))(t)
	change := func(by Actor, id int64, old, passphrase string) error {
		return f.ChangePassphrase(t.Context(), by, id, old, passphrase)
	}
	wantKind(t, "without the old one", change(mine.Actor, gil.ID, "", "nine dry cellars"), grow.Forbidden)
	wantKind(t, "somebody else's", change(mine.Actor, f.owner.PersonID, "six dry cellars", "nine dry cellars"), grow.Forbidden)
	wantKind(t, "a common one", change(mine.Actor, gil.ID, "six dry cellars", "iloveyou"), grow.Invalid)
	if err := change(mine.Actor, gil.ID, "six dry cellars", "nine dry cellars"); err != nil {
		t.Fatal(err)
	}
	must(f.Who(t.Context(), mine.Secret, OverHTTP))(t)
	_, err := f.Who(t.Context(), other.Secret, OverHTTP)
	wantKind(t, "the other device", err, grow.Unauthorized)
	_, err = f.SignIn(t.Context(), "Gil Invented", "six dry cellars", "phone", OverHTTP, Owner)
	wantKind(t, "the old passphrase", err, grow.Unauthorized)
	must(f.SignIn(t.Context(), "Gil Invented", "nine dry cellars", "phone", OverHTTP, Owner))(t)
}
