package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/session"
	"flutelog/inspect/statistics"
	"flutelog/inspect/text"
)

// inspectFlags are the flags of an inspection.
type inspectFlags struct {
	places
	units
	stage, job, inspector, holding, rule, readings, features, fromEnd, discard string
	wheel, offset                                                              string // how it was ground
	checkingDistance, dropBy                                                   string
	divisions                                                                  int
	gauges                                                                     []string
	replay                                                                     string
	repeats                                                                    int
	reseated                                                                   bool
	sweep                                                                      bool
}

func inspectCommand() command {
	var i inspectFlags
	return command{
		name: "inspect", args: "TOOL",
		summary: "inspect a tool before, between or after the grind, from gauges, keyboard or a file",
		example: "inspect EM-0412 --stage before --readings readings.csv",
		flags:   i.flags,
		run:     func(e env, f *flags) error { return i.run(e, f.args[0]) },
	}
}

func (i *inspectFlags) flags(f *flags) {
	f.StringVar(&i.stage, "stage", "", "before, between or after the grind")
	f.StringVar(&i.readings, "readings", "", "take the readings from a CSV file, - for standard input: feature,flute,from_end,repeat,value,unit")
	f.StringSliceVar(&i.gauges, "gauge", nil, "gauges of the bench file to read with (default: all whose port is there); keyboard for none; with --readings, those they were taken with")
	f.StringVar(&i.replay, "replay", "", "play a recording of the gauge's line in place of its port")
	f.BoolVar(&i.sweep, "sweep", false, "read run-out of the edges by turning the tool by hand under a gauge that streams")
	f.StringVar(&i.job, "job", "", "the job the tool came with")
	f.StringVar(&i.inspector, "inspector", "", "who inspects")
	f.StringVar(&i.holding, "holding", "", "how the tool is held: fixture, vee or collet (default: the bench file's)")
	f.BoolVar(&i.reseated, "reseated", false, "the tool is taken out and put back between repeats")
	f.StringVar(&i.features, "features", "", "what to read, with commas between (default: the stage's)")
	f.IntVar(&i.repeats, "repeats", 0, "how often run-outs and drops are read (default: the stage's)")
	f.StringVar(&i.fromEnd, "from-end", "", "distances from the end to read radial run-out at, with commas between")
	f.StringVar(&i.rule, "rule", "", "decision rule: simple or guarded (default: the bench file's for the stage)")
	f.StringVar(&i.wheel, "wheel", "", "the wheel it is ground with, by name")
	f.IntVar(&i.divisions, "divisions", 0, "divisions of the feed dial that were fed since the wheel's first touch")
	f.StringVar(&i.offset, "offset", "", "how far the tooth rest was set below the tool's centre at a cup wheel")
	f.StringVar(&i.checkingDistance, "checking-distance", "", "distance behind the edge over which drops are read (default: the bench file's, or by diameter and width)")
	f.StringVar(&i.dropBy, "drop-by", "", "how drops on the flutes are read: turn the tool, or slide the table across (default: the bench file's)")
	f.StringVar(&i.discard, "discard", "", "give up the tool's open inspection, for this reason")
	i.places.flags(f)
	i.units.flags(f)
}

func (i *inspectFlags) run(e env, id string) error {
	b, l, err := i.open(e)
	if err != nil {
		return err
	}
	unit, err := i.unitOr(b.Unit)
	if err != nil {
		return err
	}
	if i.discard != "" {
		return i.giveUp(e, l, id)
	}
	stage, err := inspect.ParseStage(i.stage)
	if err != nil {
		return usageError{fmt.Errorf("--stage: %w", err)}
	}
	tool, err := record.FindTool(l, id)
	if errors.Is(err, record.ErrNoTool) {
		return hinted{err, "add it first: flutelog tool add " + id + " --diameter 0.5in --flutes 4 --material hss"}
	}
	if err != nil {
		return err
	}
	switch tool.Standing {
	case record.StandsWithdrawn:
		return usagef("tool %q is withdrawn for good; a tool that was withdrawn by a slip goes on as a new one: flutelog tool add NEW --was %s", id, id)
	case record.StandsRetired:
		return usagef("tool %q is out of use: %s", id, tool.Retired)
	case record.StandsLocked:
		fmt.Fprintf(e.stderr, "flutelog: tool %q is LOCKED, %s: what is read now does not lift that\n", id, tool.Lacks())
	}
	in, plan, err := i.inspection(b, tool.Tool, stage, unit)
	if err != nil {
		return err
	}
	if err := record.UseStudies(l, in.Basis.Gauges); err != nil {
		return err
	}
	if err := session.ForJob(l, in, &plan); err != nil {
		if errors.Is(err, record.ErrNoJob) {
			return hinted{err, "add it first: flutelog job add " + in.Job + " --quantity 20"}
		}
		return err
	}
	if i.readings != "" {
		return i.fromFile(e, b, l, in, plan, unit)
	}
	return i.atBench(e, b, l, in, plan, unit)
}

