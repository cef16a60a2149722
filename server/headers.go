package server

import "github.com/labstack/echo/v4"

// pageHeaders go with every answer. There is no Strict-Transport-Security: the
// farm is served over plain HTTP too, and a browser that once was told to insist
// on HTTPS would lock the farm out.
var pageHeaders = [][2]string{
	{"Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; " +
		"connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"},
	{"X-Content-Type-Options", "nosniff"},
	{"Referrer-Policy", "same-origin"},
	{"Permissions-Policy", "camera=(self), microphone=(), geolocation=()"},
	{"Cross-Origin-Opener-Policy", "same-origin"},
	{"Cross-Origin-Resource-Policy", "same-origin"},
	{"Cache-Control", "no-store"},
}

// secureHeaders sets them before the handler, which may set others.
func secureHeaders(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		for _, pair := range pageHeaders {
			h.Set(pair[0], pair[1])
		}
		return next(c)
	}
}
