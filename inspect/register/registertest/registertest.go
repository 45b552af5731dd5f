// Package registertest is a register in memory, for tests of the bench's side: it takes lines by the ledger's own check of
// what follows, and keeps them. Where PostgreSQL is installed the true one is tested with the true bench.
package registertest

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

// Chain is what a register holds of one bench.
type Chain struct {
	ledger.Tail
	State    register.State
	Lines    [][]byte        // with their LF
	Records  []ledger.Record // of those
	Evidence [][]byte        // lines that differed, as benches left them
}

// Register is a register that answers on the loopback.
type Register struct {
	register.Enrolment

	mu      sync.Mutex
	each    func()     // called before each answer, where it is set
	names   url.Values // what benches are called
	chains  map[string]*Chain
	asked   map[string]int
	down    bool
	lose    int // answers to lines that are thrown away after they were taken
	witness string
	status  int // with which everything is refused; 0 for nothing
	refusal register.Refusal
	server  *httptest.Server
	changed chan struct{} // closed when lines were taken
}

// New starts a register, which ends with the test.
func New(t testing.TB) *Register {
	r := Start()
	t.Cleanup(r.Close)
	return r
}

// Start starts a register, for who closes it.
func Start() *Register {
	r := &Register{names: url.Values{}, chains: map[string]*Chain{}, asked: map[string]int{}, changed: make(chan struct{})}
	r.server = httptest.NewUnstartedServer(http.HandlerFunc(r.serve))
	r.server.Config.ErrorLog = log.New(io.Discard, "", 0) // connections that are cut off are what is tested
	r.mu.Lock()                                           // the handler reads what is set below
	defer r.mu.Unlock()
	r.server.StartTLS()
	key := sha256.Sum256(r.server.Certificate().RawSubjectPublicKeyInfo)
	token := sha256.Sum256([]byte("a token for tests"))
	r.Enrolment = register.Enrolment{
		Address: r.server.Listener.Addr().String(), Token: base64.RawURLEncoding.EncodeToString(token[:]), Key: hex.EncodeToString(key[:]),
	}
	return r
}

// Answering has a function called before each answer from now on.
func (r *Register) Answering(each func()) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.each = each
}

// Close ends the register.
func (r *Register) Close() { r.server.Close() }

