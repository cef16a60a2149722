package server

import (
	"encoding/json"
	"net/http"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// getSpecies lists the species as the farm has them, and after them the strains
// that have figures of their own.
func (s *Server) getSpecies(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	strains := []grow.Species{}
	for _, own := range farm.Own {
		if own.Strain == "" {
			continue
		}
		if species, ok := farm.SpeciesOf(own.Slug, &own.Strain); ok {
			strains = append(strains, species)
		}
	}
	return answer(c, http.StatusOK, map[string][]grow.Species{"species": farm.Species, "strains": strains})
}

// speciesBody is the farm's own word on a species, written as a species is.
// What is left out stays as it was.
type speciesBody struct {
	Slug         grow.Slug       `json:"slug"` // the path's, if given
	Strain       string          `json:"strain"`
	Name         *string         `json:"name"`
	Short        *string         `json:"short"`
	Latin        *string         `json:"latin"`
	SpawnRun     *spawnRunBody   `json:"spawn_run"`
	RipeningDays *lowHigh        `json:"ripening_days"`
	Ready        *grow.ReadyRule `json:"ready"`
}

type spawnRunBody struct {
	Days  *[3]float64 `json:"days"`
	TempC *[3]float64 `json:"temp_c"`
}

// lowHigh reads [low, high] or {"low": …, "high": …}, as a species shows it.
type lowHigh [2]float64

func (l *lowHigh) UnmarshalJSON(raw []byte) error {
	var named struct{ Low, High *float64 }
	var list []float64
	switch {
	case json.Unmarshal(raw, &list) == nil && len(list) == 2:
		*l = lowHigh(list)
	case json.Unmarshal(raw, &named) == nil && named.Low != nil && named.High != nil:
		*l = lowHigh{*named.Low, *named.High}
	default:
		return grow.Errorf(grow.Invalid, "must be two numbers, the lower one first")
	}
	return nil
}

func (b speciesBody) override(slug grow.Slug) grow.Override {
	o := grow.Override{Slug: slug, Strain: b.Strain, Name: b.Name, Short: b.Short, Latin: b.Latin, RipeningDays: (*[2]float64)(b.RipeningDays), Ready: b.Ready}
	if b.SpawnRun != nil {
		o.Days, o.TempC = b.SpawnRun.Days, b.SpawnRun.TempC
	}
	return o
}

// putSpecies sets the farm's own figures of a species, or of one strain of it.
func (s *Server) putSpecies(c echo.Context) error {
	text, err := param(c, "slug")
	if err != nil {
		return err
	}
	slug := grow.Slug(text)
	var body speciesBody
	if err := readJSON(c, &body); err != nil {
		return err
	}
	if body.Slug != "" && body.Slug != slug {
		p := grow.Problems{"slug": "is not the one of the address"}
		return p.Err("these figures cannot be kept as they are")
	}
	ctx := c.Request().Context()
	if err := s.store.PutSpecies(ctx, actorOf(c), body.override(slug)); err != nil {
		return err
	}
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	species, _ := farm.SpeciesOf(slug, &body.Strain)
	return answer(c, http.StatusOK, map[string]grow.Species{"species": species})
}
