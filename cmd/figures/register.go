//go:build linux

package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// registers measures the register on a database of its own, where PostgreSQL's programs are installed: by a test beside the
// register, which alone may know its inside. What a bench has of it is measured by tests of the bench.
func registers(b *bench) ([]figure, error) {
	m, err := newModel(filepath.Join(b.dir, "register-model"))
	if err != nil {
		return nil, err
	}
	dir := filepath.Join(b.dir, "register")
	inspections, each, rows := 4000, 30, 1_000_000
	if b.quick {
		inspections, each, rows = 1000, 10, 100_000
	}
	if err := m.fill(filepath.Join(dir, "one"), inspections, 20); err != nil {
		return nil, err
	}
	m.together = 1
	for n := range 32 {
		if err := m.fill(filepath.Join(dir, "benches", fmt.Sprint(n)), each, 5); err != nil {
			return nil, err
		}
	}
	out, err := measured("TestFigures$", "./cmd/fluteregister/internal/store", "FLUTEREGISTER_FIGURES="+dir, "FLUTEREGISTER_FIGURES_ROWS="+strconv.Itoa(rows))
	if bytes.Contains(out, []byte("--- SKIP")) {
		err = errors.New("PostgreSQL's server programs are not installed")
	}
	var all []figure
	for line := range strings.Lines(string(out)) {
		if cells := strings.Split(strings.TrimSpace(line), "\t"); len(cells) == 6 && cells[0] == "figure" {
			all = append(all, figure{cells[1], cells[2], cells[3], cells[4], cells[5] == "true"})
		}
	}
	if err != nil {
		return all, err
	}
	if f, err := kills(); err != nil {
		return all, err
	} else {
		all = append(all, f...)
	}
	f, err := backlog()
	return append(all, f), err
}

// measured runs a test that measures, and returns what it says.
func measured(test, of string, env ...string) ([]byte, error) {
	cmd := exec.Command("go", "test", "-count=1", "-v", "-run", test, strings.Replace(of, ".", "flutelog", 1))
	cmd.Env = append(os.Environ(), env...)
	out, err := cmd.CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%v\n%s", err, out)
	}
	return out, err
}

var (
	killsLine  = regexp.MustCompile(`map\[(.*)\] killed; (\d+) acknowledgements, (\d+) of them lost`)
	mutantLine = regexp.MustCompile(`found after (\d+) kills`)
	memoryLine = regexp.MustCompile(`(\d+) KB with (\d+) MB behind, (\d+) KB with nothing: (\S+) times`)
)

// kills runs the short form of the register's kills: the long one takes many minutes.
func kills() ([]figure, error) {
	out, err := measured("Kills", "./cmd/fluteregister", "FLUTELOG_LONG=")
	run, mutant := killsLine.FindSubmatch(out), mutantLine.FindSubmatch(out)
	if err != nil || run == nil || mutant == nil {
		return nil, fmt.Errorf("kills: %w", cmp.Or(err, errors.New("the test does not say what it found")))
	}
	return []figure{
		{"register: lost in 12 kills (200: FLUTELOG_LONG=1 go test -timeout 20m -v -run Kills ./cmd/fluteregister)", fmt.Sprintf("%s of %s acknowledgements, none doubled", run[3], run[2]), "-", "0", string(run[3]) == "0"},
		{"register: one that answers before the commit is found", fmt.Sprintf("after %s kills of the database", mutant[1]), "-", "found", true},
	}, nil
}

// backlog measures the memory of the bench's program while it sends what three weeks left behind.
func backlog() (figure, error) {
	out, err := measured("TestSendingTakesNoMemory", "./cmd/flutelog")
	m := memoryLine.FindSubmatch(out)
	if err != nil || m == nil {
		return figure{}, fmt.Errorf("a backlog's memory: %w", cmp.Or(err, errors.New("the test does not say what it measured")))
	}
	times, err := strconv.ParseFloat(string(m[4]), 64)
	return figure{fmt.Sprintf("memory of the bench's program, sending %s MiB", m[2]), fmt.Sprintf("%.2f times, %s kB", times, m[1]), fmt.Sprintf("with nothing to send %s kB", m[3]), "1.3 times", times <= 1.3}, err
}
