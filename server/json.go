package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"
	"unicode/utf8"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// readJSON reads the body as one JSON value of the shape of into. Every field
// that is not one of the shape's, or of another type, is named by its path.
func readJSON(c echo.Context, into any) error {
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	return decodeJSON(raw, into)
}

// jsonBodyOf reads the body of a request that says it is JSON, or says nothing.
func jsonBodyOf(c echo.Context) ([]byte, error) {
	if kind := c.Request().Header.Get(echo.HeaderContentType); kind != "" {
		media, parameters, err := mime.ParseMediaType(kind)
		charset := strings.ToLower(parameters["charset"])
		if err != nil || media != echo.MIMEApplicationJSON || charset != "" && charset != "utf-8" && charset != "us-ascii" {
			return nil, grow.Errorf(grow.Unsupported, "the body must be JSON in UTF-8, with Content-Type: application/json")
		}
	}
	return bodyBytes(c)
}

// bodyBytes reads the whole body.
func bodyBytes(c echo.Context) ([]byte, error) {
	raw, err := io.ReadAll(c.Request().Body)
	var large *http.MaxBytesError
	if err != nil && !errors.As(err, &large) && grow.KindOf(err) != grow.Busy {
		return nil, &grow.Error{Kind: grow.Invalid, Message: "the body broke off; send it again", Cause: err}
	}
	return raw, err
}

// decodeJSON is readJSON for bytes at hand.
func decodeJSON(raw []byte, into any) error {
	if err := oneValue(raw); err != nil {
		return err
	}
	var p grow.Problems
	checkShape(raw, into, &p)
	if err := p.Err("what was sent cannot be taken as it is"); err != nil {
		return err
	}
	if err := json.Unmarshal(raw, into); err != nil {
		return &grow.Error{Kind: grow.Invalid, Message: "what was sent cannot be taken as it is", Cause: err}
	}
	return nil
}

// oneValue checks that raw is exactly one JSON value in UTF-8.
func oneValue(raw []byte) error {
	if len(bytes.TrimSpace(raw)) == 0 {
		return grow.Errorf(grow.Invalid, "the body is empty; send a JSON object")
	}
	if !utf8.Valid(raw) {
		return grow.Errorf(grow.Invalid, "the body is not text in UTF-8")
	}
	if json.Valid(raw) {
		return nil
	}
	d := json.NewDecoder(bytes.NewReader(raw)) // to find out why not
	var value json.RawMessage
	if err := d.Decode(&value); err != nil {
		return brokenJSON(raw, err)
	}
	return grow.Errorf(grow.Invalid, "there is something after the JSON value in the body; send one value and nothing else")
}

// brokenJSON says where reading stopped, in lines as editors count them.
func brokenJSON(raw []byte, err error) error {
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		return &grow.Error{Kind: grow.Invalid, Message: "the body is not whole: the JSON value breaks off", Cause: err}
	}
	before := raw[:min(int(syntax.Offset), len(raw))]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := len(before) - 1 - bytes.LastIndexByte(before, '\n')
	e := grow.Errorf(grow.Invalid, "the body is not JSON: it goes wrong in line %d at character %d", line, column)
	e.Cause = err
	return e
}

// answer writes a value as JSON. It is encoded before the status goes out, so
// that a failure can still be told.
func answer(c echo.Context, status int, value any) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(value); err != nil {
		return err
	}
	return c.Blob(status, "application/json; charset=utf-8", b.Bytes())
}
