package trends

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/output"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/report"
	"flutelog/inspect/trend"
)

// chartColumns is how wide a chart in text is.
const chartColumns = 78

// show draws, if asked, and prints a trend in the form asked for.
func (t *trendFlags) show(e command.Env, r trendResult) error {
	if t.svg != "" {
		err := command.WriteWhole(e, t.svg, func(w io.Writer) error {
			_, err := io.WriteString(w, r.picture())
			return err
		})
		if err != nil {
			return err
		}
		fmt.Fprintf(e.Stderr, "flutelog: chart drawn into %s\n", t.svg)
	}
	if t.print != "" {
		if err := command.WriteWhole(e, t.print, func(w io.Writer) error { return paper.WriteCharts(w, r.paper(t.where())) }); err != nil {
			return err
		}
		fmt.Fprintf(e.Stderr, "flutelog: chart to print written into %s\n", t.print)
	}
	switch {
	case t.JSON:
		return command.PrintJSON(e, r)
	case t.csv:
		return r.csv(e)
	}
	r.print(e)
	return nil
}

func (r trendResult) print(e command.Env) {
	if r.What != "" {
		fmt.Fprintf(e.Stdout, "%s; unit: %s\n", r.What, unitWords(r.Unit))
	}
	if r.FixedOn != "" {
		fmt.Fprintf(e.Stdout, "limits %s\n", r.fixed())
	}
	draw := r.Chart.Text
	if r.Life {
		draw = r.Chart.LifeText
	}
	fmt.Fprint(e.Stdout, draw(chartColumns, r.rejected))
	switch {
	case r.Life:
		fmt.Fprintln(e.Stdout, "a diameter only shrinks: this is a life, and has no limits of a chart")
		if l := r.Left; l != nil {
			fmt.Fprintf(e.Stdout, "regrinds left to the smallest useful diameter: %d (95 %% from %d to %d), %s\n", l.Regrinds, l.Least, l.Most, l.Note)
		}
	case !r.Told():
		fmt.Fprintf(e.Stdout, "%d points: too few to say that there is no signal, %d are needed\n", r.Count, trend.ToldFrom)
	case len(r.Signals) == 0:
		fmt.Fprintln(e.Stdout, "no signal: it runs as it always has")
	}
	if r.Dependent && !r.Life {
		fmt.Fprintf(e.Stdout, "each point follows the one before (correlation %.2f, more than chance allows): signals come too often or too seldom; look what they have in common\n", *r.Lag1)
	}
	for _, s := range r.Signals {
		fmt.Fprintf(e.Stdout, "signal: %s%s\n", s.Text, r.where(s))
	}
	r.printPerformance(e)
	if p := r.Paired; p != nil {
		fmt.Fprintf(e.Stdout, "after less before, mean of %d regrinds: %s: %s\n", p.N, r.interval(p.Difference), pairedWords(*p))
	}
	if r.words != "" {
		fmt.Fprintf(e.Stdout, "wheel: %s\n", r.words)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(e.Stdout, "note: %s\n", n)
	}
	if r.Wheel != nil && r.Wheel.State == trend.WheelWearing {
		fmt.Fprintf(e.Stdout, "\n%s\n", output.GrindingCautions)
	}
}

// fixed says when its limits were fixed, and by whom where that was told.
func (r trendResult) fixed() string {
	text := "fixed on " + r.FixedOn
	if r.FixedBy != "" {
		text += " by " + r.FixedBy
	}
	return text
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
	return fmt.Sprintf(" (to %s, %s)", r.Points[i].Inspection, output.Day(r.Points[i].Closed))
}

func (r trendResult) number(x float64) string { return strconv.FormatFloat(x, 'f', r.decimals, 64) }

func (r trendResult) interval(i trend.Interval) string {
	return fmt.Sprintf("%s (95 %% limits %s to %s)", r.number(i.Value), r.number(i.Lower), r.number(i.Upper))
}

