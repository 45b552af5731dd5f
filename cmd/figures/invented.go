//go:build linux

package main

import (
	"fmt"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

const (
	modelTool = "MODEL"
	modelHigh = "0.0077mm" // height of flute 3, and so the run-out, for each inspection to have its own
)

// model is one inspection, of which a ledger is filled with copies.
type model struct {
	records  []ledger.Record
	readings int
	together int // inspections that are appended with one sync
}

// fill makes a ledger of inspections that are all like the model, some of each tool.
func (m model) fill(dir string, inspections, ofEach int) error {
	l, err := ledger.Open(dir, ledger.Options{Bench: "invented"})
	if err != nil {
		return err
	}
	tools := inspections / ofEach
	for i := 0; i < inspections; {
		var entries []ledger.Entry
		for end := min(i+m.together, inspections); i < end; i++ {
			tool := toolName(i % tools)
			as := strings.NewReplacer(modelTool+".1", fmt.Sprintf("%s.%d", tool, i/tools+1), modelTool, tool, modelHigh, fmt.Sprintf("0.00%02dmm", 70+i*37%30))
			for _, r := range m.records {
				e := ledger.Entry{Kind: r.Kind, Subject: as.Replace(r.Subject), Body: []byte(as.Replace(string(r.Body)))}
				if r.About != nil { // another of the model's
					e.AboutBack = int(r.Seq - r.About.Seq)
				}
				entries = append(entries, e)
			}
		}
		if _, err := l.Append(entries...); err != nil {
			return err
		}
	}
	return nil
}

func toolName(n int) string { return fmt.Sprintf("EM-%05d", n) }

// newModel records one inspection of invented readings as the program does: of all that it asks for after the grind, with
// its tool and a ruling.
func newModel(dir string) (m model, err error) {
	m.together = 25
	l, err := ledger.Open(dir, ledger.Options{Bench: "invented"})
	if err != nil {
		return m, err
	}
	tool := inspect.Tool{
		ID: modelTool, Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	if _, err := record.SaveTool(l, tool); err != nil {
		return m, err
	}
	in := inspect.Inspection{ID: modelTool + ".1", Tool: tool, Stage: inspect.After, Inspector: "invented", Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	plan := desk.DefaultPlan(tool, inspect.After, nil)
	plan.Rounds, plan.Most, plan.Once = 3, 3, nil
	w, err := record.Begin(l, in, plan, time.Now)
	if err != nil {
		return m, err
	}
	d := desk.New(desk.Start{Inspection: in, Plan: plan, At: time.Now()})
	for q, more := d.Asked(); more; q, more = d.Asked() {
		keep := desk.Keep{What: desk.Saw}
		if q.Sight != "" {
			keep.Seen = &inspect.Seen{Sight: q.Sight}
			err = w.See(*keep.Seen)
		} else {
			m.readings++
			r := modelReading(q.Key)
			keep = desk.Keep{What: desk.Read, Reading: &r}
			err = w.Read(r)
		}
		if err != nil {
			return m, err
		}
		d.Done(keep)
	}
	if _, _, err := w.Close(); err != nil {
		return m, err
	}
	who := record.Who{By: "invented", Why: "invented", At: time.Now()}
	if _, err := record.Rule(l, []string{in.ID}, record.Concession, who); err != nil {
		if _, err := record.Rule(l, []string{in.ID}, record.Release, who); err != nil {
			return m, err
		}
	}
	err = l.Scan(func(r ledger.Record) error {
		m.records = append(m.records, r)
		return nil
	})
	return m, err
}

// modelReadings are what is read, by feature, for flutes 1 to 4.
var modelReadings = map[inspect.Feature][]string{
	inspect.RadialRunout:   {"0mm", "0.0030mm", modelHigh, "0.0045mm"},
	inspect.AxialRunout:    {"0mm", "0.0040mm", "0.0060mm", "0.0020mm"},
	inspect.PrimaryLand:    {"0.45mm", "0.46mm", "0.45mm", "0.44mm"},
	inspect.Land:           {"1.60mm", "1.61mm", "1.60mm", "1.60mm"},
	inspect.EndPrimaryLand: {"0.40mm", "0.41mm", "0.40mm", "0.40mm"},
	inspect.EndLand:        {"1.20mm", "1.21mm", "1.20mm", "1.20mm"},
	inspect.ReliefDrop:     {"0.060mm", "0.061mm", "0.060mm", "0.059mm"},
	inspect.Diameter:       {"12.6500mm"},
}

func modelReading(k inspect.Key) inspect.Reading {
	text := modelReadings[k.Feature][max(k.Flute-1, 0)]
	value, err := length.Parse(text, length.Mm)
	if err != nil {
		panic(err) // they are all written above
	}
	return inspect.Reading{Feature: k.Feature, Flute: k.Flute, Repeat: k.Repeat, Closing: k.Closing, Value: value, Text: strings.TrimSuffix(text, "mm"), Unit: length.Mm}
}
