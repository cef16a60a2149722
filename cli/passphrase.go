package cli

import (
	"bufio"
	"errors"
	"io"
	"slices"
	"strings"

	"bagmark/grow"
	"bagmark/store"
)

// passphrase gives somebody a new passphrase from the first line of standard
// input. It is for whoever holds the farm's computer: the way back for an owner
// who has forgotten theirs.
func passphrase(c *call) error {
	data := c.String("data", "", "the farm's `folder`")
	name := c.String("name", "", "the person's name, as on the page of people")
	if err := c.parse("data", "name"); err != nil {
		return err
	}
	return c.withFarm(*data, func(s *store.Store) error {
		people, err := s.People(c.ctx)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(people, func(p store.Person) bool {
			return strings.EqualFold(p.Name, strings.TrimSpace(*name)) && p.EndedAt == nil
		})
		if at < 0 {
			return grow.Errorf(grow.NotFound, "nobody on this farm is called %s; there are %s", *name, namesOf(people))
		}
		io.WriteString(c.stdout, "type the new passphrase for "+people[at].Name+" and press Enter:\n")
		line, err := bufio.NewReader(c.stdin).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if err := s.ChangePassphrase(c.ctx, store.Actor{Person: "the console", Role: store.Owner}, people[at].ID, "", strings.TrimRight(line, "\r\n")); err != nil {
			return err
		}
		_, err = io.WriteString(c.stdout, "kept; devices that were signed in as "+people[at].Name+" sign in again\n")
		return err
	})
}

func namesOf(people []store.Person) string {
	var names []string
	for _, p := range people {
		if p.EndedAt == nil {
			names = append(names, p.Name)
		}
	}
	return strings.Join(names, ", ")
}
