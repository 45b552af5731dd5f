package page

import (
	"archive/zip"
	"context"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/internal/look/looktest"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// recorder is a served page with its ledger. stop ends the server as a signal does; serve starts another on the
// same ledger and port.
type recorder struct {
	t      *testing.T
	config Config
	clock  looktest.Clock
	shown  terminal // what the recorder's terminal shows
	server *Server
	at     string
	stop   func()
}

// terminal gathers what is written.
type terminal struct {
	mu sync.Mutex
	b  strings.Builder
}

func (s *terminal) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(b)
}

func (s *terminal) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}

// testBench asks for little, so that a whole inspection is short.
const testBench = `
turning = "forward"
release-rule = "simple"
[stage.before]
features = ["radial-runout", "primary-land", "land"]
[stage.between]
features = ["primary-land", "land"]
[stage.after]
features = ["radial-runout"]
repeats = 1
`

// testTool is invented.
var testTool = inspect.Tool{
	ID: "T/1 ä", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Helix: 30 * length.Degree,
	Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
}

func newRecorder(t *testing.T, change func(*Config)) *recorder {
	t.Helper()
	r := &recorder{t: t}
	l, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "test"})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bench.Parse("bench.toml", []byte(testBench))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := record.SaveTool(l, testTool); err != nil {
		t.Fatal(err)
	}
	r.config = Config{Ledger: l, Bench: b, Unit: length.In, Now: r.clock.Now, Terminal: &r.shown}
	if change != nil {
		change(&r.config)
	}
	r.serve("127.0.0.1:0")
	t.Cleanup(func() { r.stop() })
	return r
}

func (r *recorder) serve(address string) {
	r.t.Helper()
	l, err := net.Listen("tcp", address)
	if err != nil {
		r.t.Fatal(err)
	}
	r.at = l.Addr().String()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	r.server = New(r.config)
	go func(s *Server) { ended <- s.Serve(ctx, l) }(r.server)
	r.stop = sync.OnceFunc(func() {
		cancel()
		if err := <-ended; err != nil {
			r.t.Errorf("serving: %v", err)
		}
	})
}

// practice starts a practice gauge with readings of its own. Its button may be pressed as fast as a test does.
func practice(t *testing.T, steps ...device.Step) *Practice {
	t.Helper()
	p := device.PracticeProfile(device.Button, length.In)
	p.QuietTime = device.Duration(time.Nanosecond)
	g, err := StartPractice(p, steps)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Close() })
	return g
}

// client is a browser without a script.
type client struct {
	*http.Client
	t  *testing.T
	at string
}

func (r *recorder) client() *client {
	jar, err := cookiejar.New(nil)
	if err != nil {
		r.t.Fatal(err)
	}
	return &client{&http.Client{Jar: jar}, r.t, "http://" + r.at}
}

// clientFrom is a browser whose connections come from an address of this machine's loopback.
func (r *recorder) clientFrom(address string) *client {
	r.t.Helper()
	c := r.client()
	t := http.DefaultTransport.(*http.Transport).Clone()
	t.DialContext = (&net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(address)}}).DialContext
	c.Transport = t
	r.t.Cleanup(t.CloseIdleConnections)
	return c
}

// answer is what came back.
type answer struct {
	status int
	path   string // where redirections ended
	body   string
	header http.Header
}

