package labels

import (
	"fmt"
	"strings"
)

var markNames = [...]string{
	markText: "text", markBlock: "block", markPen: "pen", markBox: "box", markRule: "rule",
	markTick: "tick", markPanel: "panel", markSymbol: "symbol",
}

// String writes the layout as text, one mark a line, for golden files.
func (k *ink) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "content %.2f x %.2f", k.w, k.h)
	if k.symbol != nil {
		fmt.Fprintf(&b, ", version %d-%s, module %.3f", k.symbol.Version, k.symbol.Level, k.module)
	}
	b.WriteString("\n")
	for _, m := range k.marks {
		fmt.Fprintf(&b, "%-6s x %6.2f y %6.2f w %6.2f h %5.2f", markNames[m.kind], m.x, m.y, m.w, m.h)
		if m.kind == markText {
			fmt.Fprintf(&b, " %s %q", m.face.name, m.text)
		}
		if m.white {
			b.WriteString(" white")
		}
		b.WriteString("\n")
	}
	return b.String()
}
