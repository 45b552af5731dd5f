package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"flutelog/cmd/fluteregister/internal/cluster"
	"flutelog/cmd/fluteregister/internal/cluster/clustertest"
	"flutelog/cmd/fluteregister/internal/store"
)

// The database's driver stays out of the bench's program, and is known to one package alone.
func TestDriverIsTheStores(t *testing.T) {
	list := func(args ...string) []string {
		out, err := exec.Command("go", append([]string{"list"}, args...)...).Output()
		if err != nil {
			t.Fatalf("go list %v: %v", args, err)
		}
		return strings.Split(strings.TrimSpace(string(out)), "\n")
	}
	bench := list("-deps", "flutelog/cmd/flutelog")
	for _, p := range bench {
		if strings.Contains(p, "jackc") || strings.Contains(p, "fluteregister") {
			t.Errorf("the bench's program links %s", p)
		}
	}
	if len(bench) < 100 {
		t.Errorf("%d packages are not those of the bench's program", len(bench))
	}
	known := 0
	for _, p := range list("-f", `{{.ImportPath}} {{join .Imports " "}} {{join .TestImports " "}} {{join .XTestImports " "}}`, "flutelog/...") {
		if name, imports, _ := strings.Cut(p, " "); strings.Contains(imports, "jackc") {
			if known++; name != "flutelog/cmd/fluteregister/internal/store" {
				t.Errorf("%s knows the database's driver", name)
			}
		}
	}
	if known != 1 {
		t.Errorf("%d packages know the database's driver, want 1", known)
	}
}

// The unit for systemd starts a command with flags that it has, is hardened by systemd's own rating (10 at the worst), and has nothing
// in it that systemd does not know.
func TestUnit(t *testing.T) {
	unit, err := os.ReadFile("fluteregister.service")
	must(t, err)
	start := regexp.MustCompile(`(?m)^ExecStart=(\S+) (\S+) (.*)$`).FindSubmatch(unit)
	if start == nil {
		t.Fatal("the unit starts nothing")
	}
	var out, said bytes.Buffer
	if status := run(env{t.Context(), &out, &said, func(string) string { return "" }, time.Now}, []string{string(start[2]), "--help"}); status != statusDone {
		t.Fatalf("%s --help: %d", start[2], status)
	}
	for _, flag := range regexp.MustCompile(`--[a-z]+`).FindAllString(string(start[3]), -1) {
		if !strings.Contains(out.String(), flag+" ") {
			t.Errorf("%s has no flag %s", start[2], flag)
		}
	}
	if _, err := exec.LookPath("systemd-analyze"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no systemd-analyze here, and it is required")
		}
		t.Skip("no systemd-analyze (Debian: systemd) here to rate the unit with")
	}
	here, err := os.Executable() // stands for the program, which is not installed here
	must(t, err)
	path := filepath.Join(t.TempDir(), "fluteregister.service")
	must(t, os.WriteFile(path, bytes.Replace(unit, start[1], []byte(here), 1), 0o600))
	if out, err := exec.Command("systemd-analyze", "verify", path).CombinedOutput(); err != nil || strings.TrimSpace(string(out)) != "" {
		t.Errorf("systemd-analyze verify: %v\n%s", err, out)
	}
	rated, err := exec.Command("systemd-analyze", "security", "--offline=true", "--no-pager", path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, rated)
	}
	level := regexp.MustCompile(`Overall exposure level for .*: ([0-9.]+) `).FindSubmatch(rated)
	if level == nil {
		t.Fatalf("no level in %s", rated)
	}
	if exposed, err := strconv.ParseFloat(string(level[1]), 64); err != nil || exposed > 2 {
		t.Errorf("exposed to %s, want 2 at most", level[1])
	}
}

// Every command that help lists says what it is for, and README lists it too; wrong use is status 2 and says what to do.
func TestCommands(t *testing.T) {
	readme, err := os.ReadFile("README.md")
	must(t, err)
	for _, c := range commands() {
		var out, said bytes.Buffer
		if status := run(env{t.Context(), &out, &said, os.Getenv, time.Now}, []string{c.name, "--help"}); status != statusDone || !strings.Contains(out.String(), "example:\n  fluteregister "+c.name) {
			t.Errorf("%s --help: %d\n%s%s", c.name, status, out.String(), said.String())
		}
		if !bytes.Contains(readme, []byte("| `"+c.name)) && !bytes.Contains(readme, []byte("`, `"+c.name)) {
			t.Errorf("README's table lacks %s", c.name)
		}
	}
	none := func(string) string { return "" }
	for _, args := range [][]string{{}, {"else"}, {"serve", "--else"}, {"serve", "more"}, {"enrol"}, {"benches", "--folder", t.TempDir()}, {"rule", "north"}, {"serve"}, {"enrol", "b", "--until", "soon", "--folder", t.TempDir()}} {
		var out, said bytes.Buffer
		if status := run(env{t.Context(), &out, &said, none, time.Now}, args); status != statusUsage || !strings.HasPrefix(said.String()[strings.Index(said.String(), "fluteregister: "):], "fluteregister: ") {
			t.Errorf("%v: status %d, %s", args, status, said.String())
		}
	}
	var out, said bytes.Buffer
	if status := run(env{t.Context(), &out, &said, none, time.Now}, []string{"benches", "--folder", t.TempDir(), "--database", "host=/nowhere dbname=x"}); status != statusFailed || !strings.Contains(said.String(), "database") {
		t.Errorf("no database: status %d, %s", status, said.String())
	}
}

// On tables of another version every command says so and what to do, and one brings older ones up.
func TestTablesOfAnotherVersion(t *testing.T) {
	db, err := cluster.New("fsync=off", "shared_buffers=32MB")
	clustertest.Need(t, err)
	t.Cleanup(func() { db.Remove() })
	must(t, db.Start())
	url := db.URL("postgres")
	sql := func(statement string) {
		t.Helper()
		must(t, db.Run("psql", "-q", "-d", url, "-c", statement))
	}
	says := func(status int, want string, args ...string) {
		t.Helper()
		var out, said bytes.Buffer
		got := run(env{t.Context(), &out, &said, func(string) string { return "" }, time.Now}, append(args, "--database", url))
		if text := said.String() + out.String(); got != status || !strings.Contains(text, want) {
			t.Errorf("%v: status %d, %q; want %d, %q", args, got, text, status, want)
		}
	}
	folder := t.TempDir()
	says(statusFailed, "holds no register", "schema", "--bring-up")
	says(statusDone, "is set up", "benches", "--folder", folder)
	says(statusDone, fmt.Sprintf("of version %d already", store.Version), "schema", "--bring-up")
	old, err := os.ReadFile("internal/store/testdata/schema-1.sql")
	must(t, err)
	must(t, db.Create("old"))
	url = db.URL("old")
	sql(string(old))
	says(statusFailed, "fluteregister schema --bring-up", "serve", "--folder", folder)
	says(statusFailed, fmt.Sprintf("of version 1, and this program works with version %d", store.Version), "benches", "--folder", folder)
	says(statusDone, fmt.Sprintf("were of version 1, and are of version %d", store.Version), "schema", "--bring-up")
	says(statusDone, "no bench", "benches", "--folder", folder)
	sql(fmt.Sprintf("update version set version = %d", store.Version+1))
	says(statusFailed, "a newer program has been here", "serve", "--folder", folder)
	says(statusFailed, "a newer program has been here", "schema", "--bring-up")
}