func (r trendResult) printPerformance(e command.Env) {
	p := r.Performance
	if p == nil {
		return
	}
	fmt.Fprintf(e.Stdout, "mean %s, standard deviation %s, of %d; beyond the limits %.2g %% by the fitted distribution\n", r.number(p.Mean), r.number(p.SD), p.N, 100*p.Beyond)
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

func (r trendResult) printIndex(e command.Env, against string, i *trend.Interval) {
	fmt.Fprintf(e.Stdout, "performance against %s: %.2f (95 %% limits %.2f to %.2f; at 1 the limit is three standard deviations away)\n", against, i.Value, i.Lower, i.Upper)
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
func (r trendResult) csv(e command.Env) error {
	w := csv.NewWriter(e.Stdout)
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
			strconv.FormatBool(r.Chart.Signalled(number)),
		})
	}
	w.Flush()
	return w.Error()
}

// exact writes a number so that it reads back as it is, without an exponent.
func exact(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// rejected says whether a point that is drawn was rejected when it was judged.
func (r trendResult) rejected(point int) bool {
	i := point - r.First
	return i >= 0 && i < len(r.Points) && r.Points[i].Verdict == inspect.Reject
}

// picture returns the chart as a drawing that stands alone.
func (r trendResult) picture() string {
	svg := string(r.charted(true).Drawing.SVG)
	head, rest, _ := strings.Cut(svg, ">")
	return head + ` font-family="sans-serif" color="#000" style="background: #fff"><style>` + mark.Style + draw.Style + "</style>" + rest
}

// where says what the values are from.
func (t *trendFlags) where() string {
	if t.values != "" {
		return "Values of " + filepath.Base(t.values)
	}
	return "From this bench's ledger"
}

// charted returns the chart as it is drawn, with what is said of it; wide is for paper.
func (r trendResult) charted(wide bool) paper.Charted {
	title := r.What
	if title == "" {
		title = "trend"
	}
	s := papers.Series{Title: title, Unit: cmp.Or(unitWords(r.Unit), "value"), Decimals: r.decimals, Limits: &r.Chart, First: r.First, Wide: wide}
	if strings.HasPrefix(r.What, "radial run-out") {
		s.Least = new(float64)
	}
	if r.Life {
		s.Limits = nil
	}
	for i, x := range r.Chart.Points {
		v := papers.Value{Number: x, Closed: strconv.Itoa(r.First + i)}
		if i < len(r.Points) {
			v.Inspection, v.Closed = r.Points[i].Inspection, r.Points[i].Closed
			v.Undecided, v.Rejected = r.Points[i].Verdict == inspect.Undecided, r.Points[i].Verdict == inspect.Reject
		}
		if p := r.Performance; p != nil {
			v.Least, v.Most = p.Least, p.Most
		}
		s.Values = append(s.Values, v)
	}
	return s.Chart()
}

// noted is the chart with its signals and notes; of one tool's diameter it is its life.
func (r trendResult) noted(wide bool) paper.Charted {
	one := r.charted(wide)
	if r.life != nil {
		one = *r.life
	}
	for _, s := range r.Signals {
		one.Notes = append(one.Notes, "Signal: "+s.Text+r.where(s)+".")
	}
	if r.FixedOn != "" {
		one.Notes = append(one.Notes, "The limits were "+r.fixed()+".")
	}
	if r.words != "" {
		one.Notes = append(one.Notes, "Wheel: "+r.words+".")
	}
	for _, n := range r.Notes {
		one.Notes = append(one.Notes, n+".")
	}
	return one
}

// paper is the chart to print.
func (r trendResult) paper(where string) paper.Charts {
	c := paper.Charts{Title: "Trend", Charts: []paper.Charted{r.noted(true)}}
	if n := len(r.Points); n > 0 {
		c.Lead = fmt.Sprintf("%d points, %s to %s", n, output.Day(r.Points[0].Closed), output.Day(r.Points[n-1].Closed))
	}
	c.Proof.Where = where
	return c
}
