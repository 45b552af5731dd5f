package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/report"
)

// running is a register that serves on the loopback.
type running struct {
	t       *testing.T
	places  []string // --database and --folder
	folder  string
	address string
	key     string
	said    *syncBuffer
	now     func() time.Time // the register's clock
	stop    func()
}

// syncBuffer is what a program that runs beside the test says.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *syncBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *syncBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// start starts a register on a new database.
func start(t *testing.T) *running {
	t.Helper()
	return startOn(t, clustertest.Database(t), filepath.Join(t.TempDir(), "register"))
}

func startOn(t *testing.T, database, folder string) *running {
	t.Helper()
	return startAt(t, database, folder, time.Now)
}

func startAt(t *testing.T, database, folder string, now func() time.Time) *running {
	t.Helper()
	r := &running{t: t, now: now, places: []string{"--database", database, "--folder", folder}, folder: folder, said: &syncBuffer{}}
	p := places{database: database, folder: folder}
	ctx, cancel := context.WithCancel(context.Background())
	e := env{ctx, r.said, r.said, os.Getenv, now}
	s, b, dir, err := p.open(e)
	must(t, err)
	must(t, b.Apply(e, s))
	certificate, key, err := registerKey(dir, now())
	must(t, err)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	r.address, r.key = listener.Addr().String(), key
	done := make(chan error, 1)
	go func() {
		done <- serveOn(e, listener, certificate, s, b, pages(e, s, b, dir, r.address, key, length.In))
	}()
	r.stop = sync.OnceFunc(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		s.Close()
		if t.Failed() {
			t.Logf("the register said:\n%s", r.said)
		}
	})
	t.Cleanup(r.stop)
	return r
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// does carries out a command and returns what it prints.
func (r *running) does(status int, args ...string) string {
	r.t.Helper()
	var out, said bytes.Buffer
	got := run(env{r.t.Context(), &out, &said, func(string) string { return "" }, r.now}, append(args, r.places...))
	if got != status {
		r.t.Fatalf("%v: status %d, want %d\n%s%s", args, got, status, out.String(), said.String())
	}
	return out.String()
}

// fails carries out a command that does not do its work, and returns what it says.
func (r *running) fails(status int, args ...string) string {
	r.t.Helper()
	var out, said bytes.Buffer
	if got := run(env{r.t.Context(), &out, &said, func(string) string { return "" }, r.now}, append(args, r.places...)); got != status {
		r.t.Fatalf("%v: status %d, want %d\n%s%s", args, got, status, out.String(), said.String())
	}
	return said.String()
}

// settled returns once what was taken is settled.
func (r *running) settled() {
	r.t.Helper()
	must(r.t, (&places{database: r.places[1], folder: r.folder}).with(env{r.t.Context(), io.Discard, io.Discard, os.Getenv, time.Now}, func(s *store.Store, _ *book.Book, _ string) error {
		return s.Settle(r.t.Context())
	}))
}

// enrol enrols a bench, or a program that reads.
func (r *running) enrol(args ...string) register.Enrolment {
	r.t.Helper()
	e, err := register.ParseEnrolment(r.does(statusDone, append([]string{"enrol", "--address", r.address}, args...)...))
	must(r.t, err)
	return e
}

// bench returns a bench that is enrolled.
func (r *running) bench(label string, seed uint64) (*invented.Bench, *register.Conn) {
	r.t.Helper()
	b, err := invented.New(filepath.Join(r.t.TempDir(), label), label, seed)
	must(r.t, err)
	c := &register.Conn{Enrolment: r.enrol(label)}
	r.t.Cleanup(func() { c.Close() })
	return b, c
}

func head(t *testing.T, l interface{ Head() (ledger.Head, error) }) ledger.Head {
	t.Helper()
	h, err := l.Head()
	must(t, err)
	return h
}

func copyOf(t *testing.T, l *ledger.Ledger) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "copy")
	must(t, os.CopyFS(dir, os.DirFS(l.Dir())))
	return dir
}

func openLedger(t *testing.T, dir string) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(dir, ledger.Options{Bench: "test"})
	must(t, err)
	return l
}

func send(t *testing.T, c *register.Conn, l *ledger.Ledger) register.Sent {
	t.Helper()
	sent, err := c.Send(t.Context(), l)
	must(t, err)
	if own := head(t, l); sent.Head.Ledger() != own {
		t.Fatalf("sent up to %v, want %v", sent.Head, own)
	}
	return sent
}

// client asks as a program does, and holds the register's key against the one it was given.
func client(e register.Enrolment) *http.Client {
	return &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{
		InsecureSkipVerify: true, VerifyConnection: func(s tls.ConnectionState) error {
			sum := sha256.Sum256(s.PeerCertificates[0].RawSubjectPublicKeyInfo)
			if hex.EncodeToString(sum[:]) != e.Key {
				return errors.New("another key")
			}
			return nil
		},
	}}}
}

// ask asks one question and returns the answer's status and body.
func ask(t *testing.T, e register.Enrolment, method, path string, body io.Reader, header ...string) (int, string) {
	t.Helper()
	q, err := http.NewRequestWithContext(t.Context(), method, "https://"+e.Address+path, body)
	must(t, err)
	q.Header.Set("Authorization", "Bearer "+e.Token)
	for i := 0; i+1 < len(header); i += 2 {
		q.Header.Set(header[i], header[i+1])
	}
	c := client(e)
	defer c.CloseIdleConnections()
	a, err := c.Do(q)
	must(t, err)
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	must(t, err)
	return a.StatusCode, string(text)
}

func decoded[T any](t *testing.T, text string) T {
	t.Helper()
	var v T
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	return v
}

