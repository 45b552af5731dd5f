package words_test

import (
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/words"
)

// Every feature has words by which it is asked and its few words beside the long ones, every sight too, and no slot of them stays open.
func TestBriefIsThereForAll(t *testing.T) {
	slots := words.Slots{Flute: 3, Distance: ".020", Turn: "4.6", FromEnd: ".100", N: "4"}
	for _, f := range inspect.Features {
		if a := words.Ask(inspect.Key{Feature: f, Flute: 1, Repeat: 1}, 4, 0, false, slots); a.Title == "" || a.Short == "" || a.Question == "" || a.Contact == "" || a.Where == "" || len(a.Cares) == 0 {
			t.Errorf("%s: how it is asked is not said: %+v", f, a)
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
