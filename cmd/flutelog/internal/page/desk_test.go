package page

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// sitting is an inspection by plain forms.
type sitting struct {
	t    *testing.T
	c    *client
	id   string
	page string
}

func (r *recorder) sit(stage inspect.Stage) *sitting {
	c := r.client()
	id := r.begin(c, stage)
	return &sitting{r.t, c, id, link("/inspection", id)}
}

// shows is what the page shows now.
func (s *sitting) shows(wants ...string) string {
	s.t.Helper()
	body := html.UnescapeString(s.c.get(s.page).body)
	for _, want := range wants {
		if !strings.Contains(body, want) {
			s.t.Errorf("%q is not on the page:\n%s", want, body)
		}
	}
	return body
}

// post sends a form with fields set, for what is asked now.
func (s *sitting) post(path string, fields ...string) answer {
	s.t.Helper()
	form := s.c.fields(s.page)
	form.Set("id", s.id)
	for i := 0; i < len(fields); i += 2 {
		form.Set(fields[i], fields[i+1])
	}
	return s.c.post(path, form)
}

// refused posts what must be refused with words, beside the question.
func (s *sitting) refused(path string, want string, fields ...string) {
	s.t.Helper()
	if a := s.post(path, fields...); a.status != http.StatusUnprocessableEntity || !strings.Contains(html.UnescapeString(a.body), want) {
		s.t.Errorf("%s %q: status %d, want 422 and %q: %s", path, fields, a.status, want, a.body)
	}
}

func (s *sitting) takes(fields ...string) {
	s.t.Helper()
	for _, reading := range fields {
		if a := s.post("/read", "reading", reading); a.status != http.StatusOK {
			s.t.Errorf("%q: status %d: %s", reading, a.status, a.body)
		}
	}
}

// A bare whole number is no reading; what was typed is one line, and nothing in it acts by itself.
func TestPageRefusesBareNumbers(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	for _, typed := range []string{"3", "12", "400"} {
		s.refused("/read", typed+" what? Bare, it is "+typed+" inches", "reading", typed)
	}
	s.refused("/read", "A number is asked here", "reading", "r-12")
	s.shows("Flute 1: how high at its highest?", "A number is asked here") // beside the question, too
}

// All sights are one answer that names crack and burn; a row of numbers fills a round.
func TestPageTakesRows(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.shows("All clear", "no crack, no burn, none of these", "locks the tool", "Local codes")
	s.refused("/look", "Say what you see")
	s.refused("/look", "How long along the edge? 4 .015", "seen", "4")
	if a := s.post("/look", "seen", "4", "length4", ".015", "flute4", "2", "note4", "small; but there"); a.status != http.StatusOK {
		t.Fatalf("status %d: %s", a.status, a.body)
	}
	s.takes("0 .0001 0")
	s.shows("how wide is the primary")
	s.takes(".008 .030", ".008 .030")
	s.shows("All is read")
}

// A prompt says where and how far, what to expect, what it was the last time, and the TIR so far.
func TestPagePromptSaysAll(t *testing.T) {
	r := newRecorder(t, nil)
	s := r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.shows("On the edge, .100 from the end. Turn backwards to the highest", "±.0005", "at most .0005 in", "Wheel stopped and isolated", "Sets the TIR")
	s.takes("0 .0001 0", ".008 .030", ".008 .030")
	s.post("/close")
	s = r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.takes("0")
	s.shows("last time", "+.0001 (")
}

// Before the close all readings stand on the page, and any of them can be picked and read again.
func TestPagePicksAReading(t *testing.T) {
	r := newRecorder(t, nil)
	s := r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.takes("0 .0001 0", ".008 .030", ".009 .030")
	s.shows("All is read", `name="again" value="primary-land flute 2 repeat 1"`, "READ ON")
	if a := s.post("/again", "again", "primary-land flute 2 repeat 1"); a.status != http.StatusOK {
		t.Fatalf("status %d: %s", a.status, a.body)
	}
	s.shows("Flute 2: how wide is the primary?", "stands")
	s.takes(".008")
	s.shows("All is read")
	s.post("/close")
	in, err := record.Find(r.config.Ledger, s.id)
	if err != nil {
		t.Fatal(err)
	}
	for _, reading := range in.Readings {
		if reading.Feature == inspect.PrimaryLand && reading.Value != 8*length.Thou {
			t.Errorf("flute %d: %s", reading.Flute, reading.Value)
		}
	}
}

// What a tool room types is taken; what could mean two things is asked, and a yes takes it; all in shop words.
func TestPageTakesShopNumbers(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Between)
	s.takes("8thou", "1/32", "13/1000in")
	s.refused("/read", "A comma in inches: 0.03 in?", "reading", "0,03")
	s.shows(`name="line" value="y"`, "<b>0.03 in</b>")
	if a := s.post("/say", "line", "y"); a.status != http.StatusOK {
		t.Errorf("yes: status %d: %s", a.status, a.body)
	}
	s.shows("All is read")
	s = newRecorder(t, nil).sit(inspect.Between)
	s.refused("/read", "letter l", "reading", "0.0l1")
}

