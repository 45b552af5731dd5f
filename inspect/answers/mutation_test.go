package answers_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// A mutation makes one rule of judging wrong.
type mutation struct{ file, is, becomes string }

// mutations has one for each rule that decides what a person does.
var mutations = []mutation{
	// what locks, what withdraws
	{"reading.go", `return s == Cracks || s == Burn && stage != Before`, `return s == Cracks`},
	{"reading.go", `return s == Cracks || s == Burn && stage != Before`, `return s == Cracks || s == Burn`},
	{"reading.go", `return s == Cracks || s == Burn && stage != Before`, `return s == Burn && stage != Before`},
	{"work.go", `if w.locked() || w.withdrawn() {`, `if w.withdrawn() {`},
	{"work.go", `if w.locked() || w.withdrawn() {`, `if w.locked() {`},
	// what is over decides, a gap never clears
	{"work.go", `if len(w.out.Work) == 0 {`, `if len(w.out.Work) == 0 || w.out.Unread != nil {`},
	{"work.go", `if open != nil || w.out.Unread != nil {`, `if open != nil {`},
	{"work.go", `if open != nil || w.out.Unread != nil {`, `if w.out.Unread != nil {`},
	{"work.go", `if !f.Advice && (f.Verdict == Undecided || f.Verdict == NotJudged) {`, `if f.Verdict == Undecided || f.Verdict == NotJudged {`},
	{"judge.go", `if f := w.out.Findings[before]; f.Verdict == Reject {`, `if f := w.out.Findings[before]; f.Verdict == Accept {`},
	{"lands.go", `case missing != nil && f.Verdict != Reject:`, `case missing != nil:`},
	{"runout.go", `if f, _, ok := w.tir(part, s.feature); ok && f.Verdict == Reject {`, `if f, _, ok := w.tir(part, s.feature); ok && f.Verdict == Accept {`},
	{"work.go", `if f.Verdict == v && !f.Advice && slices.Contains(features, f.Feature) {`, `if f.Verdict == v && slices.Contains(features, f.Feature) && f.Feature != WearLand {`},
	// coverage
	{"coverage.go", `ends = ends && (r == nil || !r.Before || r.Ends)`, `ends = ends && r != nil && r.Ends`},
	{"coverage.go", `ends = ends && (r == nil || !r.Before || r.Ends)`, `ends = true && ends`},
	{"coverage.go", `if stage == After && !t.HasEndTeeth() {`, `if stage == Between && !t.HasEndTeeth() {`},
	{"coverage.go", `if in.Regrind != nil && in.Regrind.Burn && in.Stage != Before &&`, `if in.Regrind != nil && in.Regrind.Burn && in.Stage == Before &&`},
	{"coverage.go", `in.Basis.Tie == TieShank && !w.tied()`, `in.Basis.Tie == TieShank && w.tied()`},
	{"coverage.go", `if w.in.Holding == InVee || w.in.Holding == InCollet {`, `if w.in.Holding == InFixture {`},
	{"coverage.go", `return t.Flutes > 1`, `return t.Flutes > 0`},
	{"coverage.go", `if f == ReliefDrop && in.Regrind != nil && len(in.Regrind.Relief) > 0 {`, `if f == ReliefDrop && in.Regrind != nil && len(in.Regrind.Relief) > 9 {`},
	{"coverage.go", `if f == ReliefDrop && in.Basis.ReliefFlutes == 2 && w.opposite(s) {`, `if f == ReliefDrop && in.Basis.ReliefFlutes == 2 {`},
	{"work.go", `if w.in.Stage == After && w.in.Holding == InFixture && !w.tied() && w.applies(RadialRunout) {`, `if w.in.Stage == After && w.in.Holding == InVee {`},
	// the right work
	{"work.go", `w.call(StoneShank, OnShank, SeenSo, nil, seen)`, `w.call(Reseat, OnShank, SeenSo, nil, seen)`},
	{"work.go", `if _, burred := w.seen(BurredShank); burred {`, `if _, burred := w.seen(BurredShank); !burred {`},
	{"work.go", `if shank := w.with(Reject, ShankRunout); shank != nil {`, `if shank := w.with(Accept, ShankRunout); shank != nil {`},
	{"work.go", `w.call(Reseat, OnShank, ShankOut, out)`, `w.call(GrindAgain, OnShank, ShankOut, out)`},
	{"work.go", `if w.heldOff(w.out.Findings[i]) {`, `if !w.heldOff(w.out.Findings[i]) {`},
	{"work.go", `return to.Verdict == Accept`, `return to.Verdict == Reject`},
	{"work.go", `if w.in.Regrind != nil && w.in.Regrind.Reseats >= mostReseats {`, `if w.in.Regrind != nil && w.in.Regrind.Reseats > mostReseats {`},
	{"work.go", `return !shank && slices.ContainsFunc(w.out.Causes, func(c Cause) bool {`, `return shank && slices.ContainsFunc(w.out.Causes, func(c Cause) bool {`},
	{"work.go", `w.call(Downgrade, "", OverLimit, []int{i})`, `w.call(Release, "", OverLimit, []int{i})`},
	{"work.go", `w.call(Reseat, OnShank, ShankOut, append(shank, out...))`, `w.call(Reseat, OnShank, ShankOut, shank)`},
	{"work.go", `w.call(Downgrade, "", OverLimit, small)`, `w.call(Withdraw, "", OverLimit, small)`},
	{"work.go", `p.SmallAfter && (w.out.Calls(GrindPrimary) || w.out.Calls(GrindBoth))`, `p.SmallAfter`},
	{"grind.go", `p.SmallAfter = small < *least && d < *least && g.From != Nominal`, `p.SmallAfter = small < *least && d < *least`},
	{"work.go", `if chipped {`, `if chipped && w.in.Tool.HasEndTeeth() {`},
	{"work.go", `if chipped {`, `if chipped && !w.in.Tool.HasEndTeeth() {`},
	{"work.go", `sights := []Sight{ChippedEdge, Burn}`, `sights := []Sight{ChippedEdge}`},
	{"work.go", `sights := []Sight{ChippedEdge, Burn}`, `sights := []Sight{Burn}`},
	{"work.go", `sights = []Sight{BluntCorner}`, `sights = []Sight{ChippedEdge}`},
	{"work.go", `case dull && where == OnFlutes && w.in.Tool.Sharpened == OnFace:`, `case dull && where == OnEnds && w.in.Tool.Sharpened == OnFace:`},
	{"work.go", `case f.secondary != nil && dull:`, `case f.secondary != nil:`},
	{"work.go", `case dull && w.out.PlanOf(where) != nil && w.out.PlanOf(where).OverAfter:`, `case dull && w.out.PlanOf(where) != nil && !w.out.PlanOf(where).OverAfter:`},
	{"work.go", `w.call(GrindPrimary, where, Vanished, f.narrow)`, `w.call(GrindSecondary, where, Vanished, f.narrow)`},
	{"work.go", `} else if f.undecided != nil {`, `} else if f.undecided != nil && f.dull != nil {`},
	{"work.go", `f.secondary = append(append(f.secondary, w.with(Reject, Heel, LandClearance)...), wide...)`, `f.secondary = append(f.secondary, wide...)`},
	{"work.go", `f.secondary = append(append(f.secondary, w.with(Reject, Heel, LandClearance)...), wide...)`, `f.secondary = append(append(f.secondary, w.with(Reject, Heel, LandClearance)...), wide[:0]...)`},
	{"work.go", `[]Feature{WearLand, part.relief, part.secondary, Taper}`, `[]Feature{WearLand, SecondaryDrop, Taper}`},
	{"work.go", `[]Feature{WearLand, part.relief, part.secondary, Taper}`, `[]Feature{WearLand, ReliefDrop, SecondaryDrop}`},
	{"work.go", `[]Feature{part.relief, part.secondary, Dish}`, `[]Feature{EndReliefDrop, EndSecondaryDrop}`},
	{"work.go", `f.dull = append(w.with(Reject, worn...), also...)`, `f.dull = w.with(Reject, worn...)`},
	// figures against their limits
	{"judge.go", `if last := w.in.LastDiameter; last != nil && d.Value > *last+sameDiameter {`, `if last := w.in.LastDiameter; last != nil && d.Value < *last-sameDiameter {`},
	{"judge.go", `if len(repeats) > 1 && slices.Max(repeats)-slices.Min(repeats)`, `if len(repeats) > 0 && slices.Max(repeats)-slices.Min(repeats)`},
	{"judge.go", `case f.Advice && d.Verdict != Accept:`, `case f.Advice && d.Verdict == Accept:`},
	{"judge.go", `if w.in.Stage != After && (f == PrimaryWidth || f == PrimaryLand || f == EndPrimaryLand) {`, `if w.in.Stage == After && (f == PrimaryWidth || f == PrimaryLand || f == EndPrimaryLand) {`},
	{"relief.go", `if len(repeats) > 0 && statistics.MeanLength(repeats) <= 0 {`, `if len(repeats) > 0 && statistics.MeanLength(repeats) < 0 {`},
	{"relief.go", `f.Advice, f.Flute, f.Verdict, f.Rule, f.Why = false, i+1, Reject,`, `f.Advice, f.Flute, f.Verdict, f.Rule, f.Why = f.Advice, i+1, Reject,`},
	{"relief.go", `return heel, distance > heel`, `return heel, distance > 2*heel`},
	{"relief.go", `return w.in.DropBy()`, `return ByTurning`},
	{"relief.go", `return max(step, (narrow-length.Thou)/step*step)`, `return max(step, distance)`},
	{"relief.go", `parts.FromDistance > (most-least)/2`, `parts.FromDistance > 9*(most-least)`},
	{"limits.go", `q := Share{10, 100}.Quantity()`, `q := Share{11, 100}.Quantity()`},
	{"limits.go", `q := Half.Quantity()`, `q := Share{499, 1000}.Quantity()`},
	{"limits.go", `Limit{Least: lengthQuantity(t.Diameter * 90 / 100), Source: commonPractice}`, `Limit{Least: lengthQuantity(t.Diameter * 91 / 100), Source: commonPractice}`},
	{"limits.go", `{Key: "dish", Feature: Dish, About: "dish of the end", Kind: AngleBandKind,`, `{Key: "dish", Feature: Dish, About: "dish of the end", Kind: AngleBandKind, Judged: true,`},
	{"limits.go", `lengths(-length.Thou, length.Thou, commonPractice)`, `lengths(-9*length.Thou, 9*length.Thou, commonPractice)`},
	{"limits.go", `{16, 15, 20, 80, 500},`, `{16, 15, 20, 90, 500},`},
	{"judgement.go", `case GrindPrimary, GrindFace:
			if j.Stage != Before || j.WrongWheel() {`, `case GrindPrimary, GrindFace:
			if j.Stage == Before || j.WrongWheel() {`},
}

