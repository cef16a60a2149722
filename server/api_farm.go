package server

import (
	_ "embed"
	"encoding/json"
	"net/http"

	"bagmark/grow"
	"bagmark/store"

	"github.com/labstack/echo/v4"
)

// description is the API in OpenAPI 3.1.
//
//go:embed openapi.yaml
var description []byte

func (s *Server) getOpenAPI(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/yaml; charset=utf-8", description)
}

// getHealth tells a watchdog that the server and its database answer, and a
// phone what the farm's clock says.
func (s *Server) getHealth(c echo.Context) error {
	if _, err := s.store.LabDays(c.Request().Context(), 1); err != nil { // the farm itself is kept in memory
		return err
	}
	return answer(c, http.StatusOK, map[string]string{"status": "ok", "version": s.version, "now": s.store.Now().UTC().Format(clockLayout)})
}

// payloadNow is what a symbol says; "" only if the farm cannot be read, which
// the call before it would have told.
func (s *Server) payloadNow(c echo.Context, kind grow.CodeKind, code grow.Code) string {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return ""
	}
	return s.address(farm).Payload(kind, code)
}

// getCards lists the bench cards.
func (s *Server) getCards(c echo.Context) error {
	cards, err := s.store.Cards(c.Request().Context())
	if err != nil {
		return err
	}
	for i, card := range cards {
		cards[i].Payload = s.payloadNow(c, grow.CardCode, card.Code)
	}
	return answer(c, http.StatusOK, map[string][]store.Card{"cards": cards})
}

// getConditions lists the farm's conditions.
func (s *Server) getConditions(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	list := make([]grow.Condition, 0, len(farm.Conditions))
	for _, key := range farm.Conditions.Keys() {
		list = append(list, farm.Conditions[key])
	}
	return answer(c, http.StatusOK, map[string][]grow.Condition{"conditions": list})
}

// putCondition sets a condition. The key is the path's; the body may repeat it.
func (s *Server) putCondition(c echo.Context) error {
	key, err := param(c, "key")
	if err != nil {
		return err
	}
	var condition grow.Condition
	if err := readJSON(c, &condition); err != nil {
		return err
	}
	if condition.Key != "" && condition.Key != key {
		p := grow.Problems{"key": "is not the one of the address"}
		return p.Err("this condition cannot be kept as it is")
	}
	condition.Key = key
	ctx := c.Request().Context()
	if err := s.store.PutCondition(ctx, actorOf(c), condition); err != nil {
		return err
	}
	farm, err := s.store.Farm(ctx)
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, map[string]grow.Condition{"condition": farm.Conditions[key]})
}

// getSettings gives the farm's settings.
func (s *Server) getSettings(c echo.Context) error {
	farm, err := s.store.Farm(c.Request().Context())
	if err != nil {
		return err
	}
	return answer(c, http.StatusOK, farm.Settings)
}

// putSettings changes the settings that the body names.
func (s *Server) putSettings(c echo.Context) error {
	raw, err := jsonBodyOf(c)
	if err != nil {
		return err
	}
	if err := s.store.PutSettings(c.Request().Context(), actorOf(c), func(settings *store.Settings) error { return settingsOf(raw, settings) }); err != nil {
		return err
	}
	s.note(c, "settings changed")
	return s.getSettings(c)
}

// settingsOf writes what a body names onto the settings. Units alone say
// the temperature and the weight too.
func settingsOf(raw []byte, to *store.Settings) error {
	if err := decodeJSON(raw, to); err != nil {
		return err
	}
	var named struct{ Units, Temperature, Weight *string }
	if err := json.Unmarshal(raw, &named); err != nil || named.Units == nil {
		return err
	}
	usual := grow.UnitsOf(to.Units)
	if named.Temperature == nil {
		to.Temperature = usual.Temperature
	}
	if named.Weight == nil {
		to.Weight = usual.Weight
	}
	return nil
}
