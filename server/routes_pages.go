package server

import (
	"net/http"
	"slices"

	"bagmark/store"
)

// pageRoutes are the pages' part of the table. A page is read by GET, which
// changes nothing; a form posts and is led on by a redirect.
func (s *Server) pageRoutes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return slices.Concat(s.peoplePages(), s.answerPages(), s.cropPages(), s.stockPages(), s.roomPages(), []route{
		{get, "/", store.Viewer, noBody, s.showToday},
		{get, "/due/:task", store.Viewer, noBody, s.showDue},
		{post, "/due/:task", store.Grower, formBody, s.postDue},
		{post, "/take-back", store.Grower, formBody, s.postTakeBack},

		{get, "/lab-day", store.Grower, noBody, s.showLabDay},
		{post, "/lab-day", store.Grower, formBody, s.postLabDay},
		{get, "/old-bags", store.Grower, noBody, s.showOldBags},
		{post, "/old-bags", store.Grower, formBody, s.postOldBags},
		{get, "/batches", store.Viewer, noBody, s.showBatches},
		{get, "/batches/:batch", store.Viewer, noBody, s.showBatch},
		{post, "/batches/:batch", store.Grower, formBody, s.postBatchFields},
		{post, "/batches/:batch/blanks", store.Grower, formBody, s.postAdopt},
		{post, "/batches/:batch/meant", store.Grower, formBody, s.postMeant},

		{get, "/B/:code", store.Viewer, noBody, s.showBag},
		{post, "/B/:code/entries", store.Grower, formBody, s.postEntry},
		{post, "/B/:code/photo", store.Grower, pictureBody, s.postBagPhoto},
		{get, "/B/:code/mould", store.Viewer, noBody, s.showMould},
		{post, "/B/:code/watch-all", store.Grower, formBody, s.postWatchAll},
		{get, "/B/:code/trace", store.Viewer, noBody, s.showTrace},
		{get, "/B/:code/air", store.Viewer, noBody, s.showBagAir},
		{get, "/B/:code/wrong-label", store.Grower, noBody, s.showWrongLabel},
		{post, "/B/:code/wrong-label", store.Grower, formBody, s.postWrongLabel},
		{post, "/B/:code/adopt", store.Grower, formBody, s.postAdoptOne},
		{get, "/S/:code", store.Viewer, noBody, s.showPlace},
		{get, "/S/:code/list", store.Viewer, noBody, s.showPlaceList},
		{post, "/S/:code/capacity", store.Grower, formBody, s.postCapacity},
		{post, "/S/:code/name", store.Grower, formBody, s.postPlaceName},
		{post, "/S/:code/seen", store.Grower, formBody, s.postSeen},
		{get, "/C/:code", store.Viewer, noBody, s.showCard},
		{post, "/gloves", store.Viewer, formBody, s.postGloves},

		{get, "/scan", store.Viewer, noBody, s.showScan},
		{post, "/scan", store.Viewer, pictureBody, s.postScanPhoto},
		{get, "/bench", store.Grower, noBody, s.showBench},
		{post, "/bench", store.Grower, formBody, s.postBench},
		{post, "/bench/photo", store.Grower, pictureBody, s.postBenchPhoto},
		{get, "/sweep", store.Grower, noBody, s.showSweep},
		{post, "/sweep", store.Grower, formBody, s.postSweep},
		{post, "/sweep/photo", store.Grower, pictureBody, s.postSweepPhoto},

		{get, "/print", store.Viewer, noBody, s.showPrint},
		{post, "/print/blanks", store.Grower, formBody, s.postPrintBlanks},
		{post, "/print/places", store.Grower, formBody, s.postPrintPlace},
		{get, "/print/stickers.pdf", store.Viewer, noBody, s.getStickers},
		{get, "/sheets", store.Owner, noBody, s.showSheets},
		{post, "/sheets", store.Owner, formBody, s.postSheet},
		{post, "/sheets/correction", store.Owner, formBody, s.postCorrection},
		{get, "/sheets/:sheet/calibration.pdf", store.Viewer, noBody, s.getCalibration},
		{get, "/settings", store.Owner, noBody, s.showSettings},
		{post, "/settings", store.Owner, formBody, s.postSettings},
		{get, "/conditions", store.Viewer, noBody, s.showConditions},
		{post, "/conditions", store.Owner, formBody, s.postCondition},
		{get, "/species", store.Viewer, noBody, s.showSpeciesList},
		{get, "/species/:slug", store.Viewer, noBody, s.showSpecies},
		{post, "/species/:slug", store.Owner, formBody, s.postSpecies},
		{get, "/cautions", store.Viewer, noBody, s.showCautions},
		{get, "/about", store.Viewer, noBody, s.showAbout},
	})
}

// peoplePages are what a browser fetches before anybody is known, and the pages
// of who may do what.
func (s *Server) peoplePages() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/static/:hash/*", anyone, noBody, s.getAsset},
		{get, "/worker.js", anyone, noBody, s.getWorker},
		{get, "/ahead", store.Viewer, noBody, s.getAhead},
		{post, "/theme", anyone, formBody, s.postTheme},
		{get, "/trust", anyone, noBody, s.showTrust},
		{get, "/ca.crt", anyone, noBody, s.getAuthority},
		{get, "/set-up", anyone, noBody, s.showSetUp},
		{post, "/set-up", anyone, formBody, s.postSetUp},
		{get, "/first", store.Viewer, noBody, s.showFirst},
		{get, "/sign-in", anyone, noBody, s.showSignIn},
		{post, "/sign-in", anyone, formBody, s.postSignIn},
		{post, "/sign-out", store.Viewer, formBody, s.postSignOut},
		{get, "/P/:secret", anyone, noBody, s.showJoin},
		{post, "/P/:secret", anyone, formBody, s.postJoin},
		{get, "/pair", store.Viewer, noBody, s.showPaired},
		{post, "/pair", store.Viewer, formBody, s.postPair},
		{get, "/people", store.Viewer, noBody, s.showPeople},
		{post, "/people", store.Owner, formBody, s.postPerson},
		{post, "/people/end", store.Owner, formBody, s.postEndPerson},
		{post, "/people/passphrase", store.Viewer, formBody, s.postPassphrase},
		{post, "/people/token", store.Owner, formBody, s.postToken},
		{post, "/devices/revoke", store.Viewer, formBody, s.postRevoke},
	}
}
