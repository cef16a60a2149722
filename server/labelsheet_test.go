package server

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"bagmark/grow"
	"bagmark/labels"
	"bagmark/store"

	"github.com/google/go-cmp/cmp"
)

func (h *house) labelWriter() labelWriter {
	h.t.Helper()
	farm, err := h.store.Farm(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	return labelWriter{ctx: h.t.Context(), store: h.store, farm: farm, address: "http://192.168.1.20:8080"}
}

func TestLabelOfABag(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	batch, bags := h.kings("12", `,"strain":"KE-3","bag_conditions":[{"bags":"7-11","conditions":{"flow_hood":"off"}}]`)
	w := h.labelWriter()
	got, err := w.labels(LabelRequest{Batch: grow.BatchCode(batch), Bags: "7"})
	if err != nil {
		t.Fatal(err)
	}
	want := []labels.Label{{Payload: "http://192.168.1.20:8080/B/" + bags[6], Code: bags[6][:4] + "-" + bags[6][4:], Name: "KING", Date: "22 NOV", Weekday: "Sun", Number: "7/12",
		Strain: "KE-3", Batch: "KING-261122", Departures: []string{"HOOD OFF"}, Species: "king oyster", Hint: "hunt from 29 NOV"}}
	if diff := cmp.Diff(want, got, cmp.FilterPath(func(p cmp.Path) bool { return p.Last().String() == ".PenBoxes" }, cmp.Ignore())); diff != "" {
		t.Error(diff)
	}
	plain, err := w.labels(LabelRequest{Batch: grow.BatchCode(batch), Bags: "1"})
	if err != nil {
		t.Fatal(err)
	}
	if slices.Contains(got[0].PenBoxes, "HOOD") || !slices.Contains(plain[0].PenBoxes, "HOOD") || len(got[0].PenBoxes)+1 != len(plain[0].PenBoxes) {
		t.Errorf("pen boxes %v with the hood off, %v without a departure", got[0].PenBoxes, plain[0].PenBoxes)
	}
}

func TestLabelsOfEveryKindOfCode(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	_, bags := h.kings("2", `,"place":"room 2 > rack 3","spawn_lot":"G7"`)
	blank := h.post("/api/v1/blanks", `{"count":1}`).at("bags", 0, "code").(string)
	place := h.get("/api/v1/places").at("places", 0, "code").(string)
	card := h.get("/api/v1/cards").at("cards", 1)
	page, err := h.store.Lots(t.Context(), store.LotFilter{})
	lots := page.Lots
	if err != nil || len(lots) != 1 {
		t.Fatal(lots, err)
	}
	w := h.labelWriter()
	cardCode := card.(map[string]any)["code"].(string)
	got, err := w.labels(LabelRequest{Codes: []grow.Code{grow.Code(bags[1]), grow.Code(blank), grow.Code(place), lots[0].Code, grow.Code(cardCode)}})
	if err != nil {
		t.Fatal(err)
	}
	address := "http://192.168.1.20:8080"
	for i, want := range []struct{ payload, name string }{
		{"/B/" + bags[1], "KING"}, {"/B/" + blank, ""}, {"/S/" + place, "room 2 > rack 3"}, {"/L/" + string(lots[0].Code), "G7"}, {"/C/" + cardCode, "FLOW HOOD: OFF"},
	} {
		if got[i].Payload != address+want.payload || got[i].Name != want.name {
			t.Errorf("label %d: %+v", i, got[i])
		}
	}
	if len(got[1].Rules) == 0 || !slices.Equal(got[4].Departures, []string{"HOOD OFF"}) {
		t.Errorf("blank %+v, card %+v", got[1], got[4])
	}
}

// TestTheSameRequestGivesTheSameBytes, over the API and without it, until
// something printed changes.
func TestTheSameRequestGivesTheSameBytes(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	batch, bags := h.kings("5", "")
	path := "/api/v1/batches/" + batch + "/labels.pdf?sheet=roll-57x32&bags=1-3,5&copies=2"
	first := h.get(path).want(200)
	if first.header.Get("Content-Type") != "application/pdf" || !bytes.HasPrefix(first.body, []byte("%PDF-")) {
		t.Fatalf("no PDF: %v", first.header)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", `{"id":"`+id(1)+`","kind":"look"}`).want(201)
	same, err := PrintLabels(t.Context(), h.store, LabelRequest{Batch: grow.BatchCode(batch), Sheet: "roll-57x32", Bags: "1-3,5", Copies: 2})
	if err != nil || !bytes.Equal(first.body, same) {
		t.Errorf("without the server other bytes: %v", err)
	}
	h.post("/api/v1/bags/"+bags[0]+"/entries", `{"id":"`+id(2)+`","kind":"condition","key":"flow_hood","value":"off"}`).want(201)
	if bytes.Equal(first.body, h.get(path).body) {
		t.Error("a departure changed nothing")
	}
}

func TestLabelsOfALabDay(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	for range 3 {
		h.kings("2", `,"lab_day":"Sunday 1"`)
	}
	h.kings("2", `,"lab_day":"another"`)
	w := h.labelWriter()
	got, err := w.labels(LabelRequest{LabDay: "Sunday 1"})
	if err != nil {
		t.Fatal(err)
	}
	var batches []string
	for _, l := range got {
		batches = append(batches, l.Batch+" "+l.Number)
	}
	want := []string{"KING-261122 1/2", "KING-261122 2/2", "KING-261122-2 1/2", "KING-261122-2 2/2", "KING-261122-3 1/2", "KING-261122-3 2/2"}
	if diff := cmp.Diff(want, batches); diff != "" {
		t.Error(diff)
	}
	h.get("/api/v1/labels.pdf?lab_day=Sunday+1").want(200)
	h.get("/api/v1/labels.pdf?lab_day=Monday").refused(404, "not_found")
}

func TestLabelsThatCannotBePrinted(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	batch, bags := h.kings("3", "")
	of := "/api/v1/batches/" + batch + "/labels.pdf?"
	for _, test := range []struct{ path, field string }{
		{of + "sheet=a4-1x1", "sheet"},
		{of + "start=22", "start"},
		{of + "start=0", "start"},
		{of + "copies=101", "copies"},
		{of + "copies=two", "copies"},
		{of + "bags=4", "bags"},
		{of + "bags=x", "bags"},
		{"/api/v1/labels.pdf", "codes"},
		{"/api/v1/labels.pdf?codes=" + bags[0] + "&lab_day=x", "codes"},
		{"/api/v1/labels.pdf?codes=" + bags[0] + ",7K3M9QXA", "codes[1]"},
		{"/api/v1/labels.pdf?codes=" + bags[0] + "&bags=1", "bags"},
	} {
		h.get(test.path).refused(400, "invalid", test.field)
	}
	h.get("/api/v1/labels.pdf?codes="+bags[0]+",7K3M9QXR").refused(404, "not_found", "codes[1]")
	h.get("/api/v1/batches/KING-000000/labels.pdf").refused(404, "not_found")
	h.get(of + "start=21").want(200)
	h.get("/api/v1/labels.pdf?codes=" + strings.ToLower(bags[0])).want(200)
}

func TestSheetsOfTheFarmsOwn(t *testing.T) {
	t.Parallel()
	h := newHouse(t)
	ctx := t.Context()
	own, _ := labels.SheetByName("a4-3x7-63.5x38.1")
	own.Name, own.Top = "our-sheet", 14
	raw, _ := json.Marshal(own)
	fix, _ := json.Marshal(labels.Correction{OffsetX: 1.5})
	for _, err := range []error{h.store.PutOwnSheet(ctx, own.Name, raw), h.store.PutCorrection(ctx, own.Name, fix)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	h.put("/api/v1/settings", `{"default_sheet":"our-sheet"}`).want(200)
	got := h.get("/api/v1/sheets").want(200)
	sheets := got.at("sheets").([]any)
	last := sheets[len(sheets)-1].(map[string]any)
	if got.at("usual") != "our-sheet" || last["name"] != "our-sheet" || last["top_mm"] != 14.0 || last["own"] != true || last["correction"].(map[string]any)["offset_x_mm"] != 1.5 {
		t.Errorf("sheets: %v", last)
	}
	batch, _ := h.kings("1", "")
	usual := h.get("/api/v1/batches/" + batch + "/labels.pdf").want(200)
	named := h.get("/api/v1/batches/" + batch + "/labels.pdf?sheet=our-sheet").want(200)
	other := h.get("/api/v1/batches/" + batch + "/labels.pdf?sheet=" + usualSheet).want(200)
	if !bytes.Equal(usual.body, named.body) || bytes.Equal(usual.body, other.body) {
		t.Error("the farm's usual sheet is not the one it named")
	}
	if err := h.store.PutOwnSheet(ctx, own.Name, json.RawMessage(`{"rows":"seven"}`)); err != nil {
		t.Fatal(err)
	}
	h.send(h.as(store.Viewer, h.request("GET", "/api/v1/sheets", ""))).refused(500, "internal")
}
