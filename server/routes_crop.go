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
	}
}
