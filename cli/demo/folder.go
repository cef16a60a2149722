package demo

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"strings"

	"bagmark/grow"
)

// noteName is the file that marks a folder as a demo farm's. It is written
// last: a farm whose making was cut short has none.
const noteName = "demo.json"

// SignIn is how to sign in to a demo farm.
type SignIn struct {
	Name       string `json:"name"`
	Passphrase string `json:"passphrase"`
}

// Made tells how to sign in to the demo farm in dir; false if there is none.
func Made(dir string) (SignIn, bool) {
	var s SignIn
	text, err := os.ReadFile(filepath.Join(dir, noteName))
	return s, err == nil && json.Unmarshal(text, &s) == nil && s.Name != ""
}

func (s SignIn) write(dir string) error {
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, noteName), append(text, '\n'), 0o600)
}

// mustBeEmpty refuses a folder with anything in it: what is there may be
// somebody's farm.
func mustBeEmpty(dir string) error {
	list, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return &grow.Error{Kind: grow.Invalid, Message: "the folder " + dir + " cannot be read", Cause: err}
	case len(list) > 0:
		return grow.Errorf(grow.Conflict, "the folder %s is not empty and is no demo farm's: give a new one", dir)
	}
	return nil
}

// emptyAgain takes away what a making that failed has left behind.
func emptyAgain(dir string) error {
	list, err := os.ReadDir(dir)
	for _, f := range list {
		err = errors.Join(err, os.RemoveAll(filepath.Join(dir, f.Name())))
	}
	return err
}

// The words of passphrases: short, and hard to take for one another.
var passWords = strings.Fields(`anchor barley basket beacon bramble candle canvas cedar cobble copper cradle drizzle ember fathom ferry flannel
	flint gannet ginger granite hammock harvest heather hemlock iron juniper kelp kettle ladder lantern limpet linen marble mallet meadow mussel
	nettle oatcake orchard osprey paddle pebble pewter plover puffin quarry ribbon rowan saddle samphire shingle skiff slate sorrel spindle
	tallow thimble thistle timber tinder trellis walnut willow winter`)

// newPassphrase draws five words.
func newPassphrase() (string, error) {
	words := make([]string, 5)
	for i := range words {
		n, err := rand.Int(rand.Reader, big.NewInt(int64(len(passWords))))
		if err != nil {
			return "", err
		}
		words[i] = passWords[n.Int64()]
	}
	return strings.Join(words, " "), nil
}
