package labels

import "strings"

// Problem is one thing wrong with one field, in words for the person who typed it.
type Problem struct {
	Field   string // JSON name of the field, such as label_w_mm
	Message string // completes "label_w_mm …": "must be …"
}

// Error says why a sheet, a correction or a job cannot be printed. It carries
// every problem that was found, not the first alone.
type Error struct {
	Message  string
	Problems []Problem
}

// Error joins the message and the problems on one line.
func (e *Error) Error() string {
	if len(e.Problems) == 0 {
		return e.Message
	}
	parts := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		parts[i] = p.Field + " " + p.Message
	}
	return e.Message + ": " + strings.Join(parts, "; ")
}

// Fields gives the problems by field; two problems of one field are joined.
func (e *Error) Fields() map[string]string {
	fields := make(map[string]string, len(e.Problems))
	for _, p := range e.Problems {
		if before, ok := fields[p.Field]; ok {
			fields[p.Field] = before + "; " + p.Message
			continue
		}
		fields[p.Field] = p.Message
	}
	return fields
}

// problems collects what a validation finds.
type problems []Problem

func (p *problems) add(field, message string) {
	*p = append(*p, Problem{Field: field, Message: message})
}

func (p *problems) check(ok bool, field, message string) {
	if !ok {
		p.add(field, message)
	}
}

// err is nil when nothing was found.
func (p problems) err(message string) error {
	if len(p) == 0 {
		return nil
	}
	return &Error{Message: message, Problems: p}
}
