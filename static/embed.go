// Package static is what a browser fetches beside pages: style sheets, scripts
// and icons, compiled into the program.
//
// Start with [Path], which gives the address of a file. Every address carries a
// hash of the whole tree, so a browser may keep what it has for ever and still
// never mixes two versions. The package must never hold anything that is not
// public: whoever reaches the server may read all of it.
package static

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"slices"
)

//go:embed css js icons
var files embed.FS

// Prefix is the path under which the files are served.
const Prefix = "/static/"

var hash = hashOf(files)

// Hash is that of the whole tree.
func Hash() string { return hash }

// Files are the files by the names that [Path] takes.
func Files() fs.FS { return files }

// Path is the address of a file such as css/base.css. It panics if there is no
// such file: a page that asks for one is a mistake of the program.
func Path(name string) string {
	if _, err := fs.Stat(files, name); err != nil {
		panic("static: " + err.Error())
	}
	return Prefix + hash + "/" + name
}

// hashOf covers names and contents in a fixed order.
func hashOf(tree fs.FS) string {
	var names []string
	err := fs.WalkDir(tree, ".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			names = append(names, path)
		}
		return err
	})
	if err != nil {
		panic("static: " + err.Error())
	}
	slices.Sort(names)
	sum := sha256.New()
	for _, name := range names {
		data, err := fs.ReadFile(tree, name)
		if err != nil {
			panic("static: " + err.Error())
		}
		one := sha256.Sum256(data)
		sum.Write([]byte(name + "\x00"))
		sum.Write(one[:])
	}
	return hex.EncodeToString(sum.Sum(nil))[:16]
}