// An old copy of a bench's ledger is told what it is: BEHIND while nothing was written to it, a fork at the true line when
// something was, whatever its length, and though the true bench goes on all the time.
func TestOldCopies(t *testing.T) {
	r := start(t)
	b, c := r.bench("north", 1)
	must(t, b.Day("EM-1", "EM-2", "EM-3"))
	send(t, c, b.Ledger)
	common := head(t, b)
	quiet, wrote, longer, anew := copyOf(t, b.Ledger), copyOf(t, b.Ledger), copyOf(t, b.Ledger), copyOf(t, b.Ledger)
	must(t, b.Day("EM-1", "EM-2"))
	send(t, c, b.Ledger)

	other := &register.Conn{Enrolment: c.Enrolment}
	defer other.Close()
	var behind *register.Behind
	if _, err := other.Send(t.Context(), openLedger(t, quiet)); !errors.As(err, &behind) || behind.Register != head(t, b) {
		t.Errorf("an old copy: %v", err)
	}
	record := func(dir string, days int) *ledger.Ledger {
		old, err := invented.New(dir, "north", 77)
		must(t, err)
		for range days {
			must(t, old.Day("EM-4", "EM-5"))
		}
		return old.Ledger
	}
	fresh, err := invented.New(t.TempDir(), "north", 5)
	must(t, err)
	must(t, fresh.Day("EM-1"))
	must(t, os.RemoveAll(filepath.Join(anew, common.Bench)))
	must(t, os.CopyFS(filepath.Join(anew, common.Bench), os.DirFS(filepath.Join(fresh.Dir(), head(t, fresh).Bench))))
	for name, x := range map[string]struct {
		copy   *ledger.Ledger
		common uint64
	}{"wrote on": {record(wrote, 1), common.Seq}, "longer than the register": {record(longer, 4), common.Seq}, "written anew": {openLedger(t, anew), 0}} {
		var fork *register.Fork
		if _, err := other.Send(t.Context(), x.copy); !errors.As(err, &fork) || fork.Common.Seq != x.common {
			t.Errorf("%s: %v, want a fork behind number %d", name, err, x.common)
		}
		must(t, b.Day("EM-3"))
		send(t, c, b.Ledger)
	}
	r.does(statusFallsShort, "benches")
	if forks := r.does(statusFallsShort, "forks"); strings.Count(forks, "parts at number") != 3 || strings.Count(forks, fmt.Sprintf("number %d\n", common.Seq+1)) != 2 || !strings.Contains(forks, "number 1\n") {
		t.Errorf("forks:\n%s", forks)
	}
	by := []string{"rule", "north", "--by", "R. Moss"}
	r.does(statusUsage, append(by, "--true", "here")...)
	r.does(statusUsage, append(by, "--why", "an old card")...)
	r.does(statusUsage, append(by, "--why", "an old card", "--true", "both")...)
	r.does(statusUsage, append(by, "--why", "an old card", "--true", "refused", "--gone")...)
	if said := r.does(statusDone, append(by, "--why", "an old card", "--true", "here")...); !strings.Contains(said, "the alarm stays") {
		t.Errorf("a ruling while the copies may write on: %s", said)
	}
	r.does(statusFallsShort, "benches")
	if forks := r.does(statusFallsShort, "forks"); strings.Count(forks, "has not gone on under a new id") != 3 {
		t.Errorf("forks that wait: %s", forks)
	}
	r.does(statusDone, append(by, "--why", "they are destroyed", "--true", "here", "--gone")...)
	r.does(statusUsage, append(by, "--why", "they are destroyed", "--true", "here", "--gone")...) // nothing is left
	if forks := r.does(statusDone, "forks"); strings.Count(forks, "ruled by R. Moss") != 3 {
		t.Errorf("forks, ruled on:\n%s", forks)
	}
	r.does(statusDone, "benches")
	if check := r.does(statusDone, "check", "--bench", b.Dir()); !strings.Contains(check, "SOUND") {
		t.Errorf("check: %s", check)
	}
}

