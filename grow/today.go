package grow

import (
	"fmt"
	"strings"
)

// Task is what a person does about bags due for one reason.
type Task string

// The tasks of a day, the more pressing first.
const (
	TaskOut   Task = "Out"
	TaskAgain Task = "Again"
	TaskWatch Task = "Watch"
	TaskMark  Task = "Mark"
	TaskLate  Task = "Late"
	TaskMove  Task = "Move"
	TaskLook  Task = "Look"
	TaskHunt  Task = "Hunt"
	TaskCheck Task = "Check"
)

// Tasks are all of them, in order.
var Tasks = []Task{TaskOut, TaskAgain, TaskWatch, TaskMark, TaskLate, TaskMove, TaskLook, TaskHunt, TaskCheck}

// TaskFor is what to do about a bag due: one that may be ready though nobody
// has called it grown over is looked at first.
func TaskFor(why Why, state State, pins bool) Task {
	switch why {
	case DueRemove:
		return TaskOut
	case DueAgain:
		return TaskAgain
	case DueWatch:
		return TaskWatch
	case DueUnmarked:
		return TaskMark
	case DueOverdue:
		return TaskLate
	case DueReady:
		if state == Colonised || pins {
			return TaskMove
		}
		return TaskLook
	case DueFirstLook:
		return TaskHunt
	}
	return TaskCheck
}

// About says in a few words what a task is, for the page that lists its bags.
func (t Task) About() string {
	switch t {
	case TaskOut:
		return "Mouldy and still on a rack. Carry them out closed."
	case TaskAgain:
		return "You said you would come back to these today."
	case TaskWatch:
		return "On watch. Turn each in the hand."
	case TaskMark:
		return "No label has been scanned on these yet. Stick each label on its bag and scan it; or open the bag here and tap “Label is on it”."
	case TaskLate:
		return "Later than their own species allows. Where are they bare?"
	case TaskMove:
		return "Ready for fruiting. Move them before they pin in the plastic."
	case TaskLook:
		return "May be grown over by now. Look."
	case TaskHunt:
		return "First hunt. Turn each: bare patches, corners, folds, seal, filter."
	}
	return fmt.Sprintf("Not seen for %d days or more.", CheckEvery)
}

// Company is bags that a sentence names together.
type Company struct {
	Bags    int
	Species string // as the farm calls it
	Place   string // "" where they stand in several, or nobody said
	Day     int    // their age if all have the same, else -1
}

// mostCompanies is how many a sentence names before it says "and so many more".
const mostCompanies = 3

// Sentence says what is to be done in one line: "8 lion's mane, rack 2; 3 king
// oyster, day 7".
func (t Task) Sentence(list []Company) string {
	parts := make([]string, 0, mostCompanies+1)
	more := 0
	for i, c := range list {
		if i >= mostCompanies {
			more += c.Bags
			continue
		}
		part := fmt.Sprintf("%d %s", c.Bags, c.Species)
		if t == TaskHunt && c.Day >= 0 {
			part += fmt.Sprintf(", day %d", c.Day)
		} else if c.Place != "" {
			part += ", " + PlaceInRoom(c.Place)
		}
		parts = append(parts, part)
	}
	if more > 0 {
		parts = append(parts, fmt.Sprintf("and %d more", more))
	}
	return strings.Join(parts, "; ")
}
