package server

import (
	"testing"
	"time"
)

// TestMouldDetailsRefused: what is wrong is said at its field and in view, and the
// top line does not say that all is sent.
func TestMouldDetailsRefused(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	p.expect("400")
	_, codes := p.kings("1", "")
	p.saw(codes[0], `"kind":"contaminated","what":"green_mould"`)
	p.clock.move(time.Minute)
	p.goTo("/B/" + codes[0] + "/mould")
	p.until(`document.querySelector(".waits").textContent === "all sent"`)
	p.evaluate(`document.getElementById("f-extent-pct").value = "500"; document.querySelector("form:has(#f-extent-pct) button").click(); ""`)
	p.until(`document.querySelector(".waits").textContent === "1 refused"`)
	p.until(`(() => {
		const said = document.querySelector(".field:has(#f-extent-pct) .error");
		if (!said?.textContent.includes("100")) return false;
		const { top, bottom } = said.getBoundingClientRect();
		return top >= 0 && bottom <= innerHeight;
	})()`)
	p.evaluate(`document.getElementById("f-extent-pct").value = "50"; document.querySelector("form:has(#f-extent-pct) button").click(); ""`)
	p.until(`location.search.startsWith("?logged=") && document.querySelector(".waits").textContent === "all sent"`)
	if got := p.bag(codes[0]).Entries[0].ExtentPct; got == nil || *got != 50 {
		t.Errorf("the wall is mouldy by %v, want 50", got)
	}
}
