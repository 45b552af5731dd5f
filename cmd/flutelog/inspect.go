package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/board"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/gauges"
	"flutelog/cmd/flutelog/internal/hand"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/cmd/flutelog/internal/rulings"
	"flutelog/cmd/flutelog/internal/terminal"
	"flutelog/cmd/internal/papers"
	"flutelog/cmd/internal/people"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/text"
)

// inspectFlags are the flags of an inspection.
type inspectFlags struct {
	command.Places
	command.Units
	stage, job, inspector, holding, rule, readings, features, fromEnd, discard string
	wheel, offset                                                              string // how it was ground
	checkingDistance, dropBy                                                   string
	divisions, endsFed                                                         int
	gauges                                                                     []string
	replay                                                                     string
	repeats                                                                    int
	reseated                                                                   bool
	sweep                                                                      bool
	takeOver                                                                   bool
	record, play                                                               string
}

func inspectCommand() command.Command {
	var i inspectFlags
	return command.Command{
		Name: "inspect", Args: "TOOL",
		Summary: "inspect a tool before, between or after the grind, from gauges, keyboard or a file",
		Example: "inspect EM-0412 --stage before --readings readings.csv",
		Flags:   i.flags,
		Run:     func(e command.Env, f *command.Flags) error { return i.run(e, f.Args[0]) },
	}
}

func (i *inspectFlags) flags(f *command.Flags) {
	f.WordVar(&i.stage, "stage", "", "before, between or after the grind (default: what the tool's standing calls for)")
	f.StringVar(&i.readings, "readings", "", "take the readings from a CSV file, - for standard input: feature,flute,from_end,repeat,value,unit")
	f.StringSliceVar(&i.gauges, "gauge", nil, "gauges of the bench file to read with (default: all whose port is there); keyboard for none; with --readings, those they were taken with")
	f.StringVar(&i.replay, "replay", "", "play a recording of the gauge's line in place of its port")
	f.BoolVar(&i.sweep, "sweep", false, "read run-out of the edges by turning the tool by hand under a gauge that streams")
	f.StringVar(&i.job, "job", "", "the job the tool came with")
	f.StringVar(&i.inspector, "inspector", "", "who inspects")
	f.WordVar(&i.holding, "holding", "", "how the tool is held: fixture, vee or collet (default: the bench file's)")
	f.BoolVar(&i.reseated, "reseated", false, "the tool is taken out and put back between repeats")
	f.WordVar(&i.features, "features", "", "what to read, with commas between (default: the stage's)")
	f.IntVar(&i.repeats, "repeats", 0, "how often run-outs and drops are read (default: the stage's)")
	f.StringVar(&i.fromEnd, "from-end", "", "distances from the end to read radial run-out at, with commas between")
	f.WordVar(&i.rule, "rule", "", "decision rule: simple or guarded (default: the bench file's for the stage)")
	f.StringVar(&i.wheel, "wheel", "", "the wheel it is ground with, by name")
	f.IntVar(&i.divisions, "divisions", 0, "divisions of the feed dial that were fed since the wheel's first touch, on the flutes")
	f.IntVar(&i.endsFed, "end-divisions", 0, "divisions fed to the ends")
	f.StringVar(&i.offset, "offset", "", "how far the tooth rest was set below the tool's centre at a cup wheel")
	f.StringVar(&i.checkingDistance, "checking-distance", "", "distance behind the edge over which drops are read (default: the bench file's, or by diameter and width)")
	f.WordVar(&i.dropBy, "drop-by", "", "how drops on the flutes are read: turn the tool, or slide the table across (default: the bench file's)")
	f.StringVar(&i.record, "record", "", "write what is typed, what the gauges send and when to a new file, so that it can be played back")
	f.StringVar(&i.play, "play", "", "play such a file back in place of a person and gauges")
	f.BoolVar(&i.takeOver, "take", false, "take the tool's open inspection over from the terminal or page where it is in hand")
	f.StringVar(&i.discard, "discard", "", "give up the tool's open inspection, for this reason")
	i.Places.Flags(f)
	i.Units.Flags(f)
}

