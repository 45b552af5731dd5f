package bench

import (
	"reflect"
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

func testTool(diameter length.Length, m inspect.Material) inspect.Tool {
	return inspect.Tool{
		ID: "T", Diameter: diameter, Flutes: 4, Material: m, Hand: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
}

// What the example says stands where a key is left out is what stands.
func TestExampleIsTheDefaults(t *testing.T) {
	example, err := Parse("example.toml", []byte(Example))
	if err != nil {
		t.Fatal(err)
	}
	def := Default()
	tool := testTool(length.Inch, inspect.Carbide) // no limits of the example cover it
	for _, stage := range []inspect.Stage{inspect.Before, inspect.Between, inspect.After} {
		if got, want := example.Plan(tool, stage), def.Plan(tool, stage); !reflect.DeepEqual(got, want) {
			t.Errorf("plan %s: the example says %+v, without a file it is %+v", stage, got, want)
		}
		got, want := example.Basis(tool, stage), def.Basis(tool, stage)
		got.Revision, got.Gauges = want.Revision, want.Gauges
		if !reflect.DeepEqual(got, want) {
			t.Errorf("basis %s: the example says %+v, without a file it is %+v", stage, got, want)
		}
	}
	if len(example.Gauges) != 1 || example.Gauges[0].Resolution != length.Inch/20000 || len(example.Wheels) != 1 {
		t.Errorf("gauges %+v, wheels %+v", example.Gauges, example.Wheels)
	}
}

func TestLimitsOverTheDefaults(t *testing.T) {
	f, err := Parse("b.toml", []byte(`
[[limits]]
materials = ["hss"]
from = "0.25in"
to = "0.5in"
radial-runout = "0.0004in"
primary-relief = ["8", "11.5"]
smallest-percent = 80
secondary-over = [2, 5]
source = "shop standard 12"
[[limits]]
to = "0.375in"
radial-runout = "0.0002in"
`))
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name           string
		tool           inspect.Tool
		runout, source string
	}{
		{"inside", testTool(length.Inch/2, inspect.HSS), "0.00040", "shop standard 12"},
		{"just over", testTool(length.Inch/2+1, inspect.HSS), "0.00100", "common practice, no source"},
		{"other material", testTool(length.Inch/2, inspect.Carbide), "0.00030", "common practice, no source"},
		{"the later of two", testTool(length.Inch/4, inspect.HSS), "0.00020", "bench file"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l := f.Basis(tt.tool, inspect.After).Limits[inspect.RadialRunout]
			if got := l.MostLength().Format(length.In, 5); got != tt.runout || l.Source != tt.source {
				t.Errorf("got %s, %s; want %s, %s", got, l.Source, tt.runout, tt.source)
			}
		})
	}
	l := f.Basis(testTool(length.Inch/2, inspect.HSS), inspect.After).Limits
	if l[inspect.ReliefDrop].Most.Angle() != 11_500_000_000 || l[inspect.Diameter].Least.Length() != length.Inch*4/10 || l.MostShare() != (inspect.Share{Num: 2, Den: 5}) {
		t.Errorf("got %+v", l)
	}
	if err := f.check(); err != nil || !strings.HasPrefix(f.Revision, "b.toml ") {
		t.Errorf("revision %q, %v", f.Revision, err)
	}
}

func TestRefusals(t *testing.T) {
	tests := []struct{ name, in, want string }{
		{"unknown key", "name = \"a\"\nunits = \"in\"\n", `b.toml:2: key "units" is not known`},
		{"unknown key of a gauge", "[[gauge]]\nname = \"a\"\nunit = \"in\"\nspeed = 9600\n", `b.toml:4: key "gauge.speed" is not known`},
		{"no TOML", "name = \n", "b.toml:1: "},
		{"unit", `unit = "inch"`, `unit "inch": want in or mm`},
		{"bare length", `master = "0.5"`, `no unit`},
		{"decimal comma", `master = "0,5in"`, "a comma in inches: 0.5 in?"},
		{"rule", `work-rule = "strict"`, `work-rule "strict": want simple or guarded`},
		{"gauge twice", "[[gauge]]\nname = \"a\"\nunit = \"in\"\n[[gauge]]\nname = \"a\"\nunit = \"in\"\n", `gauge "a" stands twice`},
		{"calibration", "[[gauge]]\nname = \"a\"\nunit = \"in\"\ncalibration-due = \"31.3.2027\"\n", `want a date such as 2027-03-31`},
		{"study by half", "[[gauge]]\nname = \"a\"\nunit = \"in\"\nrepeatability = \"1um\"\n", "give both"},
		{"feature", "[stage.before]\nfeatures = [\"width\"]\n", `stage.before: feature "width"`},
		{"stage", "[stage.during]\nrepeats = 1\n", `stage "during"`},
		{"relief the wrong way round", "[[limits]]\nprimary-relief = [\"12\", \"9\"]\n", "primary-relief: want the least and the most"},
		{"half", "[[limits]]\nsecondary-over = [2, 1]\n", "secondary-over: want a share"},
		{"wheel without speed", "[[wheel]]\nname = \"cup\"\ndiameter = \"4in\"\n", "marked-rpm are needed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if _, err := Parse("b.toml", []byte(tt.in)); err == nil || !strings.HasPrefix(err.Error(), "b.toml:") || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v, want %q", err, tt.want)
			}
		})
	}
}

func FuzzParse(f *testing.F) {
	f.Add(Example)
	f.Add("[[gauge]]\nname = \"a\"\nunit = \"in\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		if file, err := Parse("b.toml", []byte(text)); err == nil {
			file.Basis(testTool(length.Inch/2, inspect.HSS), inspect.After)
		}
	})
}