// Each mutation is of a text that stands once in its file, so that the list cannot go stale unseen. With
// FLUTELOG_LONG=1 each is made in turn, and the tests of this package and of words must fail for it.
func TestEveryRuleIsHeld(t *testing.T) {
	long := os.Getenv("FLUTELOG_LONG") != ""
	for i, m := range mutations {
		path, err := filepath.Abs(filepath.Join("..", m.file))
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(text), m.is); n != 1 {
			t.Errorf("mutation %d: %q stands %d times in %s", i, m.is, n, m.file)
			continue
		}
		if !long {
			continue
		}
		dir := t.TempDir()
		mutant := filepath.Join(dir, m.file)
		overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{path: mutant}})
		if err != nil {
			t.Fatal(err)
		}
		for name, body := range map[string]string{mutant: strings.Replace(string(text), m.is, m.becomes, 1), filepath.Join(dir, "overlay.json"): string(overlay)} {
			if err := os.WriteFile(name, []byte(body), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		var out []byte
		for _, tests := range []struct{ run, of string }{{"Master|Rules|Limits|Distance", "."}, {"Headlines|Fixture", "../words"}} {
			c := exec.Command("go", "test", "-vet=off", "-overlay", filepath.Join(dir, "overlay.json"), "-run", tests.run, tests.of)
			c.Env = append(os.Environ(), "FLUTELOG_LONG=")
			if out, err = c.CombinedOutput(); err != nil {
				break
			}
		}
		t.Logf("mutation %d of %s", i, m.file)
		switch {
		case err == nil:
			t.Errorf("mutation %d lives: in %s, %q became %q", i, m.file, m.is, m.becomes)
		case strings.Contains(string(out), "[build failed]"):
			t.Errorf("mutation %d does not build:\n%s", i, out)
		}
	}
}