func (i *inspectFlags) run(e command.Env, id string) error {
	b, l, err := i.Open(e)
	if err != nil {
		return err
	}
	unit, err := i.UnitOr(b.Unit)
	if err != nil {
		return err
	}
	if i.discard != "" {
		return i.giveUp(e, l, id)
	}
	if err := command.AskElsewhere(e, l, record.ToolSubject(id)); err != nil {
		return err
	}
	tool, err := record.FindTool(l, id)
	if errors.Is(err, record.ErrNoTool) {
		return command.Hint(err, "add it first: flutelog tool add "+id+" --diameter 0.5in --flutes 4 --material hss")
	}
	if err != nil {
		return err
	}
	switch tool.Standing {
	case record.StandsWithdrawn:
		return command.Usagef("tool %q is withdrawn for good; a tool that was withdrawn by a slip goes on as a new one: flutelog tool add NEW --was %s", id, id)
	case record.StandsRetired:
		return command.Usagef("tool %q is out of use: %s", id, tool.Retired)
	case record.StandsLocked:
		fmt.Fprintf(e.Stderr, "flutelog: tool %q is LOCKED and lacks %s: what is read now does not lift that\n", id, tool.Lacks())
	}
	stage, because, err := i.stageOf(tool, l, b)
	if err != nil {
		return err
	}
	c, err := i.choices(b, stage, unit)
	if err != nil {
		return err
	}
	w := &inspecting{inspectFlags: i, env: e, bench: b, ledger: l, unit: unit, choices: c, because: because, sitting: &desk.Sitting{}}
	if i.readings != "" {
		return w.fromFile(tool)
	}
	e.Sender.Keep()
	return w.atBench(tool)
}

// stageOf is the stage that is asked for, or else the one that the tool's standing calls for, and why that.
func (i *inspectFlags) stageOf(t record.Tool, l *ledger.Ledger, b *bench.File) (stage inspect.Stage, because string, err error) {
	if i.stage != "" || i.readings != "" {
		if stage, err = inspect.ParseStage(i.stage); err != nil {
			return "", "", command.Usagef("--stage %s: say when it is read, before, between or after the grind", text.Show(i.stage))
		}
		return stage, "", nil
	}
	card, err := board.GatherCard(l, t.ID, b.Basis)
	if err != nil {
		return "", "", err
	}
	step := card.Next()
	if step.Stage == "" || step.Back != "" { // one that is let out is taken up again by a word only
		return "", "", command.Hint(command.Usagef("tool %q stands %s: %s", t.ID, t.Standing, step.Words), "to read it all the same, say when: --stage before, between or after")
	}
	return step.Stage, fmt.Sprintf("%s stands %s: %s.", t.ID, t.Standing, step.Words), nil
}

// choices is what the flags say of an inspection before it begins.
func (i *inspectFlags) choices(b *bench.File, stage inspect.Stage, unit length.Unit) (bench.Choices, error) {
	c := bench.Choices{
		Stage: stage, Job: i.job, Inspector: i.inspector, Holding: inspect.Holding(i.holding), Reseated: i.reseated,
		Unit: unit, Repeats: i.repeats, Wheel: i.wheel, Divisions: i.divisions, EndsFed: i.endsFed,
	}
	r := &command.Reader{Unit: unit}
	if i.rule != "" {
		var err error
		if c.Rule, err = statistics.ParseRule(i.rule); err != nil {
			r.Fail("rule", err)
		}
	}
	for _, name := range command.Parts(i.features) {
		f, err := inspect.ParseFeature(strings.TrimSpace(name))
		if err != nil {
			r.Fail("features", err)
		}
		c.Features = append(c.Features, f)
	}
	c.FromEnds = r.Lengths("from-end", i.fromEnd)
	c.Offset = r.Optional("offset", i.offset)
	if d := r.OptionalSize("checking-distance", i.checkingDistance); d != nil {
		c.CheckingDistance = *d
	}
	if i.dropBy != "" {
		c.DropBy = inspect.DropBy(r.Choice("drop-by", i.dropBy, "turn", "slide"))
	}
	return c, r.Err
}

