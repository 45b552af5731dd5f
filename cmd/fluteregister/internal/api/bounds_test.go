package api

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
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
