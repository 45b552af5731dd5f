package ledger

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/ledger/processtest"
)

// TestMain lets the test binary also be another process that uses the same ledger.
func TestMain(m *testing.M) {
	if task := os.Getenv("LEDGER_TASK"); task != "" {
		if err := runTask(task, os.Getenv("LEDGER_DIR")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// runTask is what the other process does. It prints a line for each record or when it holds a lock.
func runTask(task, dir string) error {
	if task == "hold lock" {
		_, err := disk{}.Lock(filepath.Join(dir, lockName), "holder of the lock")
		return holdUntilKilled(err)
	}
	l, err := Open(dir, Options{segmentSize: 3000, patience: time.Minute})
	if err != nil {
		return err
	}
	if task == "hold draft" {
		_, _, err := l.OpenDraft("i-1")
		return holdUntilKilled(err)
	}
	if task == "until killed" {
		return inspectUntilKilled(l)
	}
	n, err := strconv.Atoi(task)
	if err != nil {
		return doMany(l, dir, task)
	}
	for i := range n {
		records, err := l.Append(entry("tool", "tool:shared", i), entry("tool", "tool:"+strconv.Itoa(os.Getpid()), i))
		if err != nil {
			return err
		}
		for _, r := range records {
			fmt.Println(r.Hash)
		}
	}
	return nil
}

func holdUntilKilled(err error) error {
	if err != nil {
		return err
	}
	fmt.Println("held")
	_, err = io.Copy(io.Discard, os.Stdin) // until the test ends
	return err
}

// startTask starts another process and returns it with what it prints.
func startTask(t *testing.T, task, dir string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	cmd, out := processtest.Start(t, "LEDGER_TASK="+task, "LEDGER_DIR="+dir)
	return cmd, bufio.NewScanner(out)
}

func TestTwoWriters(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "ledger")
	const writers, each = 3, 40
	said := map[string]bool{}
	var cmds []*exec.Cmd
	var outs []*bufio.Scanner
	for range writers {
		cmd, out := startTask(t, strconv.Itoa(each), dir)
		cmds, outs = append(cmds, cmd), append(outs, out)
	}
	for i, cmd := range cmds {
		for outs[i].Scan() {
			said[outs[i].Text()] = true
		}
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
	}
	l, err := Open(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := l.Scan(func(r Record) error { delete(said, r.Hash); return nil }); err != nil || len(said) > 0 {
		t.Errorf("Scan: %v, %d acknowledged records are lost", err, len(said))
	}
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	if err := checkSound(l, head); err != nil {
		t.Error(err)
	}
	report, err := Verify(dir, nil, nil)
	if err != nil || report.Records != 2*writers*each || len(report.Benches) != 1 {
		t.Errorf("Verify found %d records of %d benches, %v, want %d of 1", report.Records, len(report.Benches), err, 2*writers*each)
	}
}

// TestLocks holds a lock in another process, finds it held, kills that process, and goes on.
func TestLocks(t *testing.T) {
	tests := []struct {
		task string
		use  func(*Ledger) error
	}{
		{"hold lock", func(l *Ledger) error {
			_, err := l.Append(entry("tool", "tool:EM-1", 1))
			return err
		}},
		{"hold draft", func(l *Ledger) error {
			d, _, err := l.OpenDraft("i-1")
			if err != nil {
				return err
			}
			defer d.Release()
			return d.Append([]byte("line"))
		}},
	}
	for _, test := range tests {
		t.Run(test.task, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "ledger")
			l, err := Open(dir, Options{patience: 50 * time.Millisecond})
			if err != nil {
				t.Fatal(err)
			}
			d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
			if err != nil {
				t.Fatal(err)
			}
			d.Release()
			other, out := startTask(t, test.task, dir)
			out.Scan()
			if got := out.Text(); got != "held" {
				t.Fatalf("other process said %q", got)
			}
			if err := test.use(l); !errors.Is(err, ErrLocked) {
				t.Errorf("while held: %v, want %v", err, ErrLocked)
			}
			other.Process.Kill()
			other.Wait()
			if err := test.use(l); err != nil {
				t.Errorf("after the holder has died: %v", err)
			}
		})
	}
}

func TestFolderGone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "ledger")
	l, err := Open(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	d.Release()
	if err := os.Rename(dir, dir+".gone"); err != nil {
		t.Fatal(err)
	}
	uses := map[string]func() error{
		"Append":    func() error { _, err := l.Append(entry("tool", "tool:EM-1", 1)); return err },
		"OpenDraft": func() error { _, _, err := l.OpenDraft("i-1"); return err },
		"Scan":      func() error { return l.Scan(func(Record) error { return nil }) },
		"Verify":    func() error { _, err := Verify(dir, nil, nil); return err },
		"Merge":     func() error { _, err := l.Merge(dir+".gone", MergeOptions{}); return err },
	}
	for name, use := range uses {
		if err := use(); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), dir) {
			t.Errorf("%s: %v, want that %s does not exist", name, err, dir)
		}
	}
	if err := os.Rename(dir+".gone", dir); err != nil {
		t.Fatal(err)
	}
	if _, err := l.Append(entry("tool", "tool:EM-1", 1)); err != nil {
		t.Errorf("after the folder is back: %v", err)
	}
	head, err := l.Head()
	if err != nil || head.Seq != 3 {
		t.Errorf("head %v, %v, want number 3", head, err)
	}
}

