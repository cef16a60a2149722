package server

import (
	"net/url"
	"strings"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// foldLabelPath lets the paths that symbols carry be written in any letter
// case: /b/… opens what /B/… opens. The codes behind it are folded where they
// are read.
func foldLabelPath(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		u := c.Request().URL
		u.Path = upperFirstSegment(u.Path)
		u.RawPath = upperFirstSegment(u.RawPath)
		return next(c)
	}
}

// upperFirstSegment puts a first segment of one letter into upper case.
func upperFirstSegment(path string) string {
	if len(path) < 3 || path[0] != '/' || path[2] != '/' {
		return path
	}
	return "/" + strings.ToUpper(path[1:2]) + path[2:]
}

// param is a part of the path as it was meant, without the escapes of a URL.
func param(c echo.Context, name string) (string, error) {
	text := c.Param(name)
	if c.Request().URL.RawPath != "" {
		plain, err := url.PathUnescape(text)
		if err != nil {
			return "", err
		}
		text = plain
	}
	if text == "" || strings.Contains(text, "/") {
		return "", grow.Errorf(grow.NotFound, "there is nothing at this address")
	}
	return text, nil
}

// codeParam is a label's code in the path. A wrong check character is refused
// in words: it never opens another bag.
func codeParam(c echo.Context) (grow.Code, error) {
	text, err := param(c, "code")
	if err != nil {
		return "", err
	}
	return grow.ParseCode(text)
}

// batchParam is a batch's code in the path, in any letter case.
func batchParam(c echo.Context) (grow.BatchCode, error) {
	text, err := param(c, "batch")
	if err != nil {
		return "", err
	}
	code := grow.BatchCode(strings.ToUpper(text))
	if !code.Legal() {
		return "", grow.Errorf(grow.NotFound, "there is no batch %s", text)
	}
	return code, nil
}
