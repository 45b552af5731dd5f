package page

import (
	"fmt"
	"html"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"flutelog/cmd/internal/people"
	"flutelog/inspect"
	"flutelog/inspect/record"
)

// withPeople makes a recorder whose bench knows people: Vale reads, Okafor may sign too; both have a PIN.
func withPeople(t *testing.T, change func(*Config)) *recorder {
	t.Helper()
	return newRecorder(t, func(c *Config) {
		c.Bench.Inspectors = []string{"Okafor"}
		p, err := people.Read(c.Ledger.Dir())
		if err != nil {
			t.Fatal(err)
		}
		for name, pin := range map[string]string{"Vale": "2468", "Okafor": "1357"} {
			if err := p.Add(name, pin); err != nil {
				t.Fatal(err)
			}
		}
		if change != nil {
			change(c)
		}
	})
}

// signIn signs somebody in at a device.
func (c *client) signIn(who, pin string) answer {
	c.t.Helper()
	form := c.fields("/sign-in")
	form.Set("who", who)
	form.Set("pin", pin)
	form.Set("then", "/add")
	return c.post("/sign-in", form)
}

// Nothing is read before somebody is signed in; what was typed into the form is kept, and does what it was to do once
// they are. A name alone does not sign in one who has a PIN.
func TestSignInGoesOnWithTheForm(t *testing.T) {
	r := withPeople(t, nil)
	c := r.client()
	form := c.fields("/add")
	form.Set("tool", testTool.ID)
	form.Set("stage", "after")
	form.Set("wheel", "cup")
	form.Set("divisions", "3")
	asked := c.post("/begin", form)
	if asked.status != http.StatusForbidden || !strings.Contains(asked.body, "Vale<small>reads</small>") || !strings.Contains(asked.body, "Okafor<small>reads, may sign</small>") {
		t.Fatalf("status %d: %s", asked.status, asked.body)
	}
	on := url.Values{"token": form["token"], "then": {"/begin"}, "kept": {keptIn(asked.body)}, "who": {"Vale"}}
	if a := c.post("/sign-in", on); !strings.Contains(a.body, "PIN of Vale") || !strings.Contains(a.body, "3 of 3 tries are left") {
		t.Fatalf("the PIN is not asked: %s", a.body)
	}
	on.Set("pin", "0000")
	if a := c.post("/sign-in", on); a.status != http.StatusForbidden || !strings.Contains(a.body, "2 tries are left") {
		t.Fatalf("a wrong PIN: status %d: %s", a.status, a.body)
	}
	on.Set("pin", "2468")
	if a := c.post("/sign-in", on); a.path != "/inspection" {
		t.Fatalf("status %d at %s: %s", a.status, a.path, a.body)
	}
	open, err := record.Open(r.config.Ledger)
	if err != nil || len(open) != 1 || open[0].Inspection.Wheel != "cup" || open[0].Inspection.Divisions != 3 {
		t.Fatalf("%+v, %v", open, err)
	}
}

func keptIn(body string) string {
	_, rest, _ := strings.Cut(body, `name="kept" value="`)
	kept, _, _ := strings.Cut(rest, `"`)
	return html.UnescapeString(kept)
}