// Who is not the bench, what is not its chain and what is no protocol is refused, and nothing of it is kept.
func TestHostile(t *testing.T) {
	r := start(t)
	b, c := r.bench("north", 1)
	must(t, b.Day("EM-1", "EM-2"))
	send(t, c, b.Ledger)
	before := head(t, b)
	must(t, b.Day("EM-1"))
	var lines [][]byte
	for line, err := range b.Lines(before.Bench, before.Seq) {
		must(t, err)
		lines = append(lines, bytes.Clone(line.Text))
	}
	body := bytes.Join(lines, nil)
	changed := bytes.Clone(body)
	changed[len(changed)/2] ^= 0x20
	zipped := func(text []byte) []byte {
		var z bytes.Buffer
		w := gzip.NewWriter(&z)
		w.Write(text)
		w.Close()
		return z.Bytes()
	}
	bomb := func(of string) io.Reader { // 300 MB of it
		pr, pw := io.Pipe()
		go func() {
			w, _ := gzip.NewWriterLevel(pw, gzip.BestCompression)
			much := bytes.Repeat([]byte(of), 1<<20/len(of))
			for range 300 {
				if _, err := w.Write(much); err != nil {
					return
				}
			}
			w.Close()
			pw.Close()
		}()
		return pr
	}
	_, stranger := r.bench("south", 2)
	reads := r.enrol("a program", "--read")
	nobody := c.Enrolment
	nobody.Token = strings.Repeat("A", 43)
	ended := r.enrol("ended", "--until", "2020-01-31")
	path := register.LinesPath(before.Bench, before)
	gap := before
	gap.Seq += 2
	other := before
	other.Hash = strings.Repeat("ab", 32)
	own := c.Enrolment
	for name, x := range map[string]struct {
		as     register.Enrolment
		path   string
		body   io.Reader
		coded  string
		status int
		why    register.Why
	}{
		"a byte changed":            {own, path, bytes.NewReader(changed), "", 422, register.Damaged},
		"the second line":           {own, path, bytes.NewReader(lines[1]), "", 422, register.Damaged},
		"cut off":                   {own, path, bytes.NewReader(body[:len(body)-9]), "", 422, register.Damaged},
		"behind a gap":              {own, register.LinesPath(before.Bench, gap), bytes.NewReader(body), "", 409, register.Moved},
		"behind another line":       {own, register.LinesPath(before.Bench, other), bytes.NewReader(body), "", 409, register.Parted},
		"gzip cut off":              {own, path, bytes.NewReader(zipped(body)[:200]), "gzip", 400, register.Unclear},
		"no gzip":                   {own, path, bytes.NewReader(body), "gzip", 400, register.Unclear},
		"another coding":            {own, path, bytes.NewReader(body), "br", 400, register.Unclear},
		"300 MB of zeros in gzip":   {own, path, bomb("\x00"), "gzip", 413, register.TooMuch},
		"300 MB of lines in gzip":   {own, path, bomb(string(lines[0])), "gzip", 413, register.TooMuch},
		"9 MiB":                     {own, path, bytes.NewReader(make([]byte, 9<<20)), "", 413, register.TooMuch},
		"no number":                 {own, "/v1/chains/" + before.Bench + "/lines?after=-1", bytes.NewReader(body), "", 400, register.Unclear},
		"another bench's token":     {stranger.Enrolment, path, bytes.NewReader(body), "", 0, ""},
		"a token that reads":        {reads, path, bytes.NewReader(body), "", 403, register.NotYours},
		"a token that nobody has":   {nobody, path, bytes.NewReader(body), "", 401, register.Stranger},
		"a token that has ended":    {ended, path, bytes.NewReader(body), "", 401, register.Stranger},
		"no fork":                   {own, register.ForkPath(before.Bench), bytes.NewReader(lines[0]), "", 422, register.Damaged},
		"nothing of that name":      {own, "/v1/else", bytes.NewReader(nil), "", 404, register.Nothing},
		"another bench's name":      {own, register.LinesPath("a000000000000000", ledger.Head{}), bytes.NewReader(body), "", 403, register.NotYours},
		"a name that is no bench's": {r.enrol("fresh"), "/v1/chains/..%2f..%2fx/lines?after=0", bytes.NewReader(body), "", 400, register.Unclear},
	} {
		if name == "another bench's token" { // once it is bound to another bench
			must(t, func() error { _, err := stranger.Head(t.Context(), "abcdefabcdef0123", ledger.Head{}); return err }())
			x.status, x.why = 403, register.NotYours
		}
		var header []string
		if x.coded != "" {
			header = []string{"Content-Encoding", x.coded}
		}
		status, text := ask(t, x.as, http.MethodPost, x.path, x.body, header...)
		if refused := decoded[register.Refusal](t, text); status != x.status || refused.Why != x.why || refused.Text == "" {
			t.Errorf("%s: status %d, %s; want %d, %s", name, status, text, x.status, x.why)
		}
		if h, err := c.Head(t.Context(), before.Bench, before); err != nil || h.Ledger() != before || h.Yours != register.Same {
			t.Fatalf("%s: then the register's head is %+v, %v", name, h, err)
		}
	}
	for _, path := range []string{"/v1/tools", "/v1/tools/EM-1", "/v1/jobs", "/v1/jobs/J-1", "/v1/benches", "/v1/forks", "/v1/unread", "/v1/report.csv", "/v1/trend"} {
		if status, _ := ask(t, own, http.MethodGet, path, nil); status != 403 {
			t.Errorf("a bench's token reads %s: status %d", path, status)
		}
		if status, _ := ask(t, nobody, http.MethodGet, path, nil); status != 401 {
			t.Errorf("nobody reads %s: status %d", path, status)
		}
	}
	if status, text := ask(t, own, http.MethodPost, path, bytes.NewReader(body)); status != 200 || decoded[register.Head](t, text).Ledger() != head(t, b) {
		t.Errorf("what follows: %d, %s", status, text)
	}
	if r.does(statusDone, "check", "--bench", b.Dir()) == "" {
		t.Error("check says nothing")
	}
}

