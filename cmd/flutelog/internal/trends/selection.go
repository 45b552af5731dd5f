package trends

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// selection are the flags that say which inspections a trend is of.
type selection struct {
	tool, benchID, grinder, wheel, gauge, inspector string
	from, to, material, stage                       string
	since, until                                    string
}

var selectionFlags = []string{"tool", "of-bench", "grinder", "wheel", "gauge", "inspector", "diameter-from", "diameter-to", "material", "stage", "since", "until"}

func (s *selection) flags(f *command.Flags) {
	f.StringVar(&s.tool, "tool", "", "only this tool")
	f.StringVar(&s.benchID, "of-bench", "", "only what was inspected at the bench of this id")
	f.StringVar(&s.grinder, "grinder", "", "only tools ground on this grinder")
	f.StringVar(&s.wheel, "wheel", "", "only tools ground with this wheel")
	f.StringVar(&s.gauge, "gauge", "", "only what was read with this gauge")
	f.StringVar(&s.inspector, "inspector", "", "only what this person inspected")
	f.StringVar(&s.from, "diameter-from", "", "only tools of this nominal diameter or larger")
	f.StringVar(&s.to, "diameter-to", "", "only tools of this nominal diameter or smaller")
	f.StringVar(&s.material, "material", "", "only tools of hss, cobalt or carbide")
	f.StringVar(&s.stage, "stage", "", "before, between or after the grind (default: after)")
	f.StringVar(&s.since, "since", "", "only what was closed on this day or later, 2026-01-31 (UTC)")
	f.StringVar(&s.until, "until", "", "only what was closed on this day or earlier (UTC)")
}

// picked is a selection ready to be held against inspections.
type picked struct {
	selection
	least, most   *length.Length
	first, behind time.Time // closed at the first or later, and before the other; the zero time is any
}

func (s selection) pick(unit length.Unit, now time.Time) (picked, error) {
	r := &command.Reader{Unit: unit}
	p := picked{selection: s, least: r.Optional("diameter-from", s.from), most: r.Optional("diameter-to", s.to)}
	if p.stage == "" {
		p.stage = string(inspect.After)
	}
	if _, err := inspect.ParseStage(p.stage); err != nil {
		r.Fail("stage", err)
	}
	if s.material != "" && !slices.Contains(inspect.Materials, inspect.Material(s.material)) {
		r.Fail("material", fmt.Errorf("%q: want one of %v", s.material, inspect.Materials))
	}
	var err1, err2 error
	p.first, err1 = command.Day("since", s.since, now)
	if p.behind, err2 = command.Day("until", s.until, now); !p.behind.IsZero() {
		p.behind = p.behind.AddDate(0, 0, 1)
	}
	return p, cmp.Or(r.Err, err1, err2)
}

// tools says whether an inspection is of the tools, bench, people and days selected, at whatever stage.
func (p picked) tools(f record.Regrind) bool {
	if !p.first.IsZero() || !p.behind.IsZero() {
		closed, err := time.Parse(time.RFC3339, f.Closed)
		if err != nil || closed.Before(p.first) || !p.behind.IsZero() && !closed.Before(p.behind) {
			return false
		}
	}
	return matches(p.tool, f.Tool) && matches(p.benchID, f.Bench) && matches(p.grinder, f.Grinder) && matches(p.inspector, f.Inspector) && matches(p.material, string(f.Material)) &&
		(p.least == nil || f.Nominal >= *p.least) && (p.most == nil || f.Nominal <= *p.most)
}

func matches(want, got string) bool { return want == "" || want == got }

// words says what is selected, but for the days: limits are fixed for what is said here.
func (p picked) words() string {
	words := []string{inspect.Stage(p.stage).Words()}
	add := func(what, value string) {
		if value != "" {
			words = append(words, what+" "+value)
		}
	}
	add("tool", p.tool)
	add("bench", p.benchID)
	add("grinder", p.grinder)
	add("wheel", p.wheel)
	add("gauge", p.gauge)
	add("inspector", p.inspector)
	add("material", p.material)
	if p.least != nil {
		add("diameter from", p.least.String())
	}
	if p.most != nil {
		add("diameter to", p.most.String())
	}
	return strings.Join(words, ", ")
}