// After three wrong PINs the device waits for that person, and for nobody else; the right one does not help then. It is told
// on the recorder's terminal.
func TestTriesOfAPIN(t *testing.T) {
	r := withPeople(t, func(c *Config) { c.Paired = true })
	c := r.client()
	c.post("/pair", url.Values{"code": {r.code()}, "name": {"tablet"}})
	for i, left := range []string{"2 tries are left", "1 try is left", "no try is left for 5 minutes"} {
		if a := c.signIn("Okafor", fmt.Sprint("000", i)); a.status != http.StatusForbidden || !strings.Contains(a.body, left) {
			t.Errorf("wrong PIN %d: status %d, want %q", i+1, a.status, left)
		}
	}
	if a := c.signIn("Okafor", "1357"); a.status != http.StatusForbidden || !strings.Contains(a.body, "waits 5 minutes for Okafor only") {
		t.Errorf("the right PIN while it waits: status %d", a.status)
	}
	if a := c.signIn("Vale", "2468"); a.path != "/add" {
		t.Errorf("another person: at %s", a.path)
	}
	if got := r.shown.String(); !strings.Contains(got, "a wrong PIN for Okafor at tablet; 1 try is left") {
		t.Errorf("the terminal shows %q", got)
	}
	other := r.client()
	other.post("/pair", url.Values{"code": {r.code()}})
	if a := other.signIn("Okafor", "1357"); a.path != "/add" {
		t.Errorf("at another device: at %s", a.path)
	}
	r.clock.Turn(pinWait)
	if a := c.signIn("Okafor", "1357"); a.path != "/add" {
		t.Errorf("after the wait: at %s", a.path)
	}
}

// A person signs as themselves only, where they may, with a tick and the PIN once more. What others write into the form
// counts for nothing.
func TestSignsAsThemselvesOnly(t *testing.T) {
	r := withPeople(t, nil)
	c := r.client()
	c.signIn("Vale", "2468")
	id := r.begin(c, inspect.After)
	s := &sitting{t, c, id, link("/inspection", id)}
	s.post("/look", "clear", "yes")
	s.takes("0 .0001 0")
	s.post("/close")
	sign := func(fields ...string) answer {
		form := c.fields("/add")
		form.Set("id", id)
		form.Set("ruling", "concession")
		form.Set("why", "roughing only")
		for i := 0; i < len(fields); i += 2 {
			form.Set(fields[i], fields[i+1])
		}
		return c.post("/decide", form)
	}
	if a := sign("confirmed", "yes", "pin", "2468", "by", "Okafor"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "Vale may not sign; Okafor may") {
		t.Errorf("Vale signs: status %d: %s", a.status, a.body)
	}
	c.signIn("Okafor", "1357")
	if a := sign("pin", "1357"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "tick that you sign it") {
		t.Errorf("not confirmed: status %d", a.status)
	}
	if a := sign("confirmed", "yes"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "not the PIN of Okafor; 2 tries are left") {
		t.Errorf("without the PIN: status %d: %s", a.status, a.body)
	}
	if a := sign("confirmed", "yes", "pin", "1357", "by", "Vale"); a.path != "/inspection" {
		t.Errorf("status %d at %s: %s", a.status, a.path, a.body)
	}
	in, err := record.Find(r.config.Ledger, id)
	if r := in.Ruling(); err != nil || r == nil || r.By != "Okafor" {
		t.Errorf("ruled %+v, %v", r, err)
	}
}

// Who is signed in is known after a new start of the recorder, and is signed off after ten minutes untouched.
func TestSignedInOverANewStart(t *testing.T) {
	r := withPeople(t, nil)
	c := r.client()
	c.signIn("Vale", "2468")
	address := r.at
	r.stop()
	r.serve(address)
	if a := c.get("/add"); !strings.Contains(a.body, "Vale: change person") {
		t.Errorf("after a new start nobody is signed in: %s", a.body)
	}
	r.clock.Turn(untouched)
	if a := c.get("/add"); strings.Contains(a.body, "Vale: change person") {
		t.Error("untouched for ten minutes, and still signed in")
	}
}

// Where a form goes on is a place of this page, whatever was asked for.
func TestGoesOnHereOnly(t *testing.T) {
	for path, want := range map[string]string{
		"/tool?id=EM-1": "/tool?id=EM-1", "": "/", "//elsewhere.example/": "/", "https://elsewhere.example/": "/", `/\elsewhere.example`: "/", "add": "/",
	} {
		if got := localPath(path); got != want {
			t.Errorf("%q goes on at %q, want %q", path, got, want)
		}
	}
	if !slices.Contains(pad, "0") {
		t.Error("the pad has no 0")
	}
}
