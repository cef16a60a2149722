package server

import (
	"bytes"
	"embed"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"strings"

	"bagmark/grow"
	"bagmark/static"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

//go:embed pages/*.html
var pageFiles embed.FS

// frame is what every page has: where it is, whose farm it is, who looks at it.
type frame struct {
	Title string // where I am
	Path  string // of this page, for the navigation
	Farm  string
	U     grow.Units   // as the farm writes
	Actor *store.Actor // nil while nobody is signed in
	Theme string       // light, dark or "" for the phone's own setting
	Hand  string       // left, or "" for right
	Body  string       // a class of the whole page
	Now   string       // the farm's clock, for a phone whose own is wrong
	// Printed is the day, for a page on paper.
	Printed string
	// Secure is the farm's address over HTTPS on a page that came over plain
	// HTTP, "" where there is none.
	Secure string
}

// word is one line of the navigation.
type word struct{ Path, Word string }

// wordGroup are words that belong together.
type wordGroup struct {
	Name  string
	Words []word
}

// Navigation are the words of whoever looks at the page, group by group: what is
// done all day stands first.
func (f frame) Navigation() []wordGroup {
	if f.Actor == nil {
		return nil
	}
	daily, making := []word{{"/", "Today"}, {"/scan", "Scan"}}, []word{}
	if f.Actor.Role.May(store.Grower) {
		daily = append(daily, word{"/bench", "Bench"}, word{"/sweep", "Sweep"})
		making = append(making, word{"/lab-day", "New lab day"}, word{"/substrate", "Substrate"})
	}
	farm := []word{{"/cautions", "Cautions"}, {"/about", "About"}}
	if f.Actor.Role.May(store.Owner) {
		farm = append(farm, word{"/people", "People and phones"}, word{"/settings", "Settings"})
	}
	return []wordGroup{
		{"Every day", daily},
		{"Making", append(making, word{"/batches", "Batches"}, word{"/print", "Print"})},
		{"Growing and picking", []word{{"/rooms", "Rooms"}, {"/week-ahead", "Week ahead"}, {"/fruiting", "To fruiting"}, {"/yield", "Yield"}, {"/sold", "Sold and given"}}},
		{"Where it came from", []word{{"/lots", "Lots"}, {"/runs", "Steriliser"}, {"/contamination", "Contamination"}, {"/compare", "Compare"}}},
		{"The farm", farm},
	}
}

// May tells whether whoever looks at the page has the rights of a role.
func (f frame) May(role string) bool { return f.Actor != nil && f.Actor.Role.May(store.Role(role)) }

// clockLayout tells a time to the millisecond, as scripts read it.
const clockLayout = "2006-01-02T15:04:05.000Z07:00"

// views are the parsed pages by name.
type views map[string]*template.Template

// parseViews reads every page: pages/NAME.html beside the layout and the parts,
// whose names begin with an underscore.
func parseViews(u grow.Units) (views, error) {
	base, err := template.New("").Funcs(viewFuncs(u)).ParseFS(pageFiles, "pages/_*.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(pageFiles, "pages/[a-z]*.html")
	if err != nil {
		return nil, err
	}
	out := views{}
	for _, name := range names {
		t, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if _, err := t.ParseFS(pageFiles, name); err != nil {
			return nil, err
		}
		out[strings.TrimSuffix(path.Base(name), ".html")] = t
	}
	return out, nil
}

// draw renders a page into memory, so that a fault shows as an error and never
// as half a page.
func (v views) draw(name string, page any) ([]byte, error) {
	t, ok := v[name]
	if !ok {
		return nil, grow.Errorf(grow.Internal, "there is no page %s", name)
	}
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "layout", page); err != nil {
		return nil, &grow.Error{Kind: grow.Internal, Message: "this page could not be drawn", Cause: err}
	}
	return b.Bytes(), nil
}

// viewFuncs are what pages may call; temperatures, masses and times come out as the
// farm writes them.
func viewFuncs(u grow.Units) template.FuncMap {
	return template.FuncMap{
		"asset":   static.Path,
		"newid":   newID,
		"day":     dayWords,
		"date":    dateWords,
		"iso":     grow.Date.String,
		"clock":   u.Time,
		"when":    u.DayTime,
		"number":  numberWords,
		"share":   shareWords,
		"tenth":   tenthWords,
		"weight":  u.Mass,
		"weighed": u.Weighed, "bulk": u.Bulk, "small": u.Small, "small_unit": func() string { return u.Unit(grow.Kitchen) }, "large_unit": func() string { return u.Unit(grow.Bucket) },
		"prose": u.Prose, "temp": u.TempWords, "degrees": u.TempTyped, "differ": u.TempDifference, "degree": u.DegreeSign,
		"plain":   plainWords,
		"age":     grow.Age,
		"plural":  plural,
		"capital": capital, "fieldwords": fieldWords,
		"deref":      deref,
		"deref_bool": func(b *bool) bool { return b != nil && *b },
		"entry":      func(e grow.Entry) string { return entryWords(e, u) }, "relabel": relabelWords,
		"caution": cautionOf,
		"pathof":  func(k grow.CodeKind, c grow.Code) string { return k.Path(c) },
		"add":     func(a, b int) int { return a + b },
	}
}

// frame begins a page; the farm comes with it, since almost every page needs
// both.
func (s *Server) frame(c echo.Context, title string) (frame, *store.Farm, error) {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return frame{}, nil, err
	}
	f := frame{Title: title, Path: c.Request().URL.Path, Farm: farm.Name, U: farm.Writing, Theme: cookieValue(c, cookieTheme), Now: s.store.Now().UTC().Format(clockLayout),
		Printed: dateWords(grow.DateOf(s.store.Now(), farm.Zone))}
	f.Hand = onlyIf(cookieValue(c, cookieHand) == "left", "left")
	if f.Theme != "light" && f.Theme != "dark" {
		f.Theme = ""
	}
	if who := actorOf(c); who.Role != "" {
		f.Actor = &who
	}
	if c.Request().TLS == nil {
		f.Secure = s.secureHere(c, farm)
	}
	return f, farm, nil
}

