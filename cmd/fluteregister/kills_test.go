//go:build unix

package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flutelog/cmd/fluteregister/internal/cluster"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/invented"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/ledger"
	"flutelog/inspect/register"
)

// partVariable names the part that this program plays in a run of kills, in a process of its own.
const partVariable = "FLUTEREGISTER_TEST_PART"

func TestMain(m *testing.M) {
	part, arg := os.Getenv(partVariable), os.Args[1:]
	var err error
	switch part {
	case "":
		clustertest.Main(m)
	case "server", "mutant":
		err = playServer(part, arg[0], arg[1], arg[2])
	case "writer":
		err = playWriter(arg[0], arg[1])
	case "sender":
		err = playSender(arg[0], arg[1], arg[2])
	}
	fmt.Fprintln(os.Stderr, part, err)
	os.Exit(1)
}

// playServer serves. Of ten answers to lines one is thrown away after they were taken. The mutant answers before they are.
func playServer(part, database, folder, address string) error {
	p := places{database: database, folder: folder}
	e := env{context.Background(), os.Stdout, io.Discard, os.Getenv, time.Now}
	s, b, dir, err := p.await(e)
	if err != nil {
		return err
	}
	certificate, _, err := registerKey(dir, time.Now())
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return err
	}
	around := losing
	if part == "mutant" {
		around = hasty
	}
	return serveOn(e, listener, certificate, s, b, around)
}

func isLines(r *http.Request) bool {
	return r.Method == http.MethodPost && strings.HasSuffix(r.URL.Path, "/lines")
}

// losing throws away one of ten answers to lines.
func losing(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !isLines(r) || rand.IntN(10) > 0 {
			h.ServeHTTP(w, r)
			return
		}
		h.ServeHTTP(httptest.NewRecorder(), r)
		panic(http.ErrAbortHandler)
	})
}

// hasty acknowledges lines and then has them taken.
func hasty(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !isLines(r) {
			h.ServeHTTP(w, r)
			return
		}
		body, err := io.ReadAll(r.Body)
		if err != nil {
			panic(http.ErrAbortHandler)
		}
		z, err := gzip.NewReader(bytes.NewReader(body))
		if err != nil {
			panic(http.ErrAbortHandler)
		}
		lines, err := io.ReadAll(z)
		if err != nil {
			panic(http.ErrAbortHandler)
		}
		bench := strings.Split(r.URL.Path, "/")[3]
		all := bytes.SplitAfter(bytes.TrimSuffix(lines, []byte("\n")), []byte("\n"))
		last, err := ledger.ReadLine(bench, append(bytes.TrimSuffix(all[len(all)-1], []byte("\n")), '\n'))
		if err != nil {
			panic(http.ErrAbortHandler)
		}
		later := r.Clone(context.Background())
		later.Body = io.NopCloser(bytes.NewReader(body))
		text, _ := json.Marshal(register.Head{Bench: bench, Seq: last.Seq, SHA256: last.Hash, State: register.Open, Date: time.Now().UTC().Format(time.RFC3339)})
		w.Header().Set("Content-Length", fmt.Sprint(len(text)))
		w.Write(text)
		http.NewResponseController(w).Flush()
		h.ServeHTTP(httptest.NewRecorder(), later)
	})
}

// playWriter records one inspection after another.
func playWriter(dir, label string) error {
	b, err := invented.New(dir, label, uint64(time.Now().UnixNano()))
	if err == nil {
		err = b.GiveUp()
	}
	for n := 0; err == nil; n++ {
		err = b.Day(fmt.Sprintf("EM-%d", n%9))
	}
	return err
}

