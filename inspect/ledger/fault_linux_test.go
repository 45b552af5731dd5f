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
