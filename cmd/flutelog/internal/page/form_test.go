package page

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flutelog/inspect/draw"
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
	if a := c.post("/add", form); a.path != "/tool" {
		t.Errorf("mended, it is at %s: %s", a.path, a.body)
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