// Await returns once the register has taken a head as it is, or with the context's error.
func (r *Register) Await(ctx context.Context, head ledger.Head) error {
	for {
		r.mu.Lock()
		changed, c := r.changed, r.chains[head.Bench]
		r.mu.Unlock()
		if c != nil && c.knows(head.Seq, head.Hash) == register.Same {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Do changes the register under its lock: what it holds of each bench is there to be looked at and changed.
func (r *Register) Do(change func(chains map[string]*Chain)) {
	r.mu.Lock()
	defer r.mu.Unlock()
	change(r.chains)
}

// Chain returns a copy of what is held of a bench.
func (r *Register) Chain(bench string) Chain {
	r.mu.Lock()
	defer r.mu.Unlock()
	if c := r.chains[bench]; c != nil {
		return *c
	}
	return Chain{}
}

// Down says whether the register answers nothing from now on.
func (r *Register) Down(down bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.down = down
}

// Lose throws away the next n answers to lines, after they were taken.
func (r *Register) Lose(n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.lose = n
}

// Refuse refuses everything from now on, with a status; 0 for nothing.
func (r *Register) Refuse(status int, why register.Refusal) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.status, r.refusal = status, why
}

// Witness sets what the register's own ledger ends with.
func (r *Register) Witness(head string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.witness = head
}

// Name says what a bench is called.
func (r *Register) Name(bench, name string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.names.Set(bench, name)
}

// Asked returns how often something was asked: head, lines, fork, back, subjects.
func (r *Register) Asked(what string) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.asked[what]
}

func (r *Register) serve(w http.ResponseWriter, q *http.Request) {
	body, err := io.ReadAll(q.Body)
	r.mu.Lock()
	each := r.each
	r.mu.Unlock()
	if each != nil {
		each()
	}
	if err == nil && q.Header.Get("Content-Encoding") == "gzip" {
		var plain *gzip.Reader
		if plain, err = gzip.NewReader(bytes.NewReader(body)); err == nil {
			body, err = io.ReadAll(plain)
		}
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case r.down:
		cut(w)
		return
	case r.status != 0:
		refuse(w, r.status, r.refusal)
		return
	case err != nil:
		refuse(w, http.StatusBadRequest, register.Refusal{Why: register.Unclear, Text: err.Error()})
		return
	case q.Header.Get("Authorization") != "Bearer "+r.Token:
		refuse(w, http.StatusUnauthorized, register.Refusal{Why: register.Stranger, Text: "no such token"})
		return
	}
	part := strings.Split(strings.TrimPrefix(q.URL.Path, "/v1/"), "/")
	if q.URL.Path == "/v1/subjects" {
		r.asked["subjects"]++
		r.subjects(w, q.URL.Query()["of"])
		return
	}
	if len(part) != 3 || part[0] != "chains" {
		refuse(w, http.StatusNotFound, register.Refusal{Why: register.Nothing, Text: q.URL.Path})
		return
	}
	c := r.chains[part[1]]
	if c == nil {
		c = &Chain{Tail: ledger.Tail{Bench: part[1]}, State: register.Open}
		r.chains[part[1]] = c
	}
	switch what := q.Method + " " + part[2]; what {
	case "GET head":
		r.asked["head"]++
		h := r.head(c)
		if seq := number(q, "seq"); seq > 0 {
			h.Yours = c.knows(seq, q.URL.Query().Get("sha256"))
		}
		answer(w, http.StatusOK, h)
	case "POST lines":
		r.asked["lines"]++
		r.take(w, c, number(q, "after"), q.URL.Query().Get("sha256"), body)
	case "POST fork":
		r.asked["fork"]++
		c.Evidence = append(c.Evidence, body)
		c.State = register.Forked
		answer(w, http.StatusOK, r.head(c))
	case "GET lines":
		r.asked["back"]++
		r.stamp(w)
		for _, line := range c.Lines[min(number(q, "after"), uint64(len(c.Lines))):] {
			w.Write(line)
		}
	default:
		refuse(w, http.StatusNotFound, register.Refusal{Why: register.Nothing, Text: what})
	}
}

func (r *Register) take(w http.ResponseWriter, c *Chain, after uint64, hash string, body []byte) {
	h := r.head(c)
	switch {
	case c.State == register.Closed:
		refuse(w, http.StatusForbidden, register.Refusal{Why: register.Shut, Text: "closed", Head: &h})
		return
	case after > 0 && c.knows(after, hash) == register.Other:
		refuse(w, http.StatusConflict, register.Refusal{Why: register.Parted, Text: "forked", Head: &h})
		return
	case after != c.Seq:
		refuse(w, http.StatusConflict, register.Refusal{Why: register.Moved, Text: "moved", Head: &h})
		return
	}
	next := *c
	next.Lines, next.Records = slices.Clip(c.Lines), slices.Clip(c.Records)
	for line := range bytes.Lines(body) {
		record, err := next.Take(line)
		if err != nil {
			refuse(w, http.StatusUnprocessableEntity, register.Refusal{Why: register.Damaged, Text: err.Error(), Head: &h})
			return
		}
		next.Lines = append(next.Lines, bytes.Clone(line))
		next.Records = append(next.Records, record)
	}
	*c = next
	close(r.changed)
	r.changed = make(chan struct{})
	if r.lose > 0 {
		r.lose--
		cut(w)
		return
	}
	answer(w, http.StatusOK, r.head(c))
}

func (r *Register) subjects(w http.ResponseWriter, of []string) {
	r.stamp(w)
	w.Header().Set(register.HeaderBenches, r.names.Encode())
	for bench, c := range r.chains {
		for i, record := range c.Records {
			if slices.Contains(of, record.Subject) {
				w.Write([]byte(bench + " "))
				w.Write(c.Lines[i])
			}
		}
	}
}

func (r *Register) stamp(w http.ResponseWriter) {
	w.Header().Set(register.HeaderDate, time.Now().UTC().Format(time.RFC3339))
	w.Header().Set(register.HeaderWitness, r.witness)
}

func (r *Register) head(c *Chain) register.Head {
	return register.Head{Bench: c.Bench, Seq: c.Seq, SHA256: c.Hash, State: c.State, Witness: r.witness, Date: time.Now().UTC().Format(time.RFC3339)}
}

func (c *Chain) knows(seq uint64, hash string) register.Yours {
	switch {
	case seq > uint64(len(c.Records)):
		return register.Unknown
	case c.Records[seq-1].Hash == hash:
		return register.Same
	}
	return register.Other
}

func number(q *http.Request, name string) uint64 {
	n, _ := strconv.ParseUint(q.URL.Query().Get(name), 10, 64)
	return n
}

func answer(w http.ResponseWriter, status int, body any) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(body)
}

func refuse(w http.ResponseWriter, status int, r register.Refusal) { answer(w, status, r) }

// cut ends the connection without an answer.
func cut(w http.ResponseWriter) {
	var conn net.Conn
	conn, _, err := http.NewResponseController(w).Hijack()
	if err == nil {
		conn.Close()
	}
}