func (c *client) do(req *http.Request) answer {
	c.t.Helper()
	resp, err := c.Do(req)
	if err != nil {
		c.t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	return answer{resp.StatusCode, resp.Request.URL.Path, string(body), resp.Header}
}

func (c *client) request(method, path, body string) *http.Request {
	c.t.Helper()
	req, err := http.NewRequest(method, c.at+path, strings.NewReader(body))
	if err != nil {
		c.t.Fatal(err)
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return req
}

func (c *client) get(path string) answer {
	c.t.Helper()
	return c.do(c.request(http.MethodGet, path, ""))
}

func (c *client) post(path string, form url.Values) answer {
	c.t.Helper()
	return c.do(c.request(http.MethodPost, path, form.Encode()))
}

var (
	tokenField  = regexp.MustCompile(`name="token" value="([^"]+)"`)
	ticketField = regexp.MustCompile(`name="of" value="([^"]+)" form="act"`)
)

// fields returns the fields that a page gives to its forms: the token, and the ticket of the question in hand.
func (c *client) fields(path string) url.Values {
	c.t.Helper()
	page := c.get(path).body
	form := url.Values{}
	if m := tokenField.FindStringSubmatch(page); m != nil {
		form.Set("token", m[1])
	}
	if m := ticketField.FindStringSubmatch(page); m != nil {
		form.Set("of", m[1])
	}
	return form
}

// begin begins an inspection of the test tool and returns its id.
func (r *recorder) begin(c *client, stage inspect.Stage) string {
	r.t.Helper()
	form := c.fields("/add")
	form.Set("tool", testTool.ID)
	form.Set("stage", string(stage))
	if a := c.post("/begin", form); a.status != http.StatusOK || a.path != "/inspection" {
		r.t.Fatalf("begin: %d at %s: %s", a.status, a.path, a.body)
	}
	open, err := record.Open(r.config.Ledger)
	if err != nil || len(open) != 1 {
		r.t.Fatalf("%d inspections are open, %v", len(open), err)
	}
	return open[0].Inspection.ID
}

// answers are what a person types or chooses to bring an inspection to its end, by the ticket of the question.
var answers = map[string]string{
	"sights":                         "clear",
	"radial-runout flute 1 repeat 1": "+0.0001", "radial-runout flute 2 repeat 1": "0.0003", "radial-runout flute 1 closing": "1tenths",
	"primary-land flute 1 repeat 1": "0.008", "land flute 1 repeat 1": "0.030",
	"primary-land flute 2 repeat 1": "0.2mm", "land flute 2 repeat 1": "30thou",
}

// Everything works by plain forms, without a script: each answer leads back to the page, which asks the next.
func TestInspectionByForms(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	id := r.begin(c, inspect.Before)
	page := link("/inspection", id)
	for range answers {
		form := c.fields(page)
		form.Set("id", id)
		of := form.Get("of")
		path := "/read"
		form.Set("reading", answers[of])
		if answers[of] == "clear" {
			path = "/look"
			form.Set("clear", "yes")
		}
		if a := c.post(path, form); a.status != http.StatusOK || a.path != "/inspection" {
			t.Fatalf("%s: %d at %s: %s", of, a.status, a.path, a.body)
		}
	}
	form := c.fields(page)
	form.Set("id", id)
	if got := form.Get("of"); got != "all readings" {
		t.Fatalf("still asked: %s", got)
	}
	a := c.post("/close", form)
	for _, want := range []string{"READ ON", "0.2 mm", "30 thou", "head "} {
		if !strings.Contains(a.body, want) {
			t.Errorf("the closed page has no %q", want)
		}
	}
	found, err := record.Find(r.config.Ledger, id)
	if err != nil {
		t.Fatal(err)
	}
	if got := len(found.Readings); got != 7 {
		t.Errorf("%d readings in the ledger, want 7", got)
	}
	if !strings.Contains(a.body, `href="/results.qif?id=`) {
		t.Error("the closed page hands nothing on to other software")
	}
	// the tool's id has a slash and an umlaut: the file that is handed on has it whole, its name has not
	if f := c.get(link("/results.qif", id)); f.status != http.StatusOK || !strings.Contains(f.body, "<SerialNumber>"+testTool.ID+"</SerialNumber>") {
		t.Errorf("results: status %d: %.200s", f.status, f.body)
	}
	f := c.get(link("/asset.xml", id))
	if f.status != http.StatusOK && !strings.Contains(f.body, "the clock was not set") {
		t.Errorf("asset: status %d: %.200s", f.status, f.body)
	}
	if offered := strings.Contains(a.body, `href="/asset.xml?id=`); offered != (f.status == http.StatusOK) {
		t.Errorf("the asset is offered: %v, and given with status %d", offered, f.status)
	}
	// the tables come with what says what their columns hold
	f = c.get(link("/tables.zip", id))
	archive, err := zip.NewReader(strings.NewReader(f.body), int64(len(f.body)))
	if err != nil {
		t.Fatalf("tables: status %d: %v", f.status, err)
	}
	names := map[string]bool{}
	for _, file := range archive.File {
		names[file.Name] = true
	}
	for _, want := range []string{"readings.csv", "inspections.csv", "tools.csv", "csv-metadata.json", "tables.sql"} {
		if !names[want] {
			t.Errorf("no %s among the tables: %v", want, names)
		}
	}
	if f := c.get(link("/results.qif", "EM-9.1")); f.status != http.StatusNotFound {
		t.Errorf("results of what is not there: status %d", f.status)
	}
}

// How a tool was ground is told with its inspection; what cannot have been done is refused, and nothing begins.
func TestHowItWasGroundByForms(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	tell := func(stage, divisions, offset string) answer {
		form := c.fields("/add")
		for name, value := range map[string]string{"tool": testTool.ID, "stage": stage, "wheel": "cup", "divisions": divisions, "offset": offset} {
			form.Set(name, value)
		}
		return c.post("/begin", form)
	}
	for _, refused := range []struct{ stage, divisions, offset, want string }{
		{"before", "3", "", "tell how a tool was ground"},
		{"after", "three", "", "divisions: want a whole number"},
		{"after", "-3", "", "divisions -3: want 1 or more"},
		{"after", "", "1,5mm", "offset: "},
		{"after", "", "0.25in", "less than half the tool&#39;s diameter of 0.50000 in"},
	} {
		if a := tell(refused.stage, refused.divisions, refused.offset); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, refused.want) || !strings.Contains(a.body, `name="divisions" value="`+refused.divisions+`"`) {
			t.Errorf("%+v: status %d, %s", refused, a.status, a.body)
		}
	}
	if a := tell("after", "3", "0.039"); a.path != "/inspection" {
		t.Fatalf("begin: %d at %s: %s", a.status, a.path, a.body)
	}
	open, err := record.Open(r.config.Ledger)
	if err != nil || len(open) != 1 {
		t.Fatalf("%d inspections are open, %v", len(open), err)
	}
	in := open[0].Inspection
	if in.Wheel != "cup" || in.Divisions != 3 || in.Offset == nil || *in.Offset != 39*length.Thou {
		t.Errorf("ground with wheel %q, %d divisions, offset %v; want cup, 3, 0.039 in", in.Wheel, in.Divisions, in.Offset)
	}
}

// An inspector rules on what an inspection came to: the page offers what can be ruled, a ruling needs who and mostly why,
// and stands on the page and in the ledger.
func TestRulingByForms(t *testing.T) {
	r := newRecorder(t, nil)
	c := r.client()
	id := r.begin(c, inspect.After)
	page := link("/inspection", id)
	form := c.fields(page)
	form.Set("id", id)
	form.Set("reason", "nothing left")
	form.Set("rest", "on")
	form.Set("clear", "yes")
	c.post("/look", form)
	form.Set("of", c.fields(page).Get("of"))
	for form.Get("of") != "all readings" { // so that nothing is judged
		c.post("/skip", form)
		form.Set("of", c.fields(page).Get("of"))
	}
	closed := c.post("/close", form).body
	for ruling, offered := range map[record.Word]bool{record.Release: false, record.Concession: true, record.Withdraw: true} {
		if got := strings.Contains(closed, `name="ruling" value="`+string(ruling)+`"`); got != offered {
			t.Errorf("%s is offered: %v, want %v", ruling, got, offered)
		}
	}
	decide := func(ruling, by, why string) answer {
		form := c.fields("/add")
		for name, value := range map[string]string{"id": id, "ruling": ruling, "by": by, "why": why, "confirmed": "yes"} {
			form.Set(name, value)
		}
		return c.post("/decide", form)
	}
	for _, refused := range [][3]string{{"release", "Vale", ""}, {"concession", "Vale", " "}, {"concession", "", "roughing only"}, {"", "Vale", "x"}, {"frob", "Vale", "x"}} {
		if a := decide(refused[0], refused[1], refused[2]); a.status != http.StatusUnprocessableEntity {
			t.Errorf("%q: status %d, want 422", refused, a.status)
		}
	}
	if a := decide("concession", "Vale", "roughing only"); a.path != "/inspection" || !strings.Contains(a.body, "Ruling: concession by Vale, ") {
		t.Errorf("status %d at %s: %s", a.status, a.path, a.body)
	}
	in, err := record.Find(r.config.Ledger, id)
	if r := in.Ruling(); err != nil || r == nil || r.Word != record.Concession || r.Why != "roughing only" || in.Stands.Standing != record.StandsConceded {
		t.Errorf("in the ledger: %+v, %v", in.Rulings, err)
	}
	if a := decide("concession", "Vale", "once more"); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "already") {
		t.Errorf("a second concession: status %d", a.status)
	}
}