// inspecting is one run of the command: an inspection, and those that follow it at once.
type inspecting struct {
	*inspectFlags
	env     command.Env
	bench   *bench.File
	ledger  *ledger.Ledger
	unit    length.Unit
	choices bench.Choices
	sitting *desk.Sitting
	screen  *terminal.Terminal
	played  desk.Recording // in place of a person
	said    []string       // of the gauges, for the first screen
	because string         // the stage was not asked for, and follows from this
}

// prepare puts together what is inspected and what is asked.
func (w *inspecting) prepare(t record.Tool) (inspect.Inspection, desk.Plan, error) {
	in, plan, err := hand.Prepare(w.ledger, w.bench, t, w.choices)
	if errors.Is(err, record.ErrNoJob) {
		return in, plan, command.Hint(err, "add it first: flutelog job add "+w.job+" --quantity 20")
	}
	var choice hand.ChoiceError
	if errors.As(err, &choice) {
		return in, plan, command.Usage(err)
	}
	return in, plan, err
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
			return "", command.Hint(command.Usagef("inspection %s, %s, is still open", in.ID, in.Stage.Words()), fmt.Sprintf("go on with --stage %s, or give it up with --discard REASON", in.Stage))
		}
		return in.ID, nil
	}
	return "", err
}

func (i *inspectFlags) giveUp(e command.Env, l *ledger.Ledger, tool string) error {
	id, err := openOf(l, tool, "")
	if err != nil {
		return err
	}
	if id == "" {
		return command.Usagef("tool %q has no open inspection", tool)
	}
	w, _, err := record.Resume(l, id, nil, e.Now)
	if err != nil {
		return err
	}
	closed, err := w.Discard(i.discard)
	if err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "%s given up: %s\n", id, i.discard)
	output.Head(e, closed)
	return nil
}

// fromFile inspects from readings that were taken elsewhere.
func (w *inspecting) fromFile(t record.Tool) error {
	if id, err := openOf(w.ledger, t.ID, w.choices.Stage); err != nil || id != "" {
		return cmp.Or(err, error(command.Hint(command.Usagef("inspection %s is still open", id), "close it at the bench without --readings, or give it up with --discard REASON")))
	}
	readings, seen, err := w.readFile(w.env, t.Tool, w.unit)
	if err != nil {
		return err
	}
	if err := w.nameGauges(w.bench, readings); err != nil {
		return err
	}
	in, plan, err := w.prepare(t)
	if err != nil {
		return err
	}
	if err := plan.Check(in.Tool); err != nil {
		return command.Usage(err)
	}
	in.Basis.Looks = false // all rounds were read before any was judged
	draft, err := record.Begin(w.ledger, in, plan, w.env.Now)
	if err != nil {
		return err
	}
	for _, answer := range seen {
		if err := draft.See(answer); err != nil {
			return errors.Join(err, draft.Release())
		}
	}
	for _, r := range readings {
		if err := draft.Read(r); err != nil {
			return errors.Join(err, draft.Release())
		}
	}
	if _, _, err := draft.Close(); err != nil {
		return err
	}
	return w.report(in.ID)
}

// report prints what a closed inspection came to.
func (w *inspecting) report(id string) error {
	in, err := record.Find(w.ledger, id)
	if err != nil {
		return err
	}
	return output.ReportInspection(w.env, &in, w.unit, w.JSON)
}

