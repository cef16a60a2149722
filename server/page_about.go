package server

import (
	"net/http"
	"runtime"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// cautionsPage lists the usual cautions.
type cautionsPage struct {
	frame
	Cautions []grow.Caution
	Closed   string
}

func (s *Server) showCautions(c echo.Context) error {
	f, _, err := s.frame(c, "Cautions")
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "cautions", cautionsPage{f, grow.Cautions(), grow.KeepClosed})
}

// aboutPage says what program this is and where its figures come from.
type aboutPage struct {
	frame
	Version, Go, SQLite string
	Species             []grow.Species
	Contaminants        []grow.Contaminant
}

func (s *Server) showAbout(c echo.Context) error {
	f, farm, err := s.frame(c, "About")
	if err != nil {
		return err
	}
	sqlite, err := store.Version()
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "about", aboutPage{frame: f, Version: s.version, Go: runtime.Version(), SQLite: sqlite, Species: farm.Species, Contaminants: grow.Contaminants()})
}
