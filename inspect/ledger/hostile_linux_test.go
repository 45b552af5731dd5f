package ledger

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// TestHostileFolder puts links, pipes, folders and devices in the place of each file of a ledger. Nothing is followed,
// nothing waits, each is named, and nothing outside is touched.
func TestHostileFolder(t *testing.T) {
	outside := filepath.Join(t.TempDir(), "outside")
	const theirs = "somebody else's\n"
	kinds := map[string]func(name string) error{
		"a symbolic link":            func(name string) error { return os.Symlink(outside, name) },
		"a pipe":                     func(name string) error { return unix.Mkfifo(name, 0o600) },
		"a folder":                   func(name string) error { return os.Mkdir(name, 0o700) },
		"a device":                   func(name string) error { return os.Symlink("/dev/zero", name) },
		"a link that leads nowhere ": func(name string) error { return os.Symlink(outside+".none", name) },
	}
	for kind, put := range kinds {
		for _, what := range []string{"lock", "bench", "segment", "heads", "new segment's temporary", "draft", "draft's temporary", "chain", "drafts"} {
			t.Run(kind+" for "+what, func(t *testing.T) {
				if err := os.WriteFile(outside, []byte(theirs), 0o600); err != nil {
					t.Fatal(err)
				}
				dir := filepath.Join(t.TempDir(), "ledger")
				l, err := Open(dir, Options{segmentSize: 1500})
				if err != nil {
					t.Fatal(err)
				}
				mustAppend(t, l, "tool:1", 5)
				mustDraft(t, l, "i-1", "one").Release()
				firsts, err := listSegments(disk{}, filepath.Join(dir, l.own))
				if err != nil {
					t.Fatal(err)
				}
				name := filepath.Join(dir, map[string]string{
					"lock": lockName, "bench": benchName, "segment": l.own + "/" + segmentName(firsts[len(firsts)-1]), "heads": l.own + "/" + headsName,
					"new segment's temporary": l.own + "/" + temporaryName, "draft": "open/i-1.jsonl", "draft's temporary": "open/" + temporaryName,
					"chain": l.own, "drafts": draftsName,
				}[what])
				os.RemoveAll(name)
				if err := put(name); err != nil {
					t.Fatal(err)
				}
				done := make(chan string)
				go func() { done <- useAll(dir) }()
				select {
				case said := <-done:
					if !strings.Contains(said, filepath.Base(name)) && !strings.Contains(what, "temporary") && !strings.Contains(said, l.own) {
						t.Errorf("said %q, and does not name %s", said, filepath.Base(name))
					}
				case <-time.After(20 * time.Second):
					t.Fatal("it waits")
				}
				if text, err := os.ReadFile(outside); err != nil || string(text) != theirs {
					t.Errorf("what is outside is %q, %v", text, err)
				}
				if _, err := os.Lstat(outside + ".none"); !errors.Is(err, os.ErrNotExist) {
					t.Error("a file was made outside")
				}
			})
		}
	}
}

// useAll does with a ledger what there is to do, and returns all that is said of it.
func useAll(dir string) string {
	var said []string
	say := func(err error) {
		if err != nil {
			said = append(said, err.Error())
		}
	}
	report, err := Verify(dir, nil, nil)
	say(err)
	for _, d := range report.Damage {
		said = append(said, d.String())
	}
	l, err := Open(dir, Options{segmentSize: 1500, patience: time.Millisecond})
	say(err)
	if err != nil {
		return strings.Join(said, "\n")
	}
	for range 3 {
		_, err = l.Append(entry("tool", "tool:2", 1))
		say(err)
	}
	_, err = l.NewDraft("i-2", entry("opened", "tool:2", 0))
	say(err)
	if d, _, err := l.OpenDraft("i-1"); err == nil {
		say(d.Append([]byte("two")))
	} else {
		say(err)
	}
	for _, err := range l.History("tool:1") {
		say(err)
	}
	_, err = l.Drafts()
	say(err)
	_, err = l.Mends(MendOptions{})
	say(err)
	return strings.Join(said, "\n")
}
