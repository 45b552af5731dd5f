package page

import (
	"bufio"
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
)

// event is one server-sent event.
type event struct {
	id, name, data string
}

// stream opens a stream and returns its events.
func (c *client) stream(query url.Values, lastID string) (<-chan event, func()) {
	c.t.Helper()
	q := c.request(http.MethodGet, "/stream?"+query.Encode(), "")
	if lastID != "" {
		q.Header.Set("Last-Event-ID", lastID)
	}
	resp, err := c.Do(q)
	if err != nil {
		c.t.Fatal(err)
	}
	if resp.StatusCode != http.StatusOK {
		c.t.Fatalf("stream: status %d", resp.StatusCode)
	}
	events := make(chan event, 100)
	go func() {
		defer close(events)
		var e event
		lines := bufio.NewScanner(resp.Body)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			name, value, _ := strings.Cut(lines.Text(), ": ")
			switch name {
			case "id":
				e.id = value
			case "event":
				e.name = value
			case "data":
				e.data = value
			case "":
				if e.data != "" {
					events <- e
				}
				e = event{}
			}
		}
	}()
	return events, func() { resp.Body.Close() }
}

func next(t *testing.T, events <-chan event) event {
	t.Helper()
	select {
	case e, ok := <-events:
		if !ok {
			t.Fatal("the stream ended")
		}
		return e
	case <-time.After(5 * time.Second):
		t.Fatal("no event came")
	}
	return event{}
}

// said returns what an event says happened.
func (e event) said(t *testing.T) string {
	t.Helper()
	var u update
	if err := json.Unmarshal([]byte(e.data), &u); err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, l := range u.Said {
		all = append(all, l.Text)
	}
	return strings.Join(all, " / ")
}

// A viewer who was away gets what happened meanwhile, once and in order, from the number of the last event it saw; one
// from before the server was started anew is told to load the page again.
func TestStreamGoesOn(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	id := r.begin(c, inspect.Between)
	page := c.get(link("/inspection", id)).body
	query := url.Values{"id": {id}, "state": {dataOf(page, "state")}, "at": {dataOf(page, "at")}}
	read := func(value string) {
		t.Helper()
		form := c.fields(link("/inspection", id))
		form.Set("id", id)
		form.Set("reading", value)
		if a := c.post("/read", form); a.status != http.StatusOK {
			t.Fatalf("reading %s: %d: %s", value, a.status, a.body)
		}
	}

	events, leave := c.stream(query, "")
	read("0.011")
	first := next(t, events)
	if got := first.said(t); !strings.Contains(got, "Taken: primary land, flute 1  0.011 in.") || strings.Contains(got, "in hand") {
		t.Errorf("the first event says %q", got)
	}
	leave()
	read("0.031")
	read("0.012")
	events, leave = c.stream(query, first.id)
	defer leave()
	got := next(t, events).said(t)
	a, b := strings.Index(got, "Taken: whole land, flute 1  0.031 in"), strings.Index(got, "Taken: primary land, flute 2  0.012 in")
	if a < 0 || b < a || strings.Contains(got, "0.011") {
		t.Errorf("after being away the viewer is told %q", got)
	}

	address := r.at
	r.stop()
	r.serve(address)
	c.get("/")
	events, leave = c.stream(query, first.id)
	defer leave()
	if e := next(t, events); e.name != "reload" {
		t.Errorf("after the server was started anew: event %q, want reload", e.name)
	}
	if done := r.resumed(c, id); !strings.Contains(done, "3 answers on disk") {
		t.Errorf("taken up again: %q", done)
	}
}

// dataOf returns what a page tells its script under a name.
func dataOf(page, name string) string {
	_, rest, _ := strings.Cut(page, "data-"+name+`="`)
	value, _, _ := strings.Cut(rest, `"`)
	return value
}

// resumed takes an inspection up again and returns the page.
func (r *recorder) resumed(c *client, id string) string {
	r.t.Helper()
	form := c.fields(link("/inspection", id))
	form.Set("id", id)
	return c.post("/take-up", form).body
}