// The report that a program is given is, byte for byte, the bench's of a ledger that all were merged into, of every kind; so
// are tools and jobs; and a stream that breaks off does not look whole.
func TestReading(t *testing.T) {
	r := start(t)
	all := openLedger(t, t.TempDir())
	for i, label := range []string{"north", "south"} {
		b, c := r.bench(label, uint64(i+1))
		must(t, b.Day("EM-1", "EM-2", "EM-3", fmt.Sprintf("BN-%d", i), "EM-10"))
		must(t, b.Job(fmt.Sprintf("J-%d", i), 1, "EM-1", "EM-3"))
		if i == 1 {
			must(t, b.Crack("EM-3"))
			_, err := b.Inspect("EM-2", "J-1", inspect.After, 1)
			must(t, err)
		}
		send(t, c, b.Ledger)
		_, err := all.Merge(b.Dir(), ledger.MergeOptions{Check: record.Check})
		must(t, err)
	}
	reads := r.enrol("a program", "--read")
	get := func(path string) string {
		t.Helper()
		status, text := ask(t, reads, http.MethodGet, path, nil)
		if status != 200 {
			t.Fatalf("%s: %d, %s", path, status, text)
		}
		return text
	}
	for kind, want := range map[report.Kind]func(io.Writer, record.Filter, report.Format) error{
		report.ReadingRows: func(w io.Writer, f record.Filter, format report.Format) error {
			return report.ReadingsCSV(w, record.Readings(all, f), format)
		},
		report.InspectionRows: func(w io.Writer, f record.Filter, format report.Format) error {
			return report.InspectionsCSV(w, record.Inspections(all, f), format)
		},
		report.ToolRows: func(w io.Writer, f record.Filter, format report.Format) error {
			return report.ToolsCSV(w, record.Tools(all, f), format)
		},
	} {
		for query, f := range map[string]record.Filter{"": {}, "&tool=EM-3": {Tool: "EM-3"}, "&tool=em-3": {Tool: "EM-3"}, "&job=J-1": {Job: "J-1"}, "&standing=locked": {Standing: record.StandsLocked}} {
			var b bytes.Buffer
			must(t, want(&b, f, report.Format{Unit: length.Mm, DecimalComma: true}))
			if got := get("/v1/report.csv?unit=mm&decimal-comma=true&as=" + string(kind) + query); got != b.String() || strings.Count(got, "\n") < 2 {
				t.Errorf("report of %s%s: %d bytes are not the %d of the ledger", kind, query, len(got), b.Len())
			}
		}
	}
	want, err := record.FindTool(all, "EM-3")
	must(t, err)
	life := decoded[api.Life](t, get("/v1/tools/EM-3"))
	if life.Standing != record.StandsLocked || life.Standing != want.Standing || len(life.Inspections) != len(want.Inspections) || life.Inspections[0].Bench == life.Inspections[1].Bench {
		t.Errorf("EM-3: %+v, want %+v", life, want)
	}
	job := decoded[report.Job](t, get("/v1/jobs/J-1"))
	if len(job.Of) != 3 || job.Of[2].Standing != record.StandsLocked || !strings.Contains(job.Of[2].Lacks, "cracks seen") {
		t.Errorf("J-1: %+v", job)
	}
	listed := func() []string {
		var ids []string
		for _, tool := range decoded[[]struct{ Tool string }](t, get("/v1/tools")) {
			ids = append(ids, tool.Tool)
		}
		return ids
	}
	for deadline := time.Now().Add(20 * time.Second); len(listed()) < 6 && time.Now().Before(deadline); {
	}
	if got := listed(); !slices.Equal(got, []string{"BN-0", "BN-1", "EM-1", "EM-2", "EM-3", "EM-10"}) {
		t.Errorf("tools: %v", got)
	}
	// A bench's lists, as flutelog tool list --json and job list --json print them of a ledger that all were merged into, say the
	// same in the same words: of what both tell nothing differs.
	tools, jobs := map[string]any{}, map[string]any{}
	for t2, err := range record.List(all) {
		must(t, err)
		tools[t2.ID] = report.NewTool(t2, length.Mm)
	}
	for j, err := range record.Jobs(all) {
		must(t, err)
		jobs[j.ID] = report.NewJob(j)
	}
	for _, x := range []struct {
		path, id string
		want     map[string]any
	}{{"/v1/tools?unit=mm", "tool", tools}, {"/v1/jobs", "id", jobs}} {
		got := decoded[[]map[string]any](t, get(x.path))
		if len(got) != len(x.want) {
			t.Errorf("%s: %d, want %d", x.path, len(got), len(x.want))
		}
		for _, one := range got {
			text, err := json.Marshal(x.want[one[x.id].(string)])
			must(t, err)
			for name, want := range decoded[map[string]any](t, string(text)) {
				if slices.Contains([]string{"since", "ends", "duty", "of"}, name) {
					continue // a register's list has no clock's times, and less of a tool; of a job's tools see below
				}
				if !reflect.DeepEqual(one[name], want) {
					t.Errorf("%s: %s of %v is %v, want %v", x.path, name, one[x.id], one[name], want)
				}
			}
		}
	}
	listedJob := decoded[[]report.Job](t, get("/v1/jobs"))[1]
	if len(listedJob.Of) != 3 || listedJob.Of[2].Tool != "EM-3" || listedJob.Of[2].Standing != record.StandsLocked || listedJob.Of[2].Settled {
		t.Errorf("J-1 in the list: %+v", listedJob)
	}
	trend := decoded[api.Trended](t, get("/v1/trend?what=tir&by=wheel&of=cup+46"))
	if len(trend.Months) == 0 || trend.Months[0].Of != "cup 46" || trend.Unit != "mm" || len(trend.Values) != trend.Months[0].Inspections || trend.Chart == nil {
		t.Errorf("trend: %+v", trend)
	}
	for path, status := range map[string]int{"/v1/tools/EM-9": 404, "/v1/jobs/J-9": 404, "/v1/report.csv?tool=EM-9": 404, "/v1/report.csv?as=x": 400, "/v1/report.csv?unit=ell": 400, "/v1/trend?what=x": 400, "/v1/report.csv?since=x": 400} {
		if got, text := ask(t, reads, http.MethodGet, path, nil); got != status {
			t.Errorf("%s: %d, %s", path, got, text)
		}
	}
}

// A lost bench is made again and goes on; the disk that was lost, put back, is told that it is behind.
func TestLostBench(t *testing.T) {
	r := start(t)
	b, c := r.bench("north", 1)
	must(t, b.Day("EM-1", "EM-2"))
	send(t, c, b.Ledger)
	own := head(t, b)
	again := filepath.Join(t.TempDir(), "again")
	if said := r.does(statusDone, "restore", "north", again); !strings.Contains(said, own.String()) {
		t.Errorf("restore: %s", said)
	}
	if said := r.fails(statusUsage, "restore", "north", again); !strings.Contains(said, "holds a ledger already") || !strings.Contains(said, "hint: give a folder that is empty") {
		t.Errorf("restored twice: %s", said)
	}
	found, err := ledger.Verify(again, []string{own.String()}, nil)
	if err != nil || len(found.Damage) > 0 || found.Benches[0].Proven != own.Seq {
		t.Errorf("verify: %+v, %v", found, err)
	}
	back, err := invented.New(again, "north", 8)
	must(t, err)
	must(t, back.Day("EM-1"))
	renewed := &register.Conn{Enrolment: r.enrol("north", "--bench", own.Bench)}
	defer renewed.Close()
	send(t, renewed, back.Ledger)
	var refused register.Refusal
	if _, err := c.Send(t.Context(), b.Ledger); !errors.As(err, &refused) || refused.Why != register.Stranger {
		t.Errorf("the lost card's own line still lets it ask: %v", err)
	}
	var behind *register.Behind
	if _, err := renewed.Send(t.Context(), b.Ledger); !errors.As(err, &behind) {
		t.Errorf("the lost disk, with the new line: %v", err)
	}
	r.does(statusUsage, "end", own.Bench)
	r.does(statusUsage, "end", "nobody", "--by", "R. Moss", "--why", "stolen")
	r.does(statusDone, "end", own.Bench, "--by", "R. Moss", "--why", "stolen")
	if said := r.does(statusDone, "end", own.Bench, "--by", "R. Moss", "--why", "stolen"); !strings.Contains(said, "nothing is left to end") || strings.Contains(said, "enrol") {
		t.Errorf("ended twice: %s", said)
	}
	for _, conn := range []*register.Conn{c, renewed} {
		if _, err := conn.Send(t.Context(), back.Ledger); !errors.As(err, &refused) || refused.Why != register.Stranger {
			t.Errorf("a token that was ended: %v", err)
		}
	}
	if all := r.does(statusDone, "benches"); !strings.Contains(all, "it may not send") {
		t.Errorf("benches: %s", all)
	}
	latest := &register.Conn{Enrolment: r.enrol("north", "--bench", own.Bench)}
	defer latest.Close()
	must(t, back.Day("EM-2"))
	send(t, latest, back.Ledger)
}

