package record

import (
	"encoding/json"
	"reflect"
	"slices"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Heights 0, 2, 0, 2 tenths have no offset: the run-out is all tooth-to-tooth error. By hand: TIR and residual
// 2 tenths, the worst share 0.020/0.050.
func TestFigures(t *testing.T) {
	tool := inspect.Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree}
	wheel := `cup },"inspection":{ \` // as bad as a name can be
	in := inspect.Inspection{ID: "EM-1.1", Tool: tool, Stage: inspect.After, Wheel: wheel, Divisions: 3, Basis: inspect.DefaultBasis(tool)}
	in.Basis.Gauges = map[string]inspect.Instrument{"indicator": {Resolution: length.Tenth / 2}}
	add := func(f inspect.Feature, flute int, v length.Length, gauge string) {
		in.Readings = append(in.Readings, inspect.Reading{Feature: f, Flute: flute, Repeat: 1, Value: v, Text: "0.0000", Unit: length.In, Gauge: gauge})
	}
	for flute := 1; flute <= 4; flute++ {
		add(inspect.RadialRunout, flute, length.Length(flute%2)*2*length.Tenth, "indicator")
		add(inspect.PrimaryLand, flute, 15*length.Thou, "loupe")
		add(inspect.Land, flute, 50*length.Thou, "loupe")
	}
	in.Readings[1].Value = 20 * length.Thou // flute 1 primary
	j := inspect.Judge(in)
	for i := range j.Findings { // as a reading with more doubt would have it
		if j.Findings[i].Feature == inspect.RadialRunout {
			j.Findings[i].Verdict = inspect.Undecided
		}
	}
	body, err := json.Marshal(figuresOf(in, j, "2026-01-02T03:04:05.000000Z"))
	if err != nil {
		t.Fatal(err)
	}
	f, err := ReadFigures(body)
	if err != nil {
		t.Fatal(err)
	}
	var whole Figures
	if err := json.Unmarshal(body, &whole); err != nil || !reflect.DeepEqual(f, whole) {
		t.Errorf("figures %+v, the json package reads %+v, %v", f, whole, err)
	}
	if f.Inspection != "EM-1.1" || f.Wheel != wheel || f.Divisions != 3 || f.Nominal != length.Inch/2 || f.Diameter != nil {
		t.Errorf("figures %+v, want those of the inspection and no diameter", f)
	}
	for _, test := range []struct {
		name  string
		text  json.RawMessage
		value inspect.Quantity
		gauge string
	}{
		{"TIR", f.TIR, inspect.LengthQuantity(2 * length.Tenth), "indicator"},
		{"residual", f.Residual, inspect.LengthQuantity(2 * length.Tenth), "indicator"},
		{"ratio", f.Ratio, inspect.ShareQuantity(0.4), "loupe"},
	} {
		got, err := ReadFigure(test.text)
		if err != nil || got == nil || got.Value != test.value || got.Gauge != test.gauge {
			t.Errorf("%s: %+v, %v, want %s read with %s", test.name, got, err, test.value.In(length.In), test.gauge)
		}
	}
	if tir, err := ReadFigure(f.TIR); err != nil || tir.Verdict != inspect.Undecided {
		t.Errorf("TIR: verdict %q, %v, want undecided", tir.Verdict, err)
	}
	if ratio, err := ReadFigure(f.Ratio); err != nil || ratio.Verdict != inspect.Accept {
		t.Errorf("ratio: verdict %q, %v, want accept: 0.4 is within the half", ratio.Verdict, err)
	}
	edges, err := ReadEdges(f.Edges)
	// The last round begins half a turn on where nobody tells otherwise; US Navy, Machinery Repairman, chapter 10.
	if err == nil && !slices.Equal(edges.LastRound, []int{3, 4, 1, 2}) {
		t.Errorf("last round %v", edges.LastRound)
	}
	if err != nil || len(edges.Heights) != 4 || edges.Heights[0] != 2*length.Tenth || edges.Resolution != length.Tenth/2 {
		t.Errorf("edges %+v, %v, want the four heights and the gauge's resolution", edges, err)
	}
}

// The wear of a wheel is read in the order in which the flutes came to it in the last round: as the bench file has it, or as it was
// told of this tool.
func TestEdgesKeepTheLastRound(t *testing.T) {
	tool := inspect.Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS}
	for _, test := range []struct {
		name   string
		change func(*inspect.Inspection)
		want   []int
	}{
		{"the usual", func(*inspect.Inspection) {}, []int{3, 4, 1, 2}},
		{"the bench's order", func(in *inspect.Inspection) { in.Basis.GrindOrder = []int{1, 4, 3, 2} }, []int{3, 2, 1, 4}},
		{"every round from the first", func(in *inspect.Inspection) { in.Basis.FromFirst = true }, []int{1, 2, 3, 4}},
		{"the bench's order, from the first", func(in *inspect.Inspection) {
			in.Basis.FromFirst, in.Basis.GrindOrder = true, []int{1, 3, 2, 4}
		}, []int{1, 3, 2, 4}},
		{"told of this tool", func(in *inspect.Inspection) { in.GroundLast = []int{2, 1, 4, 3} }, []int{2, 1, 4, 3}},
	} {
		in := inspect.Inspection{ID: "EM-1.1", Tool: tool, Stage: inspect.After, Basis: inspect.DefaultBasis(tool)}
		for flute := 1; flute <= 4; flute++ {
			in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.RadialRunout, Flute: flute, Repeat: 1, Value: length.Length(flute) * length.Tenth, Unit: length.In})
		}
		test.change(&in)
		edges, err := ReadEdges(figuresOf(in, inspect.Judge(in), "").Edges)
		if err != nil || edges == nil || !slices.Equal(edges.LastRound, test.want) {
			t.Errorf("%s: %+v, %v, want %v", test.name, edges, err, test.want)
		}
	}
}

// A run-out whose closing reading does not come back is no figure.
func TestFiguresLeaveOutVoidSets(t *testing.T) {
	tool := inspect.Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS}
	in := inspect.Inspection{ID: "EM-1.1", Tool: tool, Stage: inspect.After, Basis: inspect.DefaultBasis(tool)}
	for repeat := 1; repeat <= 3; repeat++ {
		for flute := 1; flute <= 2; flute++ {
			in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.RadialRunout, Flute: flute, Repeat: repeat, Text: "0.0000", Unit: length.In})
		}
	}
	if f := figuresOf(in, inspect.Judge(in), ""); f.TIR == nil {
		t.Error("no TIR, want one of a set that is whole")
	}
	in.Readings = append(in.Readings, inspect.Reading{Feature: inspect.RadialRunout, Flute: 1, Closing: true, Value: length.Thou, Text: "0.0010", Unit: length.In})
	if f := figuresOf(in, inspect.Judge(in), ""); f.TIR != nil || f.Edges != nil {
		t.Errorf("TIR %s of a set that moved, want none", f.TIR)
	}
}

// Whatever the figures are, they read back as the json package reads them.
func FuzzReadFigures(f *testing.F) {
	f.Add("EM-1.1", "cup", 3, true, []byte(`{"value":"0.01mm","gauge":"a\\"}"}`))
	f.Add("", `},"inspection":{ \`, 0, false, []byte(`[1,{"a":[]},"\""]`))
	f.Add("\"", "\u2028<&>", -1, false, []byte(`1`))
	f.Fuzz(func(t *testing.T, id, wheel string, divisions int, discarded bool, figure []byte) {
		offset := length.Length(divisions)
		in := Figures{Inspection: id, Wheel: wheel, Divisions: divisions, Discarded: discarded, Offset: &offset, Edges: figure, Work: []inspect.Task{inspect.Task(wheel)}}
		if int64(divisions) < -1e15 || int64(divisions) > 1e15 || string(figure) == "null" {
			return // no length, and what is left out
		}
		body, err := json.Marshal(in)
		if err != nil {
			return // the figure is no JSON
		}
		var want Figures
		if err := json.Unmarshal(body, &want); err != nil {
			t.Fatal(err)
		}
		if got, err := ReadFigures(body); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%+v, %v, want %+v", got, err, want)
		}
	})
}

// What is cut off anywhere is refused.
func TestReadFiguresRefuses(t *testing.T) {
	body, err := json.Marshal(Figures{Inspection: `E"M`, Tool: "EM", TIR: json.RawMessage(`{"value":"0.01mm"}`), Work: []inspect.Task{"none"}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ReadFigures(body); err != nil {
		t.Errorf("whole figures: %v", err)
	}
	for n := range len(body) {
		if f, err := ReadFigures(body[:n]); err == nil {
			t.Errorf("%q was read as %+v", body[:n], f)
		}
	}
	for _, body := range []string{`[]`, `1`, `{"tool":1}`, `{"tool" "A"}`, `{1}`, `{"nominal":"1"}`, `{"tool":"A"}{}`} {
		if f, err := ReadFigures([]byte(body)); err == nil {
			t.Errorf("%q was read as %+v", body, f)
		}
	}
}