// show answers with a page.
func (s *Server) show(c echo.Context, status int, name string, page any) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	pages, err := s.pages.of(farm.Writing)
	if err != nil {
		return err
	}
	html, err := pages.draw(name, page)
	if err != nil {
		return err
	}
	if who := actorOf(c); who.Role != "" {
		c.Response().Header().Set(forHeader, ownerTag(who))
	}
	return c.HTMLBlob(status, html)
}

// formValues are the fields of a posted form, never those of the address.
func formValues(c echo.Context) (url.Values, error) {
	if err := c.Request().ParseForm(); err != nil {
		return nil, err
	}
	return c.Request().PostForm, nil
}

// codedForm is the code that a form is about, from its address, and its fields.
func codedForm(c echo.Context) (grow.Code, url.Values, error) {
	code, err := codeParam(c)
	if err != nil {
		return "", nil, err
	}
	v, err := formValues(c)
	return code, v, err
}

// backTo leads on to a page once its form was taken, or draws it again with what
// was typed and why it was refused.
func backTo(c echo.Context, page string, v url.Values, refusal error, draw func(status int, f form) error) error {
	if refusal == nil {
		return c.Redirect(http.StatusSeeOther, page)
	}
	f, ok := newForm(v).refused(refusal)
	if !ok {
		return refusal
	}
	return draw(statusOf(grow.KindOf(refusal)), f)
}

// errorPage says what was refused and what to do next.
type errorPage struct {
	frame
	Status  int
	Message string
	Fields  map[string]string
	Missing bool // nothing is there
}

// renderError shows an error to a person. Whoever is not signed in is led
// there, and a farm that is not set up to its first page.
func (s *Server) renderError(c echo.Context, e *grow.Error) error {
	s.visitor(c)
	f, farm, err := s.frame(c, "Not done")
	if err != nil {
		return err
	}
	r := c.Request()
	if e.Kind == grow.Unauthorized && (r.Method == http.MethodGet || r.Method == http.MethodHead) {
		if !farm.SetUp {
			return c.Redirect(http.StatusSeeOther, "/set-up")
		}
		return c.Redirect(http.StatusSeeOther, "/sign-in?next="+url.QueryEscape(localPath(r.URL.RequestURI(), "/")))
	}
	p := errorPage{frame: f, Status: statusOf(e.Kind), Message: e.Message, Fields: e.Fields, Missing: e.Kind == grow.NotFound}
	return s.show(c, p.Status, "error", p)
}
