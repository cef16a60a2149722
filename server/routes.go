package server

import (
	"net/http"

	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// handler answers one request, or says why not.
type handler func(c echo.Context) error

// route is one line of the site's table.
type route struct {
	method string
	path   string     // as echo writes it: /api/v1/bags/:code
	least  store.Role // the least role that may use it; anyone needs no sign-in
	body   int64      // the most bytes it reads; 0 reads none
	handle handler
}

// anyone marks a route that needs no sign-in and no token.
const anyone store.Role = ""

// The most bytes that a route reads.
const (
	noBody      = 0
	jsonBody    = 1 << 20
	formBody    = 1 << 20
	entriesBody = 8 << 20
	csvBody     = 20 << 20
	pictureBody = 16<<20 + 64<<10 // a picture of 16 MiB and its multipart wrapping
)

// routes is the whole site.
func (s *Server) routes() []route { return append(s.apiRoutes(), s.pageRoutes()...) }

func (s *Server) apiRoutes() []route {
	const get, post, put, patch = http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch
	return append(append(s.stockAPI(), s.cropAPI()...), []route{
		{get, "/healthz", anyone, noBody, s.getHealth},
		{get, "/api/v1/openapi.yaml", anyone, noBody, s.getOpenAPI},

		{post, "/api/v1/batches", store.Grower, jsonBody, s.postBatch},
		{get, "/api/v1/batches", store.Viewer, noBody, s.getBatches},
		{get, "/api/v1/batches/:batch", store.Viewer, noBody, s.getBatch},
		{patch, "/api/v1/batches/:batch", store.Grower, jsonBody, s.patchBatch},
		{post, "/api/v1/batches/:batch/blanks", store.Grower, jsonBody, s.postBatchBlanks},
		{get, "/api/v1/batches/:batch/labels.pdf", store.Viewer, noBody, s.getBatchLabels},
		{post, "/api/v1/blanks", store.Grower, jsonBody, s.postBlanks},
		{get, "/api/v1/labels.pdf", store.Viewer, noBody, s.getLabels},
		{get, "/api/v1/sheets", store.Viewer, noBody, s.getSheets},

		{get, "/api/v1/bags/:code", store.Viewer, noBody, s.getBag},
		{post, "/api/v1/bags/:code/entries", store.Grower, jsonBody, s.postBagEntry},
		{post, "/api/v1/entries", store.Grower, entriesBody, s.postEntries},
		{get, "/api/v1/bags/:code/trace", store.Viewer, noBody, s.getTrace},
		{get, "/api/v1/contamination", store.Viewer, noBody, s.getContamination},
		{get, "/api/v1/compare", store.Viewer, noBody, s.getCompare},
		{get, "/api/v1/due", store.Viewer, noBody, s.getDue},

		{post, "/api/v1/photos", store.Grower, pictureBody, s.postPhoto},
		{get, "/api/v1/photos/:photo", store.Viewer, noBody, s.getPhoto},
		{post, "/api/v1/scans", store.Viewer, pictureBody, s.postScan},

		{get, "/api/v1/places", store.Viewer, noBody, s.getPlaces},
		{post, "/api/v1/places", store.Grower, jsonBody, s.postPlace},
		{get, "/api/v1/places/:code/climate", store.Viewer, noBody, s.getClimate},
		{put, "/api/v1/places/:code/air", store.Grower, jsonBody, s.putPlaceFacts},
		{get, "/api/v1/places/:code/log", store.Viewer, noBody, s.getRoomLog},
		{post, "/api/v1/places/:code/log", store.Grower, jsonBody, s.postRoomLine},
		{post, "/api/v1/places/:code/log/:line/take-back", store.Grower, noBody, s.postRoomTakeBack},
		{post, "/api/v1/readings", store.Sensor, jsonBody, s.postReadings},
		{get, "/api/v1/readings", store.Viewer, noBody, s.getReadings},
		{get, "/api/v1/cards", store.Viewer, noBody, s.getCards},
		{get, "/api/v1/species", store.Viewer, noBody, s.getSpecies},
		{put, "/api/v1/species/:slug", store.Owner, jsonBody, s.putSpecies},
		{get, "/api/v1/conditions", store.Viewer, noBody, s.getConditions},
		{put, "/api/v1/conditions/:key", store.Owner, jsonBody, s.putCondition},
		{get, "/api/v1/settings", store.Viewer, noBody, s.getSettings},
		{put, "/api/v1/settings", store.Owner, jsonBody, s.putSettings},

		{get, "/api/v1/export/batches.csv", store.Viewer, noBody, s.exporting("batches", s.store.ExportBatches)},
		{get, "/api/v1/export/bags.csv", store.Viewer, noBody, s.exporting("bags", s.store.ExportBags)},
		{get, "/api/v1/export/entries.csv", store.Viewer, noBody, s.exporting("entries", s.store.ExportEntries)},
		{get, "/api/v1/export/readings.csv", store.Viewer, noBody, s.exporting("readings", s.store.ExportReadings)},
		{get, "/api/v1/export/places.csv", store.Viewer, noBody, s.exporting("places", s.store.ExportPlaces)},
		{get, "/api/v1/export/rooms.csv", store.Viewer, noBody, s.exporting("rooms", s.store.ExportRooms)},
	}...)
}

// serve checks the rights, then limits the body, then hands over.
func (s *Server) serve(r route) echo.HandlerFunc {
	return func(c echo.Context) error {
		if err := s.admit(c, r.least); err != nil {
			return err
		}
		most := r.body
		if r.least == anyone {
			most = min(most, mostOfStrangers)
		}
		defer s.holdBody(c.Request(), most)()
		if err := limitBody(c, most); err != nil {
			return err
		}
		return r.handle(c)
	}
}
