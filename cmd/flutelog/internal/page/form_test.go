package page

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// What is refused comes back as it was typed, the reason at its field, and nothing is recorded.
func TestARefusedFormComesBack(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	good := map[string]string{"id": "EM-7", "diameter": "12mm", "flutes": "4", "material": "carbide", "hand": "right", "ends": "ball", "teeth": "plain", "duty": "roughing", "note": "from <cell> 4"}
	for _, wrong := range []struct{ field, value, why string }{
		{"id", "", "a name or a number"},
		{"id", testTool.ID, "in the ledger already"},
		{"diameter", "half", "half"},
		{"diameter", "1,5", "a comma"},
		{"flutes", "four", "the number of flutes is needed"},
		{"helix", "steep", "steep"},
		{"primary", "9x", "9x"},
	} {
		form := c.fields("/add")
		for name, value := range good {
			form.Set(name, value)
		}
		form.Set(wrong.field, wrong.value)
		a := c.post("/add", form)
		if a.status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q: status %d", wrong.field, wrong.value, a.status)
		}
		_, at, _ := strings.Cut(a.body, `id="wrong-`+wrong.field+`"`)
		said, _, _ := strings.Cut(at, "<input")
		if !strings.Contains(html.UnescapeString(said), wrong.why) {
			t.Errorf("%s %q: at the field stands %q, want %q", wrong.field, wrong.value, said, wrong.why)
		}
		for name, value := range good {
			if name == wrong.field {
				value = wrong.value
			}
			if value = html.EscapeString(value); !strings.Contains(a.body, `value="`+value+`"`) {
				t.Errorf("%s %q: what was typed for %s is gone", wrong.field, wrong.value, name)
			}
		}
		if !strings.Contains(a.body, `<option value="ball" selected>`) {
			t.Errorf("%s %q: what was chosen is gone", wrong.field, wrong.value)
		}
	}
	if _, err := record.FindTool(r.config.Ledger, "EM-7"); err == nil {
		t.Error("a refused tool is in the ledger")
	}
	form := c.fields("/add")
	for name, value := range good {
		form.Set(name, value)
	}
	for name, value := range map[string]string{"cut": "left", "angles": "0, 88, 180, 268", "taper": "3", "edges": "1in", "class": "h10", "centre": "yes"} {
		form.Set(name, value)
	}
	if a := c.post("/add", form); a.path != "/tool" {
		t.Errorf("mended, it is at %s: %s", a.path, a.body)
	}
	// h10 of 12 mm is 0 to -0.070 mm (ISO 286-2:2010, table 6, from memory)
	if got := r.stands("EM-7"); got.Cut != inspect.LeftHand || len(got.Angles) != 4 || got.Taper != 3*length.Degree || *got.Edges != length.Inch || !got.CentreCutting ||
		*got.AtLeast != 11930*length.Micrometre || *got.AtMost != 12*length.Millimetre || got.Form != "" {
		t.Errorf("in the ledger: %+v", got.Tool)
	}
	form.Set("id", "EM-98..EM-101")
	if a := c.post("/add", form); a.path != "/tools" {
		t.Errorf("a range: at %s: %s", a.path, a.body)
	}
	if got := r.stands("EM-101"); got.Flutes != 4 {
		t.Errorf("the last of a range: %+v", got.Tool)
	}
	form.Set("id", "EM-100..EM-103") // the first are there: none is added
	if a := c.post("/add", form); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "EM-100 is in the ledger already") {
		t.Errorf("a range that is there in part: status %d", a.status)
	}
	if _, err := record.FindTool(r.config.Ledger, "EM-103"); err == nil {
		t.Error("a part of a refused range is in the ledger")
	}
}

// There is one stylesheet, which every page names, and it asks for nothing.
func TestOneStylesheet(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	css := c.get("/page.css").body
	for _, part := range []string{mark.Style, draw.Style, "/* Board */", "/* Ground */", "/* Live: "} {
		if n := strings.Count(css, part); n != 1 {
			t.Errorf("%.30q stands in the stylesheet %d times, want once", part, n)
		}
	}
	for _, no := range []string{"url(", "@import", "@font-face", "http"} {
		if strings.Contains(css, no) {
			t.Errorf("the stylesheet has %s", no)
		}
	}
	for _, path := range []string{"/", "/add", link("/tool", testTool.ID), link("/tool", "no such tool")} {
		page := c.get(path).body
		if n := strings.Count(page, `rel="stylesheet"`); n != 1 || strings.Contains(page, "<style") || strings.Contains(page, " style=") {
			t.Errorf("%s names %d stylesheets, want one and no style of its own", path, n)
		}
	}
	if a := c.get("/add?" + url.Values{"id": {"EM-8"}}.Encode()); !strings.Contains(a.body, `value="EM-8"`) {
		t.Error("the id that was looked for is not in the form")
	}
}
