package session

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Figures is what trends are drawn of. It stands first in a summary, so that a trend over many years reads the
// beginning of each and not the rest.
type Figures struct {
	Inspection string           `json:"inspection"`
	Tool       string           `json:"tool"`
	Stage      inspect.Stage    `json:"stage"`
	Closed     string           `json:"closed"`
	Discarded  bool             `json:"discarded,omitempty"` // given up: no figure counts
	Nominal    length.Length    `json:"nominal"`             // diameter
	Material   inspect.Material `json:"material"`
	Inspector  string           `json:"inspector,omitempty"`
	Wheel      string           `json:"wheel,omitempty"`
	Divisions  int              `json:"divisions,omitempty"`
	Offset     *length.Length   `json:"offset,omitempty"`

	// A Figure each, as it is written: a trend asks for one of them, and only that is taken apart.
	TIR      json.RawMessage `json:"tir,omitempty"`      // radial run-out, at the distance where it is largest
	Residual json.RawMessage `json:"residual,omitempty"` // tooth-to-tooth error: what is left of that without the offset, from four flutes up
	Ratio    json.RawMessage `json:"ratio,omitempty"`    // primary share of the land on the flutes, the worst
	Diameter json.RawMessage `json:"diameter,omitempty"`
	Relief   json.RawMessage `json:"relief,omitempty"` // primary, of the flute that decides

	Edges json.RawMessage `json:"edges,omitempty"` // Edges
}

// Figure is one figure with what it was held against and the gauge it was read with.
type Figure struct {
	Value inspect.Quantity  `json:"value"`
	Least *inspect.Quantity `json:"least,omitempty"`
	Most  *inspect.Quantity `json:"most,omitempty"`
	Gauge string            `json:"gauge,omitempty"`
}

// ReadFigure takes a figure apart; nil when there is none.
func ReadFigure(text json.RawMessage) (*Figure, error) {
	if text == nil {
		return nil, nil
	}
	f := &Figure{}
	return f, json.Unmarshal(text, f)
}

// Edges is the radial run-out as it was read, for the wear of the wheel.
type Edges struct {
	Heights    []length.Length `json:"heights"`         // mean of each flute, in the order in which they cut
	Resolution length.Length   `json:"resolution"`      // of the gauge, as far as it is known
	Gauge      string          `json:"gauge,omitempty"` // by name
}

func newFigures(in inspect.Inspection, j inspect.Judgement, closed string) Figures {
	f := Figures{
		Inspection: in.ID, Tool: in.Tool.ID, Stage: in.Stage, Closed: closed, Nominal: in.Tool.Diameter, Material: in.Tool.Material,
		Inspector: in.Inspector, Wheel: in.Wheel, Divisions: in.Divisions, Offset: in.Offset,
	}
	if r, ok := worstRunout(j); ok {
		f.runout(in, r)
	}
	for _, lands := range j.Lands {
		if !lands.Ends {
			most := in.Basis.Limits.MostShare().Quantity()
			f.Ratio = stored(Figure{inspect.ShareQuantity(slices.Max(lands.Ratios)), nil, &most, gaugeOf(in, inspect.PrimaryLand)})
		}
	}
	for _, finding := range j.Findings {
		if finding.Value == nil {
			continue
		}
		figure := Figure{*finding.Value, finding.Least, finding.Most, gaugeOf(in, finding.Feature)}
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
		if r.Feature == inspect.RadialRunout && !void(j, r) && (!ok || r.TIR > worst.TIR) {
			worst, ok = r, true
		}
	}
	return worst, ok
}

func (f *Figures) runout(in inspect.Inspection, r inspect.RunoutFigures) {
	gauge := gaugeOf(in, inspect.RadialRunout)
	tir := Figure{Value: inspect.LengthQuantity(r.TIR), Gauge: gauge}
	tir.Most = in.Basis.Limits[inspect.RadialRunout].Most
	f.TIR = stored(tir)
	if len(r.Heights) >= 4 {
		f.Residual = stored(Figure{Value: inspect.LengthQuantity(slices.Max(r.Residuals) - slices.Min(r.Residuals)), Gauge: gauge})
	}
	f.Edges = stored(Edges{r.Heights, in.Basis.Gauges[gauge].Resolution, gauge})
}

