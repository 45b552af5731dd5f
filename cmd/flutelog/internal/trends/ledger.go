package trends

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/statistics"
	"flutelog/inspect/trend"
)

// subject is what a trend is of.
type subject struct {
	name, title string
	skewed      bool                                                                   // never below zero, with its long tail upward
	life        bool                                                                   // it only shrinks: a life, and no control chart
	figure      func(f record.Figures, before *record.Figures) (*record.Figure, error) // nil: there is none
}

var subjects = []subject{
	{name: "tir", title: "radial run-out (TIR)", skewed: true, figure: read(func(f record.Figures) json.RawMessage { return f.TIR })},
	{name: "ratio", title: "primary share of the land, worst flute", figure: read(func(f record.Figures) json.RawMessage { return f.Ratio })},
	{name: "diameter", title: "diameter", life: true, figure: read(func(f record.Figures) json.RawMessage { return f.Diameter })},
	{name: "relief", title: "primary relief", figure: read(func(f record.Figures) json.RawMessage { return f.Relief })},
	{name: "stock", title: "stock removed by a regrind, radially", figure: record.StockRemoved},
	{name: "residual", title: "tooth-to-tooth error, run-out without the offset", skewed: true, figure: read(func(f record.Figures) json.RawMessage { return f.Residual })},
}

func read(text func(record.Figures) json.RawMessage) func(record.Figures, *record.Figures) (*record.Figure, error) {
	return func(f record.Figures, _ *record.Figures) (*record.Figure, error) {
		return record.ReadFigure(text(f))
	}
}

func subjectNames() []string {
	var names []string
	for _, s := range subjects {
		names = append(names, s.name)
	}
	return names
}

func findSubject(name string) (subject, error) {
	for _, s := range subjects {
		if s.name == name {
			return s, nil
		}
	}
	return subject{}, command.Usagef("--what %q: want %s", name, strings.Join(subjectNames(), ", "))
}

// trendScan goes through the ledger for one trend. Its size does not grow with the inspections, but for pairs
// where they are asked for and the tools that are in a grind.
type trendScan struct {
	picked
	subject
	unit   length.Unit
	values *trend.Accumulator
	points []trendPoint // of the last values
	last   int          // how many of them are kept

	paired        bool
	before, after []float64
	diameters     map[string]length.Length // of a life: the last of each tool
	losses        []length.Length          // and what regrinds took off, the last ones

	gauges  map[string]bool // that the values otherwise picked were read with; nil keeps none
	wheel   trend.Wheel     // since the last dress
	dresses []ledger.Record // of it, those still to come
	bench   string          // the one scanned
	seen    int             // benches with inspections of this trend

	least, most *inspect.Quantity // the limits of all inspections
	differ      bool              // which have several
	sample      inspect.Quantity  // one value, for its unit
}

func (s *trendScan) visit(r record.Regrind) error {
	if !s.tools(r) || string(r.Stage) != s.Stage || !matches(s.picked.Wheel, r.Wheel) {
		return nil
	}
	if s.bench != r.Bench {
		s.bench, s.wheel = r.Bench, trend.Wheel{}
		s.seen++
	}
	s.dressed(r.Bench, r.Seq)
	if err := s.wears(r.Figures); err != nil {
		return fmt.Errorf("inspection %s: %w", r.Inspection, err)
	}
	if err := s.add(r.Figures, r.Before); err != nil {
		return fmt.Errorf("inspection %s: %w", r.Inspection, err)
	}
	return nil
}

// dressed passes the dresses before a record of a bench; its wear is counted anew from the last of them.
func (s *trendScan) dressed(bench string, seq uint64) {
	for len(s.dresses) > 0 && (s.dresses[0].Bench < bench || s.dresses[0].Bench == bench && s.dresses[0].Seq < seq) {
		if s.dresses[0].Bench == bench {
			s.wheel = trend.Wheel{}
		}
		s.dresses = s.dresses[1:]
	}
}

