package words_test

import (
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/words"
)

// Every feature that is asked for has its few words beside the long ones, every sight too, and no slot of them stays open.
func TestBriefIsThereForAll(t *testing.T) {
	slots := words.Slots{Flute: 3, Distance: ".020", Turn: "4.6", FromEnd: ".100", N: "4"}
	for _, f := range inspect.Features {
		if words.Short(f) == "" {
			continue
		}
		for _, from := range []string{".100", ""} {
			slots.FromEnd = from
			for place := range 2 {
				for _, slid := range []bool{false, true} {
					k := inspect.Key{Feature: f, Flute: 3, Repeat: 1}
					text := words.Brief(k, 4-place, place, slid, slots)
					if text == "" || strings.ContainsAny(text, "{}") && from != "" || len(text) > 120 {
						t.Errorf("%s: %q", f, text)
					}
				}
			}
		}
		if words.Does(f) == "" {
			t.Errorf("%s: what it does is not said", f)
		}
	}
	for _, s := range inspect.Sights {
		if words.LooksBrief(s) == "" {
			t.Errorf("%s: nothing is said of it", s)
		}
	}
}
