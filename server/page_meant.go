package server

import (
	"net/http"
	"net/url"

	"bagmark/grow"

	"github.com/labstack/echo/v4"
)

// postMeant corrects one name of a batch to the near one that was meant, and leads
// back to the lab day's labels.
func (s *Server) postMeant(c echo.Context) error {
	code, err := batchParam(c)
	if err != nil {
		return err
	}
	v, err := formValues(c)
	if err != nil {
		return err
	}
	name := typed(v, "name")
	_, err = s.store.PatchBatch(c.Request().Context(), actorOf(c), code, func(f *grow.BatchFields) error {
		into, ok := map[string]**string{"steriliser_run": &f.SteriliserRun, "spawn_lot": &f.SpawnLot, "recipe": &f.Recipe, "strain": &f.Strain, "place": &f.Place}[v.Get("field")]
		if !ok || name == "" {
			return grow.Errorf(grow.Invalid, "nothing says which name of the batch to correct")
		}
		*into = &name
		return nil
	})
	if err != nil {
		return err
	}
	return c.Redirect(http.StatusSeeOther, "/print?"+url.Values{"made": {"1"}, "lab_day": {v.Get("lab_day")}}.Encode())
}
