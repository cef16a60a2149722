package scanner

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"

	"bagmark/grow"
)

// Limits on pictures. A PNG takes up to eight bytes a pixel in memory, a JPEG
// at most three, hence the two numbers of pixels.
const (
	MaxPictureBytes  = 16 << 20
	MaxPicturePixels = 50_000_000
	MaxPNGPixels     = 24_000_000
)

// Picture is a decoded photo. Image is as it was stored; Turn says how to turn
// it upright.
type Picture struct {
	Image image.Image
	Turn  Turn
}

// OpenPicture decodes a JPEG or PNG after checking its kind, its bytes and its
// pixels, so that a small file cannot claim much memory. Errors are
// [grow.Unsupported], [grow.TooLarge] and [grow.Invalid].
func OpenPicture(data []byte) (Picture, error) {
	if len(data) > MaxPictureBytes {
		return Picture{}, grow.Errorf(grow.TooLarge, "the picture has %d MB; the most is 16: take it at a lower resolution", len(data)>>20)
	}
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return openJPEG(data)
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		return openPNG(data)
	}
	return Picture{}, grow.Errorf(grow.Unsupported, "the picture must be a JPEG or a PNG")
}

func openJPEG(data []byte) (Picture, error) {
	head, err := jpeg.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Picture{}, broken(err)
	}
	if err := checkSize(head, MaxPicturePixels); err != nil {
		return Picture{}, err
	}
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return Picture{}, broken(err)
	}
	return Picture{Image: img, Turn: turnOfJPEG(data)}, nil
}

func openPNG(data []byte) (Picture, error) {
	head, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return Picture{}, broken(err)
	}
	if err := checkSize(head, MaxPNGPixels); err != nil {
		return Picture{}, err
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return Picture{}, broken(err)
	}
	return Picture{Image: img, Turn: 1}, nil
}

func checkSize(head image.Config, most int64) error {
	if head.Width < 1 || head.Height < 1 {
		return grow.Errorf(grow.Invalid, "the picture has no pixels")
	}
	if int64(head.Width)*int64(head.Height) > most {
		return grow.Errorf(grow.TooLarge, "the picture has %d × %d pixels; the most is %d megapixels", head.Width, head.Height, most/1_000_000)
	}
	return nil
}

func broken(cause error) error {
	return &grow.Error{Kind: grow.Invalid, Message: "the picture is damaged or cut short: send it again", Cause: cause}
}