// aboutWheel says whether one wheel is looked at: by name, or as the one in use since a day.
func (s *trendScan) aboutWheel() bool { return s.picked.Wheel != "" || s.Since != "" }

// wears takes what an inspection says of the wheel.
func (s *trendScan) wears(f record.Figures) error {
	if !s.aboutWheel() {
		return nil
	}
	edges, err := record.ReadEdges(f.Edges)
	if err != nil || edges == nil || !matches(s.Gauge, edges.Gauge) {
		return err
	}
	order := edges.LastRound
	if order == nil { // an older record: as it is usual
		order = geometry.LastRound(nil, len(edges.Heights))
	}
	return s.wheel.Add(edges.Heights, order, edges.Resolution)
}

// add takes what an inspection says of the trend's subject.
func (s *trendScan) add(f record.Figures, before *record.Figures) error {
	figure, err := s.figure(f, before)
	if err != nil || figure == nil {
		return err
	}
	if s.gauges != nil && figure.Gauge != "" {
		s.gauges[figure.Gauge] = true
	}
	if !matches(s.Gauge, figure.Gauge) {
		return nil
	}
	value, err := s.number(figure.Value)
	if err != nil {
		return err
	}
	if err := s.values.Add(value); err != nil {
		return err
	}
	s.point(f, figure.Verdict)
	s.limits(figure)
	if s.life {
		s.loses(f.Tool, figure.Value.Length())
	}
	if s.paired && before != nil {
		return s.pair(*before, value)
	}
	return nil
}

// mostLosses is how many of the last regrinds a life is foreseen by.
const mostLosses = 200

// loses takes what a regrind took off a tool's diameter. What was bigger than before was another tool, or misread.
func (s *trendScan) loses(tool string, now length.Length) {
	if was, ok := s.diameters[tool]; ok && now < was {
		if s.losses = append(s.losses, was-now); len(s.losses) > mostLosses {
			s.losses = s.losses[1:]
		}
	}
	if s.diameters == nil {
		s.diameters = map[string]length.Length{}
	}
	s.diameters[tool] = now
}

// lifeLeft foresees the regrinds that one tool has left, down to its smallest useful diameter.
func (s *trendScan) lifeLeft(r *trendResult) error {
	if len(s.diameters) != 1 || s.least == nil || len(s.losses) == 0 {
		return nil
	}
	for _, now := range s.diameters {
		smallest := s.least.Length()
		if now < smallest {
			r.note("the diameter is under the smallest useful one, %s, already", smallest.In(s.unit))
			return nil
		}
		left, err := trend.EstimateLife(s.losses, now, smallest, statistics.MeanLength(s.losses))
		if err != nil {
			return err
		}
		r.Left = &left
	}
	return nil
}

// pair keeps a value beside what it was before the grind.
func (s *trendScan) pair(before record.Figures, value float64) error {
	earlier, err := s.figure(before, nil)
	if err != nil || earlier == nil {
		return err
	}
	was, err := s.number(earlier.Value)
	s.before, s.after = append(s.before, was), append(s.after, value)
	return err
}

// number returns a figure in the trend's unit, for statistics: the nearest to the exact one.
func (s *trendScan) number(q inspect.Quantity) (float64, error) {
	if l := q.Length(); l != 0 {
		return float64(l) / float64(s.unit.Size()), nil
	}
	return strconv.ParseFloat(string(q.Number(s.unit)), 64)
}

// point keeps which inspection the value is of.
func (s *trendScan) point(f record.Figures, v inspect.Verdict) {
	if len(s.points) >= 2*s.last {
		s.points = append(s.points[:0], s.points[s.last:]...)
	}
	s.points = append(s.points, trendPoint{f.Inspection, f.Closed, v})
}

// limits keeps the limits that the inspections share.
func (s *trendScan) limits(f *record.Figure) {
	if n, _, _, _ := s.values.Overall(); n == 1 {
		s.sample, s.least, s.most = f.Value, f.Least, f.Most
		return
	}
	s.differ = s.differ || !same(s.least, f.Least) || !same(s.most, f.Most)
}