// A second register on one database, or at one address, is refused and told what to do; once the first has ended it serves.
func TestServesAlone(t *testing.T) {
	database := clustertest.Database(t)
	folder := t.TempDir()
	begin := func(listen string) (said *serving, ended <-chan int, stop func()) {
		ctx, cancel := context.WithCancel(t.Context())
		said = &serving{at: make(chan string, 1)}
		done := make(chan int, 1)
		go func() {
			done <- run(env{ctx, said, said, func(string) string { return "" }, time.Now}, []string{"serve", "--database", database, "--folder", folder, "--listen", listen})
		}()
		return said, done, cancel
	}
	await := func(said *serving, ended <-chan int) (address string) {
		t.Helper()
		select {
		case address = <-said.at:
		case status := <-ended:
			t.Fatalf("it ended with %d: %s", status, said)
		}
		return address
	}
	first, firstEnded, stop := begin("127.0.0.1:0")
	address := await(first, firstEnded)
	second, ended, _ := begin("127.0.0.1:0")
	if status := <-ended; status != statusFailed || !strings.Contains(second.String(), "another fluteregister serves this database\nfluteregister: hint: end that one first") {
		t.Errorf("on one database: status %d, %s", status, second)
	}
	database = clustertest.Database(t)
	third, ended, _ := begin(address)
	if status := <-ended; status != statusFailed || !strings.Contains(third.String(), "hint: another program listens there: end it, or give another address with --listen") {
		t.Errorf("at one address: status %d, %s", status, third)
	}
	stop()
	if status := <-firstEnded; status != statusDone {
		t.Errorf("the first ended with %d: %s", status, first)
	}
	fourth, fourthEnded, stop := begin("127.0.0.1:0")
	await(fourth, fourthEnded)
	stop()
	<-fourthEnded
}

// serving is what a register says, with the address at which it listens.
type serving struct {
	syncBuffer
	at chan string
}

func (s *serving) Write(p []byte) (int, error) {
	if _, rest, listens := strings.Cut(string(p), "listening at "); listens {
		address, _, _ := strings.Cut(rest, ";")
		s.at <- address
	}
	return s.syncBuffer.Write(p)
}

// A label that is taken is said to be; a line that no bench has used is listed; and enrol prints the address that is served.
func TestEnrolled(t *testing.T) {
	database, folder := clustertest.Database(t), filepath.Join(t.TempDir(), "register")
	ctx, stop := context.WithCancel(t.Context())
	said := &serving{at: make(chan string, 1)}
	ended := make(chan int, 1)
	go func() {
		ended <- run(env{ctx, said, said, os.Getenv, time.Now}, []string{"serve", "--listen", "127.0.0.1:0", "--database", database, "--folder", folder})
	}()
	var address string
	select {
	case address = <-said.at:
	case status := <-ended:
		t.Fatalf("it ended with %d: %s", status, said)
	}
	r := &running{t: t, now: time.Now, folder: folder, places: []string{"--database", database, "--folder", folder}}
	if line := r.does(statusDone, "enrol", "bench 1"); !strings.Contains(line, "@"+address+"/") {
		t.Errorf("enrol names another address than %s: %s", address, line)
	}
	if line := r.does(statusDone, "enrol", "a program", "--read", "--address", "register.shop:8423"); !strings.Contains(line, "@register.shop:8423/") {
		t.Errorf("enrol with --address: %s", line)
	}
	if again := r.fails(statusDone, "enrol", "Bench 1"); !strings.Contains(again, "what others are called already") || !strings.Contains(again, "bench 1, a line that no bench has used yet") {
		t.Errorf("a label that is taken: %s", again)
	}
	if other := r.fails(statusDone, "enrol", "bench 9"); strings.Contains(other, "already") {
		t.Errorf("a new label: %s", other)
	}
	if all := r.does(statusDone, "benches"); strings.Count(all, "a line that no bench has used yet") != 3 || strings.Contains(all, "a program") {
		t.Errorf("benches: %s", all)
	}
	file := filepath.Join(t.TempDir(), "line")
	if use := r.fails(statusDone, "enrol", "another program", "--read", "-o", file); !strings.Contains(use, "Authorization: Bearer") || strings.Contains(use, "join") {
		t.Errorf("a program's line in a file: %s", use)
	}
	stop()
	<-ended
}

// One id that two benches inspected is told with its bench, and the ruling on the one never reads as one on the other.
func TestOneIDAtTwoBenches(t *testing.T) {
	r := start(t)
	south, southConn := r.bench("south", 1)
	must(t, south.Add("K-3", "K-4"))
	for _, tool := range []string{"K-3", "K-4"} {
		id, err := south.Inspect(tool, "", inspect.After, 1)
		must(t, err)
		must(t, south.Release("Bob", id))
	}
	north, northConn := r.bench("north", 2)
	for i := range 60 { // its records come behind
		must(t, north.Add(fmt.Sprintf("X-%d", i)))
	}
	must(t, north.Add("K-3"))
	_, err := north.Inspect("K-3", "", inspect.After, 42)
	must(t, err)
	send(t, southConn, south.Ledger)
	send(t, northConn, north.Ledger)
	r.settled()
	status, text := ask(t, r.enrol("a program", "--read"), http.MethodGet, "/v1/report.csv?as=tools", nil)
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(text, "\ufeff"))).ReadAll()
	must(t, err)
	column := func(row []string, name string) string { return row[slices.Index(rows[0], name)] }
	found := 0
	for _, row := range rows[1:] {
		got := [3]string{column(row, "last_inspection"), column(row, "last_verdict"), column(row, "ruling")}
		want, told := map[string][3]string{
			"K-3": {"K-3.1@" + head(t, north).Bench[:6], "reject", ""},
			"K-4": {"K-4.1", "accept", "release"},
		}[column(row, "tool")]
		if told {
			found++
		}
		if told && got != want {
			t.Errorf("%s: %q, want %q", column(row, "tool"), got, want)
		}
	}
	if status != http.StatusOK || found != 2 {
		t.Errorf("status %d, %d of 2 tools", status, found)
	}
}

