package server

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// todayPage is a few sentences: what there is to do, each opening its bags.
type todayPage struct {
	frame
	Today  store.Today
	Backup backupNote
}

// Path of a sentence's bags.
func taskPath(t grow.Task) string {
	if t == grow.TaskMove {
		return "/fruiting"
	}
	return "/due/" + strings.ToLower(string(t))
}

// When is the date in words.
func (p todayPage) When() string { return dateWords(p.Today.Date) }

// TaskPath is where a sentence leads.
func (p todayPage) TaskPath(t grow.Task) string { return taskPath(t) }

func (s *Server) showToday(c echo.Context) error {
	f, _, err := s.frame(c, "Today")
	if err != nil {
		return err
	}
	today, err := s.store.Today(c.Request().Context())
	if err != nil {
		return err
	}
	return s.show(c, http.StatusOK, "today", todayPage{frame: f, Today: today, Backup: s.backupNote(s.store.Zone(c.Request().Context()), f.U)})
}

// duePage are the bags of one task by place, and one tap for all of them.
type duePage struct {
	frame
	Task   grow.Task
	Words  string
	About  string
	Places []duePlace
	Bags   int
	All    []rowForAll // what one tap says of all of them; none where each is for itself
	Vary   bool        // their words differ: each shows its own
}

// duePlace are the bags that stand in one place.
type duePlace struct {
	Name string
	Bags []store.DueItem
}

func (s *Server) showDue(c echo.Context) error {
	task, err := taskParam(c)
	if err != nil {
		return err
	}
	if task == grow.TaskMove {
		return c.Redirect(http.StatusSeeOther, taskPath(task))
	}
	f, _, err := s.frame(c, string(task))
	if err != nil {
		return err
	}
	today, err := s.store.Today(c.Request().Context())
	if err != nil {
		return err
	}
	p := duePage{frame: f, Task: task, About: task.About()}
	for _, sentence := range today.Sentences {
		if sentence.Task == task {
			p.Words, p.Bags, p.Places = sentence.Words, len(sentence.Bags), byPlace(sentence.Bags)
			for _, b := range sentence.Bags {
				p.Vary = p.Vary || b.Words != sentence.Bags[0].Words
			}
		}
	}
	if f.May("grower") && p.Bags > 0 {
		for i, a := range slices.Backward(allAnswers[task]) { // the commonest lowest, as on a bag's own page
			p.All = append(p.All, rowForAll{strconv.Itoa(i), strings.Replace(a.words, "N", numberWords(float64(p.Bags)), 1), a.logs})
		}
	}
	return s.show(c, http.StatusOK, "due", p)
}

func taskParam(c echo.Context) (grow.Task, error) {
	name, err := param(c, "task")
	if err != nil {
		return "", err
	}
	for _, t := range grow.Tasks {
		if strings.EqualFold(string(t), name) {
			return t, nil
		}
	}
	return "", grow.Errorf(grow.NotFound, "there is no such list")
}

// byPlace keeps the order in which bags come: place after place.
func byPlace(bags []store.DueItem) []duePlace {
	var out []duePlace
	for _, b := range bags {
		name := deref(b.Place)
		if len(out) == 0 || out[len(out)-1].Name != name {
			out = append(out, duePlace{Name: name})
		}
		last := &out[len(out)-1]
		last.Bags = append(last.Bags, b)
	}
	return out
}

// allAnswer is what one tap says of all bags of a task.
type allAnswer struct {
	words, logs string
	draft       grow.Draft
}

func boolOf(b bool) *bool { return &b }

// allAnswers: mouldy bags, bags to come back to and unmarked bags are each for
// themselves; those to be moved have a page of their own.
var allAnswers = map[grow.Task][]allAnswer{
	grow.TaskHunt:  {turnedAll},
	grow.TaskWatch: {turnedAll},
	grow.TaskCheck: {{"All N right", "seen in passing, nothing wrong", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "glance"}}}},
	grow.TaskLook:  {{"All N not grown over yet", "looked at, clean, still bare somewhere", bareDraft}, grownAll},
	grow.TaskLate:  {{"All N still bare", "looked at, clean, still bare somewhere", bareDraft}, grownAll},
}

var (
	turnedAll = allAnswer{"All N turned, clean", "each was turned in the hand", grow.Draft{Kind: grow.KindLook, Details: grow.Details{Seen: "turned"}}}
	grownAll  = allAnswer{"All N grown over", "all of its wall is grown over", grow.Draft{Kind: grow.KindColonised, Details: grow.Details{Pct: new(100.0)}}}
	bareDraft = grow.Draft{Kind: grow.KindColonised, Details: grow.Details{Full: boolOf(false)}}
)

// rowForAll is one such answer as the page offers it.
type rowForAll struct{ Value, Words, Logs string }

// postDue logs the answer for every bag still ticked.
func (s *Server) postDue(c echo.Context) error {
	task, err := taskParam(c)
	if err != nil {
		return err
	}
	v, err := formValues(c)
	if err != nil {
		return err
	}
	answers := allAnswers[task]
	if len(answers) == 0 {
		return grow.Errorf(grow.Invalid, "each of these bags is answered for itself")
	}
	nth, err := strconv.Atoi(cmp.Or(v.Get("answer"), "0"))
	if err != nil || nth < 0 || nth >= len(answers) {
		return grow.Errorf(grow.Invalid, "this form was changed; open the page again")
	}
	answer := answers[nth]
	var drafts []grow.Draft
	for _, pair := range v["bag"] {
		bag, id, _ := strings.Cut(pair, " ")
		d := answer.draft
		d.ID, d.Bag = grow.ID(id), grow.Code(bag)
		drafts = append(drafts, d)
	}
	if len(drafts) == 0 {
		return c.Redirect(http.StatusSeeOther, taskPath(task))
	}
	results, err := s.store.AddEntries(c.Request().Context(), actorOf(c), drafts)
	if err != nil {
		return err
	}
	return s.showDone(c, answer.words[strings.LastIndex(answer.words, "N")+2:], "/", "Today", results, drafts)
}
