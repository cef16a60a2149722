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
		{post, "/api/v1/runs", store.Grower, jsonBody, s.postRun},
		{get, "/api/v1/runs", store.Viewer, noBody, s.getRuns},
		{get, "/api/v1/runs/:code", store.Viewer, noBody, s.getRun},
		{patch, "/api/v1/runs/:code", store.Grower, jsonBody, s.patchRun},
		{post, "/api/v1/runs/:code/readings", store.Grower, csvBody, s.postRunReadings},
		{post, "/api/v1/runs/:code/readings/:series/take-back", store.Grower, noBody, s.postVoidSeries},
		{post, "/api/v1/runs/:code/sterile-bags", store.Grower, jsonBody, s.postSterile},
		{get, "/api/v1/sterile-bags", store.Viewer, noBody, s.getSterileLeft},
		{get, "/api/v1/sterile-bags/:code", store.Viewer, noBody, s.getSterile},
		{post, "/api/v1/sterile-bags/:code/entries", store.Grower, jsonBody, s.postSterileEntry},
		{get, "/api/v1/export/runs.csv", store.Viewer, noBody, s.exporting("runs", s.store.ExportRuns)},
		{get, "/api/v1/export/sterile-bags.csv", store.Viewer, noBody, s.exporting("sterile-bags", s.store.ExportSterile)},
		{get, "/api/v1/export/lots.csv", store.Viewer, noBody, s.exporting("lots", s.store.ExportLots)},
		{get, "/api/v1/export/stock-entries.csv", store.Viewer, noBody, s.exporting("stock-entries", s.store.ExportStockEntries)},
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
		{get, "/runs", store.Viewer, noBody, s.showRuns},
		{post, "/runs", store.Grower, formBody, s.postRunForm},
		{post, "/L/:code/run", store.Grower, formBody, s.postRunFields},
		{post, "/L/:code/readings", store.Grower, formBody, s.postTypedReadings},
		{post, "/L/:code/readings/file", store.Grower, csvBody, s.postLoggerFile},
		{post, "/L/:code/readings/take-back", store.Grower, formBody, s.postSeriesBack},
		{post, "/L/:code/sterile", store.Grower, formBody, s.postSterileForm},
		{post, "/B/:code/sterile", store.Grower, formBody, s.postSterileLog},
	}
}
