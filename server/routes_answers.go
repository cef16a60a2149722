package server

import (
	"net/http"

	"bagmark/store"
)

// answerPages are the pages that answer questions over many bags, and the one
// that brings bags from elsewhere.
func (s *Server) answerPages() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/import", store.Owner, noBody, s.showImport},
		{post, "/import", store.Owner, importBody, s.postImport},
		{get, "/contamination", store.Viewer, noBody, s.showContamination},
		{get, "/compare", store.Viewer, noBody, s.showCompare},
		{get, "/pair-of-bags", store.Viewer, noBody, s.showTwoBags},
		{get, "/batches/:batch/report", store.Viewer, noBody, s.showReport},
		{get, "/trials", store.Viewer, noBody, s.showTrials},
		{post, "/trials", store.Grower, formBody, s.postTrial},
		{get, "/trials/:batch", store.Viewer, noBody, s.showTrial},
		{post, "/trials/:batch/look", store.Grower, formBody, s.postLookEarly},
		{post, "/trials/:batch/answer", store.Grower, formBody, s.postTrialAnswer},
		{get, "/calendar", store.Viewer, noBody, s.showCalendar},
		{post, "/calendar", store.Viewer, formBody, s.postCalendar},
		{post, "/calendar/end", store.Viewer, formBody, s.postEndCalendar},
		{get, "/calendar/:file", anyone, noBody, s.getCalendar},
	}
}
