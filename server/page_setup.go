package server

import (
	"cmp"
	"net/http"
	"net/url"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// setUpPage is the first page of a farm. Everything on it can be changed later.
type setUpPage struct {
	frame
	Form      form
	Addresses []string // that labels could carry
	Sheets    []choice
	Species   []setUpSpecies
}

// setUpSpecies is one species to be ticked, with its usual days.
type setUpSpecies struct {
	grow.Species
	Grown     bool
	Low, High string
	Wrong     string // with these days
}

func (s *Server) showSetUp(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	if farm.SetUp {
		return c.Redirect(http.StatusSeeOther, "/")
	}
	v := url.Values{"time_zone": {farm.TimeZone}, "public": {strings.ToLower(string(s.address(farm)))}, "default_sheet": {sheetOrUsual(farm)}}
	return s.drawSetUp(c, http.StatusOK, newForm(v))
}

func (s *Server) drawSetUp(c echo.Context, status int, f form) error {
	fr, farm, err := s.frame(c, "Set up the farm")
	if err != nil {
		return err
	}
	p := setUpPage{frame: fr, Form: f, Addresses: s.labelAddresses(farm)}
	if p.Sheets, err = s.sheetChoices(c); err != nil {
		return err
	}
	for _, sp := range farm.Species {
		key := string(sp.Slug)
		p.Species = append(p.Species, setUpSpecies{sp, f.Has("grown", key), f.Value("low-" + key), f.Value("high-" + key), cmp.Or(f.Error("low-"+key), f.Error("high-"+key))})
	}
	return s.show(c, status, "set-up", p)
}

// labelAddresses are those under which this machine is found on the network.
func (s *Server) labelAddresses(farm *store.Farm) []string {
	_, port := splitListened(farm.Listened)
	out := []string{strings.ToLower(string(s.address(farm)))}
	for _, a := range s.hosts.own() {
		if text := strings.ToLower(string(makeAddress(a.String(), port))); a.Is4() && a.IsPrivate() && text != out[0] {
			out = append(out, text)
		}
	}
	return out
}

func (s *Server) postSetUp(c echo.Context) error {
	v, err := formValues(c)
	if err != nil {
		return err
	}
	if err = s.checkSetUpCode(v.Get("code")); err == nil {
		err = s.setUpFarm(c, v)
	}
	if err == nil {
		return c.Redirect(http.StatusSeeOther, "/first")
	}
	f, ok := newForm(v).refused(err)
	if !ok {
		return err
	}
	f.values.Del("passphrase")
	f.values.Del("passphrase_again")
	return s.drawSetUp(c, statusOf(grow.KindOf(err)), f)
}

func (s *Server) setUpFarm(c echo.Context, v url.Values) error {
	ctx := c.Request().Context()
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	var p grow.Problems
	first := store.FirstRun{Settings: farm.Settings, OwnerName: typed(v, "owner_name"), Passphrase: v.Get("passphrase"), DeviceName: deviceName(c, v), Most: s.most(c.Request())}
	_, first.Over = cookieOf(c.Request())
	first.Name, first.TimeZone, first.Public, first.DefaultSheet = typed(v, "name"), typed(v, "time_zone"), typedAddress(v, "public"), v.Get("default_sheet")
	if strings.HasPrefix(first.DefaultSheet, string(grow.Letter)+"-") { // so its printer holds Letter
		first.Paper = grow.Letter
	}
	first.Grown = nil
	for _, slug := range v["grown"] {
		first.Grown = append(first.Grown, grow.Slug(slug))
		if o, ok := ownDays(v, farm, grow.Slug(slug), &p); ok {
			first.SpeciesDays = append(first.SpeciesDays, o)
		}
	}
	if v.Get("passphrase") != v.Get("passphrase_again") {
		p.Add("passphrase_again", "is not the same as the first")
	}
	if err := p.Err("the farm cannot be set up like this"); err != nil {
		return err
	}
	session, err := s.store.SetUp(ctx, first)
	if err != nil {
		return err
	}
	s.closeSetUp()
	return s.keepSignedIn(c, session)
}

// typedAddress is an address for labels; one without http:// is meant to have it.
func typedAddress(v url.Values, name string) string {
	s := typed(v, name)
	if s != "" && !strings.Contains(s, "://") && !strings.Contains(s, " ") {
		return "http://" + s
	}
	return s
}

// ownDays reads "yours are usually grown over in __-__ days" of a species; the
// typical day is in the middle.
func ownDays(v url.Values, farm *store.Farm, slug grow.Slug, p *grow.Problems) (grow.Override, bool) {
	low, high := numberField(v, "low-"+string(slug), p), numberField(v, "high-"+string(slug), p)
	if low == nil && high == nil {
		return grow.Override{}, false
	}
	sp, _ := farm.SpeciesOf(slug, nil)
	if low == nil || high == nil || *low >= *high {
		p.Add("low-"+string(slug), "%s: say both days, the lower one first", sp.Name)
		return grow.Override{}, false
	}
	return grow.Override{Slug: slug, Days: &[3]float64{*low, (*low + *high) / 2, *high}}, true
}

// deviceName is what a person calls this phone or computer, else what its
// browser says of itself, shortened to a word.
func deviceName(c echo.Context, v url.Values) string {
	if name := typed(v, "device"); name != "" {
		return name
	}
	agent := c.Request().UserAgent()
	for _, kind := range [][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android phone"}, {"Windows", "Windows computer"}, {"Macintosh", "Mac"}, {"Linux", "Linux computer"}} {
		if strings.Contains(agent, kind[0]) {
			return kind[1]
		}
	}
	return "browser"
}

// firstPage follows the set-up: two next steps and nothing else.
type firstPage struct{ frame }

func (s *Server) showFirst(c echo.Context) error {
	f, _, err := s.frame(c, "Ready")
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "first", firstPage{f})
}