// What is not said clearly ends nothing: of several benches of one label, and of lines that no bench has used yet, each is named.
func TestEndsOne(t *testing.T) {
	r := start(t)
	var ids []string
	for i := range 2 {
		b, c := r.bench("bench 2", uint64(i+1))
		must(t, b.Add("EM-1"))
		send(t, c, b.Ledger)
		ids = append(ids, head(t, b).Bench)
	}
	r.enrol("Bench 2")
	by := []string{"--by", "R. Moss", "--why", "stolen"}
	refused := r.fails(statusUsage, append([]string{"end", "bench 2"}, by...)...)
	for _, want := range append(ids, "no bench has used yet", "nothing is ended", "give one of the ids") {
		if !strings.Contains(refused, want) {
			t.Errorf("end of a label that three have does not say %q: %s", want, refused)
		}
	}
	for _, command := range []string{"close", "rule --true=here", "restore"} {
		args := append(strings.Fields(command), "bench 2")
		if command != "restore" {
			args = append(args, by...)
		} else {
			args = append(args, filepath.Join(t.TempDir(), "x"))
		}
		if refused := r.fails(statusUsage, args...); !strings.Contains(refused, ids[0]) || !strings.Contains(refused, ids[1]) {
			t.Errorf("%v: %s", args, refused)
		}
	}
	unused := regexp.MustCompile(`([0-9a-f]{12})  Bench 2, a line`).FindStringSubmatch(refused)
	if unused == nil {
		t.Fatalf("the line that no bench has used is not named: %s", refused)
	}
	for _, name := range []string{ids[0], unused[1]} {
		if said := r.does(statusDone, append([]string{"end", name}, by...)...); said != "1 ended\n" {
			t.Errorf("end %s: %s", name, said)
		}
	}
	if said := r.does(statusDone, append([]string{"end", "bench 2"}, by...)...); said != "1 ended\n" {
		t.Errorf("the one that is left: %s", said)
	}
	for id, want := range map[string]string{ids[0]: "nothing is left to end", ids[1]: "nothing is left to end"} {
		if said := r.does(statusDone, append([]string{"end", id}, by...)...); !strings.Contains(said, want) {
			t.Errorf("end %s, twice: %s", id, said)
		}
	}
}

// A person says which copy of a fork is the bench, and the alarm is taken back when the other goes on under a new id: whichever
// was refused renews, and where that is the bench no more is taken of the other.
func TestWhichCopy(t *testing.T) {
	for _, truth := range []string{"here", "refused"} {
		t.Run(truth, func(t *testing.T) {
			r := start(t)
			b, c := r.bench("north", 1)
			must(t, b.Day("EM-1"))
			send(t, c, b.Ledger)
			copied := copyOf(t, b.Ledger)
			must(t, b.Add("EM-2"))
			send(t, c, b.Ledger)
			other, err := invented.New(copied, "north", 9)
			must(t, err)
			must(t, other.Add("EM-3"))
			second := &register.Conn{Enrolment: c.Enrolment}
			defer second.Close()
			var fork *register.Fork
			if _, err := second.Send(t.Context(), other.Ledger); !errors.As(err, &fork) {
				t.Fatalf("the copy: %v", err)
			}
			old := head(t, b).Bench
			r.does(statusDone, "rule", "north", "--true", truth, "--by", "R. Moss", "--why", "the card was copied")
			r.does(statusFallsShort, "benches")
			must(t, b.Add("EM-4"))
			if _, err := c.Send(t.Context(), b.Ledger); errors.Is(err, register.ErrClosed) != (truth == "refused") {
				t.Errorf("the copy whose lines are here: %v", err)
			}
			first, err := register.First(other.Ledger, record.BenchSubject(old), head(t, other), fork.Common, "R. Moss", "the card was copied", time.Now())
			must(t, err)
			n, err := other.Renew(fork.Common, first, func(x ledger.Record, renamed map[ledger.Ref]ledger.Ref) (json.RawMessage, error) {
				return record.Renamed(x, renamed, fork.Common)
			})
			must(t, err)
			anew := &register.Conn{Enrolment: r.enrol("north, the second card")}
			defer anew.Close()
			send(t, anew, other.Ledger)
			r.settled()
			want := "  north, the second card"
			if all := r.does(statusDone, "benches"); !strings.Contains(all, n.New.Bench+want) || strings.Contains(all, "closed") != (truth == "refused") {
				t.Errorf("benches: %s", all)
			}
			if forks := r.does(statusDone, "forks"); !strings.Contains(forks, "goes on as north, the second card, id "+n.New.Bench) {
				t.Errorf("forks: %s", forks)
			}
			reads := r.enrol("a program", "--read")
			for _, tool := range []string{"EM-2", "EM-3"} {
				if status, text := ask(t, reads, http.MethodGet, "/v1/tools/"+tool, nil); status != 200 {
					t.Errorf("%s, of one of both copies: %d, %s", tool, status, text)
				}
			}
			r.does(statusDone, "rebuild")
			r.does(statusDone, "benches")
		})
	}
}

