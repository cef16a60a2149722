package forecast

import (
	"math"
	"time"
)

// Dates are a forecast as calendar days, each at midnight in the zone of the inoculation time.
type Dates struct {
	Earliest, Likely, Latest time.Time
}

// WholeDay rounds a forecast up to a whole day, 19.2 to 20, so that nobody is sent to a bag too early. Figures that
// no calendar holds become the nearest that does.
func WholeDay(days float64) int {
	const most = 36525 // a hundred years
	switch {
	case !(days > 0):
		return 0
	case days > most:
		return most
	}
	return int(math.Ceil(days - 1e-9))
}

// Date is the calendar day so many days after the inoculation day, rounded up by WholeDay. inoculated must
// already be in the farm's time zone; days with 23 or 25 hours do not shift it.
func Date(inoculated time.Time, days float64) time.Time {
	y, m, d := inoculated.Date()
	return time.Date(y, m, d+WholeDay(days), 0, 0, 0, 0, inoculated.Location())
}

// Dates turns all three figures into calendar days.
func (d Days) Dates(inoculated time.Time) Dates {
	return Dates{Date(inoculated, d.Early), Date(inoculated, d.Likely), Date(inoculated, d.Late)}
}
