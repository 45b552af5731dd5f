package ledger

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// failing is a recorder on which a morning's work goes wrong at the nth step that touches the disk, and for
// the steps given from there on.
func failing(n, steps int, cause error) (*recorder, *int) {
	r := newRecorder()
	count := new(int)
	r.fail = func(o operation) error {
		*count++
		if *count >= n && *count < n+steps {
			return &failure{o, cause}
		}
		return nil
	}
	return r, count
}

// failure is what a disk says that refuses something.
type failure struct {
	operation operation
	cause     error
}

func (f *failure) Error() string {
	return fmt.Sprintf("%s %s: %v", f.operation.kind, f.operation.path, f.cause)
}
func (f *failure) Unwrap() error { return f.cause }

// faultyMorning works while the nth step fails, then cuts the power and checks what is left.
func faultyMorning(t *testing.T, n, steps int, cause error) (took int, failed []error) {
	t.Helper()
	r, count := failing(n, steps, cause)
	s := shop{t: t, opt: Options{Bench: "bench 1", Clock: fixedClock(), fsys: r, segmentSize: 3000}}
	s.log = func(acknowledged) {}
	s.work()
	if err := checkSound(s.l, s.acks.head); err != nil {
		t.Errorf("%v at step %d: %v", cause, n, err)
	}
	if err := checkKept(r.memory.copied(), s.acks); err != nil {
		t.Errorf("%v at step %d: %v", cause, n, err)
	}
	m := newMedium(rand.New(rand.NewPCG(7, uint64(n))))
	m.run(r.log)
	m.cut()
	if err := checkKept(m.disk(), s.acks); err != nil {
		t.Errorf("%v at step %d, then a power cut: %v", cause, n, err)
	}
	return *count, s.errors
}

func TestFaults(t *testing.T) {
	tests := []struct {
		name  string
		cause error
		steps int // that fail in a row
	}{
		{"one step fails", syscall.EIO, 1},
		{"disk full for a while", syscall.ENOSPC, 3},
		{"read-only for a while", syscall.EROFS, 2},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			said := 0
			last, _ := faultyMorning(t, 1<<30, 0, nil)
			for n := 1; n <= last && !t.Failed(); n += stride() {
				_, failed := faultyMorning(t, n, test.steps, test.cause)
				for _, err := range failed {
					if !errors.Is(err, test.cause) || !strings.Contains(err.Error(), "ledger") {
						t.Errorf("step %d: error %q does not say what and where", n, err)
					}
				}
				said += len(failed)
			}
			if said == 0 {
				t.Error("no step failed")
			}
		})
	}
}

// TestProcessDies lets a program die at each step, another go on at once, and then cuts the power: the
// second must not build on what the first left unsynced.
func TestProcessDies(t *testing.T) {
	log, _ := recordMorning(t)
	for n := 1; n <= len(log) && !t.Failed(); n += stride() {
		r := newRecorder()
		acks := workUntilDead(t, r, n)
		acks, err := goOn(r, acks)
		if err != nil {
			t.Fatalf("after dying at step %d: %v", n, err)
		}
		m := newMedium(rand.New(rand.NewPCG(5, uint64(n))))
		m.run(r.log)
		m.cut()
		if err := checkKept(m.disk(), acks); err != nil {
			t.Errorf("after dying at step %d: %v", n, err)
		}
	}
}

type death struct{}

func workUntilDead(t *testing.T, r *recorder, n int) (acks acknowledged) {
	t.Helper()
	steps := 0
	r.fail = func(operation) error {
		if steps++; steps == n {
			panic(death{})
		}
		return nil
	}
	s := shop{t: t, opt: Options{Clock: fixedClock(), fsys: r, segmentSize: 3000}}
	s.log = func(a acknowledged) { acks = a }
	defer func() {
		if cause := recover(); cause != nil && cause != (death{}) {
			panic(cause)
		}
		r.fail = func(operation) error { return nil }
		clear(r.held) // the system frees the locks of the dead
	}()
	s.work()
	return acks
}

// goOn adds one record and one line to every draft.
func goOn(r *recorder, acks acknowledged) (acknowledged, error) {
	l, err := Open("ledger", Options{Clock: fixedClock(), fsys: r, segmentSize: 3000})
	if err != nil {
		return acks, err
	}
	records, err := l.Append(entry("tool", "tool:EM-1", 1))
	if err != nil {
		return acks, err
	}
	acks.hashes = append(slices.Clone(acks.hashes), records[0].Hash)
	acks.head, err = l.Head()
	if err != nil {
		return acks, err
	}
	ids, err := l.Drafts()
	if err != nil {
		return acks, err
	}
	lines := map[string][]string{}
	for _, id := range ids {
		d, content, err := l.OpenDraft(id)
		if err != nil {
			return acks, err
		}
		for _, line := range content.Lines {
			lines[id] = append(lines[id], string(line))
		}
		if err := d.Append([]byte(`{"after":"death"}`)); err != nil {
			return acks, err
		}
		lines[id] = append(lines[id], `{"after":"death"}`)
		d.Release()
	}
	acks.lines = lines
	return acks, nil
}

