package statistics

import (
	"testing"
	"time"

	"flutelog/inspect/length"
)

// judgeInspection does all that judging an inspection of six flutes, three repeats, asks of this package, with the
// verdict that takes longest: undecided beyond the limit, so that the repeats that would settle it are sought.
func judgeInspection(t testing.TB) {
	flutes := make([][]length.Length, 6)
	for k := range flutes {
		flutes[k] = around(length.Length(k) * 2 * um)
	}
	g := Gauge{Resolution: um / 2, PermissibleError: um / 2}
	e, err := TIR(flutes, g)
	if err != nil {
		t.Fatal(err)
	}
	d, err := Decide(e, nil, at(e.Value-2*um), Guarded)
	if err != nil {
		t.Fatal(err)
	}
	if d.Verdict != Undecided || d.Settle == 0 {
		t.Fatalf("%+v, want undecided and settled by more repeats", d)
	}
	e.AboveNoise()
	if _, err := CheckDrift(flutes[0], []length.Length{um}, e.Noise, g); err != nil {
		t.Fatal(err)
	}
	for _, repeats := range flutes {
		if _, err := Grubbs(length.Micrometres(repeats), g.Resolution.Micrometres()); err != nil {
			t.Fatal(err)
		}
	}
}

func forget() {
	memory.Lock()
	defer memory.Unlock()
	clear(memory.quantiles)
}

// fastest returns the shortest of several runs: what the machine does when nothing else runs on it.
func fastest(runs int, before, timed func()) time.Duration {
	best := time.Hour
	for range runs {
		before()
		start := time.Now()
		timed()
		best = min(best, time.Since(start))
	}
	return best
}

func TestSpeed(t *testing.T) {
	if testing.Short() {
		t.Skip("short runs are also made on emulated processors, whose speed says nothing")
	}
	judge := func() { judgeInspection(t) }
	cold := fastest(20, forget, judge)
	warm := fastest(200, func() {}, judge)
	t.Logf("judging six flutes, three repeats: %v cold, %v warm", cold, warm)
	if cold > 10*time.Millisecond {
		t.Errorf("cold: %v, want under 10 ms", cold)
	}
	if warm > 100*time.Microsecond {
		t.Errorf("warm: %v, want under 100 us", warm)
	}
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