func same(a, b *inspect.Quantity) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

func (t *trendFlags) ofLedger(e command.Env) error {
	o, err := t.OpenIn(e, &t.Units)
	if err != nil {
		return err
	}
	l := o.Ledger
	s, err := t.newScan(o.Unit, e.Now())
	if err != nil {
		return err
	}
	if t.compute {
		return keepLimits(e, l, t.what, record.FixedLimits{Chart: t.named(s)}, nil)
	}
	if s.dresses, err = t.wheelDresses(l, s); err != nil {
		return err
	}
	p := command.NewProgress(e)
	defer p.End()
	n := 0
	for r, err := range record.Regrinds(l) {
		n++
		p.Say(func() string { return fmt.Sprintf("%d inspections read", n) })
		if err == nil {
			err = s.visit(r)
		}
		if err := command.Damaged(e, err); err != nil {
			return err
		}
	}
	s.dressed(s.bench, math.MaxUint64)
	r, err := t.result(l, s)
	if errors.Is(err, statistics.ErrTooFew) {
		fmt.Fprintf(e.Stderr, "flutelog: %s, %s: %s\n", s.title, s.words(), s.tooFew())
		return command.StatusOpen
	}
	if err != nil {
		return err
	}
	if t.fix {
		limits, err := s.fixed(r)
		if err != nil {
			return command.Usagef("--fix-limits: %w", err)
		}
		if err := keepLimits(e, l, t.what, record.FixedLimits{Chart: t.named(s), Unit: r.Unit}, &limits); err != nil {
			return err
		}
	}
	return t.show(e, r)
}

// fixed are the limits of a chart, to be kept.
func (s *trendScan) fixed(r trendResult) (trend.Fixed, error) {
	if s.life {
		return trend.Fixed{}, errors.New("a diameter only shrinks; it has a life, and no limits of its own")
	}
	limits, err := r.Chart.Fix()
	if errors.Is(err, statistics.ErrNoSpread) {
		return limits, errors.New("no point differs from another; limits need scatter")
	}
	return limits, err
}

// wheelDresses are the dresses of the wheel that is looked at, of the benches that are; none where it is not one wheel.
func (t *trendFlags) wheelDresses(l *ledger.Ledger, s *trendScan) ([]ledger.Record, error) {
	if s.picked.Wheel == "" {
		return nil, nil
	}
	dresses, err := record.Dresses(l, s.picked.Wheel)
	slices.SortFunc(dresses, func(a, b ledger.Record) int {
		return cmp.Or(strings.Compare(a.Bench, b.Bench), cmp.Compare(a.Seq, b.Seq))
	})
	return slices.DeleteFunc(dresses, func(r ledger.Record) bool { return !matches(s.Bench, r.Bench) }), err
}

func (t *trendFlags) newScan(unit length.Unit, now time.Time) (*trendScan, error) {
	of, err := findSubject(t.what)
	if err != nil {
		return nil, err
	}
	p, err := t.choice.pick(unit, now)
	if err != nil {
		return nil, err
	}
	if of.name == "stock" && (t.paired || p.Stage != string(inspect.After)) {
		return nil, command.Usagef("--what stock compares after the grind with before it already: leave out --paired and --stage")
	}
	if t.paired && p.Stage != string(inspect.After) {
		return nil, command.Usagef("--paired compares after the grind with before it: leave out --stage")
	}
	values, err := t.accumulator(t.last)
	if err == nil && of.skewed && trend.Kind(t.chart) == trend.Individuals {
		values, err = trend.NewSkewed(t.last)
	}
	if err != nil {
		return nil, err
	}
	return &trendScan{picked: p, subject: of, unit: unit, values: values, last: t.last, paired: t.paired}, nil
}