// playSender sends again and again, and writes down what was acknowledged, and what must never be.
func playSender(dir, line, out string) error {
	e, err := register.ParseEnrolment(line)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(out, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	l, err := ledger.Open(dir, ledger.Options{Bench: "sender"})
	if err != nil {
		return err
	}
	c := &register.Conn{Enrolment: e}
	for {
		sent, err := c.Send(context.Background(), l)
		if sent.Acknowledged.Seq > 0 {
			fmt.Fprintf(f, "acknowledged %s\n", sent.Acknowledged.Ledger())
		}
		var fork *register.Fork
		var behind *register.Behind
		if errors.As(err, &fork) || errors.As(err, &behind) {
			fmt.Fprintf(f, "wrong %v\n", err)
		}
		<-time.After(time.Duration(rand.IntN(20)) * time.Millisecond)
	}
}

// process is a part that is being played.
type process struct {
	t    *testing.T
	part string
	args []string
	cmd  *exec.Cmd
}

func (p *process) start() {
	p.t.Helper()
	self, err := os.Executable()
	must(p.t, err)
	p.cmd = exec.Command(self, p.args...)
	p.cmd.Env = append(os.Environ(), partVariable+"="+p.part)
	p.cmd.Stderr = os.Stderr
	must(p.t, p.cmd.Start())
}

// kill ends the process at once.
func (p *process) kill() {
	p.cmd.Process.Kill()
	p.cmd.Wait()
}

func (p *process) signal(s os.Signal) { p.cmd.Process.Signal(s) }

// killed is a bench that records and sends.
type killed struct {
	dir     string
	out     []string // what its senders write down
	writer  *process
	senders []*process
}

// killing is a run of kills.
type killing struct {
	t                  *testing.T
	db                 *cluster.Cluster
	folder             string
	server             *process
	benches            []*killed
	kills              map[string]int
	lost, acknowledged int
	wrong              []string
}

func startKilling(t *testing.T, part string, benches int) *killing {
	t.Helper()
	db, err := cluster.New("shared_buffers=32MB", "wal_writer_delay=10s")
	clustertest.Need(t, err)
	t.Cleanup(func() { db.Remove() })
	must(t, db.Start())
	k := &killing{t: t, db: db, folder: filepath.Join(t.TempDir(), "register"), kills: map[string]int{}}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	must(t, err)
	address := free.Addr().String()
	free.Close()
	r := &running{t: t, now: time.Now, places: []string{"--database", db.URL("postgres"), "--folder", k.folder}}
	r.address = address
	k.server = &process{t: t, part: part, args: []string{db.URL("postgres"), k.folder, address}}
	for i := range benches {
		label := fmt.Sprintf("bench %d", i)
		b := &killed{dir: filepath.Join(t.TempDir(), "ledger")}
		if _, err := invented.New(b.dir, label, 1); err != nil {
			t.Fatal(err)
		}
		line := r.enrol(label).String()
		b.writer = &process{t: t, part: "writer", args: []string{b.dir, label}}
		for n := range 2 {
			out := filepath.Join(t.TempDir(), fmt.Sprint(n))
			b.out = append(b.out, out)
			b.senders = append(b.senders, &process{t: t, part: "sender", args: []string{b.dir, line, out}})
		}
		k.benches = append(k.benches, b)
	}
	k.server.start()
	for _, b := range k.benches {
		b.writer.start()
		for _, s := range b.senders {
			s.start()
		}
	}
	t.Cleanup(func() {
		k.server.kill()
		for _, b := range k.benches {
			b.writer.kill()
			for _, s := range b.senders {
				s.kill()
			}
		}
	})
	return k
}

// check holds all that was acknowledged against the database.
func (k *killing) check() {
	k.t.Helper()
	s, err := store.Open(k.t.Context(), k.db.URL("postgres"), "")
	must(k.t, err)
	defer s.Close()
	k.acknowledged = 0
	for _, b := range k.benches {
		for _, out := range b.out {
			text, err := os.ReadFile(out)
			if err != nil && !errors.Is(err, os.ErrNotExist) {
				k.t.Fatal(err)
			}
			lines := strings.SplitAfter(string(text), "\n")
			for _, line := range lines[:len(lines)-1] {
				what, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
				if what == "wrong" {
					k.wrong = append(k.wrong, rest)
					continue
				}
				h, err := ledger.ParseHead(rest)
				must(k.t, err)
				k.acknowledged++
				got, err := s.Head(k.t.Context(), h.Bench, store.Asked{Own: h})
				must(k.t, err)
				if got.Yours != register.Same {
					k.lost++
				}
			}
		}
	}
}

// await waits until something more is acknowledged: else there is nothing to lose.
func (k *killing) await() {
	k.t.Helper()
	size := func() (n int64) {
		for _, b := range k.benches {
			for _, out := range b.out {
				if info, err := os.Stat(out); err == nil {
					n += info.Size()
				}
			}
		}
		return n
	}
	was, tick, late := size(), time.NewTicker(10*time.Millisecond), time.After(time.Minute)
	defer tick.Stop()
	for size() == was {
		select {
		case <-tick.C:
		case <-late:
			k.t.Fatal("nothing is acknowledged any more")
		}
	}
	<-time.After(time.Duration(rand.IntN(100)) * time.Millisecond)
}

// one kills something at random and lets it begin again.
func (k *killing) one(only string) {
	<-time.After(time.Duration(10+rand.IntN(150)) * time.Millisecond)
	b := k.benches[rand.IntN(len(k.benches))]
	what := only
	if what == "" {
		what = []string{"server", "server", "server", "server", "database", "database", "sender", "sender", "writer", "bench"}[rand.IntN(10)]
	}
	k.kills[what]++
	switch what {
	case "server":
		k.server.kill()
		k.server.start()
	case "database":
		k.await()
		must(k.t, k.db.Stop())
		// Before anything is sent again, all that was acknowledged must be there.
		k.senders(syscall.SIGSTOP)
		must(k.t, k.db.Start())
		k.check()
		k.senders(syscall.SIGCONT)
	case "sender":
		s := b.senders[rand.IntN(2)]
		s.kill()
		s.start()
	case "writer":
		b.writer.kill()
		b.writer.start()
	case "bench":
		all := append([]*process{b.writer}, b.senders...)
		for _, p := range all {
			p.signal(os.Kill)
		}
		for _, p := range all {
			p.kill()
			p.start()
		}
	}
}

func (k *killing) senders(s os.Signal) {
	for _, b := range k.benches {
		for _, p := range b.senders {
			p.signal(s)
		}
	}
}

// settle ends the writing, lets all be sent, and holds every bench's chain against the register's.
func (k *killing) settle() {
	k.t.Helper()
	for _, b := range k.benches {
		b.writer.kill()
	}
	s, err := store.Open(k.t.Context(), k.db.URL("postgres"), "")
	must(k.t, err)
	defer s.Close()
	for _, b := range k.benches {
		l := openLedger(k.t, b.dir)
		own := head(k.t, l)
		ctx, cancel := context.WithTimeout(k.t.Context(), 2*time.Minute)
		for {
			own = head(k.t, l) // a sender that starts mends what the last kill cut off, and that is a line too
			h, err := s.Head(ctx, own.Bench, store.Asked{Own: own})
			if err == nil && h.Yours == register.Same && h.Seq == own.Seq {
				break
			}
			if ctx.Err() != nil {
				k.t.Fatalf("bench %s does not send its last lines: %+v, %v", own.Bench, h, err)
			}
			<-time.After(50 * time.Millisecond)
		}
		cancel()
		report, err := ledger.Verify(b.dir, nil, nil)
		must(k.t, err)
		if len(report.Damage) > 0 {
			k.t.Errorf("bench %s: %v", own.Bench, report.Damage)
		}
		copied := k.t.TempDir()
		if tail, err := ledger.Restore(copied, own.Bench, true, s.Lines(k.t.Context(), own.Bench, 0)); err != nil || tail.Head() != own {
			k.t.Errorf("bench %s restored: %v, %v, want %v", own.Bench, tail.Head(), err, own)
		}
		all, err := s.Check(k.t.Context(), l, nil)
		must(k.t, err)
		for _, c := range all {
			if c.Bench == own.Bench && (len(c.Wrong) > 0 || c.Lines != own.Seq) {
				k.t.Errorf("bench %s: %d lines, want %d: %v", own.Bench, c.Lines, own.Seq, c.Wrong)
			}
		}
	}
	k.check()
	forks, err := s.Forks(k.t.Context(), "")
	must(k.t, err)
	if len(forks) > 0 || len(k.wrong) > 0 {
		k.t.Errorf("false alarms: forks %+v, senders %v", forks, k.wrong)
	}
}

// Whatever is killed, at whatever moment, nothing that was acknowledged is lost, nothing is there twice, and nobody is told of
// a fork: two senders of each bench at once, one of ten answers lost, and the chains out of the register are the benches'.
func TestKills(t *testing.T) {
	kills, benches := 12, 1
	if os.Getenv("FLUTELOG_LONG") != "" {
		kills, benches = 200, 3
	} else if testing.Short() {
		kills = 6
	}
	k := startKilling(t, "server", benches)
	k.one("database")
	for range kills - 1 {
		k.one("")
	}
	k.settle()
	t.Logf("%v killed; %d acknowledgements, %d of them lost", k.kills, k.acknowledged, k.lost)
	if k.lost > 0 || k.acknowledged == 0 {
		t.Errorf("%d of %d acknowledgements were lost", k.lost, k.acknowledged)
	}
}

// A register that acknowledges before the lines are on the medium is found out by the same kills.
func TestKillsFindTheHasty(t *testing.T) {
	if testing.Short() {
		t.Skip("kills until the mutant is found")
	}
	k := startKilling(t, "mutant", 3)
	for n := range 30 {
		k.one("database")
		if k.lost > 0 {
			t.Logf("found after %d kills: %d of %d acknowledgements were lost", n+1, k.lost, k.acknowledged)
			return
		}
	}
	t.Errorf("%d kills of the database found nothing lost of %d acknowledgements", k.kills["database"], k.acknowledged)
}