// TestClosedInVain fails the closing of a draft after its record has reached the disk. Readings taken
// afterwards must not be deleted with the draft.
func TestClosedInVain(t *testing.T) {
	r := newRecorder()
	opt := Options{Clock: fixedClock(), fsys: r, segmentSize: 400} // each record begins a segment
	l, err := Open("ledger", opt)
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	r.fail = func(o operation) error {
		if o.kind == "sync folder" {
			return syscall.EIO
		}
		return nil
	}
	if _, err := d.Close(entry("summary", "tool:EM-1", 0)); !errors.Is(err, syscall.EIO) {
		t.Fatalf("Close gave %v, want %v", err, syscall.EIO)
	}
	r.fail = func(operation) error { return nil }
	if err := d.Append([]byte("late")); err != nil {
		t.Fatal(err)
	}
	clear(r.held)
	if l, err = Open("ledger", opt); err != nil {
		t.Fatal(err)
	}
	if _, content, err := l.OpenDraft("i-1"); err != nil || len(content.Lines) != 1 {
		t.Errorf("OpenDraft gave %d lines, %v, want the late one", len(content.Lines), err)
	}
}

// TestNothingReadIsReplaced fails each step of an append in turn, while another program reads at every step. What that has
// read, with all of its bytes there, stands when work goes on, under the same numbers.
func TestNothingReadIsReplaced(t *testing.T) {
	for n := 1; ; n++ {
		r := newRecorder()
		opt := Options{Clock: fixedClock(), fsys: r}
		l, err := Open("ledger", opt)
		if err != nil {
			t.Fatal(err)
		}
		mustAppend(t, l, "tool:EM-1", 1)
		other, err := Open("ledger", opt)
		if err != nil {
			t.Fatal(err)
		}
		seen := map[uint64]string{}
		look := func() {
			err := other.Scan(func(r Record) error {
				if was, ok := seen[r.Seq]; ok && was != r.Hash {
					t.Errorf("step %d: number %d was %s and is %s", n, r.Seq, was, r.Hash)
				}
				seen[r.Seq] = r.Hash
				return nil
			})
			if err != nil {
				t.Fatalf("step %d: %v", n, err)
			}
		}
		steps := 0
		r.fail = func(o operation) error {
			look()
			if steps++; steps == n {
				return syscall.EIO
			}
			return nil
		}
		_, err = l.Append(entry("tool", "tool:EM-1", 2), entry("tool", "tool:EM-1", 3))
		r.fail = func(operation) error { return nil }
		look()
		if _, err := other.Append(entry("tool", "tool:EM-1", 4)); err != nil {
			t.Fatal(err)
		}
		mustAppend(t, l, "tool:EM-1", 1)
		look()
		report, verr := verify(r, "ledger", nil, nil)
		if verr != nil || len(report.Damage) > 0 || (report.Records != 3 && report.Records != 5) {
			t.Errorf("step %d: %v, %+v, want 3 or 5 records: all of an append or none of it", n, verr, report)
		}
		if steps < n {
			if err != nil || n < 5 {
				t.Errorf("%d steps, %v", steps, err)
			}
			return
		}
	}
}

// unreadable is a memory whose segments cannot be read, but for their size, while broken.
type unreadable struct {
	*memory
	broken bool
}

type unreadableFile struct{ file }

func (unreadableFile) ReadAt([]byte, int64) (int, error) { return 0, syscall.EIO }

func (u *unreadable) OpenFile(name string, flag int) (file, error) {
	f, err := u.memory.OpenFile(name, flag)
	if u.broken && isSegment(name) {
		return unreadableFile{f}, err
	}
	return f, err
}

// TestUnreadable fails the reading of what another program has added. Once it can be read the chain goes
// on behind it.
func TestUnreadable(t *testing.T) {
	m := newMemory()
	l := mustOpen(t, m, "ledger", "b")
	mustAppend(t, l, "tool:EM-1", 1)
	flaky := &unreadable{memory: m}
	other, err := Open("ledger", Options{Clock: fixedClock(), fsys: flaky})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := other.Head(); err != nil {
		t.Fatal(err)
	}
	mustAppend(t, l, "tool:EM-1", 1)
	flaky.broken = true
	if _, err := other.Append(entry("tool", "tool:EM-1", 2)); !errors.Is(err, syscall.EIO) {
		t.Errorf("Append gave %v, want %v", err, syscall.EIO)
	}
	flaky.broken = false
	if _, err := other.Append(entry("tool", "tool:EM-1", 2)); err != nil {
		t.Fatal(err)
	}
	if n := countHistory(t, other, "tool:EM-1"); n != 3 {
		t.Errorf("%d records, want 3", n)
	}
}
