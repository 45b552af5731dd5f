//go:build linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// registers measures the register on a database of its own, where PostgreSQL's programs are installed: by a test beside the
// register, which alone may know its inside.
func registers(b *bench) ([]figure, error) {
	m, err := newModel(filepath.Join(b.dir, "register-model"))
	if err != nil {
		return nil, err
	}
	dir := filepath.Join(b.dir, "register-ledger")
	inspections := 4000
	if b.quick {
		inspections = 1000
	}
	if err := m.fill(dir, inspections, 20); err != nil {
		return nil, err
	}
	cmd := exec.Command("go", "test", "-count=1", "-run", "TestFigures", "-v", "flutelog/cmd/fluteregister/internal/store")
	cmd.Env = append(os.Environ(), "FLUTEREGISTER_FIGURES="+dir)
	out, err := cmd.CombinedOutput()
	if bytes.Contains(out, []byte("--- SKIP")) {
		return nil, errors.New("PostgreSQL's server programs are not installed")
	}
	if err != nil {
		return nil, fmt.Errorf("%v\n%s", err, out)
	}
	var all []figure
	for line := range strings.Lines(string(out)) {
		if cells := strings.Split(strings.TrimSpace(line), "\t"); len(cells) == 6 && cells[0] == "figure" {
			all = append(all, figure{cells[1], cells[2], cells[3], cells[4], cells[5] == "true"})
		}
	}
	return all, nil
}