// A register that was set back by an old backup, or lost with its database, is made whole by the benches' plain sending: its
// own ledger knows them still.
func TestLostDatabase(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "register")
	r := startOn(t, clustertest.Database(t), folder)
	b, c := r.bench("north", 1)
	other, otherConn := r.bench("south", 2)
	must(t, b.Day("EM-1", "EM-2"))
	must(t, other.Day("EM-1"))
	send(t, c, b.Ledger)
	send(t, otherConn, other.Ledger)
	r.does(statusDone, "witness")
	if check := r.does(statusDone, "check"); strings.Count(check, "SOUND") != 2 || !strings.Contains(check, "against 2 heads") {
		t.Errorf("check: %s", check)
	}
	r.stop()
	anew := startOn(t, clustertest.Database(t), folder)
	if anew.key != r.key {
		t.Error("the register has another key")
	}
	anew.does(statusFallsShort, "check") // the witness knows of lines that are not here
	c.Address, otherConn.Address = anew.address, anew.address
	must(t, b.Day("EM-1"))
	send(t, c, b.Ledger)
	send(t, otherConn, other.Ledger)
	if check := anew.does(statusDone, "check", "--bench", b.Dir()); strings.Count(check, "SOUND") != 2 {
		t.Errorf("check: %s", check)
	}
	if benches := anew.does(statusDone, "benches"); !strings.Contains(benches, "north") || !strings.Contains(benches, "south") {
		t.Errorf("benches: %s", benches)
	}
}

// A register that lost its database believes no copy of a bench against its own ledger, whoever sends first; it knows what it
// lacks, and of a fork that is not settled.
func TestLostDatabaseAndACopy(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "register")
	r := startOn(t, clustertest.Database(t), folder)
	b, c := r.bench("north", 1)
	must(t, b.Day("EM-1", "EM-2"))
	send(t, c, b.Ledger)
	r.does(statusDone, "witness")
	common := head(t, b)
	copied, late := copyOf(t, b.Ledger), copyOf(t, b.Ledger)
	must(t, b.Add("EM-3"))
	send(t, c, b.Ledger)
	r.does(statusDone, "witness")
	must(t, b.Day("EM-1"))
	send(t, c, b.Ledger)
	r.does(statusDone, "witness")
	wrote := func(dir string, seed uint64) *ledger.Ledger {
		other, err := invented.New(dir, "north", seed)
		must(t, err)
		must(t, other.Day("EM-4", "EM-5", "EM-6"))
		return other.Ledger
	}
	first, second := wrote(copied, 9), wrote(late, 77)
	second2 := &register.Conn{Enrolment: c.Enrolment}
	defer second2.Close()
	var fork *register.Fork
	if _, err := second2.Send(t.Context(), second); !errors.As(err, &fork) {
		t.Fatalf("a copy, before: %v", err)
	}
	r.stop()

	anew := startOn(t, clustertest.Database(t), folder)
	if said := anew.does(statusFallsShort, "benches"); !strings.Contains(said, fmt.Sprintf("%d lines that were here are MISSING", head(t, b).Seq)) || !strings.Contains(said, "FORKED") {
		t.Errorf("benches without their lines: %s", said)
	}
	if said := anew.does(statusFallsShort, "forks"); !strings.Contains(said, fork.Common.Bench) {
		t.Errorf("the fork of before: %s", said)
	}
	c.Address, second2.Address = anew.address, anew.address
	if _, err := second2.Send(t.Context(), first); !errors.As(err, &fork) || fork.Common != common {
		t.Errorf("a copy that sends first: %v, want a fork behind number %d", err, common.Seq)
	}
	if said := anew.does(statusFallsShort, "forks"); strings.Count(said, fmt.Sprintf("parts at number %d", common.Seq+1)) != 2 {
		t.Errorf("the evidence: %s", said)
	}
	send(t, c, b.Ledger)
	if check := anew.does(statusDone, "check", "--bench", b.Dir()); !strings.Contains(check, "SOUND") {
		t.Errorf("check: %s", check)
	}
	if said := anew.does(statusFallsShort, "benches"); strings.Contains(said, "MISSING") {
		t.Errorf("benches with all their lines: %s", said)
	}
	if forks := anew.does(statusDone, "rule", "north", "--true", "here", "--gone", "--by", "R. Moss", "--why", "old cards"); !strings.Contains(forks, "2 ruled on") {
		t.Errorf("the ruling: %s", forks)
	}
	anew.does(statusDone, "benches")
}

// A fork's evidence says of which tool it is, and that a release or a lifted lock in it let that tool go.
func TestForkTells(t *testing.T) {
	for name, x := range map[string]struct {
		do   func(*invented.Bench) error
		want []string
	}{
		"a release": {func(b *invented.Bench) error { return b.Release("E. Dunn", "EM-1.1") }, []string{"is of tool EM-1: a ruling, RELEASE, by E. Dunn, of EM-1.1.", "LET A TOOL GO", "find the tool EM-1"}},
		"a lock lifted": {func(b *invented.Bench) error {
			_, _, err := record.Unlock(b.Ledger, "EM-2", record.Who{By: "E. Dunn", Why: "a scratch", At: time.Now()})
			return err
		}, []string{"is of tool EM-2: a lock is lifted, by E. Dunn: a scratch.", "LET A TOOL GO"}},
		"a tool": {func(b *invented.Bench) error { return b.Add("EM-9") }, []string{"is of tool EM-9: what the tool is.", "behind it is not here"}},
	} {
		t.Run(name, func(t *testing.T) {
			r := start(t)
			b, c := r.bench("north", 1)
			must(t, b.Add("EM-1", "EM-2"))
			_, err := b.Inspect("EM-1", "", inspect.After, 1)
			must(t, err)
			must(t, b.Crack("EM-2"))
			send(t, c, b.Ledger)
			other, err := invented.New(copyOf(t, b.Ledger), "north", 9)
			must(t, err)
			must(t, b.Add("EM-3"))
			send(t, c, b.Ledger)
			must(t, x.do(other))
			second := &register.Conn{Enrolment: c.Enrolment}
			defer second.Close()
			var fork *register.Fork
			if _, err := second.Send(t.Context(), other.Ledger); !errors.As(err, &fork) {
				t.Fatalf("the copy: %v", err)
			}
			said := r.does(statusFallsShort, "forks")
			for _, want := range x.want {
				if !strings.Contains(said, want) {
					t.Errorf("forks does not say %q:\n%s", want, said)
				}
			}
			if strings.Contains(said, `{"`) || name == "a tool" && strings.Contains(said, "LET A TOOL GO") {
				t.Errorf("forks:\n%s", said)
			}
		})
	}
}

