package server

import (
	"bufio"
	"context"
	"io"
	"log/slog"
	"net/http"
	"time"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// exporting is the handler of one table.
func (s *Server) exporting(what string, write func(context.Context, io.Writer) error) handler {
	return func(c echo.Context) error { return s.export(c, what, write) }
}

// exportPatience is how long a slow reader may take over a whole farm.
const exportPatience = 10 * time.Minute

// export streams a table. What fails before the first rows are out is told in
// the ordinary way; what fails later breaks the answer off, so that nobody
// takes half a table for a whole one.
func (s *Server) export(c echo.Context, what string, write func(context.Context, io.Writer) error) error {
	if err := bePatient(c, exportPatience); err != nil {
		return err
	}
	s.note(c, "export", slog.String("what", what))
	h := c.Response().Header()
	day := grow.DateOf(s.store.Now(), s.store.Zone(c.Request().Context()))
	out := bufio.NewWriterSize(&lateHeader{c: c, headers: map[string]string{
		echo.HeaderContentType:        "text/csv; charset=utf-8",
		echo.HeaderContentDisposition: `attachment; filename="` + what + "-" + day.String() + `.csv"`,
	}}, 64<<10)
	err := write(c.Request().Context(), out)
	if err == nil {
		err = out.Flush()
	}
	if err != nil && c.Response().Committed {
		s.log.Error("export broke off", "request", requestID(c), "cause", err.Error())
		h.Del(echo.HeaderContentLength)
		panic(http.ErrAbortHandler)
	}
	return err
}

// lateHeader sends the headers with the first bytes, not before.
type lateHeader struct {
	c       echo.Context
	headers map[string]string
}

func (w *lateHeader) Write(b []byte) (int, error) {
	r := w.c.Response()
	if !r.Committed {
		for name, value := range w.headers {
			r.Header().Set(name, value)
		}
		r.WriteHeader(http.StatusOK)
	}
	return r.Write(b)
}
