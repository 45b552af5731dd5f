//go:build linux

package main

import (
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// sixFlutes is an inspection of six flutes, three repeats, undecided: the judgement that takes longest.
func sixFlutes() inspect.Inspection {
	t := inspect.Tool{ID: "EM-6", Diameter: length.Inch / 2, Flutes: 6, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing}
	in := inspect.Inspection{ID: "EM-6.1", Tool: t, Stage: inspect.After, Basis: inspect.DefaultBasis(t)}
	for repeat := range 3 {
		for flute := range t.Flutes {
			value := length.Length(flute*23+(flute+repeat)%3*10) * length.Micrometre / 10
			in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.RadialRunout, Flute: flute + 1, Repeat: repeat + 1, Value: value, Text: value.Format(length.Mm, 3), Unit: length.Mm})
		}
	}
	return in
}

func judgeOnce() time.Duration {
	in := sixFlutes()
	start := time.Now()
	inspect.Judge(in)
	return time.Since(start)
}

// judgement measures judging by the clock, the fastest of several: the first in a process, and later ones.
func judgement(*bench) ([]figure, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	cold := time.Hour
	for range 10 {
		out, err := exec.Command(self, "--judge-once").Output()
		if err != nil {
			return nil, err
		}
		took, err := strconv.Atoi(strings.TrimSpace(string(out)))
		if err != nil {
			return nil, err
		}
		cold = min(cold, time.Duration(took))
	}
	warm := time.Hour
	for range 500 {
		warm = min(warm, judgeOnce())
	}
	return []figure{
		{"judging 6 flutes, 3 repeats, cold", short(cold), "-", "10ms", cold <= 10*time.Millisecond},
		{"judging 6 flutes, 3 repeats, warm", short(warm), "-", "100µs", warm <= 100*time.Microsecond},
	}, nil
}
