package server

import (
	"net/http"

	"bagmark/store"
)

// cropPages follow a bag from the racks to the crate.
func (s *Server) cropPages() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/fruiting", store.Viewer, noBody, s.showFruiting},
		{post, "/fruiting", store.Grower, formBody, s.postFruiting},
		{get, "/harvest", store.Grower, noBody, s.showHarvest},
		{post, "/harvest", store.Grower, formBody, s.postHarvest},
		{get, "/week-ahead", store.Viewer, noBody, s.showWeekAhead},
		{get, "/yield", store.Viewer, noBody, s.showYield},
		{get, "/substrate", store.Viewer, noBody, s.showSubstrate},
		{get, "/sold", store.Viewer, noBody, s.showSold},
		{get, "/sold/labels.pdf", store.Viewer, noBody, s.showBuyerLabels},
		{get, "/batches/:batch/recall", store.Viewer, noBody, s.showBatchRecall},
	}
}

// cropAPI is the same for programs.
func (s *Server) cropAPI() []route {
	const get, put, patch, post = http.MethodGet, http.MethodPut, http.MethodPatch, http.MethodPost
	return []route{
		{get, "/api/v1/places/:code", store.Viewer, noBody, s.getPlace},
		{put, "/api/v1/places/:code", store.Grower, jsonBody, s.putPlace},
		{patch, "/api/v1/places/:code", store.Grower, jsonBody, s.patchPlace},
		{get, "/api/v1/fruiting", store.Viewer, noBody, s.getToFruiting},
		{get, "/api/v1/week-ahead", store.Viewer, noBody, s.getWeekAhead},
		{get, "/api/v1/export/week-ahead.csv", store.Viewer, noBody, s.exporting("week-ahead", s.store.ExportWeekAhead)},
		{get, "/api/v1/yield", store.Viewer, noBody, s.getYield},
		{post, "/api/v1/mix", store.Viewer, jsonBody, s.postMix},
		{get, "/api/v1/sold", store.Viewer, noBody, s.getSold},
		{get, "/api/v1/batches/:batch/recall", store.Viewer, noBody, s.getBatchRecall},
		{get, "/api/v1/buyer-labels.pdf", store.Viewer, noBody, s.getBuyerLabels},
	}
}