// TestLockIsSaid waits for a lock that another process holds: after a while it says so and who holds it, then gives up. A
// draft that is closing waits, and is closed when the lock is free. Reading, verifying and a dry run wait for nobody.
func TestLockIsSaid(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "ledger")
	said := make(chan string, 9)
	l, err := Open(dir, Options{patience: 50 * time.Millisecond, Waiting: func(holder string) { said <- holder }})
	if err != nil {
		t.Fatal(err)
	}
	d := mustDraft(t, l, "i-1", "one")
	other, out := startTask(t, "hold lock", dir)
	out.Scan()
	if _, err = l.Append(entry("tool", "tool:EM-1", 1)); !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), "holder of the lock, process "+strconv.Itoa(other.Process.Pid)) {
		t.Errorf("Append gave %v, want who holds it", err)
	}
	if holder := <-said; !strings.HasPrefix(holder, "holder of the lock, process ") {
		t.Errorf("it waits for %q", holder)
	}
	if n := countHistory(t, l, "tool:EM-1"); n != 1 {
		t.Errorf("%d records, want 1", n)
	}
	if report, err := Verify(dir, nil, nil); err != nil || len(report.Damage) > 0 {
		t.Errorf("Verify gave %v, %v", report.Damage, err)
	}
	if err := d.Append([]byte("two")); err != nil {
		t.Error(err)
	}
	closed := make(chan error)
	go func() {
		_, err := d.Close(entry("summary", "tool:EM-1", 1))
		closed <- err
	}()
	if holder := <-said; !strings.HasPrefix(holder, "holder of the lock") {
		t.Errorf("closing, it waits for %q", holder)
	}
	other.Process.Kill()
	other.Wait()
	if err := <-closed; err != nil {
		t.Errorf("closing gave %v", err)
	}
	if n := countHistory(t, l, "tool:EM-1"); n != 2 {
		t.Errorf("%d records, want 2", n)
	}
}

// TestManyAtOnce lets processes open, fill and close drafts, append and merge, while others verify, list and read: none
// fails for another's doing.
func TestManyAtOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "ledger")
	if _, err := Open(dir, Options{}); err != nil {
		t.Fatal(err)
	}
	there := filepath.Join(t.TempDir(), "there")
	l, err := Open(there, Options{})
	if err != nil {
		t.Fatal(err)
	}
	mustAppend(t, l, "tool:there", 30)
	tasks := []string{"inspect", "inspect", "inspect", "look", "look", "verify", "merge " + there, "20"}
	var cmds []*exec.Cmd
	var outs []*bufio.Scanner
	for _, task := range tasks {
		cmd, out := startTask(t, task, dir)
		cmds, outs = append(cmds, cmd), append(outs, out)
	}
	for i, cmd := range cmds {
		for outs[i].Scan() {
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("%s: %v", tasks[i], err)
		}
	}
	report, err := Verify(dir, nil, nil)
	if err != nil || len(report.Damage) > 0 || len(report.Open) > 0 || len(report.Benches) != 2 {
		t.Errorf("%v, damage %v, open %v, %d benches", err, report.Damage, report.Open, len(report.Benches))
	}
}

// doMany is what the processes of TestManyAtOnce do.
func doMany(l *Ledger, dir, task string) error {
	for i := range 40 {
		switch {
		case task == "inspect":
			id := fmt.Sprintf("EM-%d.%d", os.Getpid(), i)
			d, err := l.NewDraft(id, entry("opened", "tool:"+id, 0))
			if err != nil {
				return err
			}
			if err := d.Append([]byte("one")); err != nil {
				return err
			}
			if _, err := d.Close(entry("readings", "tool:"+id, 1), entry("summary", "tool:"+id, 2)); err != nil {
				return err
			}
		case task == "look":
			fresh, err := Open(dir, Options{segmentSize: 3000})
			if err != nil {
				return err
			}
			ids, err := fresh.Drafts()
			if err != nil {
				return err
			}
			for _, id := range ids {
				if _, err := fresh.ReadDraft(id); err != nil && !errors.Is(err, fs.ErrNotExist) {
					return err
				}
			}
			if _, err := fresh.Unfinished(); err != nil {
				return err
			}
			if err := fresh.Scan(func(Record) error { return nil }); err != nil {
				return err
			}
		case task == "verify":
			report, err := Verify(dir, nil, nil)
			if err != nil || len(report.Damage) > 0 {
				return fmt.Errorf("%v, damage %v", err, report.Damage)
			}
		default:
			if report, err := l.Merge(strings.TrimPrefix(task, "merge "), MergeOptions{}); err != nil || report.Short() {
				return fmt.Errorf("%v, %+v", err, report)
			}
		}
	}
	return nil
}
