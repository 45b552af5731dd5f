package record

import (
	"encoding/json"
	"errors"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Figure is one figure with what it was held against, what came of it and the gauge it was read with.
type Figure struct {
	Value   inspect.Quantity  `json:"value"`
	Least   *inspect.Quantity `json:"least,omitempty"`
	Most    *inspect.Quantity `json:"most,omitempty"`
	Gauge   string            `json:"gauge,omitempty"`
	Verdict inspect.Verdict   `json:"verdict,omitempty"` // "" where it was not judged, or is not told: older records hold none
}

// ReadFigure takes a figure apart; nil when there is none.
func ReadFigure(text json.RawMessage) (*Figure, error) {
	if text == nil {
		return nil, nil
	}
	f := &Figure{}
	return f, unmarshal(text, f)
}

// StockRemoved is half of what a regrind took off the diameter; nil where one of the two was not read.
func StockRemoved(f Figures, before *Figures) (*Figure, error) {
	if before == nil {
		return nil, nil
	}
	is, err := ReadFigure(f.Diameter)
	if err != nil {
		return nil, err
	}
	was, err := ReadFigure(before.Diameter)
	if is == nil || was == nil || err != nil {
		return nil, err
	}
	removed := (was.Value.Length() - is.Value.Length()) / 2
	return &Figure{Value: inspect.LengthQuantity(removed), Gauge: is.Gauge}, nil
}

// Edges is the radial run-out as it was read, for the wear of the wheel.
type Edges struct {
	Heights    []length.Length `json:"heights"`              // mean of each flute, in the order in which they cut
	Resolution length.Length   `json:"resolution"`           // of the gauge, as far as it is known
	Gauge      string          `json:"gauge,omitempty"`      // by name
	LastRound  []int           `json:"last_round,omitempty"` // the flutes as they came to the wheel in the last round; nil in older records
}

// ReadEdges takes edges apart; nil when there are none.
func ReadEdges(text json.RawMessage) (*Edges, error) {
	if text == nil {
		return nil, nil
	}
	e := &Edges{}
	return e, json.Unmarshal(text, e)
}

// figuresOf returns the figures of an inspection that was closed at a time.
func figuresOf(in inspect.Inspection, j inspect.Judgement, closed string) Figures {
	f := Figures{
		Inspection: in.ID, Tool: in.Tool.ID, Stage: in.Stage, Job: in.Job, Closed: closed, Practice: in.Practised(),
		Verdict: j.Verdict, Work: []inspect.Task{}, Locks: Locks(in).Sight, Nominal: in.Tool.Diameter, Material: in.Tool.Material,
		Inspector: in.Inspector, Grinder: in.Grinder, Wheel: in.Wheel, Gauge: gaugeOf(in, inspect.RadialRunout), Divisions: in.Divisions, Offset: in.Offset,
	}
	for _, w := range j.Work {
		f.Work = append(f.Work, w.What)
	}
	if r, ok := worstRunout(j); ok {
		f.runout(in, j, r)
	}
	for _, lands := range j.Lands {
		if !lands.Ends {
			most := in.Basis.Limits.MostShare().Quantity()
			f.Ratio = stored(Figure{Value: inspect.ShareQuantity(slices.Max(lands.Ratios)), Most: &most, Gauge: gaugeOf(in, inspect.PrimaryLand), Verdict: verdictOn(j, inspect.PrimaryLand, inspect.ShareQuantity(slices.Max(lands.Ratios)))})
		}
	}
	for _, finding := range j.Findings {
		if finding.Value == nil {
			continue
		}
		figure := Figure{*finding.Value, finding.Least, finding.Most, gaugeOf(in, finding.Feature), finding.Verdict}
		switch finding.Feature {
		case inspect.Diameter:
			f.Diameter = stored(figure)
		case inspect.ReliefDrop:
			f.Relief = stored(figure)
		}
	}
	return f
}

func stored(v any) json.RawMessage {
	text, err := json.Marshal(v)
	if err != nil {
		panic(err) // lengths, angles and words always encode
	}
	return text
}

// worstRunout returns the largest radial run-out of those that were judged.
func worstRunout(j inspect.Judgement) (worst inspect.RunoutFigures, ok bool) {
	for _, r := range j.Runouts {
		void := slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool { // fitted and then not judged: something moved while it was read
			return f.Feature == r.Feature && equal(f.FromEnd, r.FromEnd) && f.Value == nil
		})
		if r.Feature == inspect.RadialRunout && !void && (!ok || r.TIR > worst.TIR) {
			worst, ok = r, true
		}
	}
	return worst, ok
}

func (f *Figures) runout(in inspect.Inspection, j inspect.Judgement, r inspect.RunoutFigures) {
	gauge := gaugeOf(in, inspect.RadialRunout)
	tir := Figure{Value: inspect.LengthQuantity(r.TIR), Gauge: gauge}
	tir.Most, tir.Verdict = in.Basis.Limits[inspect.RadialRunout].Most, verdictOn(j, inspect.RadialRunout, tir.Value)
	f.TIR = stored(tir)
	if len(r.Heights) >= 4 {
		f.Residual = stored(Figure{Value: inspect.LengthQuantity(slices.Max(r.Residuals) - slices.Min(r.Residuals)), Gauge: gauge})
	}
	edges := Edges{Heights: r.Heights, Resolution: in.Basis.Gauges[gauge].Resolution, Gauge: gauge, LastRound: in.LastRound()}
	if edges.LastRound == nil { // as the flutes stand, which is not what an older record means by none
		for k := range r.Heights {
			edges.LastRound = append(edges.LastRound, k+1)
		}
	}
	f.Edges = stored(edges)
}

// verdictOn returns what came of a figure, "" where it is not among the findings.
func verdictOn(j inspect.Judgement, feature inspect.Feature, value inspect.Quantity) inspect.Verdict {
	i := slices.IndexFunc(j.Findings, func(f inspect.Finding) bool { return f.Feature == feature && f.Value != nil && *f.Value == value })
	if i < 0 {
		return ""
	}
	return j.Findings[i].Verdict
}

// equal says whether two lengths that may not be told are the same.
func equal(a, b *length.Length) bool { return a == b || a != nil && b != nil && *a == *b }

// gaugeOf returns the gauge that a feature was last read with.
func gaugeOf(in inspect.Inspection, f inspect.Feature) string {
	for _, r := range slices.Backward(in.Readings) {
		if r.Feature == f {
			return r.Gauge
		}
	}
	return ""
}

// ReadFigures reads the body of a figures record, as the ledger spells it. A scanner takes it apart: a trend over many years
// reads little else, and the json package would take most of the time.
func ReadFigures(body []byte) (Figures, error) {
	var f Figures
	s := scanner{body: string(body)}
	s.object(&f)
	if s.err == nil && s.at < len(s.body) {
		s.fail(errors.New("more than an object"))
	}
	return f, s.err
}
