package server

import (
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"net/http"

	"bagmark/grow"
	"bagmark/scanner"

	"github.com/labstack/echo/v4"
)

// pictureBytes reads the picture of a request: the body itself, or the field
// photo of a form. What kind of picture it is shows in its first bytes, whatever
// the request says.
func pictureBytes(c echo.Context) ([]byte, error) {
	media, parameters, err := mime.ParseMediaType(c.Request().Header.Get(echo.HeaderContentType))
	if err == nil && media == echo.MIMEMultipartForm {
		return formPicture(c.Request(), parameters["boundary"])
	}
	data, err := bodyBytes(c)
	if err != nil {
		return nil, err
	}
	if len(data) == 0 {
		return nil, grow.Errorf(grow.Invalid, "there is no picture in the body; send a JPEG or a PNG")
	}
	return data, nil
}

// formPicture reads the field photo of a multipart form, in memory and no more
// than a picture may have.
func formPicture(r *http.Request, boundary string) ([]byte, error) {
	form := multipart.NewReader(r.Body, boundary)
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			p := grow.Problems{"photo": "is missing: a JPEG or a PNG"}
			return nil, p.Err("there is no picture in the form")
		}
		if err != nil {
			return nil, formBroken(err)
		}
		if part.FormName() != "photo" {
			continue
		}
		data, err := io.ReadAll(io.LimitReader(part, scanner.MaxPictureBytes+1))
		if err != nil {
			return nil, formBroken(err)
		}
		return data, nil
	}
}

// formBroken is what is said of a form that could not be read to its end.
func formBroken(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) || grow.KindOf(err) == grow.Busy {
		return err
	}
	return &grow.Error{Kind: grow.Invalid, Message: "the form broke off; send it again", Cause: err}
}
