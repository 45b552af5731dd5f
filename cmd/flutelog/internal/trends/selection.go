package trends

import (
	"cmp"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Choice says which inspections a trend is of, in a person's words; an empty field is any, but the stage, which is after
// the grind.
type Choice struct {
	Tool, Bench, Grinder, Wheel, Gauge, Inspector string // Bench is the id of the one at which they were inspected
	From, To                                      string // nominal diameters
	Material, Stage                               string
	Since, Until                                  string // days of closing, both included
}

var selectionFlags = []string{"tool", "of-bench", "grinder", "wheel", "gauge", "inspector", "diameter-from", "diameter-to", "material", "stage", "since", "until"}

func (c *Choice) flags(f *command.Flags) {
	f.StringVar(&c.Tool, "tool", "", "only this tool")
	f.StringVar(&c.Bench, "of-bench", "", "only what was inspected at the bench of this id")
	f.StringVar(&c.Grinder, "grinder", "", "only tools ground on this grinder")
	f.StringVar(&c.Wheel, "wheel", "", "only tools ground with this wheel")
	f.StringVar(&c.Gauge, "gauge", "", "only what was read with this gauge")
	f.StringVar(&c.Inspector, "inspector", "", "only what this person inspected")
	f.StringVar(&c.From, "diameter-from", "", "only tools of this nominal diameter or larger")
	f.StringVar(&c.To, "diameter-to", "", "only tools of this nominal diameter or smaller")
	f.WordVar(&c.Material, "material", "", "only tools of "+command.OneOf(inspect.ToolWords("material")...))
	f.WordVar(&c.Stage, "stage", "", "before, between or after the grind (default: after)")
	f.StringVar(&c.Since, "since", "", "only what was closed on this day or later: yesterday, monday, 2026-01-31, in the bench's own zone")
	f.StringVar(&c.Until, "until", "", "only what was closed on this day or earlier")
}

// picked is a selection ready to be held against inspections.
type picked struct {
	Choice
	least, most   *length.Length
	first, behind time.Time // closed at the first or later, and before the other; the zero time is any
}

func (c Choice) pick(unit length.Unit, now time.Time) (picked, error) {
	r := &command.Reader{Unit: unit}
	p := picked{Choice: c, least: r.Optional("diameter-from", c.From), most: r.Optional("diameter-to", c.To)}
	if p.Stage == "" {
		p.Stage = string(inspect.After)
	}
	stage, err := inspect.ParseStage(p.Stage)
	if err != nil {
		r.Fail("stage", err)
	}
	p.Stage = string(stage)
	if c.Material != "" {
		if _, err := inspect.ParseMaterial(c.Material); err != nil {
			r.Fail("material", err)
		}
	}
	var err1, err2 error
	p.first, err1 = command.Day("since", c.Since, now)
	if p.behind, err2 = command.Day("until", c.Until, now); !p.behind.IsZero() {
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
	return matches(p.Tool, f.Tool) && matches(p.Bench, f.Bench) && matches(p.Grinder, f.Grinder) && matches(p.Inspector, f.Inspector) && matches(p.Material, string(f.Material)) &&
		(p.least == nil || f.Nominal >= *p.least) && (p.most == nil || f.Nominal <= *p.most)
}

func matches(want, got string) bool { return want == "" || want == got }

// words says what is selected, but for the days: limits are fixed for what is said here.
func (p picked) words() string {
	words := []string{inspect.Stage(p.Stage).Words()}
	add := func(what, value string) {
		if value != "" {
			words = append(words, what+" "+value)
		}
	}
	add("tool", p.Tool)
	add("bench", p.Bench)
	add("grinder", p.Grinder)
	add("wheel", p.Wheel)
	add("gauge", p.Gauge)
	add("inspector", p.Inspector)
	add("material", p.Material)
	if p.least != nil {
		add("diameter from", p.least.String())
	}
	if p.most != nil {
		add("diameter to", p.most.String())
	}
	return strings.Join(words, ", ")
}
