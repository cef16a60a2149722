package store

import (
	"bytes"
	"encoding/json"
	"regexp"
	"time"

	"bagmark/grow"
)

// A backup is a ZIP file without compression: farm.db, the photos under
// photos/, and manifest.json, which names every other file with its size and
// SHA-256. The ZIP's comment is the SHA-256, in hex, of all bytes of the file
// before the comment, so that one look tells whether the file is whole.

const (
	manifestName  = "manifest.json"
	mostManifest  = 64 << 20
	commentLength = 64
)

// manifest says what a backup holds.
type manifest struct {
	MadeAt        time.Time      `json:"made_at"`
	SchemaVersion int            `json:"schema_version"`
	Files         []manifestFile `json:"files"`
}

type manifestFile struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
}

var photoNameShape = regexp.MustCompile(`^photos/([0-9a-f]{2})/([0-9a-f]{32})\.jpg$`)

// photoOfName is the id of the photo whose file has this name in a backup.
func photoOfName(name string) (id string, ok bool) {
	m := photoNameShape.FindStringSubmatch(name)
	if m == nil || m[1] != m[2][:2] {
		return "", false
	}
	return m[2], true
}

// named tells whether a backup may hold a file of this name beside its
// manifest. There are no others, so no name can lead out of the folder.
func named(name string) bool {
	_, photo := photoOfName(name)
	return photo || name == databaseName
}

// readManifest reads a manifest and holds it against itself: each name allowed
// and there once, the database among them.
func readManifest(data []byte) (manifest, error) {
	var m manifest
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil || d.More() {
		return m, damaged("its manifest cannot be read", err)
	}
	seen := map[string]bool{}
	for _, f := range m.Files {
		if !named(f.Name) || seen[f.Name] || f.Size < 0 || len(f.SHA256) != 64 {
			return m, damaged("its manifest names what a backup cannot hold", nil)
		}
		seen[f.Name] = true
	}
	if !seen[databaseName] {
		return m, damaged("it holds no database", nil)
	}
	return m, nil
}

// damaged says that a file is no backup, or one that cannot be relied on.
func damaged(why string, cause error) error {
	return &grow.Error{Kind: grow.Invalid, Message: "this is not a whole bagmark backup: " + why, Cause: cause}
}
