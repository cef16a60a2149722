package server

import (
	"context"
	"log/slog"
	"net/http"

	"bagmark/grow"
	"bagmark/scanner"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// Server serves one farm. It is safe for concurrent use.
type Server struct {
	store   *store.Store
	log     *slog.Logger
	version string
	echo    *echo.Echo
	hosts   *hostList
	limits  *limits
	origin  *http.CrossOriginProtection
	devices turns
	reader  *scanner.Reader
	films   films
	photos  gate // re-encoding of photos
	lists   gate // of entries, of more than a megabyte
	// what is in memory of large bodies under way
	heldPictures, heldEntries held
	setUp                     setUpCode
	secure                    *secure // nil without HTTPS
	backups                   backups
	pages                     pageSet
}

// Options are what a server needs besides the farm.
type Options struct {
	Store   *store.Store // required
	Log     *slog.Logger // nothing is logged if nil
	Version string       // shown by /healthz
	// TLS is "off" or empty, or "local" for HTTPS by an authority of the farm's
	// own, which is kept in TLSFolder.
	TLS, TLSFolder string
	// BackupTo is the folder for daily backups, "" for none.
	BackupTo string
}

// pictureQueue is how many pictures may wait for each kind of work; more are
// told to come back.
const pictureQueue = 16

// New makes the server of an open farm.
func New(o Options) (*Server, error) {
	if o.TLS != "" && o.TLS != "off" && o.TLS != "local" {
		return nil, grow.Errorf(grow.Invalid, "-tls %s is not known: it can be off or local", o.TLS)
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s := &Server{
		store: o.Store, log: o.Log, version: o.Version,
		heldPictures: held{most: mostPictures}, heldEntries: held{most: mostLists}, lists: newGate(pictureQueue),
		hosts: newHostList(), limits: newLimits(o.Store.Now), origin: http.NewCrossOriginProtection(),
		reader: scanner.NewReader(pictureQueue), photos: newGate(pictureQueue),
	}
	s.backups.folder = o.BackupTo
	if o.TLS == "local" {
		s.secure = &secure{folder: o.TLSFolder}
	}
	farm, err := o.Store.Farm(context.Background())
	if err != nil {
		return nil, err
	}
	if _, err = s.pages.of(farm.Writing); err != nil {
		return nil, err
	}
	if !farm.SetUp {
		s.setUp.make()
	}
	s.echo = s.newEcho()
	return s, nil
}

// Handler is the whole site.
func (s *Server) Handler() http.Handler { return s.echo }

// newEcho puts the route table behind the middleware. The client's address and
// scheme are those of the connection, never what a header claims.
func (s *Server) newEcho() *echo.Echo {
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.IPExtractor = echo.ExtractIPDirect()
	e.SchemeExtractor = echo.ExtractSchemeDirect()
	e.HTTPErrorHandler = s.answerError
	e.Pre(s.identifyRequest, s.logRequest, s.recoverPanic, drainBody, secureHeaders, s.checkHost, s.checkOrigin, foldLabelPath)
	for _, r := range s.routes() {
		e.Add(r.method, r.path, s.serve(r))
		if r.method == http.MethodGet {
			e.Add(http.MethodHead, r.path, s.serve(r))
		}
	}
	return e
}
