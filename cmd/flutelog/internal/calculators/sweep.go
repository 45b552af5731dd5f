package calculators

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/statistics"
	"flutelog/inspect/text"
)

// sweeps are the flags of heights found in traces: a streaming gauge on a tool turned by hand.
type sweeps struct {
	files        []string
	flutes, mark int
	turned       string
}

func (s *sweeps) flags(f *command.Flags) {
	f.StringArrayVar(&s.files, "sweep", nil, "in place of --heights, the trace of a streaming gauge on the tool turned by hand, one value a line or seconds,value; each further --sweep FILE is a further round")
	f.IntVar(&s.flutes, "flutes", 0, "number of flutes, with --sweep")
	f.IntVar(&s.mark, "mark", 1, "with --sweep, the sample taken with the contact on flute 1, counted from 1")
	f.WordVar(&s.turned, "turned", "", "with --sweep, backward (against the cut, sparing the edges) or forward (default backward)")
}

// trace is a sweep as it stands in a file.
type trace struct {
	samples []length.Length
	texts   []string
}

// readTrace reads a file of one value a line, or seconds and a value with a comma between. Empty lines and lines
// that begin with # are passed over; seconds must rise. Errors name file and line.
func readTrace(r *command.Reader, name string) (trace, error) {
	file, err := os.Open(name)
	if err != nil {
		return trace{}, err
	}
	defer file.Close()
	var t trace
	last := math.Inf(-1)
	lines := bufio.NewScanner(text.Reader(file, command.MostText))
	for n := 1; lines.Scan(); n++ {
		text := strings.TrimSpace(lines.Text())
		if text == "" || text[0] == '#' {
			continue
		}
		if seconds, value, timed := strings.Cut(text, ","); timed {
			at, err := strconv.ParseFloat(strings.TrimSpace(seconds), 64)
			if err != nil || !(at > last) {
				return trace{}, command.Usagef("%s:%d: seconds %q: want a number larger than the one before", name, n, seconds)
			}
			last, text = at, value
		}
		sample, err := r.One(text)
		if err != nil {
			return trace{}, command.Usagef("%s:%d: %w", name, n, err)
		}
		t.samples, t.texts = append(t.samples, sample), append(t.texts, text)
	}
	if err := lines.Err(); err != nil {
		return trace{}, fmt.Errorf("%s: %w", name, err)
	}
	if len(t.samples) == 0 {
		return trace{}, command.Usagef("%s: no samples", name)
	}
	return t, nil
}

// read returns what each trace tells, and what is known of the gauge. Each trace is a round of p.
func (s *sweeps) read(r *command.Reader, p *repeated) ([]geometry.Swept, statistics.Accuracy, error) {
	var traces []trace
	var texts []string
	for _, name := range s.files {
		t, err := readTrace(r, name)
		if err != nil {
			return nil, statistics.Accuracy{}, err
		}
		traces, texts = append(traces, t), append(texts, t.texts...)
	}
	p.repeats = len(traces)
	gauge := p.gauge(r, texts...)
	sweep := geometry.Sweep{
		Flutes: s.flutes, Mark: s.mark - 1, Resolution: gauge.Resolution,
		Backwards: r.Choice("turned", s.turned, "backward", "forward") == "backward",
	}
	if r.Err != nil {
		return nil, gauge, r.Err
	}
	var all []geometry.Swept
	for i, t := range traces {
		swept, err := sweep.Read(t.samples)
		if err != nil {
			return nil, gauge, command.Usage(fmt.Errorf("--sweep %s: %w", s.files[i], err))
		}
		all = append(all, swept)
	}
	return all, gauge, nil
}

// roundsOf returns the high points of each flute: every pass is a reading, drift taken off. Traces after the first are brought to
// its level, for a sweep's own level is nobody's.
func roundsOf(all []geometry.Swept) [][]length.Length {
	flutes := make([][]length.Length, len(all[0].Heights))
	first := statistics.MeanLength(all[0].Heights)
	for _, s := range all {
		level := statistics.MeanLength(s.Heights) - first
		for i, points := range s.High {
			for _, h := range points {
				flutes[i] = append(flutes[i], h-level)
			}
		}
	}
	return flutes
}

// sweptJSON is what a trace told, for a program.
type sweptJSON struct {
	Heights []length.Number `json:"heights"`
	Spread  []length.Number `json:"spread"` // of the high points of each flute
	Passes  []int           `json:"passes"` // high points averaged for each flute
	Step    []length.Number `json:"step"`   // by which the land moved between two samples at the edge
}

func sweptOf(all []geometry.Swept, unit length.Unit) []sweptJSON {
	var out []sweptJSON
	for _, s := range all {
		out = append(out, sweptJSON{command.Numbers(s.Heights, unit), command.Numbers(s.Spread, unit), s.Passes, command.Numbers(s.Step, unit)})
	}
	return out
}

// printSwept prints how often each flute passed in each trace, and how far its high points spread.
func printSwept(e command.Env, all []geometry.Swept, unit length.Unit) {
	for i, s := range all {
		for k, passes := range s.Passes {
			fmt.Fprintf(e.Stdout, "sweep %d, flute %d: %d high points, spread %s\n", i+1, k+1, passes, s.Spread[k].In(unit))
		}
	}
}
