// Package studies is the command that studies a gauge: from values, repeats, crossed readings of several inspectors,
// a holding, or with a person at the bench.
package studies

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/study"
)

// gaugeStudyFlags are the flags of a gauge study.
type gaugeStudyFlags struct {
	command.Places
	command.Units
	values, crossed, repeats      string
	holding, held                 string
	master, tolerance, resolution string
	inspector, replay             string
	parts, trials                 int
}

func Study() command.Command {
	var s gaugeStudyFlags
	return command.Command{
		Name: "study", Args: "[NAME]",
		Summary: "how well a gauge repeats, and how true it reads; with a gauge's name it is kept and used from then on",
		Example: "gauge study --repeats repeats.csv --master 0.5in --tolerance 0.001in --resolution 0.00005in",
		Flags:   s.flags,
		Run:     s.run,
	}
}

func (s *gaugeStudyFlags) flags(f *command.Flags) {
	f.StringVar(&s.values, "values", "", "repeats of one thing from a file, - for standard input: a plain number a line, no unit")
	f.StringVar(&s.crossed, "crossed", "", "every inspector reads every part in every trial: CSV part,inspector,trial,value of plain numbers")
	f.StringVar(&s.repeats, "repeats", "", "one person reads parts again and again: CSV part,value of lengths; the part called master is the master")
	f.StringVar(&s.holding, "holding", "", "one tool seated anew before each round, every flute read once: CSV seat,flute,value of lengths")
	f.StringVar(&s.held, "held", "", "with --holding, how the tool was held: "+strings.Join(holdingNames(), ", ")+"; with a bench it is kept and used from then on")
	f.StringVar(&s.master, "master", "", "size of the master, for the bias")
	f.StringVar(&s.tolerance, "tolerance", "", "the whole tolerance, or the limit, that is judged with the gauge; with --crossed a plain number")
	f.StringVar(&s.resolution, "resolution", "", "one step of the gauge (default: the bench file's); with --values a plain number")
	f.StringVar(&s.inspector, "inspector", "", "who read")
	f.IntVar(&s.parts, "parts", 5, "at the bench: how many parts to read; 0 for the master alone")
	f.IntVar(&s.trials, "trials", 3, "at the bench: how often each part, and the master, is read")
	f.StringVar(&s.replay, "replay", "", "play a recording of the gauge's line in place of its port")
	s.Places.Flags(f)
	s.Units.Flags(f)
}

func (s *gaugeStudyFlags) run(e command.Env, f *command.Flags) error {
	b, err := s.ReadBench(e)
	if err != nil {
		return err
	}
	unit, err := s.UnitOr(b.Unit)
	if err != nil {
		return err
	}
	k := &studyKeeper{env: e, places: &s.Places, bench: b, inspector: s.inspector}
	if len(f.Args) == 1 {
		if k.gauge, err = b.Gauge(f.Args[0]); err != nil {
			return command.Usage(err)
		}
	}
	switch given := strings.Join(s.sources(), " and "); given {
	case "--values":
		return s.ofValues(k, unit)
	case "--crossed":
		return s.ofCrossed(k, unit)
	case "--repeats":
		return s.ofRepeats(k, unit)
	case "--holding":
		return s.ofHolding(k, unit)
	case "":
		if k.gauge.Name == "" {
			return command.Hint(command.Usagef("%s: nothing to study", f.Path), "name a gauge to study it at the bench, or give a file with --values, --crossed, --repeats or --holding")
		}
		return s.atBench(k, unit)
	default:
		return command.Usagef("%s: one study at a time, not %s", f.Path, given)
	}
}

// sources lists the flags given of those that say what is studied.
func (s *gaugeStudyFlags) sources() []string {
	var given []string
	for _, source := range []struct{ flag, file string }{{"--values", s.values}, {"--crossed", s.crossed}, {"--repeats", s.repeats}, {"--holding", s.holding}} {
		if source.file != "" {
			given = append(given, source.flag)
		}
	}
	return given
}

// without refuses flags that mean nothing to a study.
func without(source string, flags map[string]string) error {
	for _, name := range slices.Sorted(maps.Keys(flags)) {
		if flags[name] != "" {
			return command.Usagef("--%s does not go with --%s", name, source)
		}
	}
	return nil
}

// plainNumber reads a flag that is a number without a unit; left out it is 0.
func plainNumber(flag, text string) (float64, error) {
	if text == "" {
		return 0, nil
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x > 0) || math.IsInf(x, 1) {
		return 0, command.Usagef("--%s %q: want a plain number above zero, without a unit", flag, text)
	}
	return x, nil
}

func (s *gaugeStudyFlags) ofValues(k *studyKeeper, unit length.Unit) error {
	if err := without("values", map[string]string{"master": s.master, "tolerance": s.tolerance}); err != nil {
		return err
	}
	resolution, err := plainNumber("resolution", s.resolution)
	if err != nil {
		return err
	}
	values, err := command.ReadNumbers(k.env, s.values)
	if err != nil {
		return err
	}
	sum, err := study.Summarise(values, resolution)
	if err != nil {
		return command.Usage(fmt.Errorf("%s: %w", s.values, err))
	}
	whole := struct {
		study.Summary
		*keptStudy
	}{Summary: sum}
	return s.tell(k, record.Study{SD: sum.SD * unit.Size().Micrometres(), DF: sum.N - 1}, &whole, &whole.keptStudy, func(out io.Writer) {
		w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintf(w, "values\t%d\nmean\t%g\nstandard deviation\t%g\n", sum.N, sum.Mean, sum.SD)
		if sum.Lag1 != nil {
			fmt.Fprintf(w, "each value against the one before (lag-1)\t%.4f\n", *sum.Lag1)
		}
		w.Flush()
		for _, n := range sum.Outliers {
			fmt.Fprintf(out, "value %d stands out (Grubbs, 5 %%); it was kept: find out why before it is left out\n", n)
		}
	})
}

