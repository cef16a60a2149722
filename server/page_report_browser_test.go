package server

import (
	"bytes"
	"context"
	"testing"

	"github.com/chromedp/chromedp"
)

// TestReportIsOneSheet prints the report of a batch that has all that a report
// can show: five mouldy bags, a departure, a note and a finding. One sheet of A4
// holds it.
func TestReportIsOneSheet(t *testing.T) {
	t.Parallel()
	p := newPhone(t)
	batch, codes := p.kings("24", `,"strain":"King A","spawn_lot":"KI-6","steriliser_run":"run 38","recipe":"oak 80, bran 20","operator":"Maren","bag_wet_g":2500,"moisture_pct":62,"spawn_rate_pct":4,"note":"The hood's breaker had tripped; seen at bag 12.",
		"conditions":{"flow_hood":"on","gloves":"yes","shaken":"yes","seal":"heat","filter":"dry"},"bag_conditions":[{"bags":"7-11","conditions":{"flow_hood":"off"}}]`)
	p.days(9)
	for _, code := range codes[7:12] {
		p.saw(code, `"kind":"contaminated","what":"green_mould","where":"seal"`)
	}
	p.days(5)
	for i, code := range codes {
		if i < 7 || i > 11 {
			p.saw(code, `"kind":"look"`)
		}
	}
	p.goTo("/batches/" + batch + "/report")
	p.expect("Points to flow hood off: 4 of 5 against 1 of 19 in the same batch")
	ctx, cancel := context.WithTimeout(p.ctx, stepLimit)
	defer cancel()
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	if err != nil {
		t.Fatal(err)
	}
	pages := bytes.Count(pdf, []byte("/Type /Page\n")) + bytes.Count(pdf, []byte("/Type /Page "))
	if pages != 1 {
		t.Errorf("the report takes %d sheets", pages)
	}
}
