package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// saw returns the lines of a trace, invented: a tool of these heights in micrometres, turned backward three times
// round from flute 1, its lands rising evenly by 250 samples to the edge and its faces falling off at once.
func saw(heights []int, timed bool) []string {
	var lines []string
	sample := func(micrometres int) {
		line := fmt.Sprintf("%.3f", float64(micrometres)/1000)
		if timed {
			line = fmt.Sprintf("%.2f,%s", float64(len(lines))/100, line)
		}
		lines = append(lines, line)
	}
	for pass := range 3 * len(heights) {
		high := heights[(len(heights)-pass%len(heights))%len(heights)]
		from := -250
		if pass == 0 {
			from = -20 // the sweep begins on flute 1, just behind its edge
		}
		for z := from; z <= 0; z++ {
			sample(high + z)
		}
		for range 5 {
			sample(-300)
		}
	}
	return lines
}

func writeTrace(t *testing.T, lines []string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "trace.txt")
	if err := os.WriteFile(path, []byte(strings.Join(lines, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestRunoutFromSweep(t *testing.T) {
	plain := writeTrace(t, saw([]int{0, 3, 10, 5}, false))
	timed := writeTrace(t, append([]string{"# seconds,value", ""}, saw([]int{0, 3, 10, 5}, true)...))
	higher := writeTrace(t, saw([]int{1, 4, 11, 6}, false))
	tests := []struct {
		name   string
		args   []string
		status command.Status
		want   []string
	}{
		{
			// Offset and residuals by hand: see the script of runout.
			"one sweep", []string{"--sweep", plain, "--limit", "10um", "--json"}, command.StatusDone,
			[]string{
				`"flutes":4,"tir":0.010000000,"eccentricity":0.005099020,`, `"verdict":"accept"`, `"rule":"simple"`,
				`"sweeps":[{"heights":[0.000000000,0.003000000,0.010000000,0.005000000],"spread":[0.000000000,0.000000000,0.000000000,0.000000000],"passes":[2,3,3,3],"step":[0.001000000,0.001000000,0.001000000,0.001000000]}]`,
			},
		},
		{"over the limit", []string{"--sweep", plain, "--limit", "9.999um"}, command.StatusFallsShort, []string{"REJECT", "sweep 1, flute 2: 3 high points, spread 0.0000 mm"}},
		{"timed", []string{"--sweep", timed, "--json"}, command.StatusDone, []string{`"tir":0.010000000`}},
		{"two sweeps are two rounds", []string{"--sweep", plain, "--sweep", higher, "--limit", "0.02"}, command.StatusDone, []string{"ACCEPT: TIR 0.0100 mm", "guarded rule", "rests on 2 rounds and a resolution of 0.0010 mm, from the values given"}},
		{"two sweeps near the limit", []string{"--sweep", plain, "--sweep", higher, "--limit", "0.0101"}, command.StatusOpen, []string{"UNDECIDED"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			status, stdout, stderr := runArgs(t, append([]string{"runout", "--unit", "mm", "--flutes", "4"}, tt.args...)...)
			for _, want := range tt.want {
				if status != tt.status || !strings.Contains(stdout, want) {
					t.Errorf("status %d, got %s%s, want %d and %s", status, stdout, stderr, tt.status, want)
				}
			}
		})
	}
}

func TestRunoutRefusesSweep(t *testing.T) {
	plain := writeTrace(t, saw([]int{0, 3, 10, 5}, false))
	tests := []struct {
		name   string
		args   []string
		status command.Status
		want   string
	}{
		{"turned the other way", []string{"--flutes", "4", "--sweep", plain, "--turned", "forward"}, command.StatusOpen, "turn the tool again"},
		{"standing still", []string{"--flutes", "4", "--sweep", writeTrace(t, []string{"0.001", "0.002", "0.001"})}, command.StatusOpen, "is the contact on the teeth?"},
		{"no flutes", []string{"--sweep", plain}, command.StatusUsage, "0 flutes: want 2 to 12"},
		{"too many flutes", []string{"--flutes", "-1", "--sweep", plain}, command.StatusUsage, "-1 flutes: want 2 to 12"},
		{"mark before the trace", []string{"--flutes", "4", "--sweep", plain, "--mark", "0"}, command.StatusUsage, "flute 1 marked at sample"},
		{"heights too", []string{"--flutes", "4", "--sweep", plain, "--heights", "0,1"}, command.StatusUsage, "in place of --heights"},
		{"no file", []string{"--flutes", "4", "--sweep", plain + ".none"}, command.StatusFailed, "no such file"},
		{"no value", []string{"--flutes", "4", "--sweep", writeTrace(t, []string{"0.001", "x"})}, command.StatusUsage, `trace.txt:2: "x": a number is asked here`},
		{"time standing still", []string{"--flutes", "4", "--sweep", writeTrace(t, []string{"0.1,0.001", "0.1,0.002"})}, command.StatusUsage, `trace.txt:2: seconds "0.1"`},
		{"decimal comma", []string{"--flutes", "4", "--sweep", writeTrace(t, []string{"0,5,0.001"})}, command.StatusUsage, "trace.txt:1: "},
		{"empty", []string{"--flutes", "4", "--sweep", writeTrace(t, nil)}, command.StatusUsage, "trace.txt: no samples"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			status, stdout, stderr := runArgs(t, append([]string{"runout", "--unit", "mm"}, tt.args...)...)
			if status != tt.status || !strings.Contains(stderr, tt.want) || stdout != "" {
				t.Errorf("status %d, got %q %q, want %d and %q", status, stdout, stderr, tt.status, tt.want)
			}
		})
	}
}
