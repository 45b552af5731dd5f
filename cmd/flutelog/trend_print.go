package main

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"

	"flutelog/inspect/report"
	"flutelog/inspect/trend"
)

// chartColumns is how wide a chart in text is.
const chartColumns = 78

// show draws, if asked, and prints a trend in the form asked for.
func (t *trendFlags) show(e env, r trendResult) error {
	if t.svg != "" {
		err := writeWhole(e, t.svg, func(w io.Writer) error {
			_, err := io.WriteString(w, r.drawing())
			return err
		})
		if err != nil {
			return err
		}
		fmt.Fprintf(e.stderr, "flutelog: chart drawn into %s\n", t.svg)
	}
	switch {
	case t.json:
		return printJSON(e, r)
	case t.csv:
		return r.csv(e)
	}
	r.print(e)
	return nil
}

func (r trendResult) print(e env) {
	if r.What != "" {
		fmt.Fprintf(e.stdout, "%s; unit: %s\n", r.What, unitWords(r.Unit))
	}
	if r.FrozenOn != "" {
		fmt.Fprintf(e.stdout, "limits frozen on %s\n", r.FrozenOn)
	}
	fmt.Fprint(e.stdout, r.Chart.Text(chartColumns))
	switch {
	case r.Life:
		fmt.Fprintln(e.stdout, "a diameter only shrinks: this is a life, the lines are no limits")
	case !r.Told():
		fmt.Fprintf(e.stdout, "%d points: too few to say that there is no signal, %d are needed\n", r.Count, trend.ToldFrom)
	case len(r.Signals) == 0:
		fmt.Fprintln(e.stdout, "no signal: it runs as it always has")
	}
	if r.Dependent && !r.Life {
		fmt.Fprintf(e.stdout, "each point follows the one before (correlation %.2f, more than chance allows): signals come too often or too seldom; look what they have in common\n", *r.Lag1)
	}
	for _, s := range r.Signals {
		fmt.Fprintf(e.stdout, "signal: %s%s\n", s.Text, r.where(s))
	}
	r.printPerformance(e)
	if p := r.Paired; p != nil {
		fmt.Fprintf(e.stdout, "after less before, mean of %d regrinds: %s: %s\n", p.N, r.interval(p.Difference), pairedWords(*p))
	}
	if r.words != "" {
		fmt.Fprintf(e.stdout, "wheel: %s\n", r.words)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(e.stdout, "note: %s\n", n)
	}
	if r.Wheel != nil && r.Wheel.State == trend.WheelWearing {
		fmt.Fprintf(e.stdout, "\n%s\n", grindingCautions)
	}
}

func unitWords(unit string) string {
	if unit == "1" {
		return "parts of the whole land"
	}
	return unit
}

// where names the inspection that a signal ends with, of those that are drawn.
func (r trendResult) where(s trend.Signal) string {
	i := s.Points[len(s.Points)-1] - r.First
	if i < 0 || i >= len(r.Points) {
		return ""
	}
	return fmt.Sprintf(" (to %s, %s)", r.Points[i].Inspection, sheetDay(r.Points[i].Closed))
}

func (r trendResult) number(x float64) string { return strconv.FormatFloat(x, 'f', r.decimals, 64) }

func (r trendResult) interval(i trend.Interval) string {
	return fmt.Sprintf("%s (95 %% limits %s to %s)", r.number(i.Value), r.number(i.Lower), r.number(i.Upper))
}

func (r trendResult) printPerformance(e env) {
	p := r.Performance
	if p == nil {
		return
	}
	fmt.Fprintf(e.stdout, "mean %s, standard deviation %s, of %d; beyond the limits %.2g %% by the fitted distribution\n", r.number(p.Mean), r.number(p.SD), p.N, 100*p.Beyond)
	if p.Ppu != nil {
		r.printIndex(e, "the upper limit "+r.number(*p.Most)+", Ppu", p.Ppu)
	}
	if p.Ppl != nil {
		r.printIndex(e, "the lower limit "+r.number(*p.Least)+", Ppl", p.Ppl)
	}
	if p.Pp != nil {
		r.printIndex(e, "both limits, Pp", p.Pp)
		r.printIndex(e, "the nearer limit, Ppk", p.Ppk)
	}
}

func (r trendResult) printIndex(e env, against string, i *trend.Interval) {
	fmt.Fprintf(e.stdout, "performance against %s: %.2f (95 %% limits %.2f to %.2f; at 1 the limit is three standard deviations away)\n", against, i.Value, i.Lower, i.Upper)
}

func pairedWords(p trend.Paired) string {
	switch {
	case !p.Changed:
		return "no change shows above the scatter"
	case p.Difference.Value < 0:
		return "the grind brings it down"
	}
	return "the grind brings it up"
}

// csv prints the points that are drawn, with the limits in force.
func (r trendResult) csv(e env) error {
	w := csv.NewWriter(e.stdout)
	w.UseCRLF = true
	w.Write([]string{"point", "inspection", "closed", "value", "unit", "centre", "lower", "upper", "signal"})
	for i, x := range r.Chart.Points {
		var p trendPoint
		if i < len(r.Points) {
			p = r.Points[i]
		}
		number := r.First + i
		w.Write([]string{
			strconv.Itoa(number), report.Guarded(p.Inspection), p.Closed, exact(x), r.Unit, exact(r.Center), exact(r.Lower), exact(r.Upper),
			strconv.FormatBool(r.signalled(number)),
		})
	}
	w.Flush()
	return w.Error()
}

// exact writes a number so that it reads back as it is, without an exponent.
func exact(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func (r trendResult) signalled(point int) bool {
	return slices.ContainsFunc(r.Signals, func(s trend.Signal) bool { return !s.Spread && slices.Contains(s.Points, point) })
}

// drawing returns the chart as a picture.
func (r trendResult) drawing() string {
	title := r.What
	if title == "" {
		title = "trend"
	}
	c := report.Chart{
		Title: title, Unit: r.Unit, Decimals: r.decimals, Values: r.Chart.Points,
		From: fmt.Sprint(r.First), To: fmt.Sprint(r.First + len(r.Chart.Points) - 1),
		Centre: &r.Center, Lower: &r.Lower, Upper: &r.Upper,
	}
	if r.Life {
		c.Centre, c.Lower, c.Upper = nil, nil, nil
	}
	if p := r.Performance; p != nil {
		c.Least, c.Most = p.Least, p.Most
	}
	if len(r.Points) > 0 {
		c.From, c.To = sheetDay(r.Points[0].Closed), sheetDay(r.Points[len(r.Points)-1].Closed)
	}
	for i := range r.Chart.Points {
		if r.signalled(r.First + i) {
			c.Signals = append(c.Signals, i+1)
		}
	}
	return string(c.Draw())
}
