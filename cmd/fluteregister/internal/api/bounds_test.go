package api

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

func whyOf(err error) register.Why {
	var x *refusal
	if errors.As(err, &x) {
		return x.Why
	}
	return ""
}

// A bench that has caught up has a share a day; one that was away has that of each day since; before it has ever caught up
// it may send all that it has.
func TestShare(t *testing.T) {
	b := newBounds()
	now := time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)
	for range 100 { // 800 MiB of a bench that is new here
		if err := b.spend("a", 8<<20, now); err != nil {
			t.Fatal(err)
		}
	}
	sends := func(most int) (n int) {
		for n < most && b.spend("a", 8<<20, now) == nil {
			n++
		}
		return n
	}
	b.caughtUp("a", now)
	if n := sends(1000); n != 8 {
		t.Errorf("%d bodies of 8 MiB in a day, want 8", n)
	}
	b.caughtUp("a", now.Add(time.Hour)) // asking does not give more
	if n := sends(1000); n != 0 {
		t.Errorf("%d more after asking", n)
	}
	err := b.spend("a", 8<<20, now)
	var x *refusal
	if !errors.As(err, &x) || x.Why != register.Wait || x.status != http.StatusTooManyRequests || x.after != 24*time.Hour {
		t.Errorf("%+v", err)
	}
	if err := b.spend("b", 8<<20, now); err != nil {
		t.Errorf("another bench pays for it: %v", err)
	}
	now = now.Add(24 * time.Hour)
	b.caughtUp("a", now)
	now = now.Add(21 * 24 * time.Hour)
	if n := sends(1000); n != 22*8 {
		t.Errorf("%d bodies after three weeks without network, want %d", n, 22*8)
	}
}

// One body of a token is taken at a time; another waits a moment and is then told to.
func TestTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBounds()
		begin := func(ctx context.Context, token string) (func(), error) {
			return b.body(&question{Context: ctx, who: store.Enrolled{Token: token}})
		}
		done, err := begin(t.Context(), "a")
		if err != nil {
			t.Fatal(err)
		}
		begun := time.Now()
		if _, err := begin(t.Context(), "a"); whyOf(err) != register.Wait || time.Since(begun) != patience {
			t.Errorf("a second: %v after %v", err, time.Since(begun))
		}
		other, err := begin(t.Context(), "b")
		if err != nil {
			t.Errorf("another bench waits: %v", err)
		}
		other()
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := begin(gone, "a"); !errors.Is(err, context.Canceled) {
			t.Errorf("one that has gone: %v", err)
		}
		time.AfterFunc(time.Second, done)
		if next, err := begin(t.Context(), "a"); err != nil {
			t.Errorf("its turn: %v", err)
		} else {
			next()
		}
		var dones []func()
		for i := range bodiesAtMost {
			done, err := begin(t.Context(), fmt.Sprint(i))
			if err != nil {
				t.Fatal(err)
			}
			dones = append(dones, done)
		}
		if _, err := begin(t.Context(), "one more"); whyOf(err) != register.Wait {
			t.Errorf("more than %d: %v", bodiesAtMost, err)
		}
		for _, done := range dones {
			done()
		}
		if done, err := begin(t.Context(), "one more"); err != nil {
			t.Errorf("after that: %v", err)
		} else {
			done()
		}
	})
}

// read counts how much is read.
type read struct {
	io.Reader
	n int
}

func (r *read) Read(p []byte) (int, error) {
	n, err := r.Reader.Read(p)
	r.n += n
	return n, err
}

