package server

import (
	"io/fs"
	"mime"
	"net/http"
	"path"

	"bagmark/grow"
	"bagmark/static"

	"github.com/labstack/echo/v4"
)

// getAsset serves what a browser fetches beside pages. The address carries the
// hash of all of it, so a browser may keep it for ever; an older hash is no
// longer there.
func (s *Server) getAsset(c echo.Context) error {
	name := c.Param("*")
	if c.Param("hash") != static.Hash() || !fs.ValidPath(name) {
		return grow.Errorf(grow.NotFound, "there is nothing at this address")
	}
	data, err := fs.ReadFile(static.Files(), name)
	if err != nil {
		return grow.Errorf(grow.NotFound, "there is nothing at this address")
	}
	kind := mime.TypeByExtension(path.Ext(name))
	if path.Ext(name) == ".js" {
		kind = "text/javascript; charset=utf-8" // some systems' own tables say otherwise
	}
	c.Response().Header().Set(echo.HeaderCacheControl, "public, max-age=31536000, immutable")
	return c.Blob(http.StatusOK, kind, static.Lean(name, data))
}