func (i *inspectFlags) readFile(e command.Env, t inspect.Tool, unit length.Unit) ([]inspect.Reading, []inspect.Seen, error) {
	in, name := e.Stdin, "standard input"
	if i.readings != "-" {
		f, err := os.Open(i.readings)
		if err != nil {
			return nil, nil, err
		}
		defer f.Close()
		in, name = f, i.readings
	}
	readings, seen, err := inspect.ReadCSV(text.Reader(in, command.MostText), name, t, unit)
	if err != nil {
		return nil, nil, command.Usage(err)
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

// atBench inspects with a person, taking an open inspection up again where there is one, and goes on with the inspection
// that follows as long as the person does.
func (w *inspecting) atBench(t record.Tool) error {
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	var recording *desk.Recorder
	if w.record != "" {
		f, err := os.OpenFile(w.record, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return err
		}
		defer f.Close()
		if recording, err = desk.NewRecorder(f, "tool "+t.ID, "stage "+string(w.choices.Stage), "bench file "+w.bench.Revision); err != nil {
			return err
		}
	}
	screen := &terminal.Terminal{In: w.env.Stdin, Out: w.env.Stderr, Now: w.env.Now}
	w.screen = screen
	if w.play != "" {
		if err := w.readRecording(); err != nil {
			return err
		}
	} else {
		screen.Open()
		defer screen.Close()
	}
	for {
		came, id, err := w.one(ctx, t, screen, recording)
		switch {
		case err != nil:
			return err
		case came.Stopped:
			screen.Close()
			if came.Nothing {
				fmt.Fprintln(w.env.Stderr, "\nstopped; nothing was recorded")
				return command.StatusOpen
			}
			fmt.Fprintf(w.env.Stderr, "\nstopped; what was read is kept. Go on with: flutelog inspect %s --stage %s\n", t.ID, w.choices.Stage)
			return command.StatusOpen
		case came.Next == "":
			screen.Close()
			return w.report(id)
		}
		w.choices = bench.Choices{Stage: came.Next, Continues: came.ReadOn, Job: w.choices.Job, Inspector: w.choices.Inspector, Holding: w.choices.Holding, Unit: w.unit}
		if t, err = record.FindTool(w.ledger, t.ID); err != nil {
			return err
		}
	}
}

// one takes one inspection in hand and lets it go. What a recording of a gauge has left over then is an error, unless the person stopped.
func (w *inspecting) one(ctx context.Context, t record.Tool, screen *terminal.Terminal, recording *desk.Recorder) (came hand.Outcome, id string, err error) {
	gs := &gauges.Set{ByEye: w.bench.Gauges}
	if w.play == "" {
		var err error
		if gs, err = w.openGauges(w.notes(screen), w.bench); err != nil {
			return hand.Outcome{}, "", err
		}
	}
	defer func() {
		if left := gs.Close(); err == nil && !came.Stopped {
			err = left
		}
	}()
	if err := w.checkSweep(gs); err != nil {
		return hand.Outcome{}, "", err
	}
	changed := make(chan struct{}, 1)
	c := hand.Config{
		Ledger: w.ledger, Now: w.env.Now, Said: strings.TrimSpace(w.because + " " + strings.Join(w.said, " ")), Watches: w.play == "", Gauges: gs, Sitting: w.sitting, Sweeps: w.sweep, Recorder: recording,
		Tell: func(in inspect.Inspection, j inspect.Judgement) desk.Answer {
			signers := w.bench.Inspectors
			if known, err := people.Read(w.ledger.Dir()); err == nil { // else who signs is told why they cannot
				signers = rulings.Signers(w.bench, known)
			}
			return hand.Answer(in, j, w.unit, w.env.Marks(), signers)
		},
		Sign: w.sign,
		Changed: func() {
			select {
			case changed <- struct{}{}:
			default:
			}
		},
	}
	if w.play == "" && screen.Raw() {
		c.Settle = hand.Settles
	}
	h, err := w.take(c, t)
	if err != nil {
		return hand.Outcome{}, "", err
	}
	in, _, _ := h.Inspection()
	screen.Show = func(s desk.Shows) string { return w.shown(h, s) }
	if w.play == "" {
		screen.Run(ctx, h, changed)
	} else if err := h.Play(w.played, nil); err != nil {
		return hand.Outcome{}, "", errors.Join(fmt.Errorf("%s: %w", w.play, err), h.PutDown())
	}
	return h.Wait(), in.ID, h.PutDown()
}

// notes tells what is the matter with the gauges: beside the first question, where a screen is drawn over what stood before.
func (w *inspecting) notes(screen *terminal.Terminal) func(string, ...any) {
	w.said = nil
	return func(format string, args ...any) {
		if screen.Raw() {
			w.said = append(w.said, strings.TrimPrefix(strings.TrimSuffix(fmt.Sprintf(format, args...), "\n"), "flutelog: ")+".")
			return
		}
		screen.Tell(format, args...)
	}
}

// take begins an inspection, or takes the open one up again.
func (w *inspecting) take(c hand.Config, t record.Tool) (*hand.Hand, error) {
	id, err := openOf(w.ledger, t.ID, w.choices.Stage)
	if err != nil {
		return nil, err
	}
	w.choices.AtDesk = true
	in, plan, err := w.prepare(t)
	if err != nil {
		return nil, err
	}
	w.because = ""
	c.Known = hand.Known(w.bench, in, hand.Earlier(w.ledger, t))
	c.DropBy, c.Over = w.choices.DropBy, w.choices.CheckingDistance
	if id == "" {
		return hand.Begin(c, in, plan)
	}
	up := hand.TakeUp
	if w.takeOver {
		up = func(c hand.Config, id string) (*hand.Hand, []ledger.Damage, error) {
			return hand.TakeOver(c, id, place())
		}
	}
	h, lost, err := up(c, id)
	if errors.Is(err, ledger.ErrLocked) {
		return nil, command.Hint(fmt.Errorf("%s is in hand at another terminal or page", id), "stop it there with q, or go on here: flutelog inspect "+t.ID+" --take")
	}
	if err != nil {
		return nil, err
	}
	if err := w.begunOtherwise(h); err != nil {
		return nil, errors.Join(err, h.PutDown())
	}
	w.screen.Tell("taking up %s again: %s\n", id, h.SoFar())
	for _, d := range lost {
		w.screen.Tell("flutelog: damaged, and read as missing: %s\n", d)
	}
	return h, nil
}

// begunOtherwise refuses flags that an inspection which is taken up was begun without: it keeps what it was begun with.
func (w *inspecting) begunOtherwise(h *hand.Hand) error {
	c, p := w.choices, h.Plan()
	in, _, _ := h.Inspection()
	var flags []string
	for _, f := range []struct {
		name  string
		other bool
	}{
		{"--job", c.Job != "" && c.Job != in.Job},
		{"--inspector", c.Inspector != "" && c.Inspector != in.Inspector},
		{"--holding", c.Holding != "" && c.Holding != in.Holding},
		{"--reseated", c.Reseated && !in.Reseated},
		{"--unit", w.Units.Name != "" && w.unit.Metric() != in.Basis.Unit.Metric()},
		{"--rule", c.Rule != "" && (c.Rule != in.Basis.WorkRule || c.Rule != in.Basis.ReleaseRule)},
		{"--features", slices.ContainsFunc(c.Features, func(f inspect.Feature) bool { return !slices.Contains(p.Features, f) })},
		{"--repeats", c.Repeats > 0 && c.Repeats != p.Rounds},
		{"--from-end", c.FromEnds != nil && !slices.Equal(c.FromEnds, p.FromEnds)},
		{"--wheel", c.Wheel != "" && in.Wheel == ""}, // what was told since stands
		{"--divisions", c.Divisions > 0 && in.Divisions == 0},
		{"--offset", c.Offset != nil && in.Offset == nil},
	} {
		if f.other {
			flags = append(flags, f.name)
		}
	}
	if flags == nil {
		return nil
	}
	return command.Hint(command.Usagef("%s: %s was begun otherwise, and keeps what it was begun with", strings.Join(flags, ", "), in.ID), "leave that out to go on with it; or give it up with --discard REASON, and begin anew")
}

// place names this terminal for whoever sits at another.
func place() string {
	for _, f := range []*os.File{os.Stdin, os.Stderr} {
		if name, err := os.Readlink(fmt.Sprintf("/proc/self/fd/%d", f.Fd())); err == nil && strings.HasPrefix(name, "/dev/") {
			return "terminal " + strings.TrimPrefix(name, "/dev/")
		}
	}
	return "another terminal"
}

// sign records that a person releases what an inspection came to.
func (w *inspecting) sign(inspection, who, pin string) error {
	known, err := people.Read(w.ledger.Dir())
	if err != nil {
		return err
	}
	if who, err = rulings.Signer(w.bench, known, who); err != nil {
		return err
	}
	if err := known.Check(who, pin); err != nil {
		return err
	}
	_, err = record.Rule(w.ledger, []string{inspection}, record.Release, record.Who{By: who, At: w.env.Now()})
	return err
}

// shown is what a person asks to be shown beside the conversation.
func (w *inspecting) shown(h *hand.Hand, what desk.Shows) string {
	in, j, _, closed := h.Closed()
	if !closed {
		return ""
	}
	var out strings.Builder
	e := w.env
	e.Stdout = &out
	switch what {
	case desk.Route:
		out.WriteString(hand.Route(in, j, w.unit))
	case desk.Detail:
		output.Judgement(e, in, j, w.unit)
	case desk.Paper:
		if err := w.writePapers(&out, in); err != nil {
			fmt.Fprintf(&out, "NOT WRITTEN: %v\n", err)
		}
	case desk.Picture:
		out.WriteString(hand.Picture(in, j, w.unit) + "\nThe same drawn to scale stands on the sheet, which p writes.\n")
	}
	return out.String()
}

// writePapers writes the sheet of an inspection and its tool's tag into the folder that a person is in, and says where.
func (w *inspecting) writePapers(out io.Writer, in inspect.Inspection) error {
	s := papers.Source{Ledger: w.ledger, Bench: w.bench.Name, Unit: w.unit}
	sheet, err := s.Sheet(in.ID)
	if err != nil {
		return err
	}
	tags, err := s.Tags([]string{in.Tool.ID})
	if err != nil {
		return err
	}
	fmt.Fprintln(out, "Written, to be printed from any browser:")
	for _, p := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{"sheet-" + board.FileName(in.ID) + ".html", func(to io.Writer) error { return paper.WriteSheet(to, sheet) }},
		{"tag-" + board.FileName(in.Tool.ID) + ".html", func(to io.Writer) error { return paper.WriteTags(to, tags) }},
	} {
		if err := command.WriteWhole(w.env, p.name, p.write); err != nil {
			return err
		}
		fmt.Fprintln(out, "  "+p.name)
	}
	return nil
}

// readRecording reads what is played back in place of a person.
func (w *inspecting) readRecording() error {
	f, err := os.Open(w.play)
	if err != nil {
		return err
	}
	defer f.Close()
	if w.played, err = desk.ReadRecording(f); err != nil {
		return fmt.Errorf("%s: %w", w.play, err)
	}
	return nil
}

// openGauges opens the gauges asked for, or all of the bench file whose port is there.
func (i *inspectFlags) openGauges(tell func(string, ...any), b *bench.File) (*gauges.Set, error) {
	asked, err := i.askedGauges(tell, b)
	if err != nil {
		return nil, err
	}
	gs := &gauges.Set{}
	if i.gauges == nil {
		gs.ByEye = b.Gauges
	}
	for _, g := range asked {
		opener, err := gauges.Opener(g, i.replay)
		if err == nil {
			err = gs.Add(g, opener)
		}
		if errors.Is(err, device.ErrInUse) && i.gauges == nil {
			tell("flutelog: gauge %q serves another inspection or program; its readings are typed here\n", g.Name)
			continue
		}
		if err != nil {
			gs.Close()
			return nil, err
		}
	}
	return gs, nil
}

func (i *inspectFlags) askedGauges(tell func(string, ...any), b *bench.File) ([]bench.GaugeTable, error) {
	if i.gauges == nil {
		there, away := gauges.Present(b)
		for _, g := range away {
			tell("flutelog: gauge %q is not plugged in (%s); its readings are typed\n", g.Name, g.Port)
		}
		return there, nil
	}
	return i.namedGauges(b)
}

// namedGauges returns the gauges named by the person.
func (i *inspectFlags) namedGauges(b *bench.File) ([]bench.GaugeTable, error) {
	var asked []bench.GaugeTable
	for _, name := range i.gauges {
		if name == "keyboard" {
			continue
		}
		g, err := b.Gauge(name)
		if err != nil {
			return nil, command.Usage(err)
		}
		asked = append(asked, g)
	}
	return asked, nil
}

// checkSweep refuses a sweep without a gauge that streams.
func (i *inspectFlags) checkSweep(gs *gauges.Set) error {
	streams := func(g *gauges.Wired) bool { return g.Mode == device.Stream }
	if !i.sweep || slices.ContainsFunc(gs.Open, streams) {
		return nil
	}
	return command.Hint(command.Usagef("--sweep: no gauge that streams is here"), "a gauge streams whose table in the bench file says take = \"stream\"")
}