// named says which chart of which inspections it is; limits are fixed for that.
func (t *trendFlags) named(s *trendScan) string {
	name := t.chart
	if t.size > 0 {
		name += fmt.Sprintf(" of %d", t.size)
	}
	return name + ", " + s.words()
}

// tooFew says what there is, where that makes no chart.
func (s *trendScan) tooFew() string {
	switch n, mean, _, _ := s.values.Overall(); n {
	case 0:
		return "nothing read yet"
	case 1:
		unit := s.sample.UnitName(s.unit)
		return fmt.Sprintf("one value, %s, too few for a chart", strings.TrimSpace(trendResult{decimals: decimalsOf(unit)}.number(mean)+" "+unit))
	default:
		return fmt.Sprintf("%d values, too few for a chart", n)
	}
}

// benchHint follows a note that several benches are charted, where flags can be given.
const (
	benchHint = "; --of-bench looks at one"
	limitHint = ", or give --most or --least"
)

// result turns what was scanned into the trend.
func (t *trendFlags) result(l *ledger.Ledger, s *trendScan) (trendResult, error) {
	r := trendResult{What: s.title + ", " + s.words(), Unit: s.sample.UnitName(s.unit), decimals: decimalsOf(s.sample.UnitName(s.unit))}
	var fixed *trend.Fixed
	var err error
	if !t.fix { // else they are computed anew
		if fixed, r.FixedOn, r.FixedBy, err = limitsInForce(l, t.what, t.named(s), r.Unit); err != nil {
			return r, err
		}
	}
	if r.Chart, err = s.values.Chart(fixed); err != nil {
		return r, err
	}
	if s.life {
		r.Life, r.Chart.Signals = true, nil
		if s.picked.Tool != "" {
			tool, err := record.FindTool(l, s.picked.Tool)
			if err != nil {
				return r, err
			}
			drawn := papers.Source{Unit: s.unit}.Life(tool.Inspections, true)
			r.life = &drawn
		}
		if err := s.lifeLeft(&r); err != nil {
			return r, err
		}
	}
	if s.seen > 1 {
		r.note("%d benches stand one after the other here%s", s.seen, benchHint)
	}
	if trend.Kind(t.chart) == trend.Individuals {
		r.Points = s.points[len(s.points)-len(r.Chart.Points):]
	}
	if err := t.performance(&r, s); err != nil {
		return r, err
	}
	if err := s.pairs(&r); err != nil {
		return r, err
	}
	return r, s.wear(&r)
}

// decimalsOf returns how many decimals a figure in a unit is printed with.
func decimalsOf(unit string) int {
	switch unit {
	case "deg":
		return 2
	case "1":
		return 3
	}
	return length.Unit(unit).Decimals()
}

func (t *trendFlags) performance(r *trendResult, s *trendScan) error {
	least, most, err := t.plainLimits()
	if err != nil {
		return err
	}
	if least == nil && most == nil {
		if s.differ {
			r.note("these inspections have different limits, of which none is drawn: for the performance choose tools of one%s", limitHint)
			return nil
		}
		for _, l := range []struct {
			to   **float64
			from *inspect.Quantity
		}{{&least, s.least}, {&most, s.most}} {
			if l.from == nil {
				continue
			}
			x, err := s.number(*l.from)
			if err != nil {
				return err
			}
			*l.to = &x
		}
	}
	return r.perform(s.values, least, most)
}

func (s *trendScan) pairs(r *trendResult) error {
	if !s.paired {
		return nil
	}
	p, err := trend.Compare(s.before, s.after)
	if errors.Is(err, statistics.ErrTooFew) || errors.Is(err, statistics.ErrNoSpread) {
		r.note("before and after: %v", err)
		return nil
	}
	r.Paired = &p
	return err
}

// wear says what the tools since the last dress say of the wheel, where one wheel is looked at.
func (s *trendScan) wear(r *trendResult) error {
	if !s.aboutWheel() {
		return nil
	}
	w := s.wheel.Trend()
	text, err := w.Text(s.unit)
	r.Wheel, r.words = &w, text
	return err
}
