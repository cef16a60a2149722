package server

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"net/http"
	"path"

	"bagmark/grow"
	"bagmark/static"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// forHeader names whose page an answer is, so that a phone never keeps one for
// somebody else: a mark of the device, the person and the role, of no use for
// anything more.
const forHeader = "Bagmark-For"

func ownerTag(who store.Actor) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d/%d/%s", who.DeviceID, who.PersonID, who.Role))
	return hex.EncodeToString(sum[:8])
}

// workerFile is the one script that stands at the root, since a service worker
// looks after what lies beside and below it.
const workerFile = "js/worker.js"

// getWorker serves it with the hash and the names of all that pages are made of,
// so that it is another script as soon as one of them is.
func (s *Server) getWorker(c echo.Context) error {
	var shell []string
	err := fs.WalkDir(static.Files(), ".", func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && name != workerFile && path.Ext(name) != ".png" {
			shell = append(shell, static.Path(name))
		}
		return err
	})
	if err != nil {
		return err
	}
	names, err := json.Marshal(shell)
	if err != nil {
		return err
	}
	script, err := fs.ReadFile(static.Files(), workerFile)
	if err != nil {
		return err
	}
	head := fmt.Appendf(nil, "const HASH = %q;\nconst SHELL = %s;\n", static.Hash(), names)
	h := c.Response().Header()
	h.Set("Service-Worker-Allowed", "/")
	h.Set(echo.HeaderCacheControl, "no-cache")
	return c.Blob(http.StatusOK, "text/javascript; charset=utf-8", append(head, static.Lean(workerFile, script)...))
}

// mostAhead is how many bags a phone is told about for when the farm is out of
// reach: at 25 kB each, five megabytes.
const mostAhead = 200

// getAhead names the pages that a phone should have by then: the bags of its
// open round and those that are due.
func (s *Server) getAhead(c echo.Context) error {
	ctx, who := c.Request().Context(), actorOf(c)
	paths := []string{"/", "/scan"}
	if who.Role.May(store.Grower) {
		paths = append(paths, "/bench", "/sweep")
	}
	state, err := s.deviceState(ctx, who)
	if err != nil {
		return err
	}
	due, err := s.store.Due(ctx, "", mostAhead)
	if err != nil {
		return err
	}
	var bags []grow.Code
	if state.Sweep != nil {
		for _, b := range state.Sweep.Bags {
			bags = append(bags, b.Code)
		}
	}
	for _, item := range due.Items {
		bags = append(bags, item.Bag)
	}
	for _, code := range bags[:min(len(bags), mostAhead)] {
		paths = append(paths, grow.BagCode.Path(code))
	}
	return answer(c, http.StatusOK, struct {
		Tag   string   `json:"tag"`
		Paths []string `json:"paths"`
	}{ownerTag(who), paths})
}
