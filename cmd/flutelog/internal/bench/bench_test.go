package bench

import (
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

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
		if got, want := example.Plan(tool, stage, nil), def.Plan(tool, stage, nil); !reflect.DeepEqual(got, want) {
			t.Errorf("plan %s: the example says %+v, without a file it is %+v", stage, got, want)
		}
		got, want := example.Basis(tool, stage), def.Basis(tool, stage)
		got.Revision, got.Gauges, got.Wheels = want.Revision, want.Gauges, want.Wheels
		if !reflect.DeepEqual(got, want) {
			t.Errorf("basis %s: the example says %+v, without a file it is %+v", stage, got, want)
		}
	}
	if len(example.Gauges) != 1 || example.Gauges[0].Resolution != length.Inch/20000 || len(example.Wheels) != 1 {
		t.Errorf("gauges %+v, wheels %+v", example.Gauges, example.Wheels)
	}
}

// The example names every key there is, set or in a comment that says what stands where it is left out.
func TestExampleNamesEveryKey(t *testing.T) {
	seen := 0
	var walk func(reflect.Type)
	walk = func(of reflect.Type) {
		for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice || of.Kind() == reflect.Map {
			of = of.Elem()
		}
		if of.Kind() != reflect.Struct {
			return
		}
		for i := range of.NumField() {
			f := of.Field(i)
			if f.Anonymous {
				walk(f.Type)
				continue
			}
			key, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
			if key == "" || key == "-" {
				continue
			}
			seen++
			named := regexp.MustCompile(`(?m)^(# )?(\[\[?)?` + regexp.QuoteMeta(key) + `(\]| *=|\.)`)
			if !named.MatchString(Example) {
				t.Errorf("the example says nothing of %s, a key of %s", key, of.Name())
			}
			walk(f.Type)
		}
	}
	walk(reflect.TypeFor[File]())
	if seen < 60 {
		t.Errorf("only %d keys were found", seen)
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

// A date stands as people write it in such a file, in quotation marks or bare.
func TestDates(t *testing.T) {
	for _, day := range []string{`"2027-03-31"`, "2027-03-31"} {
		f, err := Parse("b.toml", []byte("[[gauge]]\nname = \"a\"\nunit = \"in\"\ncalibration-due = "+day+"\n"))
		if err != nil {
			t.Errorf("%s: %v", day, err)
		} else if got := f.Gauges[0].CalibrationDue; got != "2027-03-31" {
			t.Errorf("%s is read as %q", day, got)
		}
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
		{"a time for a date", "[[gauge]]\nname = \"a\"\nunit = \"in\"\ncalibration-due = 2027-03-31T08:00:00\n", `want a date such as 2027-03-31`},
		{"a number for a date", "[[gauge]]\nname = \"a\"\nunit = \"in\"\ncalibration-due = 2027\n", `want a date such as 2027-03-31`},
		{"a practice gauge by name alone", "[[gauge]]\nname = \"practice 2\"\nunit = \"in\"\n", "say practice = true"},
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

// Every key of a limit does what it says, by the one table of limits.
func TestEveryLimitCanBeStated(t *testing.T) {
	tool := testTool(length.Inch/2, inspect.HSS)
	values := map[inspect.LimitKind][2]string{ // a value, and one that is refused
		inspect.MostLengthKind: {`"0.0123in"`, `"-0.1in"`},
		inspect.SpreadKind:     {`"0.0123in"`, `"0in"`},
		inspect.LengthBandKind: {`["0.0101in", "0.0202in"]`, `["0.02in", "0.01in"]`},
		inspect.AngleBandKind:  {`["3.5", "8.25"]`, `["9"]`},
		inspect.MostShareKind:  {`[2, 5]`, `[2, 1]`},
		inspect.LeastShareKind: {`[1, 7]`, `[0, 7]`},
		inspect.ShareBandKind:  {`[[1, 5], [3, 10]]`, `[[3, 10], [1, 5]]`},
		inspect.PercentKind:    {`83`, `101`},
	}
	for _, row := range inspect.LimitTable {
		t.Run(row.Key, func(t *testing.T) {
			v := values[row.Kind]
			f, err := Parse("b.toml", []byte("[[limits]]\nsource = \"drawing 7\"\n"+row.Key+" = "+v[0]+"\n"))
			if err != nil {
				t.Fatal(err)
			}
			got, was := f.Basis(tool, inspect.After).Limits[row.Feature], inspect.DefaultLimits(tool)[row.Feature]
			if got.Source != "drawing 7" || got.Judged != !row.Aim || reflect.DeepEqual(got.Least, was.Least) && reflect.DeepEqual(got.Most, was.Most) {
				t.Errorf("got %+v, it was %+v", got, was)
			}
			again, err := readBounds(row, reread(t, limitText(row, got)))
			if err == nil && again.of != nil {
				again.limit = again.of(tool)
			}
			one := inspect.Limits{}
			one.Override(row, again.limit)
			if row.Kind != inspect.PercentKind && (err != nil || limitText(row, one[row.Feature]) != limitText(row, got)) {
				t.Errorf("%s reads as %+v, %v", limitText(row, got), again.limit, err)
			}
			if _, err := Parse("b.toml", []byte("[[limits]]\n"+row.Key+" = "+v[1]+"\n")); err == nil || !strings.HasPrefix(err.Error(), "b.toml:2: limits, set 1: "+row.Key+": want") {
				t.Errorf("%s: %v", v[1], err)
			}
			if !strings.Contains(Example, "# "+row.Key+" = ") {
				t.Error("the example does not name it")
			}
		})
	}
}

// reread reads a value as a bench file's tables hold it.
func reread(t *testing.T, text string) any {
	t.Helper()
	var table map[string]any
	if err := toml.Unmarshal([]byte("v = "+text), &table); err != nil {
		t.Fatal(err)
	}
	return table["v"]
}

// The example's lines of limits are what stands for its tool, key by key.
func TestExampleLimitsAreTheDefaults(t *testing.T) {
	tool := testTool(length.Inch/2, inspect.HSS)
	set := slices.DeleteFunc(slices.Clone(inspect.LimitTable), func(row inspect.LimitRow) bool { return !row.Default(tool).Set() })
	var lines []string
	for line := range strings.Lines(Example) {
		for _, row := range set {
			if strings.HasPrefix(line, "# "+row.Key+" = ") {
				lines = append(lines, strings.TrimPrefix(line, "# "))
			}
		}
	}
	f, err := Parse("e.toml", []byte("[[limits]]\n"+strings.Join(lines, "")))
	if err != nil || len(lines) != len(set) || len(set) < 15 {
		t.Fatalf("%d lines of %d, %v", len(lines), len(set), err)
	}
	got, want := f.Basis(tool, inspect.After).Limits, inspect.DefaultLimits(tool)
	for feature, l := range want {
		if !reflect.DeepEqual(got[feature].Least, l.Least) || !reflect.DeepEqual(got[feature].Most, l.Most) {
			t.Errorf("%s: the example says %+v, the default is %+v", feature, got[feature], l)
		}
	}
}

// What is required, and what else stands among the limits, goes by diameter and material too; a stage's own list stands
// under it. An unknown key names its line and set.
func TestRequiredByTool(t *testing.T) {
	f, err := Parse("b.toml", []byte(`
tie = "shank"
drop-by = "slide"
relief-flutes = 2
distance-error = "0.0005in"
[stage.after]
required = ["radial-runout", "cracks"]
[[limits]]
to = "0.125in"
checking-distance = "0.006in"
required = ["cracks", "radial-runout", "diameter"]
[[limits]]
materials = ["carbide"]
required = []
`))
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		tool inspect.Tool
		want []inspect.Item
		over length.Length
	}{
		{testTool(length.Inch/2, inspect.HSS), []inspect.Item{"radial-runout", "cracks"}, 0},
		{testTool(length.Inch/8, inspect.HSS), []inspect.Item{"cracks", "radial-runout", "diameter"}, 6 * length.Thou},
		{testTool(length.Inch/8, inspect.Carbide), []inspect.Item{}, 6 * length.Thou},
	} {
		b := f.Basis(tt.tool, inspect.After)
		if !reflect.DeepEqual(b.Required, tt.want) || b.CheckingDistance != tt.over || b.Tie != inspect.TieShank || b.DropBy != inspect.BySliding || b.ReliefFlutes != 2 || b.DistanceError != length.Inch/2000 {
			t.Errorf("%s %s: %+v", tt.tool.Diameter, tt.tool.Material, b)
		}
	}
	for _, refused := range []struct{ in, want string }{
		{"[[limits]]\nwear = \"0.1in\"\n\n[[limits]]\nfrom = \"1in\"\nspeed = 7\n", `b.toml:6: limits, set 2: key "speed" is not known`},
		{"[[limits]]\nsecondary-over = [1, 20]\n", "b.toml:1: limits, set 1: secondary-over is less than least-share"},
		{"[[limits]]\nfrom = \"1in\"\nto = \"0.5in\"\n", "b.toml:1: limits, set 1: diameters from"},
		{"[[limits]]\nrequired = [\"width\"]\n", `b.toml:2: limits, set 1: required: feature "width"`},
		{"[[limits]]\nmaterials = [\"wood\"]\n", `b.toml:2: limits, set 1: material "wood"`},
		{"[stage.after]\nrequired = [\"width\"]\n", `stage.after: required: feature "width"`},
		{"tie = \"both\"\n", `tie "both": want shank or none`},
		{"drop-by = \"push\"\n", `drop-by "push": want turn or slide`},
		{"relief-flutes = 3\n", "relief-flutes 3: want 2"},
	} {
		if _, err := Parse("b.toml", []byte(refused.in)); err == nil || !strings.Contains(err.Error(), refused.want) {
			t.Errorf("%q: %v, want %q", refused.in, err, refused.want)
		}
	}
}

// What a tool itself must hold stands over the bench's smallest diameter.
func TestTheToolsOwnSizes(t *testing.T) {
	f, err := Parse("b.toml", []byte("[[limits]]\nsmallest-percent = 80\n"))
	if err != nil {
		t.Fatal(err)
	}
	tool := testTool(length.Inch/2, inspect.HSS)
	least, most := 499*length.Thou, 501*length.Thou
	tool.AtLeast, tool.AtMost = &least, &most
	if l := f.Basis(tool, inspect.After).Limits[inspect.Diameter]; l.Least.Length() != least || l.Most.Length() != most || !l.Judged {
		t.Errorf("got %+v", l)
	}
}

// foreign are words of libraries and of programs, which no person at a bench should be told.
var foreign = regexp.MustCompile(`TOML|(?i:struct|decode|int64|float64|\[\]string|utf-8|unmarshal|strconv|U\+00|bench\.File)`)

// What is wrong with a line is said in the words of the shop, with where and what would do.
func TestShopWords(t *testing.T) {
	for text, want := range map[string]string{
		"name = \n": "b.toml:1: this line does not read", "name\n": "b.toml:1: this line does not read", "name = 3\n": "b.toml:1: name: want a text in quotation marks",
		"inspectors = \"a\"\n": `b.toml:1: inspectors: want names in brackets`, "[grinder\n": "b.toml:1: this line does not read", "[[gauge]]\nbaud = \"x\"\n": "b.toml:2: gauge.baud: want a whole number",
		"unit = \"in\"\nunit = \"mm\"\n": "b.toml:2: unit: it stands twice", "name = \"a\n": "b.toml:1: this line does not read", "[stage.before]\nrepeats = 1.5\n": "b.toml:2: stage.before.repeats: want a whole number",
		"[stage.before]\nsights = 3\n": "b.toml:2: stage.before.sights: want true or false", "name = \"\xff\"\n": "b.toml:1: this line does not read",
	} {
		_, err := Parse("b.toml", []byte(text))
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
		if err != nil && foreign.MatchString(err.Error()) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add(Example)
	f.Add("[[gauge]]\nname = \"a\"\nunit = \"in\"\n")
	f.Fuzz(func(t *testing.T, text string) {
		file, err := Parse("b.toml", []byte(text))
		if err != nil {
			if w := foreign.FindString(err.Error()); w != "" && !strings.Contains(text, w) {
				t.Errorf("%q: %v says %q", text, err, w)
			}
			return
		}
		file.Basis(testTool(length.Inch/2, inspect.HSS), inspect.After)
	})
}

// Run-out is read on the flutes: beyond a ball, whose radius is half the diameter, and beyond any corner radius, which is at most that.
func TestReadBeyondTheForm(t *testing.T) {
	for _, c := range []struct {
		ends  inspect.Ends
		says  length.Length
		wants string
	}{
		{inspect.SquareEnd, 0, "0.070"}, {inspect.BallEnd, 0, "0.260"}, {inspect.RadiusEnd, 0, "0.260"},
		{inspect.BallEnd, 100 * length.Thou, "0.290"}, {inspect.BallEnd, 400 * length.Thou, "0.400"}, {inspect.SquareEnd, 100 * length.Thou, "0.100"},
	} {
		tool := testTool(length.Inch*3/8, inspect.HSS)
		tool.Ends = c.ends
		f := Default()
		f.Unit, f.FromEnd = length.In, c.says
		if got := f.ReadFromEnd(tool).Format(length.In, 3); got != c.wants {
			t.Errorf("%s end, the file says %s: %s in from the end, want %s", c.ends, c.says, got, c.wants)
		}
	}
}
