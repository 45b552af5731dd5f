package statistics

import (
	"testing"

	"flutelog/inspect/length"
)

// judgeInspection does all that judging an inspection of six flutes, three repeats, asks of this package, with the
// verdict that takes longest: undecided beyond the limit, so that the repeats that would settle it are sought.
func judgeInspection(t testing.TB) {
	flutes := make([][]length.Length, 6)
	for k := range flutes {
		x := length.Length(k) * 2 * um
		flutes[k] = []length.Length{x, x + um, x}
		if k%2 == 1 {
			flutes[k] = []length.Length{x + um, x, x + um}
		}
	}
	r := Readings{Flutes: flutes, Closing: at(um / 2), Accuracy: Accuracy{Resolution: um / 2, PermissibleError: um / 2}}
	h, err := r.Heights()
	if err != nil {
		t.Fatal(err)
	}
	e := h.TIR()
	d, err := Decide(e, nil, at(e.Value-2*um), Guarded)
	if err != nil {
		t.Fatal(err)
	}
	if d.Verdict != Undecided || d.Settle == 0 {
		t.Fatalf("%+v, want undecided and settled by more repeats", d)
	}
	e.AboveNoise()
	h.Concentricity()
	h.ToothError()
}

func forget() {
	memory.Lock()
	defer memory.Unlock()
	clear(memory.quantiles)
}

func BenchmarkJudgeCold(b *testing.B) {
	for range b.N {
		forget()
		judgeInspection(b)
	}
}

func BenchmarkJudgeWarm(b *testing.B) {
	for range b.N {
		judgeInspection(b)
	}
}
