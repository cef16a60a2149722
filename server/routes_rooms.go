package server

import (
	"net/http"

	"bagmark/store"
)

// roomPages are about the air that bags stand in.
func (s *Server) roomPages() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/rooms", store.Viewer, noBody, s.showRooms},
		{get, "/S/:code/air", store.Viewer, noBody, s.showAir},
		{post, "/S/:code/reading", store.Grower, formBody, s.postTypedReading},
		{post, "/S/:code/log", store.Grower, formBody, s.postRoomForm},
		{post, "/S/:code/take-back", store.Grower, formBody, s.postAirTakeBack},
		{get, "/S/:code/logger", store.Grower, noBody, s.showLogger},
		{post, "/S/:code/logger", store.Grower, importBody, s.postLogger},
		{post, "/S/:code/air", store.Grower, formBody, s.postAirFacts},
	}
}
