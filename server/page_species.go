package server

import (
	"net/http"
	"net/url"

	"bagmark/grow"
	"bagmark/grow/climate"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// speciesListPage lists species, those grown here first.
type speciesListPage struct {
	frame
	Species []grow.Species
	Strains []grow.Override
}

func (s *Server) showSpeciesList(c echo.Context) error {
	f, farm, err := s.frame(c, "Species")
	if err != nil {
		return err
	}
	p := speciesListPage{frame: f}
	for _, o := range farm.Own {
		if o.Strain != "" {
			p.Strains = append(p.Strains, o)
		}
	}
	for _, choice := range speciesChoices(farm) {
		sp, _ := farm.SpeciesOf(grow.Slug(choice.Value), nil)
		p.Species = append(p.Species, sp)
	}
	return s.show(c, http.StatusOK, "species-list", p)
}

// speciesPage shows a species' figures with what each rests on, and sets the
// farm's own.
type speciesPage struct {
	frame
	Species grow.Species
	Form    form
	Open    bool
	Strains []string
	Fits    []strainFit
}

// strainFit is what the farm's own batches tell of a strain's temperatures.
type strainFit struct{ Strain, Words string }

// ReadyRules are what ready can mean.
func (p speciesPage) ReadyRules() []choice {
	var out []choice
	for _, r := range grow.ReadyRules() {
		out = append(out, choice{string(r), string(r)})
	}
	return out
}

func (s *Server) showSpecies(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	sp, err := speciesParam(c, farm)
	if err != nil {
		return err
	}
	d, t := sp.SpawnRun.Days, sp.SpawnRun.TempC
	v := formOf("name", sp.Name, "short", sp.Short, "low", numberWords(d.Low), "typical", numberWords(d.Typical), "high", numberWords(d.High), "t_low", farm.TempTyped(t.Low),
		"t_target", farm.TempTyped(t.Typical), "t_high", farm.TempTyped(t.High), "ripe_low", numberWords(sp.RipeningDays.Low), "ripe_high", numberWords(sp.RipeningDays.High), "ready", string(sp.Ready))
	return s.drawSpecies(c, http.StatusOK, sp, v, false)
}

func speciesParam(c echo.Context, farm *store.Farm) (grow.Species, error) {
	slug, err := param(c, "slug")
	if err != nil {
		return grow.Species{}, err
	}
	sp, ok := farm.SpeciesOf(grow.Slug(slug), nil)
	if !ok {
		return sp, grow.Errorf(grow.NotFound, "%q is not a species this farm knows", slug)
	}
	return sp, nil
}

func (s *Server) drawSpecies(c echo.Context, status int, sp grow.Species, form form, open bool) error {
	f, farm, err := s.frame(c, sp.Name)
	if err != nil {
		return err
	}
	used, err := s.store.Used(c.Request().Context())
	if err != nil {
		return err
	}
	p := speciesPage{frame: f, Species: sp, Form: form, Open: open, Strains: used.Strains[sp.Slug]}
	fits, err := s.store.GrowthFits(c.Request().Context(), sp.Slug)
	for _, fit := range fits {
		p.Fits = append(p.Fits, strainFit{fit.Strain, climate.FitWords(fit.StrainFit, sp.Growth, farm.Writing)})
	}
	if err != nil {
		return err
	}
	return s.show(c, status, "species", p)
}

func (s *Server) postSpecies(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	sp, err := speciesParam(c, farm)
	if err != nil {
		return err
	}
	var p grow.Problems
	o := parseSpecies(v, sp, farm.Writing, &p)
	if err = p.Err("these figures cannot be kept as they are"); err == nil {
		err = s.store.PutSpecies(ctx, actorOf(c), o)
	}
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/species/"+string(sp.Slug))
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawSpecies(c, statusOf(grow.KindOf(err)), sp, f, true)
}

// parseSpecies reads the farm's own figures; what is as it was is not made the
// farm's own.
func parseSpecies(v url.Values, sp grow.Species, u grow.Units, p *grow.Problems) grow.Override {
	o := grow.Override{Slug: sp.Slug, Strain: typed(v, "strain")}
	if o.Strain == "" {
		o.Name, o.Short = changed(v, "name", sp.Name), changed(v, "short", sp.Short)
	}
	if d := numbersField(v, p, "low", "typical", "high"); len(d) == 3 && [3]float64(d) != sp.SpawnRun.Days.Numbers() {
		o.Days = (*[3]float64)(d)
	}
	t := numbersField(v, p, "t_low", "t_target", "t_high")
	for i := range t {
		t[i] = u.TempC(t[i])
	}
	if len(t) == 3 && [3]float64(t) != sp.SpawnRun.TempC.Numbers() {
		o.TempC = (*[3]float64)(t)
	}
	if r := numbersField(v, p, "ripe_low", "ripe_high"); len(r) == 2 && (r[0] != sp.RipeningDays.Low || r[1] != sp.RipeningDays.High) {
		o.RipeningDays = (*[2]float64)(r)
	}
	if ready := grow.ReadyRule(v.Get("ready")); ready != sp.Ready {
		o.Ready = &ready
	}
	return o
}

func changed(v url.Values, name, was string) *string {
	if now := text(v, name); now != nil && *now != was {
		return now
	}
	return nil
}

// numbersField are the numbers of several fields, none if one is missing.
func numbersField(v url.Values, p *grow.Problems, names ...string) []float64 {
	var out []float64
	for _, name := range names {
		n := numberField(v, name, p)
		if n == nil {
			p.Add(name, "is missing")
			return nil
		}
		out = append(out, *n)
	}
	return out
}