// inspection puts together what is inspected and what it is judged by.
func (i *inspectFlags) inspection(b *bench.File, t inspect.Tool, stage inspect.Stage, unit length.Unit) (inspect.Inspection, session.Plan, error) {
	c := bench.Choices{
		Stage: stage, Job: i.job, Inspector: i.inspector, Holding: inspect.Holding(i.holding), Reseated: i.reseated,
		Unit: unit, Repeats: i.repeats, Wheel: i.wheel, Divisions: i.divisions,
	}
	r := &reader{unit: unit}
	if i.rule != "" {
		var err error
		if c.Rule, err = statistics.ParseRule(i.rule); err != nil {
			r.fail("rule", err)
		}
	}
	for _, name := range parts(i.features) {
		f, err := inspect.ParseFeature(strings.TrimSpace(name))
		if err != nil {
			r.fail("features", err)
		}
		c.Features = append(c.Features, f)
	}
	c.FromEnds = r.lengths("from-end", i.fromEnd)
	c.Offset = r.optional("offset", i.offset)
	if d := r.optionalSize("checking-distance", i.checkingDistance); d != nil {
		c.CheckingDistance = *d
	}
	if i.dropBy != "" {
		c.DropBy = inspect.DropBy(r.choice("drop-by", i.dropBy, "turn", "slide"))
	}
	if r.err != nil {
		return inspect.Inspection{}, session.Plan{}, r.err
	}
	in, plan, err := b.Inspection(t, c)
	if err != nil {
		return in, plan, usageError{err}
	}
	return in, plan, nil
}

// openOf returns the id of a tool's open inspection, "" when none is.
func openOf(l *ledger.Ledger, tool string, stage inspect.Stage) (string, error) {
	open, err := record.Open(l)
	for _, d := range open {
		in := d.Inspection
		if in.Tool.ID != tool {
			continue
		}
		if stage != "" && in.Stage != stage {
			return "", hinted{usagef("inspection %s, %s, is still open", in.ID, in.Stage.Words()), fmt.Sprintf("go on with --stage %s, or give it up with --discard REASON", in.Stage)}
		}
		return in.ID, nil
	}
	return "", err
}

func (i *inspectFlags) giveUp(e env, l *ledger.Ledger, tool string) error {
	id, err := openOf(l, tool, "")
	if err != nil {
		return err
	}
	if id == "" {
		return usagef("tool %q has no open inspection", tool)
	}
	s, _, err := session.Resume(l, id, e.now)
	if err != nil {
		return err
	}
	closed, err := s.Discard(i.discard)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "%s given up: %s\n", id, i.discard)
	printHead(e, closed)
	return nil
}

// fromFile inspects from readings that were taken elsewhere.
func (i *inspectFlags) fromFile(e env, b *bench.File, l *ledger.Ledger, in inspect.Inspection, plan session.Plan, unit length.Unit) error {
	if id, err := openOf(l, in.Tool.ID, in.Stage); err != nil || id != "" {
		return cmp.Or(err, error(hinted{usagef("inspection %s is still open", id), "close it at the bench without --readings, or give it up with --discard REASON"}))
	}
	readings, seen, err := i.readFile(e, in.Tool, unit)
	if err != nil {
		return err
	}
	if err := i.nameGauges(b, readings); err != nil {
		return err
	}
	if in.ID, err = record.NextID(l, in.Tool.ID); err != nil {
		return err
	}
	s, err := session.Begin(l, in, plan, e.now)
	if err != nil {
		return err
	}
	for _, answer := range seen {
		if err := s.See(answer); err != nil {
			return errors.Join(err, s.Release())
		}
	}
	for _, r := range readings {
		if err := s.Record(r); err != nil {
			return errors.Join(err, s.Release())
		}
	}
	return i.close(e, l, s, unit)
}

func (i *inspectFlags) readFile(e env, t inspect.Tool, unit length.Unit) ([]inspect.Reading, []inspect.Seen, error) {
	in, name := e.stdin, "standard input"
	if i.readings != "-" {
		f, err := os.Open(i.readings)
		if err != nil {
			return nil, nil, err
		}
		defer f.Close()
		in, name = f, i.readings
	}
	readings, seen, err := inspect.ReadCSV(text.Reader(in, mostText), name, t, unit)
	if err != nil {
		return nil, nil, usageError{err}
	}
	return readings, seen, nil
}

// nameGauges says of readings taken elsewhere which of the gauges named they were taken with.
func (i *inspectFlags) nameGauges(b *bench.File, readings []inspect.Reading) error {
	named, err := i.namedGauges(b)
	for j, r := range readings {
		readings[j].Gauge = gauges.For(named, r.Feature)
	}
	return err
}

