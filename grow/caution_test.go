package grow_test

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"bagmark/grow"
)

func TestCautions(t *testing.T) {
	t.Parallel()
	topics := []grow.CautionTopic{grow.CautionSpores, grow.CautionMould, grow.CautionPressure, grow.CautionAlcohol, grow.CautionMouldyBag, grow.CautionAir,
		grow.CautionRoom, grow.CautionHotLoads, grow.CautionUV, grow.CautionCO2, grow.CautionLifting, grow.CautionChemicals, grow.CautionFood}
	var got []grow.CautionTopic
	for _, c := range grow.Cautions() {
		got = append(got, c.Topic)
		if !strings.HasSuffix(c.Line, "local codes and licensed or qualified people decide.") {
			t.Errorf("%s: the line does not defer: %q", c.Topic, c.Line)
		}
		if !strings.HasSuffix(c.Short, "Local codes and qualified people decide.") {
			t.Errorf("%s: the short form does not defer: %q", c.Topic, c.Short)
		}
		if n := utf8.RuneCountInString(c.Short); n > 150 || n >= utf8.RuneCountInString(c.Line) {
			t.Errorf("%s: the short form has %d characters", c.Topic, n)
		}
		if c.Title == "" {
			t.Errorf("%s: no title", c.Topic)
		}
		if one, ok := grow.CautionOf(c.Topic); !ok || one != c {
			t.Errorf("%s: looked up %v %+v", c.Topic, ok, one)
		}
	}
	if !slices.Equal(got, topics) {
		t.Errorf("topics %v, want %v", got, topics)
	}
	if _, ok := grow.CautionOf("weather"); ok {
		t.Error("found a caution about the weather")
	}
}
