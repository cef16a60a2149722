package server

import (
	"net/http"

	"bagmark/store"
)

// stockAPI is what stands before the bag: lots, jars, steriliser runs.
func (s *Server) stockAPI() []route {
	const get, post, patch = http.MethodGet, http.MethodPost, http.MethodPatch
	return []route{
		{post, "/api/v1/lots", store.Grower, jsonBody, s.postLot},
		{get, "/api/v1/lots", store.Viewer, noBody, s.getLots},
		{get, "/api/v1/lots/:code", store.Viewer, noBody, s.getLot},
		{patch, "/api/v1/lots/:code", store.Grower, jsonBody, s.patchLot},
		{post, "/api/v1/lots/:code/jars", store.Grower, jsonBody, s.postLotJars},
		{post, "/api/v1/lots/:code/entries", store.Grower, jsonBody, s.postLotEntry},
		{get, "/api/v1/lots/:code/recall", store.Viewer, noBody, s.getRecall},
		{get, "/api/v1/export/lots.csv", store.Viewer, noBody, s.getExportLots},
		{get, "/api/v1/export/stock-entries.csv", store.Viewer, noBody, s.getExportStockEntries},
	}
}

// stockPages are the pages of the same.
func (s *Server) stockPages() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/lots", store.Viewer, noBody, s.showLots},
		{post, "/lots", store.Grower, formBody, s.postLotForm},
		{get, "/L/:code", store.Viewer, noBody, s.showLot},
		{post, "/L/:code", store.Grower, formBody, s.postLotFields},
		{post, "/L/:code/entries", store.Grower, formBody, s.postLotEntryForm},
		{post, "/L/:code/photo", store.Grower, pictureBody, s.postLotPhoto},
		{post, "/L/:code/jars", store.Grower, formBody, s.postJarsForm},
		{get, "/L/:code/recall", store.Viewer, noBody, s.showRecall},
	}
}