// atBench inspects with a person, taking an open inspection up again where there is one.
func (i *inspectFlags) atBench(e env, b *bench.File, l *ledger.Ledger, in inspect.Inspection, plan session.Plan, unit length.Unit) error {
	s, err := i.beginOrResume(e, l, in, plan)
	if err != nil {
		return err
	}
	gs, err := i.openGauges(e, b)
	if err != nil {
		return errors.Join(err, s.Release())
	}
	defer gs.Close()
	if err := i.checkSweep(gs); err != nil {
		return errors.Join(err, s.Release())
	}
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	err = i.converse(ctx, e, s, unit, gs)
	if errors.Is(err, errStopped) {
		fmt.Fprintf(e.stderr, "\nstopped; what was read is kept. Go on with: flutelog inspect %s --stage %s\n", in.Tool.ID, in.Stage)
		if err := s.Release(); err != nil {
			return err
		}
		return outcome(statusOpen)
	}
	if err != nil {
		return errors.Join(err, s.Release())
	}
	return i.close(e, l, s, unit)
}

func (i *inspectFlags) beginOrResume(e env, l *ledger.Ledger, in inspect.Inspection, plan session.Plan) (*session.Session, error) {
	id, err := openOf(l, in.Tool.ID, in.Stage)
	if err != nil {
		return nil, err
	}
	if id == "" {
		if in.ID, err = record.NextID(l, in.Tool.ID); err != nil {
			return nil, err
		}
		return session.Begin(l, in, plan, e.now)
	}
	s, lost, err := session.Resume(l, id, e.now)
	if err != nil {
		return nil, err
	}
	done, of := s.Progress()
	fmt.Fprintf(e.stderr, "taking up %s again: %d of %d questions are answered and on disk\n", id, done, of)
	for _, d := range lost {
		fmt.Fprintf(e.stderr, "flutelog: damaged, and read as missing: %s\n", d)
	}
	return s, nil
}

// openGauges opens the gauges asked for, or all of the bench file whose port is there.
func (i *inspectFlags) openGauges(e env, b *bench.File) (*gauges.Set, error) {
	asked, err := i.askedGauges(e, b)
	if err != nil {
		return nil, err
	}
	gs := &gauges.Set{}
	if i.gauges == nil {
		gs.ByEye = b.Gauges
	}
	for _, g := range asked {
		opener, err := openerOf(g, i.replay)
		if err == nil {
			err = gs.Add(g, opener)
		}
		if err != nil {
			gs.Close()
			return nil, err
		}
	}
	return gs, nil
}

func (i *inspectFlags) askedGauges(e env, b *bench.File) ([]bench.Gauge, error) {
	if i.gauges == nil {
		there, away := gauges.Present(b)
		for _, g := range away {
			fmt.Fprintf(e.stderr, "flutelog: gauge %q is not plugged in (%s); its readings are typed\n", g.Name, g.Port)
		}
		return there, nil
	}
	return i.namedGauges(b)
}

// namedGauges returns the gauges named by the person.
func (i *inspectFlags) namedGauges(b *bench.File) ([]bench.Gauge, error) {
	var asked []bench.Gauge
	for _, name := range i.gauges {
		if name == "keyboard" {
			continue
		}
		g, err := b.Gauge(name)
		if err != nil {
			return nil, usageError{err}
		}
		asked = append(asked, g)
	}
	return asked, nil
}

// checkSweep refuses a sweep without a gauge that streams.
func (i *inspectFlags) checkSweep(gs *gauges.Set) error {
	streams := func(g *gauges.Gauge) bool { return g.Mode == device.Stream }
	if !i.sweep || slices.ContainsFunc(gs.Open, streams) {
		return nil
	}
	return hinted{usagef("--sweep: no gauge that streams is here"), "a gauge streams whose table in the bench file says take = \"stream\""}
}

// openerOf returns what opens a gauge's line: its port, or a recording of it where one is given.
func openerOf(g bench.Gauge, replay string) (device.Opener, error) {
	if replay == "" {
		return device.OpenSerial(g.Profile), nil
	}
	f, err := os.Open(replay)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	recording, err := device.ReadRecording(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", replay, err)
	}
	return recording.Open, nil
}

// converse asks a session's questions at the terminal.
func (i *inspectFlags) converse(ctx context.Context, e env, s *session.Session, unit length.Unit, gs *gauges.Set) error {
	console, err := openConsole(ctx, e, gs, unit)
	if err != nil {
		return err
	}
	defer console.close()
	c := &conversation{console: console, s: s, unit: unit, sweeps: i.sweep}
	return c.run()
}

// close judges and closes an inspection, and prints what it comes to.
func (i *inspectFlags) close(e env, l *ledger.Ledger, s *session.Session, unit length.Unit) error {
	if _, _, err := s.Close(); err != nil {
		return err
	}
	in, err := record.Find(l, s.Inspection().ID)
	if err != nil {
		return err
	}
	return reportInspection(e, &in, unit, i.json)
}
