package ledger

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

// smallDisk mounts a disk of one megabyte.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := unix.Mount("none", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("mounting a small disk: %v (needs root); the same is tested with a simulated disk", err)
	}
	t.Cleanup(func() { unix.Unmount(dir, unix.MNT_DETACH) })
	return dir
}

func TestDiskFull(t *testing.T) {
	disk := smallDisk(t)
	l, err := Open(filepath.Join(disk, "ledger"), Options{Clock: fixedClock()})
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	filler := filepath.Join(disk, "filler")
	if err := os.WriteFile(filler, make([]byte, 900<<10), 0o600); err != nil {
		t.Fatal(err)
	}
	large := Entry{Kind: "tool", Subject: "tool:EM-1", Body: []byte(`"` + strings.Repeat("x", 30<<10) + `"`)}
	records := 1
	for ; err == nil; records++ {
		_, err = l.Append(large)
	}
	if !errors.Is(err, unix.ENOSPC) {
		t.Errorf("Append gave %v, want %v", err, unix.ENOSPC)
	}
	lines := 0
	for err = nil; err == nil; lines++ {
		err = d.Append(large.Body)
	}
	if !errors.Is(err, unix.ENOSPC) {
		t.Errorf("Draft.Append gave %v, want %v", err, unix.ENOSPC)
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	if err := d.Append([]byte("last")); err != nil {
		t.Errorf("Draft.Append with space again: %v", err)
	}
	if content, err := l.ReadDraft("i-1"); err != nil || len(content.Lines) != lines || len(content.Damage) > 0 {
		t.Errorf("the draft has %d lines, %v, damage %v, want %d lines", len(content.Lines), err, content.Damage, lines)
	}
	if _, err := d.Close(entry("summary", "tool:EM-1", 1)); err != nil {
		t.Errorf("Close with space again: %v", err)
	}
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	if err := checkSound(l, head); err != nil {
		t.Error(err)
	}
	report, err := Verify(l.dir, nil, nil)
	if err != nil || report.Records != records {
		t.Errorf("Verify found %d records, %v, want %d", report.Records, err, records)
	}
}

func TestReadOnlyDisk(t *testing.T) {
	disk := smallDisk(t)
	dir := filepath.Join(disk, "ledger")
	l, err := Open(dir, Options{Clock: fixedClock()})
	if err != nil {
		t.Fatal(err)
	}
	d, err := l.NewDraft("i-1", entry("opened", "tool:EM-1", 0))
	if err != nil {
		t.Fatal(err)
	}
	d.Release()
	if err := unix.Mount("none", disk, "tmpfs", unix.MS_REMOUNT|unix.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	if l, err = Open(dir, Options{Clock: fixedClock()}); err != nil {
		t.Fatalf("opening to read: %v", err)
	}
	for _, err := range l.History("tool:EM-1") {
		if err != nil {
			t.Errorf("History: %v", err)
		}
	}
	if _, err := Verify(dir, nil, nil); err != nil {
		t.Errorf("Verify: %v", err)
	}
	if _, err := l.Append(entry("tool", "tool:EM-1", 1)); !errors.Is(err, unix.EROFS) {
		t.Errorf("Append gave %v, want %v", err, unix.EROFS)
	}
	if _, _, err := l.OpenDraft("i-1"); !errors.Is(err, unix.EROFS) {
		t.Errorf("OpenDraft gave %v, want %v", err, unix.EROFS)
	}
	if err := unix.Mount("none", disk, "tmpfs", unix.MS_REMOUNT, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := l.Append(entry("tool", "tool:EM-1", 1)); err != nil {
		t.Errorf("Append when writable again: %v", err)
	}
}

// TestDiskFullAtEveryLevel fills a disk to fifty levels while one program records and another reads. What that has read
// is never another record later, and when there is space again all goes on.
func TestDiskFullAtEveryLevel(t *testing.T) {
	disk := smallDisk(t)
	refused := 0
	levels := countCuts(50, 16)
	for level := range levels {
		level *= 50 / levels
		dir := filepath.Join(disk, "ledger")
		l, err := Open(dir, Options{Clock: fixedClock(), segmentSize: 64 << 10})
		if err != nil {
			t.Fatal(err)
		}
		other, err := Open(dir, Options{Clock: fixedClock()})
		if err != nil {
			t.Fatal(err)
		}
		filler := filepath.Join(disk, "filler")
		if err := os.WriteFile(filler, make([]byte, 700<<10+level*1333), 0o600); err != nil {
			t.Fatal(err)
		}
		seen := map[uint64]string{}
		look := func() {
			for line, err := range other.Lines(other.own, 0) {
				if errors.Is(err, unix.ENOSPC) {
					return // it cannot be made sure that all is on the medium
				}
				if err != nil {
					t.Fatalf("level %d: %v", level, err)
				}
				if was, ok := seen[line.Seq]; ok && was != line.Hash {
					t.Fatalf("level %d: line %d was read as %s and is %s", level, line.Seq, was, line.Hash)
				}
				seen[line.Seq] = line.Hash
			}
		}
		e := Entry{Kind: "tool", Subject: "tool:EM-1", Body: []byte(`"` + strings.Repeat("x", 3000+97*level) + `"`)}
		records, full := 0, 0
		for i := 0; full < 3 && i < 400; i++ {
			if _, err = l.Append(e, e); err == nil {
				records += 2
			} else if full++; !errors.Is(err, unix.ENOSPC) {
				t.Fatalf("level %d: %v", level, err)
			}
			look()
		}
		refused += full
		if err := os.Remove(filler); err != nil {
			t.Fatal(err)
		}
		look()
		for _, program := range []*Ledger{l, other, l} {
			if _, err := program.Append(e); err != nil {
				t.Fatalf("level %d, with space again: %v", level, err)
			}
			look()
		}
		head, err := l.Head()
		if err != nil {
			t.Fatal(err)
		}
		if err := checkSound(l, head); err != nil {
			t.Errorf("level %d: %v", level, err)
		}
		if n := countHistory(t, l, "tool:EM-1"); n < records+3 {
			t.Errorf("level %d: %d records, %d were acknowledged", level, n, records+3)
		}
		if err := os.RemoveAll(dir); err != nil {
			t.Fatal(err)
		}
	}
	if refused < 2*levels {
		t.Errorf("%d appends were refused for want of space: the test tries too little", refused)
	}
}