// A small body that would unpack to 256 MiB is refused once a line, or all of it, is longer than may be: no more is unpacked, and
// what is held of it is that. What is not too long is given as it is.
func TestBodies(t *testing.T) {
	a := &API{}
	zipped := func(of string, size int) []byte {
		var z bytes.Buffer
		w := gzip.NewWriter(&z)
		for range size / len(of) {
			io.WriteString(w, of)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return z.Bytes()
	}
	line := strings.Repeat("a", ledger.MaxLine-1) + "\n"
	short := strings.Repeat("a", 1023) + "\n"
	for name, x := range map[string]struct {
		body []byte
		want string // "" where it is refused
		most int    // bytes, plain, that are unpacked of it at most
	}{
		"no line end":             {zipped(strings.Repeat("\x00", 1<<20), 256<<20), "", ledger.MaxLine + register.Batch},
		"lines":                   {zipped(short, 256<<20), "", register.MostBody + register.Batch},
		"a longest line and more": {zipped(line+"aa", len(line)+2), line + "aa", 0},
		"as much as may be":       {zipped(line, 8*len(line)), strings.Repeat(line, 8), 0},
		"a byte more":             {append(zipped(line, 8*len(line)), zipped("\n", 1)...), "", 0},
		"nothing":                 {zipped("a", 0), "", 0},
		"some":                    {zipped(short, 3*len(short)), strings.Repeat(short, 3), 0},
	} {
		t.Run(name, func(t *testing.T) {
			from := &read{Reader: bytes.NewReader(x.body)}
			w := httptest.NewRecorder()
			r := httptest.NewRequest(http.MethodPost, "/", from)
			r.Header.Set("Content-Encoding", "gzip")
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			got, err := a.body(&question{r.Context(), w, r, store.Enrolled{}})
			runtime.ReadMemStats(&after)
			if string(got) != x.want || (err == nil) != (x.want != "" || name == "nothing") || err != nil && whyOf(err) != register.TooMuch {
				t.Errorf("%d bytes, %v, want %d", len(got), err, len(x.want))
			}
			// Memory that doubles up to what is held comes to twice that.
			if used := after.TotalAlloc - before.TotalAlloc; used > 3*register.MostBody {
				t.Errorf("%d bytes of memory are used for it", used)
			}
			if most := len(x.body) * x.most / (256 << 20); x.most > 0 && from.n > most+4096 {
				t.Errorf("%d of %d bytes are read, want %d at most", from.n, len(x.body), most)
			}
		})
	}
}

// A stream that breaks off never looks whole, compressed or not; one that fails before anything went out is an error.
func TestStreamsBreakOff(t *testing.T) {
	b, err := book.Open(filepath.Join(t.TempDir(), "ledger"))
	if err != nil {
		t.Fatal(err)
	}
	a := &API{book: b, now: time.Now, say: func(string, ...any) {}, bounds: newBounds()}
	lines := 0
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		q := &question{r.Context(), w, r, store.Enrolled{}}
		err := a.stream(q, "text/plain", func(yield func([]byte, error) bool) {
			for n := range lines {
				if !yield(fmt.Appendf(nil, "line %d\n", n), nil) {
					return
				}
			}
			yield(nil, store.ErrDown)
		})
		if err != nil {
			w.WriteHeader(refusalOf(err).status)
		}
	}))
	server.Config.ErrorLog = nil
	defer server.Close()
	for _, lines = range []int{0, 100, begun, 5 * begun} {
		for _, zipped := range []bool{false, true} {
			c := &http.Client{Transport: &http.Transport{DisableCompression: !zipped}}
			answer, err := c.Get(server.URL)
			if err != nil {
				continue // cut off before its head
			}
			text, err := io.ReadAll(answer.Body)
			answer.Body.Close()
			if answer.StatusCode == http.StatusOK && err == nil {
				t.Errorf("%d lines, compressed %v: %d bytes look whole: %q…", lines, zipped, len(text), strings.TrimSpace(string(text[:min(20, len(text))])))
			}
			if lines <= 100 && answer.StatusCode != http.StatusServiceUnavailable {
				t.Errorf("%d lines: status %d, want %d", lines, answer.StatusCode, http.StatusServiceUnavailable)
			}
		}
	}
}
