//go:build ignore

// Mutate makes each figure that a person acts on wrong in turn, and fails unless a test outside the figure's own package
// finds it. The sources stay as they are: the wrong file stands in for the right one only while the tests are built.
//
//	go run .ci/mutate.go [NAME…]
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// mutation makes one figure wrong.
type mutation struct {
	name       string
	file       string // where it is worked out
	from, to   string
	run        string // the tests that find it, none of its own package
	inPackages []string
}

var (
	commands = []string{"./cmd/flutelog"}
	told     = "Told|KeptPapers"
)

var mutations = []mutation{
	{"radius offset of the sheet is the whole diameter", "cmd/internal/papers/sheet.go", "s.size(*d/2)", "s.size(*d)", told, commands},
	{"radius offset of the tag is the whole diameter", "cmd/internal/papers/tags.go", "s.size(*d/2)", "s.size(*d)", told, commands},
	{"change since the tool was last out the other way", "inspect/record/offsets.go", "d := *o.Now - *o.Was", "d := *o.Was - *o.Now", told, commands},
	{"diameter off by a division", "inspect/record/figures.go", "		figure := Figure{*finding.Value, ", "		figure := Figure{inspect.LengthQuantity(finding.Value.Length() + 2540000000), ", told, commands},
	{"TIR halved", "inspect/geometry/runout.go", "return slices.Max(heights) - slices.Min(heights)", "return (slices.Max(heights) - slices.Min(heights)) / 2", told, commands},
	{"share of the wrong flute", "inspect/geometry/land.go", "if r.Compare(all.Worst()) > 0 {", "if r.Compare(all.Worst()) < 0 {", told, commands},
	{"share upside down", "inspect/finding.go", "return float64(s.Num) / float64(s.Den)", "return float64(s.Den) / float64(s.Num)", told, commands},
	{"infeed of the secondary doubled", "inspect/grind.go", "p.SecondaryInfeed, p.SecondaryTouch = &infeed,", "infeed *= 2\n	p.SecondaryInfeed, p.SecondaryTouch = &infeed,", told, commands},
	{"a division too many", "inspect/geometry/stock.go", "plan.ClearWear = int((plan.Infeed + division - 1) / division)", "plan.ClearWear = int((plan.Infeed+division-1)/division) + 1", told + "|TestScripts/^stock", commands},
	{"infeed without what the wear has taken", "inspect/geometry/stock.go", "if plan.Infeed, err = s.Infeed(); err != nil {", "if plan.Infeed, err = s.Infeed(); plan.Infeed > 0 {\n		plan.Infeed /= 2\n	}\n	if err != nil {", told + "|TestScripts/^stock", commands},
	{"a lock does not stop", "inspect/record/standing.go", "case len(s.Locks) > 0:", "case false:", told, commands},
	{"a withdrawal is not final", "inspect/record/standing.go", "s.Standing = StandsWithdrawn", "s.Standing = StandsToSign", told, commands},
	{"a recall is forgotten", "inspect/record/standing.go", "s.Standing = StandsRecalled\n	case f.retired", "s.Standing = StandsReleased\n	case f.retired", told, commands},
	{"a release that knew less than there is", "inspect/record/standing.go", "if slices.ContainsFunc(flow, func(x fact) bool { return !known(r)(x) }) {", "if false {", "TestScripts/^standing", commands},
	{"what does not conform is released", "inspect/record/rule.go", "case word == Release && !h.now.clear():", "case false:", "TestScripts/^job", commands},
	{"a locked tool is released", "inspect/record/rule.go", "case len(t.Locks) > 0:", "case false:", "TestScripts/^standing", commands},
	{"practice readings are released", "inspect/record/figures.go", "Practice: in.Practised(),", "Practice: false,", told, commands},
	{"a correction is not applied", "inspect/record/inspection.go", "in.Inspection.Correct(*c.Reading)", "_ = c.Reading", told, commands},
	{"a PIN is not asked", "cmd/internal/people/people.go", "return one != nil && len(one.Hash) > 0", "return one != nil && len(one.Hash) < 0", "TestScripts/^standing", commands},
	{"a job goes with an open tool", "inspect/record/jobs.go", "return t.Settled || !t.After && !stopped", "return t.Settled || !stopped", "TestScripts/^job", commands},
}

func main() {
	failed := 0
	right := exec.Command("go", "test", "-short", "-run", told+"|TestScripts/^(standing|job|stock)", "./cmd/flutelog")
	if out, err := right.CombinedOutput(); err != nil {
		fmt.Printf("the tests fail with every figure right: %v\n%s", err, out)
		os.Exit(1)
	}
	for _, m := range mutations {
		if len(os.Args) > 1 && !slices.Contains(os.Args[1:], m.name) {
			continue
		}
		began := time.Now()
		err := m.try()
		took := time.Since(began).Round(100 * time.Millisecond)
		if err != nil {
			failed++
			fmt.Printf("NOT FOUND  %s: %v (%v)\n", m.name, err, took)
			continue
		}
		fmt.Printf("found      %s (%v)\n", m.name, took)
	}
	if failed > 0 {
		fmt.Printf("%d of %d not found\n", failed, len(mutations))
		os.Exit(1)
	}
}

// try runs the tests with the figure made wrong. It is nil when a test fails, and not because the wrong figure does not
// build.
func (m mutation) try() error {
	source, err := os.ReadFile(m.file)
	if err != nil {
		return err
	}
	if n := bytes.Count(source, []byte(m.from)); n != 1 {
		return fmt.Errorf("%q stands %d times in %s; this table is behind the code", m.from, n, m.file)
	}
	dir, err := os.MkdirTemp("", "mutate-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	wrong := filepath.Join(dir, filepath.Base(m.file))
	if err := os.WriteFile(wrong, bytes.Replace(source, []byte(m.from), []byte(m.to), 1), 0o600); err != nil {
		return err
	}
	right, err := filepath.Abs(m.file)
	if err != nil {
		return err
	}
	overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{right: wrong}})
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "overlay.json"), overlay, 0o600); err != nil {
		return err
	}
	args := append([]string{"test", "-short", "-overlay", filepath.Join(dir, "overlay.json"), "-run", m.run}, m.inPackages...)
	out, err := exec.Command("go", args...).CombinedOutput()
	var exit *exec.ExitError
	switch {
	case err == nil:
		return errors.New("no test found it")
	case !errors.As(err, &exit):
		return err
	case strings.Contains(string(out), "[build failed]") || strings.Contains(string(out), "[setup failed]"):
		return fmt.Errorf("it does not build:\n%s", out)
	}
	return nil
}