// A gauge that was switched to millimetres is said with what to press, and nothing of it is taken; what is typed stands under
// the keyboard.
func TestPageSaysASwitchedUnit(t *testing.T) {
	r := newRecorder(t, func(c *Config) {
		c.Practice = practice(t, device.Step{Value: 10 * length.Tenth, Fault: device.WrongUnit})
	})
	s := r.sit(inspect.Before)
	s.post("/look", "clear", "yes")
	page := s.c.get(s.page).body
	events, leave := s.c.stream(url.Values{"id": {s.id}, "state": {dataOf(page, "state")}, "at": {dataOf(page, "at")}}, "")
	defer leave()
	s.post("/press")
	for said := ""; !strings.Contains(said, "shows mm now; this bench reads it in inches"); {
		said = next(t, events).said(t)
	}
	s.shows("its unit button, then send again", "Flute 1: how high")
	s.takes("0")
	s.shows("Flute 2")
}

// A double tap answers one question; what was taken last is named before it is taken back; a refusal takes nothing away.
func TestPageDoubleTap(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Between)
	form := s.c.fields(s.page)
	form.Set("id", s.id)
	form.Set("reading", "0.008")
	if a := s.c.post("/read", form); a.status != http.StatusOK {
		t.Fatalf("status %d", a.status)
	}
	if a := s.c.post("/read", form); a.status != http.StatusConflict {
		t.Errorf("the second tap: status %d, want 409", a.status)
	}
	s.refused("/read", "A width is never minus", "reading", "-0.03")
	s.shows("Take back: primary land, flute 1 0.008", "Flute 1: how wide is the whole land")
}

// Several inspections are in hand at once, each with its own questions.
func TestPageSeveralInHand(t *testing.T) {
	r := newRecorder(t, nil)
	other := testTool
	other.ID = "T-2"
	if _, err := record.SaveTool(r.config.Ledger, other); err != nil {
		t.Fatal(err)
	}
	one := r.sit(inspect.Between)
	tool, err := record.FindTool(r.config.Ledger, other.ID)
	if err != nil {
		t.Fatal(err)
	}
	id, err := r.server.hub.begin(tool, bench.Choices{Stage: inspect.Between, Unit: length.In}, "")
	if err != nil {
		t.Fatal(err)
	}
	two := &sitting{t, one.c, id, link("/inspection", id)}
	one.takes("0.008")
	two.takes("0.009")
	one.shows("primary land, flute 1  0.008")
	two.shows("primary land, flute 1  0.009")
	body := one.c.get("/").body
	if strings.Count(body, "in hand now") != 2 {
		t.Errorf("the first page does not show both:\n%s", body)
	}
}

// While lands are asked the picture is of a land, and says which flute's; while run-out is, it is turned to the flute.
func TestPageDrawsWhatIsAsked(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.shows("turned so that flute 1 is under what reads it; turn it backwards", `data-turn="0"`)
	s.takes("0")
	s.shows("turned so that flute 2 is under what reads it", `data-turn="-180"`)
	s.takes(".0001 0")
	s.shows(">primary</text>", ">this</text>")
	s.takes(".008 .030", ".008")
	s.shows("of the land", "0.27")
}

// What is refused stands at the field, as it was typed, with what may have been meant; a choice takes it.
func TestPageKeepsWhatIsRefused(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	s.refused("/read", "12 what? Bare, it is 12 inches", "reading", "12")
	s.shows(`value="12"`, "is-refused", "<b>0.0012 in</b><small>12 divisions</small>")
	other := s.c.get(link("/readings", s.id)) // another page of it in between changes nothing
	if other.status != http.StatusOK {
		t.Errorf("all readings: status %d", other.status)
	}
	s.shows(`value="12"`)
	s.post("/say", "line", "0.0012")
	s.shows("Flute 2: how high")
	form := s.c.fields(s.page) // of flute 2
	form.Set("id", s.id)
	form.Set("reading", ".0001")
	s.takes(".0002")
	if a := s.c.post("/read", form); a.status != http.StatusConflict || !strings.Contains(a.body, `value=".0001"`) {
		t.Errorf("an answer to what was dealt with: status %d, and the value is gone: %s", a.status, a.body)
	}
}

// An order other than 1, 2, 3 is explained once.
func TestPageExplainsTheOrder(t *testing.T) {
	r := newRecorder(t, func(c *Config) {
		c.Bench.Turning = "backward"
		tool := testTool
		tool.ID, tool.Flutes = "T-4", 4
		if _, err := record.SaveTool(c.Ledger, tool); err != nil {
			t.Fatal(err)
		}
	})
	tool, err := record.FindTool(r.config.Ledger, "T-4")
	if err != nil {
		t.Fatal(err)
	}
	id, err := r.server.hub.begin(tool, bench.Choices{Stage: inspect.Before, Unit: length.In}, "")
	if err != nil {
		t.Fatal(err)
	}
	s := &sitting{t, r.client(), id, link("/inspection", id)}
	s.post("/look", "clear", "yes")
	s.shows("Order 1 4 3 2: the tool turns backwards")
	s.takes("0 .0001 0 0 0")
	if strings.Contains(s.shows("how wide is the primary"), "Order 1 4 3 2") {
		t.Error("it is explained twice")
	}
}
