package server

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/base64"
	"errors"
	"io"
	"log/slog"
	"mime"
	"mime/multipart"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// importBody is a spreadsheet of the largest size in its multipart wrapping.
const importBody = csvBody + 64<<10

// importShown is how many batches a preview lists.
const importShown = 200

// importPage takes bags kept in a spreadsheet. First it shows what the file
// would become; the form that confirms carries the file's content again, so
// nothing of it is kept in between.
type importPage struct {
	frame
	Columns []string
	Message string    // why nothing was taken in
	Lines   []problem // faulty rows, in their order

	Preview *importPreview
	Taken   string // what was taken in
}

// importPreview is what a file would become.
type importPreview struct {
	Batches       []grow.SheetBatch
	All           int // batches, listed or not
	Bags, Entries int
	New           []grow.Condition
	Content       string // the file, packed for the form
}

// EntriesOf is how many entries a batch's rows become.
func (p importPage) EntriesOf(b grow.SheetBatch) (n int) {
	for _, g := range b.Bags {
		n += len(g.Seen)
	}
	return n
}

func (s *Server) showImport(c echo.Context) error {
	p := importPage{}
	q := queryOf(c)
	if bags := q.number("bags", 1, 1<<30); bags > 0 {
		p.Taken = plural(q.number("batches", 1, 1<<30), "batch", "batches") + " with " + plural(bags, "bag", "bags")
	}
	if err := q.err(); err != nil {
		return err
	}
	return s.drawImport(c, http.StatusOK, p)
}

func (s *Server) drawImport(c echo.Context, status int, p importPage) error {
	f, _, err := s.frame(c, "Bags from a spreadsheet")
	if err != nil {
		return err
	}
	p.frame, p.Columns = f, grow.SpreadsheetColumns()
	return s.show(c, status, "import", p)
}

// postImport shows what the file would become, or, once that was confirmed,
// takes it in.
func (s *Server) postImport(c echo.Context) error {
	data, confirmed, err := sheetOf(c.Request())
	if err != nil {
		return s.refuseImport(c, err)
	}
	ctx := c.Request().Context()
	if !confirmed {
		sheet, err := s.store.ReadImport(ctx, data)
		if err != nil {
			return s.refuseImport(c, err)
		}
		preview, err := newImportPreview(sheet, data)
		if err != nil {
			return err
		}
		return s.drawImport(c, http.StatusOK, importPage{Preview: preview})
	}
	made, err := s.store.Import(ctx, actorOf(c), data)
	if err != nil {
		return s.refuseImport(c, err)
	}
	s.note(c, "spreadsheet taken in", slog.Int("batches", len(made.Batches)), slog.Int("bags", made.Bags))
	return c.Redirect(http.StatusSeeOther, "/import?batches="+strconv.Itoa(len(made.Batches))+"&bags="+strconv.Itoa(made.Bags))
}

// refuseImport says what is wrong with a file, row by row.
func (s *Server) refuseImport(c echo.Context, refusal error) error {
	var e *grow.Error
	if !errors.As(refusal, &e) || e.Kind != grow.Invalid && e.Kind != grow.TooLarge {
		return refusal
	}
	p := importPage{Message: e.Message}
	for line, message := range e.Fields {
		p.Lines = append(p.Lines, problem{line, message})
	}
	slices.SortFunc(p.Lines, func(a, b problem) int { // line 9 before line 10
		return cmp.Or(cmp.Compare(len(a.Field), len(b.Field)), strings.Compare(a.Field, b.Field))
	})
	return s.drawImport(c, statusOf(e.Kind), p)
}

func newImportPreview(sheet grow.Spreadsheet, data []byte) (*importPreview, error) {
	p := &importPreview{Batches: sheet.Batches, All: len(sheet.Batches), New: sheet.New}
	for _, b := range sheet.Batches {
		p.Bags += len(b.Bags)
		p.Entries += importPage{}.EntriesOf(b)
	}
	if p.All > importShown {
		p.Batches = p.Batches[:importShown]
	}
	var err error
	p.Content, err = packSheet(data)
	return p, err
}

// packSheet packs a file for the form that confirms it.
func packSheet(data []byte) (string, error) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	_, err := z.Write(data)
	err = errors.Join(err, z.Close())
	return base64.StdEncoding.EncodeToString(packed.Bytes()), err
}

// sheetOf reads the file of a form, or the content that a preview packed into
// its form; the latter counts as confirmed.
func sheetOf(r *http.Request) (data []byte, confirmed bool, err error) {
	media, parameters, err := mime.ParseMediaType(r.Header.Get(echo.HeaderContentType))
	if err != nil || media != echo.MIMEMultipartForm {
		return nil, false, grow.Errorf(grow.Invalid, "choose a file")
	}
	form := multipart.NewReader(r.Body, parameters["boundary"])
	for {
		part, err := form.NextPart()
		var large *http.MaxBytesError
		switch {
		case errors.As(err, &large):
			return nil, false, err
		case errors.Is(err, io.EOF):
			return nil, false, grow.Errorf(grow.Invalid, "choose a file")
		case err != nil:
			return nil, false, &grow.Error{Kind: grow.Invalid, Message: "the form broke off; send it again", Cause: err}
		}
		switch part.FormName() {
		case "file":
			data, err := readSheet(part)
			return data, false, err
		case "content":
			data, err := unpackSheet(part)
			return data, true, err
		}
	}
}

func readSheet(r io.Reader) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, csvBody+1))
	switch {
	case err != nil:
		return nil, err
	case len(data) > csvBody:
		return nil, grow.Errorf(grow.TooLarge, "this file is too large: at most %s", sizeWords(csvBody))
	case len(data) == 0:
		return nil, grow.Errorf(grow.Invalid, "choose a file; this one is empty")
	}
	return data, nil
}

func unpackSheet(r io.Reader) ([]byte, error) {
	z, err := gzip.NewReader(base64.NewDecoder(base64.StdEncoding, r))
	if err == nil {
		var data []byte
		if data, err = readSheet(z); err == nil {
			return data, nil
		}
	}
	var e *grow.Error
	if errors.As(err, &e) {
		return nil, e
	}
	return nil, &grow.Error{Kind: grow.Invalid, Message: "the preview did not come back whole; choose the file again", Cause: err}
}