// void says whether a run-out was fitted and then not judged: something moved while it was read.
func void(j inspect.Judgement, r inspect.RunoutFigures) bool {
	return slices.ContainsFunc(j.Findings, func(f inspect.Finding) bool {
		same := f.FromEnd == nil && r.FromEnd == nil || f.FromEnd != nil && r.FromEnd != nil && *f.FromEnd == *r.FromEnd
		return f.Feature == r.Feature && same && f.Value == nil
	})
}

// gaugeOf returns the gauge that a feature was last read with.
func gaugeOf(in inspect.Inspection, f inspect.Feature) string {
	for _, r := range slices.Backward(in.Readings) {
		if r.Feature == f {
			return r.Gauge
		}
	}
	return ""
}

// ReadFigures reads the figures at the beginning of a summary, as the ledger spells it, and nothing after them. It
// takes them apart by hand: a trend over many years reads little else, and the json package would take most of the
// time.
func ReadFigures(summary []byte) (Figures, error) {
	var f Figures
	c := members{rest: summary}
	c.skip('{')
	if c.next(); c.name != "figures" {
		return f, fmt.Errorf("summary %.40q: no figures at its beginning", summary)
	}
	c = members{rest: c.value}
	c.skip('{')
	for c.next() {
		if err := f.set(c.name, c.value); err != nil {
			return f, fmt.Errorf("figures of a summary: %s: %w", c.name, err)
		}
	}
	if string(c.rest) != "}" {
		return f, fmt.Errorf("figures of a summary: %.40q in place of a member or the end", c.rest)
	}
	return f, nil
}

// set takes one member of the figures, by the name that it is written under.
func (f *Figures) set(name string, value []byte) error {
	switch name {
	case "inspection":
		return word(&f.Inspection, value)
	case "tool":
		return word(&f.Tool, value)
	case "stage":
		return word((*string)(&f.Stage), value)
	case "closed":
		return word(&f.Closed, value)
	case "material":
		return word((*string)(&f.Material), value)
	case "inspector":
		return word(&f.Inspector, value)
	case "wheel":
		return word(&f.Wheel, value)
	case "discarded":
		return json.Unmarshal(value, &f.Discarded)
	case "nominal":
		return json.Unmarshal(value, &f.Nominal)
	case "divisions":
		return json.Unmarshal(value, &f.Divisions)
	case "offset":
		return json.Unmarshal(value, &f.Offset)
	case "tir":
		f.TIR = value
	case "residual":
		f.Residual = value
	case "ratio":
		f.Ratio = value
	case "diameter":
		f.Diameter = value
	case "relief":
		f.Relief = value
	case "edges":
		f.Edges = value
	}
	return nil
}

// word reads a string.
func word(to *string, value []byte) error {
	if n := len(value) - 1; n > 0 && value[0] == '"' && value[n] == '"' && bytes.IndexByte(value, '\\') < 0 {
		*to = string(value[1:n])
		return nil
	}
	return json.Unmarshal(value, to)
}

// members goes through the members of a JSON object without spaces.
type members struct {
	name  string // of the member reached
	value []byte // as it is written
	rest  []byte // behind it
}

func (m *members) skip(c byte) bool {
	if len(m.rest) == 0 || m.rest[0] != c {
		return false
	}
	m.rest = m.rest[1:]
	return true
}

// next goes on to the next member and says whether there is one.
func (m *members) next() bool {
	m.name, m.value = "", nil
	m.skip(',')
	if len(m.rest) == 0 || m.rest[0] != '"' {
		return false
	}
	end := stringEnd(m.rest)
	if end < 2 {
		return false
	}
	m.name, m.rest = string(m.rest[1:end-1]), m.rest[end:]
	if !m.skip(':') {
		return false
	}
	end = valueEnd(m.rest)
	m.value, m.rest = m.rest[:end:end], m.rest[end:]
	return true
}

// valueEnd returns where the value at the beginning of text ends.
func valueEnd(text []byte) int {
	depth := 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '"':
			i += stringEnd(text[i:]) - 1
		case '{', '[':
			depth++
		case '}', ']':
			if depth--; depth < 0 {
				return i
			}
		case ',':
			if depth == 0 {
				return i
			}
		}
	}
	return len(text)
}

// stringEnd returns where the string at the beginning of text ends.
func stringEnd(text []byte) int {
	for i := 1; i < len(text); i++ {
		switch text[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(text)
}
