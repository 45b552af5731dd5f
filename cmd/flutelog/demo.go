package main

import (
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/hand"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/cmd/internal/papers"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/words"
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

func demoCommand() command.Command {
	var folder string
	return command.Command{
		Name:    "demo",
		Summary: "show the whole job in a few seconds: an invented tool, a practice gauge on a real serial line",
		Example: "demo",
		Flags: func(f *command.Flags) {
			f.StringVar(&folder, "folder", "", "folder to leave ledger and CSV in (default: a new temporary one)")
		},
		Run: func(e command.Env, f *command.Flags) error { return demo(e, folder) },
	}
}

// demo inspects the invented tool before, between and after the grind. Every reading comes from a practice
// gauge on a pseudo-terminal through the serial driver, and goes through the session into the ledger.
func demo(e command.Env, folder string) error {
	folder, err := demoFolder(folder)
	if err != nil {
		return err
	}
	l, err := ledger.Open(filepath.Join(folder, "ledger"), ledger.Options{Bench: "demo bench"})
	if err != nil {
		return err
	}
	fmt.Fprintln(e.Stdout, "INVENTED DATA: a half-inch four-flute end mill that never was, read by a practice gauge.")
	if _, err := record.SaveTool(l, demoTool); err != nil {
		return err
	}
	if _, err := record.SaveJob(l, record.Job{ID: "DEMO", Customer: "invented", Quantity: 1, Sample: 1}, e.Now()); err != nil {
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
		return "", command.Hint(command.Usagef("--folder %q: it holds a ledger already", folder), "name a new folder")
	}
	return folder, os.MkdirAll(folder, 0o700)
}

func demoStage(e command.Env, l *ledger.Ledger, stage inspect.Stage) (ledger.Record, error) {
	b := bench.Default()
	b.Grinder.Division = 2 * length.Thou // of the invented bench
	t, err := record.FindTool(l, demoTool.ID)
	if err != nil {
		return ledger.Record{}, err
	}
	in, plan, err := hand.Prepare(l, b, t, bench.Choices{Stage: stage, Job: "DEMO", Inspector: "invented", Unit: b.Unit})
	if err != nil {
		return ledger.Record{}, err
	}
	port, err := device.StartPractice(demoProfile(), nil)
	if err != nil {
		return ledger.Record{}, err
	}
	defer port.Close()
	gs, err := demoGauge(port)
	if err != nil {
		return ledger.Record{}, err
	}
	defer gs.Close()
	changed := make(chan struct{}, 1)
	h, err := hand.Begin(hand.Config{
		Ledger: l, Now: e.Now, Gauges: gs, Known: hand.Known(b, in, nil),
		Changed: func() {
			select {
			case changed <- struct{}{}:
			default:
			}
		},
	}, in, plan)
	if err != nil {
		return ledger.Record{}, err
	}
	fmt.Fprintf(e.Stderr, "\n%s: reading a practice gauge on %s\n", stage.Words(), port.Port())
	if err := demoReadings(e, h, port, changed, stage); err != nil {
		return ledger.Record{}, errors.Join(err, h.PutDown())
	}
	h.Do(desk.Line{At: e.Now()})
	in, j, closed, ok := h.Closed()
	if !ok {
		return ledger.Record{}, errors.Join(errors.New(h.Prompt().Refused), h.PutDown())
	}
	fmt.Fprintf(e.Stdout, "\n---- %s ----\n", stage.Words())
	output.Judgement(e, in, j, b.Unit)
	return closed, h.PutDown()
}

// demoReadings answers every question of a stage: what is looked for from the scenario, and every reading by asking the
// practice gauge, which reads what the scenario says of it.
func demoReadings(e command.Env, h *hand.Hand, port *device.Practice, changed <-chan struct{}, stage inspect.Stage) error {
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
	for {
		_, q, ok := h.Inspection()
		if !ok {
			return nil
		}
		if q.Sight != "" {
			h.Do(desk.Line{At: e.Now(), Text: demoSeen(seen)})
			continue
		}
		i := slices.IndexFunc(values, func(r inspect.Reading) bool { return r.Key() == q.Key })
		if i < 0 {
			return fmt.Errorf("the scenario has no %s", q.Key)
		}
		if err := port.Put(device.Step{Value: values[i].Value}); err != nil {
			return err
		}
		h.Do(desk.Line{At: e.Now()})
		for asked := q; asked == q; _, asked, _ = h.Inspection() {
			if p := h.Prompt(); p.Refused != "" || len(p.Trouble) > 0 {
				return fmt.Errorf("%s: %s %s", q.Key, p.Refused, strings.Join(p.Trouble, " "))
			}
			<-changed
		}
		fmt.Fprintf(e.Stderr, "  %-60s %s %s\n", words.Named(q.Key), values[i].Text, values[i].Unit)
	}
}

// demoSeen is what a person types who sees what the scenario says.
func demoSeen(seen []inspect.Seen) string {
	var numbers []string
	for _, s := range seen {
		if s.Yes {
			text := fmt.Sprint(slices.Index(inspect.Sights, s.Sight) + 1)
			if s.Length != nil {
				text += " " + s.Length.Format(length.In, 4) + "in"
			}
			numbers = append(numbers, text)
		}
	}
	if numbers == nil {
		return "c"
	}
	return strings.Join(numbers, " ")
}

// demoProfile is a practice gauge that is asked for every reading.
func demoProfile() device.Profile {
	p := device.PracticeProfile(device.Poll, length.In)
	p.Name = "practice"
	p.StuckAfter = 1000 // widths may well repeat
	return p
}

// demoGauge opens a practice gauge as any gauge is opened, for everything that is read.
func demoGauge(port *device.Practice) (*gauges.Set, error) {
	p := demoProfile()
	opener := port.Open
	if p.Port = port.Port(); p.Port != "" {
		opener = device.OpenSerial(p)
	}
	gs := &gauges.Set{}
	return gs, gs.Add(bench.GaugeTable{Profile: p, Features: inspect.Features}, opener)
}

// demoReport leaves the quality report beside the ledger and says where everything is.
func demoReport(e command.Env, l *ledger.Ledger, folder string, last ledger.Record) error {
	for _, kind := range []report.Kind{report.ReadingRows, report.InspectionRows} {
		err := command.WriteWhole(e, filepath.Join(folder, string(kind)+".csv"), func(w io.Writer) error {
			return writeReport(e, w, l, kind, record.Filter{}, report.Format{Unit: length.In})
		})
		if err != nil {
			return err
		}
	}
	s := papers.Source{Ledger: l, Bench: "demo bench", Unit: length.In}
	sheet, err := s.Sheet(demoTool.ID + ".3")
	if err == nil {
		err = command.WriteWhole(e, filepath.Join(folder, "sheet.html"), func(w io.Writer) error { return paper.WriteSheet(w, sheet) })
	}
	if err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "\n---- left behind ----\n")
	fmt.Fprintf(e.Stdout, "ledger            %s\n", filepath.Join(folder, "ledger"))
	fmt.Fprintf(e.Stdout, "quality report    %s\n", filepath.Join(folder, "inspections.csv"))
	fmt.Fprintf(e.Stdout, "inspection sheet  %s\n", filepath.Join(folder, "sheet.html"))
	fmt.Fprintf(e.Stdout, "every reading     %s\n", filepath.Join(folder, "readings.csv"))
	output.Head(e, last)
	return nil
}
