// Package invented makes ledgers of benches that do not exist, for demos and tests. All in them is invented.
package invented

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// Bench is a bench with a ledger. What it records is the same for the same seed, but for ids and clocks.
type Bench struct {
	*ledger.Ledger
	random *rand.Rand
	tick   func() time.Time // moves the bench's day on
}

// New opens the ledger of a bench in a folder.
func New(dir, label string, seed uint64) (*Bench, error) {
	l, err := ledger.Open(dir, ledger.Options{Bench: label, Holder: "an invented bench"})
	if err != nil {
		return nil, err
	}
	b := &Bench{Ledger: l, random: rand.New(rand.NewPCG(seed, 1))}
	now := time.Date(2026, 9, 1, 7, 0, 0, 0, time.UTC)
	b.tick = func() time.Time {
		now = now.Add(time.Duration(b.random.IntN(600)) * time.Second)
		return now
	}
	return b, nil
}

// NewAt opens the ledger of a bench that goes by a clock: all that it records has its time.
func NewAt(dir, label string, seed uint64, now func() time.Time) (*Bench, error) {
	l, err := ledger.Open(dir, ledger.Options{Bench: label, Holder: "an invented bench", Clock: func() ledger.Time { return ledger.Time{UTC: now(), Boot: "invented", Synchronised: true} }})
	if err != nil {
		return nil, err
	}
	return &Bench{l, rand.New(rand.NewPCG(seed, 1)), now}, nil
}

// who says who decides.
func (b *Bench) who(by, why string) record.Who { return record.Who{By: by, Why: why, At: b.tick()} }

// Tool is an end mill of half an inch with four flutes.
func Tool(id string) inspect.Tool {
	return inspect.Tool{
		ID: id, Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Cut: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
}

// Add adds tools.
func (b *Bench) Add(ids ...string) error {
	for _, id := range ids {
		if _, err := record.SaveTool(b.Ledger, Tool(id)); err != nil {
			return err
		}
	}
	return nil
}

// Job receives tools together.
func (b *Bench) Job(id string, sample int, tools ...string) error {
	_, err := record.SaveJob(b.Ledger, record.Job{ID: id, Customer: "an invented customer", Quantity: len(tools), Sample: sample, Tools: tools}, b.tick())
	return err
}

// Inspect inspects a tool whose last flute stands some tenths over the others, and returns the inspection's id. Only the
// radial run-out is required of it.
func (b *Bench) Inspect(tool, job string, stage inspect.Stage, tenths int) (string, error) {
	id, err := record.NextID(b.Ledger, tool)
	if err != nil {
		return "", err
	}
	in := inspect.Inspection{
		ID: id, Tool: Tool(tool), Stage: stage, Job: job, Inspector: []string{"A. Vale", "R. Moss", "T. Hill"}[b.random.IntN(3)], Holding: inspect.InVee, Basis: inspect.DefaultBasis(Tool(tool)),
		Grinder: "grinder 1", Wheel: []string{"cup 46", "cup 60"}[b.random.IntN(2)],
	}
	in.Basis.Gauges = map[string]inspect.Instrument{"dial": {Resolution: length.Tenth / 10}}
	in.Basis.Required = []inspect.Item{}
	w, err := record.Begin(b.Ledger, in, nil, b.tick)
	if err != nil {
		return "", err
	}
	for repeat := 1; repeat <= 3; repeat++ {
		for flute := 1; flute <= 4; flute++ {
			v := length.Length(b.random.IntN(3)) * length.Tenth / 10
			if flute == 4 {
				v += length.Length(tenths) * length.Tenth
			}
			if err := w.Read(inspect.Reading{Feature: inspect.RadialRunout, Flute: flute, Repeat: repeat, Value: v, Text: strings.TrimSuffix(v.In(length.In), " in"), Unit: length.In, Gauge: "dial"}); err != nil {
				return "", fmt.Errorf("inspection %s: %w", id, err)
			}
		}
	}
	_, _, err = w.Close()
	return id, err
}

// Crack begins an inspection of a tool, sees a crack and gives the inspection up: the tool is locked.
func (b *Bench) Crack(tool string) error {
	id, err := record.NextID(b.Ledger, tool)
	if err != nil {
		return err
	}
	w, err := record.Begin(b.Ledger, inspect.Inspection{ID: id, Tool: Tool(tool), Stage: inspect.Before, Inspector: "A. Vale", Basis: inspect.DefaultBasis(Tool(tool))}, nil, b.tick)
	if err != nil {
		return err
	}
	if err := w.See(inspect.Seen{Sight: inspect.Cracks, Yes: true, Note: "at the root of flute 2"}); err != nil {
		return err
	}
	_, err = w.Discard("cracked")
	return err
}

// GiveUp gives up what is half read, as after a power cut.
func (b *Bench) GiveUp() error {
	drafts, err := record.Open(b.Ledger)
	for _, d := range drafts {
		w, _, failed := record.Resume(b.Ledger, d.Inspection.ID, nil, b.tick)
		if failed == nil {
			_, failed = w.Discard("cut off")
		}
		if failed != nil {
			return failed
		}
	}
	return err
}

// Release releases inspections.
func (b *Bench) Release(by string, ids ...string) error {
	_, err := record.Rule(b.Ledger, ids, record.Release, b.who(by, ""))
	return err
}

// Concede releases an inspection that does not conform.
func (b *Bench) Concede(by, why, id string) error {
	_, err := record.Rule(b.Ledger, []string{id}, record.Concession, b.who(by, why))
	return err
}

// Correct puts the last flute's last reading of an inspection right.
func (b *Bench) Correct(by, id string, tenths int) error {
	v := length.Length(tenths) * length.Tenth
	r := inspect.Reading{Feature: inspect.RadialRunout, Flute: 4, Repeat: 3, Value: v, Text: strings.TrimSuffix(v.In(length.In), " in"), Unit: length.In, Gauge: "dial"}
	_, err := record.Correct(b.Ledger, id, record.Fix{Reading: &r}, b.who(by, "misread"))
	return err
}

// Day does a day's work on some tools: each is added where it is new, and inspected after the grind; most are released,
// some conceded, corrected or left to sign.
func (b *Bench) Day(tools ...string) error {
	for i, tool := range tools {
		if _, err := record.FindTool(b.Ledger, tool); err != nil {
			if err := b.Add(tool); err != nil {
				return err
			}
		}
		tenths := 1
		if i%4 == 3 {
			tenths = 9
		}
		id, err := b.Inspect(tool, "", inspect.After, tenths)
		if err != nil {
			return err
		}
		switch {
		case i%4 == 3:
			err = b.Concede("R. Moss", "roughing only", id)
		case i%4 < 2:
			err = b.Release("A. Vale", id)
		}
		if err == nil && i%5 == 1 {
			err = b.Correct("T. Hill", id, 8)
		}
		if err != nil {
			return fmt.Errorf("inspection %s: %w", id, err)
		}
	}
	return nil
}
