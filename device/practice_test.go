package device

import (
	"context"
	"errors"
	"testing"
	"time"

	"flutelog/inspect/length"
)

func practice(t *testing.T, p Profile, steps []Step) *Practice {
	t.Helper()
	g, err := StartPractice(p, steps)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Close() })
	return g
}

func gaugeOn(t *testing.T, open Opener, p Profile, tell func(Event)) *Gauge {
	t.Helper()
	g, err := New(open, p, tell)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { g.Close() })
	return g
}

func inTime(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// Each way of taking, each unit, through a pseudo-terminal and the serial library.
func TestPracticeGauge(t *testing.T) {
	t.Parallel()
	steps := []Step{{Value: 3 * length.Tenth}, {Value: 0}, {Value: -2 * length.Tenth}, {Value: 1 * length.Tenth}}
	for _, take := range []Mode{Button, Stream, Poll} {
		for _, unit := range []length.Unit{length.In, length.Mm} {
			t.Run(string(take)+" "+string(unit), func(t *testing.T) {
				p := PracticeProfile(take, unit)
				p.QuietTime = Duration(20 * time.Millisecond)
				steps := steps
				if unit == length.Mm {
					steps = []Step{{Value: 7600 * length.Nanometre}, {Value: 0}, {Value: -5100 * length.Nanometre}}
				}
				practice := practice(t, p, steps)
				g := gaugeOn(t, practice.Open, p, func(e Event) { t.Log(e) })
				for _, s := range steps {
					if take == Button {
						time.Sleep(25 * time.Millisecond)
					}
					if take != Poll {
						practice.Press()
					}
					f, err := g.Take(inTime(t))
					if err != nil {
						t.Fatal(err)
					}
					if f.Value != s.Value || f.Unit != unit {
						t.Errorf("got %s %s, want %s", f.Value, f.Unit, s.Value)
					}
				}
			})
		}
	}
}

func TestPracticePut(t *testing.T) {
	p := PracticeProfile(Poll, length.In)
	practice := practice(t, p, []Step{{Value: 3 * length.Tenth}})
	if err := practice.Put(Step{Value: 11 * length.Inch}); err == nil {
		t.Error("a value with more digits than the gauge shows was taken")
	}
	if err := practice.Put(Step{Value: -2 * length.Tenth}); err != nil {
		t.Fatal(err)
	}
	g := gaugeOn(t, practice.Open, p, func(e Event) { t.Log(e) })
	for _, want := range []length.Length{-2 * length.Tenth, 3 * length.Tenth} {
		if f, err := g.Take(inTime(t)); err != nil || f.Value != want {
			t.Errorf("got %s, %v, want %s", f.Value, err, want)
		}
	}
}

// A reading sent before the port was opened is none; a plug pulled while the gauge listens to its line is noticed.
func TestPracticeUnplug(t *testing.T) {
	t.Parallel()
	p := PracticeProfile(Button, length.In)
	practice := practice(t, p, []Step{{Value: 1 * length.Tenth}, {Value: 2 * length.Tenth, Fault: Unplug}, {Value: 3 * length.Tenth}})
	practice.Press()
	g := gaugeOn(t, practice.Open, p, func(e Event) { t.Log(e) })
	soon(func() { practice.Press() })
	if f, err := g.Take(inTime(t)); !errors.Is(err, ErrDisconnected) {
		t.Fatalf("got %s, %v, want %v", f.Text, err, ErrDisconnected)
	}
	if err := g.Confirm(inTime(t)); err != nil {
		t.Fatal(err)
	}
	practice.Press()
	if f, err := g.Take(inTime(t)); err != nil || f.Value != 3*length.Tenth {
		t.Errorf("got %s, %v, want 0.0003 in", f.Text, err)
	}
}