// Thirty-two benches send at once, two senders of each, one inspection after another.
func TestManyBenches(t *testing.T) {
	if testing.Short() {
		t.Skip("32 benches")
	}
	r := start(t)
	var all sync.WaitGroup
	var benches []*invented.Bench
	for i := range 32 {
		b, c := r.bench(fmt.Sprintf("bench %d", i), uint64(i))
		benches = append(benches, b)
		second := &register.Conn{Enrolment: c.Enrolment}
		all.Go(func() {
			for day := range 5 {
				if err := b.Day(fmt.Sprintf("EM-%d", day)); err != nil {
					t.Error(err)
				}
				var both sync.WaitGroup
				for _, conn := range []*register.Conn{c, second} {
					both.Go(func() {
						if _, err := conn.Send(context.Background(), b.Ledger); err != nil {
							t.Errorf("bench %d: %v", i, err)
						}
					})
				}
				both.Wait()
			}
			second.Close()
		})
	}
	all.Wait()
	check := r.does(statusDone, "check")
	for _, b := range benches {
		if own := head(t, b); !strings.Contains(check, fmt.Sprintf("bench %s bench", own.Bench)) || !strings.Contains(check, fmt.Sprintf(": %d lines: SOUND", own.Seq)) {
			t.Errorf("bench %s with %d lines: %s", own.Bench, own.Seq, check)
		}
	}
}

// Every answer names the last line of the register's own ledger, which is sound and has the benches' heads.
func TestWitness(t *testing.T) {
	r := start(t)
	b, c := r.bench("north", 1)
	must(t, b.Day("EM-1"))
	sent := send(t, c, b.Ledger)
	printed := strings.Fields(r.does(statusDone, "witness"))
	h, err := c.Head(t.Context(), head(t, b).Bench, head(t, b))
	must(t, err)
	if h.Witness != printed[len(printed)-1] || sent.Head.Witness == "" {
		t.Errorf("the answer's witness is %q, want %q", h.Witness, printed[len(printed)-1])
	}
	own := filepath.Join(r.folder, "ledger")
	found, err := ledger.Verify(own, []string{h.Witness, sent.Head.Witness}, nil)
	if err != nil || len(found.Damage) > 0 || found.Benches[0].Proven == 0 {
		t.Errorf("the register's own ledger: %+v, %v", found, err)
	}
	witness := openLedger(t, own)
	told := false
	must(t, witness.ScanKinds([]string{"heads"}, func(x ledger.Record) error {
		told = told || strings.Contains(string(x.Body), head(t, b).String())
		return nil
	}))
	if !told {
		t.Error("the bench's head is not in the register's own ledger")
	}
}

// The demo tells its story to the end.
func TestDemo(t *testing.T) {
	clustertest.Database(t) // or skips
	var out, said bytes.Buffer
	if status := run(env{t.Context(), &out, &said, func(string) string { return "" }, time.Now}, []string{"demo", "--once"}); status != statusDone {
		t.Fatalf("status %d: %s%s", status, out.String(), said.String())
	}
	for _, want := range []string{"EM-0001 goes", "it stands released, by EM-0001.2 at south", "EM-0001.1  at north: accept, release by", "The copy is told", "the one that was refused is kept as evidence", "SOUND"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("%q is not told:\n%s", want, out.String())
		}
	}
}

// The bench's own program joins, sends, forks, goes on under a new id and brings a lost ledger back, at a true register.
func TestBenchProgram(t *testing.T) {
	if testing.Short() {
		t.Skip("it builds the bench's program")
	}
	r := start(t)
	program := filepath.Join(t.TempDir(), "flutelog")
	if out, err := exec.Command("go", "build", "-o", program, "flutelog/cmd/flutelog").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	home := t.TempDir()
	bench := func(status int, dir string, args ...string) string {
		t.Helper()
		c := exec.Command(program, append(args, "--ledger", dir)...)
		c.Env, c.Dir = append(os.Environ(), "HOME="+home), home
		out, err := c.CombinedOutput()
		if c.ProcessState.ExitCode() != status {
			t.Fatalf("flutelog %v: %v, want status %d\n%s", args, err, status, out)
		}
		return string(out)
	}
	add := func(dir, id string) string {
		return bench(0, dir, "tool", "add", id, "--diameter", "0.5", "--flutes", "4", "--material", "hss")
	}
	dir := filepath.Join(t.TempDir(), "ledger")
	add(dir, "EM-1")
	bench(0, dir, "register", "join", r.enrol("north").String())
	own := head(t, openLedger(t, dir))
	if all := r.does(statusDone, "benches"); !strings.Contains(all, own.Bench+"  north") || !strings.Contains(all, "well") {
		t.Errorf("benches: %s", all)
	}
	copied := copyOf(t, openLedger(t, dir))
	add(dir, "EM-2")
	bench(0, dir, "register", "send")
	add(copied, "EM-3")
	if said := bench(1, copied, "register", "send"); !strings.Contains(said, "register renew") {
		t.Errorf("the copy is told: %s", said)
	}
	r.does(statusFallsShort, "forks")
	bench(0, copied, "register", "renew", r.enrol("north, the other card").String(), "--by", "R. Moss", "--why", "both cards were used")
	if all := r.does(statusFallsShort, "benches"); !strings.Contains(all, "goes on in place of "+own.Bench) {
		t.Errorf("benches: %s", all)
	}
	reads := r.enrol("a program", "--read")
	if status, text := ask(t, reads, http.MethodGet, "/v1/tools/EM-3", nil); status != 200 {
		t.Errorf("what the copy had recorded: %d, %s", status, text)
	}
	again := filepath.Join(t.TempDir(), "again")
	own = head(t, openLedger(t, dir))
	bench(0, again, "register", "join", r.enrol("north", "--bench", own.Bench).String())
	bench(0, again, "register", "recover", own.Bench)
	if back := head(t, openLedger(t, again)); back != own {
		t.Errorf("brought back up to %v, want %v", back, own)
	}
	add(again, "EM-4")
	bench(0, again, "register", "send")
	if check := r.does(statusDone, "check", "--bench", again); strings.Contains(check, "WRONG") {
		t.Errorf("check: %s", check)
	}
}
