package page

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// A reading of a released tool is put right by who is signed in: what was read stays, the tool is recalled, and its card
// says what changed. A value in words, a missing reason and a missing signature are refused at their field.
func TestCorrectByForms(t *testing.T) {
	r, c := keptSigned(t)
	f := c.fields("/add")
	for name, value := range map[string]string{"do": "release", "id": "MM-12.1", "confirmed": "yes", "pin": "1357"} {
		f.Set(name, value)
	}
	c.post("/deed", f)
	if got := r.stands("MM-12").Standing; got != record.StandsReleased {
		t.Fatalf("MM-12 is %s", got)
	}
	in, err := record.Find(r.config.Ledger, "MM-12.1")
	if err != nil {
		t.Fatal(err)
	}
	var of inspect.Reading
	for _, x := range in.Readings {
		if x.Feature == inspect.Diameter {
			of = x
		}
	}
	page := c.get(correctAt(in.ID, of.Key().String())).body
	if !strings.Contains(page, "Diameter: "+of.Text+" "+string(of.Unit)) {
		t.Fatalf("the form does not say what stands: %s", page)
	}
	good := url.Values{"id": {in.ID}, "of": {of.Key().String()}, "value": {"10.2mm"}, "why": {"thimble read a turn off"}, "confirmed": {"yes"}, "pin": {"1357"}}
	for _, wrong := range []struct{ field, value, want string }{
		{"value", "ten", "ten"}, {"why", "", "reason"}, {"confirmed", "", "tick"}, {"pin", "9", "PIN"}, {"of", "x", "Choose one"},
	} {
		f := c.fields("/add")
		for name, v := range good {
			f[name] = v
		}
		f.Set(wrong.field, wrong.value)
		a := c.post("/correct", f)
		if a.status != http.StatusUnprocessableEntity || !strings.Contains(html.UnescapeString(a.body), wrong.want) {
			t.Errorf("%s %q: status %d", wrong.field, wrong.value, a.status)
		}
		if wrong.field != "why" && wrong.field != "of" && !strings.Contains(a.body, `value="thimble read a turn off"`) {
			t.Errorf("%s %q: the reason that was typed is gone", wrong.field, wrong.value)
		}
	}
	f = c.fields("/add")
	for name, v := range good {
		f[name] = v
	}
	a := c.post("/correct", f)
	if a.path != "/tool" || !strings.Contains(a.body, "recalled") || !strings.Contains(a.body, "thimble read a turn off") {
		t.Errorf("at %s: %s", a.path, a.body)
	}
	got := r.stands("MM-12")
	if got.Standing != record.StandsRecalled {
		t.Errorf("MM-12 is %s", got.Standing)
	}
	in, err = record.Find(r.config.Ledger, in.ID)
	if last := in.Corrections[len(in.Corrections)-1]; err != nil || last.By != "R. Vale" || last.Was.Value != of.Value || last.Reading.Value != 10200*length.Micrometre {
		t.Errorf("in the ledger: %+v, %v", in.Corrections, err)
	}
}

// A sight is put right too: a crack that was seen in a released tool locks it.
func TestCorrectASight(t *testing.T) {
	r, c := keptSigned(t)
	f := c.fields("/add")
	for name, value := range map[string]string{"id": "MM-12.1", "of": "cracks", "value": "perhaps", "why": "seen under the lamp", "confirmed": "yes", "pin": "1357"} {
		f.Set(name, value)
	}
	if a := c.post("/correct", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "want yes or no") {
		t.Errorf("status %d: %s", a.status, a.body)
	}
	f.Set("value", "yes")
	f.Set("flute", "9")
	if a := c.post("/correct", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "want one of the flutes") || !strings.Contains(a.body, `value="9"`) {
		t.Errorf("status %d: %s", a.status, a.body)
	}
	f.Set("flute", "2")
	if a := c.post("/correct", f); a.path != "/tool" || r.stands("MM-12").Standing != record.StandsLocked || r.stands("MM-12").Locks[0].Flute != 2 {
		t.Errorf("at %s, MM-12 is %+v", a.path, r.stands("MM-12"))
	}
}
