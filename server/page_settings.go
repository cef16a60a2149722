package server

import (
	"net/http"
	"net/url"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// settingsPage is what an owner may change of the whole farm.
type settingsPage struct {
	frame
	Form      form
	Addresses []string
	Sheets    []choice
	Species   []choice
	Saved     bool
	Nowhere   string // the address that no phone finds, if the labels bear it
}

func (s *Server) showSettings(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	v := url.Values{"name": {farm.Name}, "time_zone": {farm.TimeZone}, "public": {strings.ToLower(farm.Public)}, "default_sheet": {sheetOrUsual(farm)},
		"margin": {numberWords(100 * farm.Margin)}, "first_look_day": {numberWords(float64(farm.FirstLookDay))}, "buyer_lines": {farm.BuyerLines},
		"f0_target": {numberWords(farm.F0Target)}, "f0_target_steam": {numberWords(farm.F0TargetSteam)}, "altitude_m": {numberWords(farm.AltitudeM)},
		"load_bags": {onlyIf(farm.LoadBags > 0, numberWords(float64(farm.LoadBags)))}}
	for _, w := range writingFields {
		v.Set(w.name, *w.of(&farm.Writing))
	}
	for _, slug := range farm.Grown {
		v.Add("grown", string(slug))
	}
	return s.drawSettings(c, http.StatusOK, newForm(v))
}

func (s *Server) drawSettings(c echo.Context, status int, form form) error {
	f, farm, err := s.frame(c, "Settings")
	if err != nil {
		return err
	}
	p := settingsPage{frame: f, Form: form, Addresses: s.labelAddresses(farm), Species: speciesChoices(farm), Saved: c.QueryParam("saved") != "", Nowhere: nowhere(s.address(farm))}
	if p.Sheets, err = s.sheetChoices(c); err != nil {
		return err
	}
	return s.show(c, status, "settings", p)
}

func (s *Server) postSettings(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	err = s.store.PutSettings(c.Request().Context(), actorOf(c), func(settings *store.Settings) error { return settingsFrom(v, settings) })
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/settings?saved=1")
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawSettings(c, statusOf(grow.KindOf(err)), f)
}

// settingsFrom writes what the form says onto the settings.
func settingsFrom(v url.Values, to *store.Settings) error {
	var p grow.Problems
	to.Name, to.TimeZone, to.Public, to.DefaultSheet = typed(v, "name"), typed(v, "time_zone"), typedAddress(v, "public"), v.Get("default_sheet")
	if to.DefaultSheet == usualOn(to.Paper) { // nobody chose: it follows the paper
		to.DefaultSheet = ""
	}
	to.BuyerLines = typed(v, "buyer_lines")
	writingFrom(v, to)
	if n := numberField(v, "margin", &p); n != nil {
		to.Margin = *n / 100
	}
	to.FirstLookDay = countField(v, "first_look_day", &p)
	for name, into := range map[string]*float64{"f0_target": &to.F0Target, "f0_target_steam": &to.F0TargetSteam, "altitude_m": &to.AltitudeM} {
		if n := numberField(v, name, &p); n != nil {
			*into = *n
		}
	}
	if typed(v, "load_bags") == "" {
		to.LoadBags = 0
	} else {
		to.LoadBags = countField(v, "load_bags", &p)
	}
	to.Grown = nil
	for _, slug := range v["grown"] {
		to.Grown = append(to.Grown, grow.Slug(slug))
	}
	return p.Err("these settings cannot be kept as they are")
}

// conditionsPage lists the farm's process flags and adds one.
type conditionsPage struct {
	frame
	Conditions []grow.Condition
	Form       form
	Open       bool
}

// Levels say what a condition is usually of.
func (p conditionsPage) Levels() []choice {
	return []choice{{"bag", "one bag"}, {"batch", "a whole batch"}}
}

func (s *Server) showConditions(c echo.Context) error {
	return s.drawConditions(c, http.StatusOK, formOf("level", "bag"), false)
}

func (s *Server) drawConditions(c echo.Context, status int, form form, open bool) error {
	f, farm, err := s.frame(c, "Conditions")
	if err != nil {
		return err
	}
	p := conditionsPage{frame: f, Form: form, Open: open}
	for _, key := range farm.Conditions.Keys() {
		p.Conditions = append(p.Conditions, farm.Conditions[key])
	}
	return s.show(c, status, "conditions", p)
}

// postCondition adds a condition, or changes what one prints.
func (s *Server) postCondition(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	cond := grow.Condition{Key: keyOf(typed(v, "key")), Label: typed(v, "label"), Level: grow.Level(v.Get("level")), Short: strings.ToUpper(typed(v, "short")),
		Pen: strings.ToUpper(typed(v, "pen")), Shorts: map[string]string{}, Explains: typed(v, "explains")}
	for _, value := range strings.FieldsFunc(v.Get("values"), func(r rune) bool { return r == ',' || r == '\n' }) {
		if key := keyOf(value); key != "" {
			cond.Values = append(cond.Values, key)
			if word := typed(v, "shorts."+key); word != "" {
				cond.Shorts[key] = strings.ToUpper(word)
			}
		}
	}
	if normal := keyOf(v.Get("normal")); normal != "" {
		cond.Normal = &normal
	}
	if cond.Key == "" {
		cond.Key = keyOf(cond.Label)
	}
	if err = s.store.PutCondition(c.Request().Context(), actorOf(c), cond); err == nil {
		return c.Redirect(http.StatusSeeOther, "/conditions#c-"+cond.Key)
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	return s.drawConditions(c, statusOf(grow.KindOf(err)), f, true)
}

// keyOf makes a key of what a person calls a thing: "Still-air box" becomes
// still_air_box.
func keyOf(words string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(words), func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9')
	}), "_")
}