// tell keeps a study where it is of a gauge by name, and prints it: whole is all of it for a program, with where it was kept.
func (s *gaugeStudyFlags) tell(k *studyKeeper, r record.Study, whole any, kept **keptStudy, show func(io.Writer)) (err error) {
	if *kept, err = k.keep(r); err != nil {
		return err
	}
	if s.JSON {
		return command.PrintJSON(k.env, whole)
	}
	show(k.env.Stdout)
	(*kept).print(k.env)
	return nil
}

func (s *gaugeStudyFlags) ofCrossed(k *studyKeeper, unit length.Unit) error {
	if err := without("crossed", map[string]string{"master": s.master, "resolution": s.resolution}); err != nil {
		return err
	}
	tolerance, err := plainNumber("tolerance", s.tolerance)
	if err != nil {
		return err
	}
	var readings []study.Trial
	err = command.ReadFile(k.env, s.crossed, func(in io.Reader) (err error) {
		readings, err = study.ReadCrossed(in)
		return err
	})
	if err != nil {
		return err
	}
	c, err := study.AnalyseCrossed(readings, tolerance)
	if err != nil {
		return command.Usage(fmt.Errorf("%s: %w", s.crossed, err))
	}
	// What inspectors differ by stays in the doubt of what is read from now on.
	whole := struct {
		study.Crossed
		*keptStudy
	}{Crossed: c}
	kept := record.Study{SD: c.GaugeSD * unit.Size().Micrometres(), DF: c.GaugeDF, Detail: map[string]any{"crossed": c}}
	return s.tell(k, kept, &whole, &whole.keptStudy, func(out io.Writer) { printCrossed(out, c) })
}

func printCrossed(out io.Writer, c study.Crossed) {
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "standard deviation\t\t95 % limits")
	for _, row := range []struct {
		name   string
		sd     float64
		within *study.Interval
	}{
		{"equipment variation (EV): one person repeating", c.EquipmentSD, &c.Equipment},
		{"appraiser variation (AV): between inspectors", c.AppraiserSD, &c.Appraiser},
		{"appraiser by part: inspectors who differ on some parts only", c.InteractionSD, c.Interaction},
		{"repeatability and reproducibility (GRR): EV, AV and both by part", c.GaugeSD, &c.Gauge},
		{"part variation (PV)", c.PartSD, &c.Part},
		{"total variation (TV)", c.TotalSD, nil},
	} {
		limits := ""
		if row.within != nil {
			limits = fmt.Sprintf("%.6g to %.6g", row.within.Lower, row.within.Upper)
		}
		fmt.Fprintf(w, "%s\t%.6g\t%s\n", row.name, row.sd, limits)
	}
	w.Flush()
	if c.Missing > 0 {
		fmt.Fprintf(out, "%d readings of the full design are missing\n", c.Missing)
	}
	if c.Pooled {
		fmt.Fprintln(out, "appraiser by part is no more than noise (p over 0.25) and counts as equipment variation")
	}
	fmt.Fprintf(out, "GRR is %.1f %% of the total variation of the study\n", c.PercentOfStudy)
	few := ""
	if c.Categories < 5 {
		few = "; five or more are usually asked for (common practice)"
	}
	fmt.Fprintf(out, "\nnumber of distinct categories (ndc), which the gauge can tell apart: %d%s\n", c.Categories, few)
	if c.PercentOfTolerance != nil {
		fmt.Fprintf(out, "GRR is %.1f %% of the tolerance (under 10 good, over 30 not fit; common practice)\n", *c.PercentOfTolerance)
	}
	fmt.Fprintln(out)
	fmt.Fprintln(w, "source\tdf\tsum of squares\tmean square\tF\tp")
	for _, row := range c.Anova {
		fmt.Fprintf(w, "%s\t%d\t%.6g\t%.6g\t%s\t%s\n", row.Source, row.DF, row.SS, row.MS, optional(row.F, "%.4g"), optional(row.P, "%.4g"))
	}
	w.Flush()
}

// optional prints a number that may be missing.
func optional(f *float64, format string) string {
	if f == nil {
		return ""
	}
	return fmt.Sprintf(format, *f)
}

// studyKeeper keeps a study in the ledger where it is of a gauge by name.
type studyKeeper struct {
	env       command.Env
	places    *command.Places
	bench     *bench.File
	gauge     bench.GaugeTable // without a name: nothing is kept
	inspector string
}

// keptStudy says where a study is kept.
type keptStudy struct {
	Gauge    string `json:"gauge"`
	Sequence uint64 `json:"sequence"`
	Head     string `json:"head"`
}

// keep records a study; nil without a gauge's name.
func (k *studyKeeper) keep(s record.Study) (*keptStudy, error) {
	if k.gauge.Name == "" {
		return nil, nil
	}
	if err := k.bench.CheckInspector(k.inspector); err != nil {
		return nil, command.Usage(err)
	}
	l, err := k.places.OpenLedger(k.env, k.bench)
	if err != nil {
		return nil, err
	}
	s.Date, s.Who = k.env.Now().UTC().Format(time.DateOnly), k.inspector
	r, err := record.SaveStudy(l, k.gauge.Name, s)
	if err != nil {
		return nil, err
	}
	return &keptStudy{k.gauge.Name, r.Seq, r.Head().String()}, nil
}

func (k *keptStudy) print(e command.Env) {
	if k != nil {
		fmt.Fprintf(e.Stdout, "kept for gauge %q and used from now on: record %d, head %s\n", k.Gauge, k.Sequence, k.Head)
	}
}
