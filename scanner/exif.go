package scanner

import "encoding/binary"

// Turn is how a stored picture must be turned to stand upright: the Orientation
// tag (0x0112) of Exif, 1 to 8 as in TIFF 6.0, section 8. Even-odd pairs 2, 4,
// 5 and 7 are mirrored.
type Turn int

// Mirrored reports whether the stored picture is a mirror image.
func (t Turn) Mirrored() bool { return t == 2 || t == 4 || t == 5 || t == 7 }

// Sideways reports whether width and height change places.
func (t Turn) Sideways() bool { return t >= 5 && t <= 8 }

// Upright maps a point of the stored picture, w × h pixels, to the same point
// of the picture turned upright.
func (t Turn) Upright(p Point, w, h int) Point {
	fw, fh := float64(w), float64(h)
	switch t {
	case 2:
		return Point{fw - p.X, p.Y}
	case 3:
		return Point{fw - p.X, fh - p.Y}
	case 4:
		return Point{p.X, fh - p.Y}
	case 5:
		return Point{p.Y, p.X}
	case 6:
		return Point{fh - p.Y, p.X}
	case 7:
		return Point{fh - p.Y, fw - p.X}
	case 8:
		return Point{p.Y, fw - p.X}
	}
	return p
}

// turnOfJPEG finds the turn in a JPEG file's Exif segment (APP1). It is 1 where
// there is none or it makes no sense: a photo must not be lost to a bad tag.
func turnOfJPEG(data []byte) Turn {
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		marker := data[i+1]
		if marker == 0xff { // fill byte
			i++
			continue
		}
		if marker == 0xd8 || marker == 0x01 || marker >= 0xd0 && marker <= 0xd7 {
			i += 2
			continue
		}
		if marker == 0xda || marker == 0xd9 {
			return 1
		}
		n := int(binary.BigEndian.Uint16(data[i+2:]))
		if n < 2 || i+2+n > len(data) {
			return 1
		}
		segment := data[i+4 : i+2+n]
		if marker == 0xe1 && len(segment) > 6 && string(segment[:6]) == "Exif\x00\x00" {
			return turnOfTIFF(segment[6:])
		}
		i += 2 + n
	}
	return 1
}

// turnOfTIFF reads the first image directory of a TIFF structure (TIFF 6.0,
// section 2): eight bytes of header, then entries of twelve bytes.
func turnOfTIFF(t []byte) Turn {
	if len(t) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.LittleEndian
	switch string(t[:4]) {
	case "II*\x00":
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	at := int64(order.Uint32(t[4:]))
	if at+2 > int64(len(t)) {
		return 1
	}
	entries := int(order.Uint16(t[at:]))
	for i := range entries {
		p := at + 2 + 12*int64(i)
		if p+12 > int64(len(t)) {
			return 1
		}
		const orientation, short = 0x0112, 3
		if order.Uint16(t[p:]) == orientation && order.Uint16(t[p+2:]) == short {
			if v := order.Uint16(t[p+8:]); v >= 1 && v <= 8 {
				return Turn(v)
			}
			return 1
		}
	}
	return 1
}
