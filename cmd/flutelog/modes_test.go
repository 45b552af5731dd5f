//go:build unix

package main

import (
	"errors"
	"io/fs"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// What was read of a customer's tools is its owner's alone: every file the program makes is for nobody else to read,
// every folder for nobody else to enter, however open the system's defaults are.
func TestFilesAreTheOwnersAlone(t *testing.T) {
	defer syscall.Umask(syscall.Umask(0))
	t.Chdir(t.TempDir())
	for _, name := range []string{"before", "after"} {
		text, err := scenario.ReadFile("scenario/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		write(t, name+".csv", text)
	}
	write(t, "gauge.rec", []byte("gauge recording 1\ngauge \"+0.0003\\r\\n\"\n"))
	write(t, "values.txt", []byte("1\n2\n1\n3\n"))
	write(t, "told.rec", []byte(`flutelog desk recording 1
line {"at":"2026-11-27T08:14:01Z","text":""}
line {"at":"2026-11-27T08:14:02Z","text":"c"}
line {"at":"2026-11-27T08:14:03Z","text":"s no time"}
key {"at":"2026-11-27T08:14:04Z","key":"interrupt"}
`))
	for _, line := range []string{
		"tool add EM-1 --diameter 0.5in --flutes 4 --material hss --ledger shop/ledger",
		"inspect EM-1 --stage before --readings before.csv --ledger shop/ledger",
		"inspect EM-1 --stage after --readings after.csv --ledger shop/ledger",
		"inspect EM-1 --stage after --play told.rec --ledger shop/ledger", // stopped after an answer: it leaves a draft
		"report -o report.csv --ledger shop/ledger",
		"sheet EM-1.1 -o sheet.html --ledger shop/ledger",
		"tag EM-1 -o tag.html --ledger shop/ledger",
		"trend --values values.txt --svg trend.svg",
		"gauge listen --replay gauge.rec --record again.rec --unit in",
		"ledger merge shop/ledger --ledger copy",
		"demo --folder demonstration",
	} {
		if status, _, stderr := runArgs(t, strings.Fields(line)...); status == command.StatusFailed || status == command.StatusUsage {
			t.Fatalf("%s: status %d: %s", line, status, stderr)
		}
	}
	files, folders := 0, 0
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || path == "." {
			return err
		}
		info, err := d.Info()
		want := fs.FileMode(0o600)
		if d.IsDir() {
			want = 0o700
			folders++
		} else {
			files++
		}
		if err == nil && info.Mode().Perm() != want {
			t.Errorf("%s: mode %o, want %o", path, info.Mode().Perm(), want)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"shop/ledger/open/*.jsonl", "shop/ledger/*/*.jsonl", "copy/*/*.jsonl", "report.csv", "sheet.html", "tag.html", "trend.svg", "again.rec", "demonstration/sheet.html"} {
		if found, err := filepath.Glob(name); len(found) == 0 {
			t.Error(errors.Join(errors.New("nothing is at "+name), err))
		}
	}
	t.Logf("%d files, %d folders", files, folders)
}
