package main

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/paper"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/session"
)

// scenario holds what the practice gauge reads at each stage: an invented tool on an invented bench.
//
//go:embed scenario
var scenario embed.FS

// demoTool is invented.
var demoTool = inspect.Tool{
	ID: "DEMO-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree,
	Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	PrimaryRelief: degrees(10), SecondaryRelief: degrees(20), Rake: degrees(5), Note: "invented, for the demonstration",
}

func degrees(n length.Angle) *length.Angle {
	a := n * length.Degree
	return &a
}

func demoCommand() command {
	var folder string
	return command{
		name:    "demo",
		summary: "show the whole job in a few seconds: an invented tool, a practice gauge on a real serial line",
		example: "demo",
		flags: func(f *flags) {
			f.StringVar(&folder, "folder", "", "folder to leave ledger and CSV in (default: a new temporary one)")
		},
		run: func(e env, f *flags) error { return demo(e, folder) },
	}
}

// demo inspects the invented tool before, between and after the grind. Every reading comes from a practice
// gauge on a pseudo-terminal through the serial driver, and goes through the session into the ledger.
func demo(e env, folder string) error {
	folder, err := demoFolder(folder)
	if err != nil {
		return err
	}
	l, err := ledger.Open(filepath.Join(folder, "ledger"), ledger.Options{Bench: "demo bench"})
	if err != nil {
		return err
	}
	fmt.Fprintln(e.stdout, "INVENTED DATA: a half-inch four-flute end mill that never was, read by a practice gauge.")
	if _, err := record.SaveTool(l, demoTool); err != nil {
		return err
	}
	if _, err := record.SaveJob(l, record.Job{ID: "DEMO", Customer: "invented", Quantity: 1, Sample: 1}, e.now()); err != nil {
		return err
	}
	var last ledger.Record
	for _, stage := range []inspect.Stage{inspect.Before, inspect.Between, inspect.After} {
		if last, err = demoStage(e, l, stage); err != nil {
			return fmt.Errorf("demo, %s: %w", stage.Words(), err)
		}
	}
	return demoReport(e, l, folder, last)
}

// demoFolder makes the folder; one that holds a demonstration already is refused, so that none is mixed
// with another.
func demoFolder(folder string) (string, error) {
	if folder == "" {
		return os.MkdirTemp("", "flutelog-demo-")
	}
	if _, err := os.Stat(filepath.Join(folder, "ledger")); err == nil {
		return "", hinted{usagef("--folder %q: it holds a ledger already", folder), "name a new folder"}
	}
	return folder, os.MkdirAll(folder, 0o700)
}

func demoStage(e env, l *ledger.Ledger, stage inspect.Stage) (ledger.Record, error) {
	b := bench.Default()
	b.Grinder.Division = 2 * length.Thou // of the invented bench
	in := inspect.Inspection{Tool: demoTool, Stage: stage, Job: "DEMO", Inspector: "invented", Holding: b.Holding, Basis: b.Basis(demoTool, stage)}
	var err error
	if in.ID, err = record.NextID(l, demoTool.ID); err != nil {
		return ledger.Record{}, err
	}
	s, err := session.Begin(l, in, b.Plan(demoTool, stage), e.now)
	if err != nil {
		return ledger.Record{}, err
	}
	if err := demoReadings(e, s, stage); err != nil {
		return ledger.Record{}, errors.Join(err, s.Release())
	}
	j, closed, err := s.Close()
	if err != nil {
		return ledger.Record{}, err
	}
	fmt.Fprintf(e.stdout, "\n---- %s ----\n", stage.Words())
	printJudgement(e, s.Inspection(), j, b.Unit)
	return closed, nil
}

// demoReadings answers every question of a stage: what is looked for from the scenario, and every reading
// by asking the practice gauge, which plays the scenario's values in the order they are asked for.
func demoReadings(e env, s *session.Session, stage inspect.Stage) error {
	name := "scenario/" + string(stage) + ".csv"
	f, err := scenario.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	values, seen, err := inspect.ReadCSV(f, name, demoTool, length.None)
	if err != nil {
		return err
	}
	steps, err := demoSteps(s.Plan(), values)
	if err != nil {
		return err
	}
	gauge, port, err := practice(steps)
	if err != nil {
		return err
	}
	defer port.Close()
	defer gauge.Close()
	fmt.Fprintf(e.stderr, "\n%s: reading a practice gauge on %s\n", stage.Words(), port.Port())
	for _, answer := range seen {
		if err := s.See(answer); err != nil {
			return err
		}
	}
	for {
		q, ok := s.Next()
		if !ok {
			return nil
		}
		frame, err := gauge.Take(context.Background())
		if err != nil {
			return err
		}
		if err := s.Record(gauges.Reading(q, "practice", frame)); err != nil {
			return err
		}
		fmt.Fprintf(e.stderr, "  %-60s %s %s\n", q.Text(length.In), frame.Text, frame.Unit)
	}
}

// demoSteps puts the scenario's values into the order in which they will be asked for.
func demoSteps(p session.Plan, values []inspect.Reading) ([]device.Step, error) {
	var steps []device.Step
	for _, q := range p.Questions(demoTool) {
		if q.Sight != "" {
			continue
		}
		i := slices.IndexFunc(values, func(r inspect.Reading) bool { return r.Key() == q.Key })
		if i < 0 {
			return nil, fmt.Errorf("the scenario has no %s", q.Key)
		}
		steps = append(steps, device.Step{Value: values[i].Value})
	}
	return steps, nil
}

// practice starts a practice gauge with a script and opens it as any gauge is opened.
func practice(steps []device.Step) (*device.Gauge, *device.Practice, error) {
	p := device.PracticeProfile(device.Poll, length.In)
	p.StuckAfter = len(steps) + 2 // widths may well repeat
	port, err := device.StartPractice(p, steps)
	if err != nil {
		return nil, nil, err
	}
	opener := port.Open
	if p.Port = port.Port(); p.Port != "" {
		opener = device.OpenSerial(p)
	}
	gauge, err := device.New(opener, p, nil)
	if err != nil {
		port.Close()
		return nil, nil, err
	}
	return gauge, port, nil
}

// demoReport leaves the quality report beside the ledger and says where everything is.
func demoReport(e env, l *ledger.Ledger, folder string, last ledger.Record) error {
	for _, kind := range []report.Kind{report.ReadingRows, report.InspectionRows} {
		err := writeWhole(e, filepath.Join(folder, string(kind)+".csv"), func(w io.Writer) error {
			return writeReport(e, w, l, kind, record.Filter{}, report.Format{Unit: length.In})
		})
		if err != nil {
			return err
		}
	}
	sheet, err := paper.Of(l, "demo bench", demoTool.ID+".3", length.In)
	if err == nil {
		err = writeWhole(e, filepath.Join(folder, "sheet.html"), func(w io.Writer) error { return report.Sheet(w, sheet) })
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "\n---- left behind ----\n")
	fmt.Fprintf(e.stdout, "ledger            %s\n", filepath.Join(folder, "ledger"))
	fmt.Fprintf(e.stdout, "quality report    %s\n", filepath.Join(folder, "inspections.csv"))
	fmt.Fprintf(e.stdout, "inspection sheet  %s\n", filepath.Join(folder, "sheet.html"))
	fmt.Fprintf(e.stdout, "every reading     %s\n", filepath.Join(folder, "readings.csv"))
	printHead(e, last)
	return nil
}
