package store

import "bagmark/grow"

// Role is what somebody may do.
type Role string

// The roles. A sensor only posts readings.
const (
	Owner  Role = "owner"
	Grower Role = "grower"
	Viewer Role = "viewer"
	Sensor Role = "sensor"
)

// Roles are all of them.
var Roles = []Role{Owner, Grower, Viewer, Sensor}

// May tells whether the role has the rights of another: an owner those of a
// grower, a grower those of a viewer and of a sensor, a sensor only its own.
func (r Role) May(need Role) bool {
	rank := map[Role]int{Viewer: 1, Grower: 2, Owner: 3}
	if need == Sensor {
		return r == Sensor || rank[r] >= rank[Grower]
	}
	return rank[r] > 0 && rank[r] >= rank[need]
}

// Actor is who does something, and with which device; both are kept with every
// entry.
type Actor struct {
	PersonID int64 // 0 for a token
	DeviceID int64
	Person   string // the person's name, or the token's
	Device   string // the device's name
	Role     Role
}

// limitOr is a list's limit: 50 unless given, 1 to 200.
func limitOr(limit int) (int, error) {
	if limit == 0 {
		return 50, nil
	}
	if limit < 1 || limit > 200 {
		return 0, &grow.Error{Kind: grow.Invalid, Message: "the list cannot be given like this", Fields: grow.Problems{"limit": "must be 1 to 200"}}
	}
	return limit, nil
}
