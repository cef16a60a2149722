package grow

import (
	"net/url"
	"strconv"
	"strings"
)

// CodeKind says what a code stands for. Codes are unique over all kinds.
type CodeKind string

// The kinds of codes. A blank is a bag's code that no bag has taken yet.
const (
	BagCode   CodeKind = "bag"
	BlankCode CodeKind = "blank"
	PlaceCode CodeKind = "place"
	LotCode   CodeKind = "lot"
	CardCode  CodeKind = "card"
)

var pathLetters = map[CodeKind]string{BagCode: "B", BlankCode: "B", PlaceCode: "S", LotCode: "L", CardCode: "C"}

// Path is the path that opens a code of this kind, such as /B/7K3M9QXR.
func (k CodeKind) Path(c Code) string { return "/" + pathLetters[k] + "/" + string(c) }

// KindOfPath splits /B/CODE, /S/…, /L/… or /C/… in any letter case. It does
// not judge the code: text behind the letter is returned as it stands.
func KindOfPath(path string) (kind CodeKind, code string, ok bool) {
	if len(path) < 4 || path[0] != '/' || path[2] != '/' || strings.Contains(path[3:], "/") {
		return "", "", false
	}
	for _, k := range []CodeKind{BagCode, PlaceCode, LotCode, CardCode} {
		if strings.EqualFold(path[1:2], pathLetters[k]) {
			return k, path[3:], true
		}
	}
	return "", "", false
}

// Address is the farm's public address, such as http://192.168.1.20:8080, as
// printed in every symbol: scheme in lower case, host in upper case.
type Address string

// ParseAddress reads an http or https URL of a host and nothing more.
func ParseAddress(text string) (Address, error) {
	u, err := url.Parse(strings.TrimSpace(text))
	if err != nil {
		return "", &Error{Kind: Invalid, Message: "not a web address: write it like http://192.168.1.20:8080", Cause: err}
	}
	scheme := strings.ToLower(u.Scheme)
	if scheme != "http" && scheme != "https" || u.Hostname() == "" {
		return "", Errorf(Invalid, "the address must start with http:// or https:// and name a host, like http://192.168.1.20:8080")
	}
	if u.User != nil || u.RawQuery != "" || u.ForceQuery || u.Fragment != "" || strings.Trim(u.Path, "/") != "" {
		return "", Errorf(Invalid, "the address is a host and perhaps a port, nothing after it")
	}
	if strings.Trim(strings.ToUpper(u.Host), "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ.-:") != "" {
		return "", Errorf(Invalid, "the host may have letters, digits, dots and hyphens only, so that the symbol on the label stays small")
	}
	if port, err := strconv.Atoi(u.Port()); u.Port() != "" && (err != nil || port < 1 || port > 65535) || strings.HasSuffix(u.Host, ":") {
		return "", Errorf(Invalid, "the port must be 1 to 65535, like :8080")
	}
	return Address(scheme + "://" + strings.ToUpper(u.Host)), nil
}

// Payload is the text of a label's symbol: everything but the scheme in upper
// case, so that it needs one short byte segment and then alphanumeric mode
// (ISO/IEC 18004). The scheme stays in lower case because some phones' camera
// apps do not take HTTP:// for a link.
func (a Address) Payload(k CodeKind, c Code) string { return string(a) + k.Path(c) }
