package papers

import (
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// All tools, people and readings here are invented.

// bench is a ledger that a test writes as a bench would, a minute a step.
type bench struct {
	t   *testing.T
	l   *ledger.Ledger
	now time.Time

	required []inspect.Item // nil is the usual
}

func newBench(t *testing.T) *bench {
	t.Helper()
	l, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "tool room (invented)"})
	if err != nil {
		t.Fatal(err)
	}
	return &bench{t: t, l: l, now: time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)}
}

func (b *bench) must(err error) {
	b.t.Helper()
	if err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) tick() string {
	b.now = b.now.Add(time.Minute)
	return b.now.Format("2006-01-02T15:04:05.000000Z")
}

func (b *bench) source() Source {
	return Source{Ledger: b.l, Bench: "tool room (invented)", Unit: length.In}
}

// add records a tool: 1/2 in, HSS, square ends.
func (b *bench) add(id string, flutes int) inspect.Tool {
	b.t.Helper()
	t := inspect.Tool{
		ID: id, Diameter: length.Inch / 2, Flutes: flutes, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	_, err := record.SaveTool(b.l, t)
	b.must(err)
	return t
}

// taken is what an inspection reads, in inches; of what is left out nothing is read.
type taken struct {
	stage    inspect.Stage
	job      string
	holding  inspect.Holding
	runout   []float64 // a flute each
	diameter float64
	wear     float64
	primary  float64
	length   float64
	seen     inspect.Sight // there; every other sight is not
	unseen   bool          // nothing was looked for
	rounds   int
	gauge    string
	divs     int
}

// good is a tool as it ought to be after the grind.
func good(flutes int) taken {
	x := taken{stage: inspect.After, job: "J-77", holding: inspect.InVee, diameter: 0.4817, primary: 0.0185, length: 3.2480, rounds: 3, gauge: "indicator", divs: 2}
	for i := range flutes {
		x.runout = append(x.runout, 0.0001*float64(i%2))
	}
	return x
}

func worn(flutes int) taken {
	x := good(flutes)
	x.stage, x.diameter, x.wear, x.primary, x.length, x.divs = inspect.Before, 0.4876, 0.011, 0.036, 3.2500, 0
	return x
}

func inches(f float64) length.Length {
	l, err := length.Parse(fmt.Sprintf("%.5f", f), length.In)
	if err != nil {
		panic(err)
	}
	return l
}

// inspection makes the inspection that the readings are of.
func (b *bench) inspection(tool inspect.Tool, id string, x taken) inspect.Inspection {
	basis := inspect.DefaultBasis(tool)
	basis.Required = b.required
	step := length.Thou / 20
	basis.Gauges = map[string]inspect.Instrument{
		"indicator": {Resolution: step, PermissibleError: step, Serial: "17", CalibrationDue: "2027-06-03"}, "loupe": {Resolution: length.Thou / 10, PermissibleError: length.Thou / 10, CalibrationDue: "2027-06-03"},
	}
	in := inspect.Inspection{ID: id, Tool: tool, Stage: x.stage, Job: x.job, Inspector: "R. Vale", Holding: x.holding, Basis: basis, Wheel: "cup 4", Divisions: x.divs}
	if x.stage != inspect.Before {
		in.Regrind = &inspect.Regrind{Before: true}
	}
	at := b.tick()
	add := func(f inspect.Feature, flute, repeat int, gauge string, value float64) {
		l := inches(value)
		r := inspect.Reading{Feature: f, Flute: flute, Repeat: repeat, Value: l, Text: l.Format(length.In, 4), Unit: length.In, Gauge: gauge, At: at}
		if f == inspect.RadialRunout {
			r.FromEnd = new(length.Length)
			*r.FromEnd = length.Inch / 2
		}
		in.Readings = append(in.Readings, r)
	}
	for repeat := 1; repeat <= x.rounds; repeat++ {
		for i, h := range x.runout {
			add(inspect.RadialRunout, i+1, repeat, x.gauge, h)
		}
		if x.stage == inspect.After {
			for i := range x.runout {
				add(inspect.AxialRunout, i+1, repeat, x.gauge, 0.0001*float64(i%2))
			}
		}
	}
	for i := range tool.Flutes {
		for repeat := 1; repeat <= max(x.rounds-1, 1) && x.primary > 0; repeat++ {
			add(inspect.PrimaryLand, i+1, repeat, "loupe", x.primary+0.0001*float64((i+repeat)%2))
			add(inspect.Land, i+1, repeat, "loupe", 0.078)
			add(inspect.EndPrimaryLand, i+1, repeat, "loupe", 0.016+0.0001*float64(repeat%2))
			add(inspect.EndLand, i+1, repeat, "loupe", 0.062)
			if x.stage == inspect.After {
				add(inspect.ReliefDrop, i+1, repeat, x.gauge, 0.0026+0.00005*float64(repeat%2))
			}
		}
		if x.stage == inspect.Before && x.primary > 0 {
			add(inspect.WearLand, i+1, 1, "loupe", x.wear)
		}
	}
	if x.diameter > 0 {
		for repeat := 1; repeat <= x.rounds; repeat++ {
			add(inspect.Diameter, 0, repeat, x.gauge, x.diameter)
		}
	}
	if x.length > 0 {
		add(inspect.Length, 0, 1, x.gauge, x.length)
	}
	for _, s := range inspect.Sights {
		if !x.unseen {
			in.Seen = append(in.Seen, inspect.Seen{Sight: s, Yes: s == x.seen, Flute: map[bool]int{true: 2}[s == x.seen]})
		}
	}
	return in
}

// begin records that an inspection is opened, and returns all that happens in it.
func (b *bench) begin(in inspect.Inspection) (ledger.Record, record.Draft, []json.RawMessage) {
	b.t.Helper()
	head := in
	head.Readings, head.Seen = nil, nil
	events := []record.Event{{What: "begun", At: b.tick(), Inspection: &head}}
	for i := range in.Readings {
		events = append(events, record.Event{What: "reading", Reading: &in.Readings[i]})
	}
	for i := range in.Seen {
		events = append(events, record.Event{What: "seen", At: b.tick(), Seen: &in.Seen[i]})
	}
	var d record.Draft
	var lines []json.RawMessage
	for _, e := range events {
		line, err := json.Marshal(e)
		b.must(err)
		lines = append(lines, line)
		b.must(d.Take(e))
	}
	opened, err := b.l.Append(ledger.Entry{Kind: record.KindOpened, Subject: record.ToolSubject(in.Tool.ID), Body: lines[0]})
	b.must(err)
	return opened[0], d, lines
}

// inspect records an inspection of a tool, and returns its id.
func (b *bench) inspect(tool inspect.Tool, x taken) string {
	b.t.Helper()
	id, err := record.NextID(b.l, tool.ID)
	b.must(err)
	in := b.inspection(tool, id, x)
	opened, d, lines := b.begin(in)
	for _, seen := range in.Seen {
		if record.LocksTool(seen, in.Stage) {
			b.must(record.LockNow(b.l, in, seen, opened.Ref(), b.tick()))
		}
	}
	entries, err := record.Close(d, lines, inspect.Judge(d.Inspection), b.tick(), "")
	b.must(err)
	_, err = b.l.Append(entries...)
	b.must(err)
	return id
}

func (b *bench) who(why string) record.Who {
	b.tick()
	return record.Who{By: "N. Okafor", Why: why, At: b.now}
}

func (b *bench) rule(id string, word record.Word, why string) {
	b.t.Helper()
	_, err := record.Rule(b.l, []string{id}, word, b.who(why))
	b.must(err)
}

// case20 is one of twenty tools: how it came to stand as it does.
type case20 struct {
	kind, tool string
	flutes     int
	headline   string // of its tag
	free       bool   // it looks like a release
	make       func(b *bench, t inspect.Tool) (inspection string)
}

// usual says whether the sheet of it is one page: of six flutes at most, without a long list of what is to be done.
func (c case20) usual() bool {
	return c.flutes <= 6 && !slices.Contains([]string{"before", "rejected", "recalled"}, c.kind)
}

func regrind(b *bench, t inspect.Tool, x taken) string {
	b.inspect(t, worn(t.Flutes))
	return b.inspect(t, x)
}

func released(b *bench, t inspect.Tool, x taken) string {
	id := regrind(b, t, x)
	b.rule(id, record.Release, "")
	return id
}

const long60 = "CARBIDE-ROUGHER-OF-THE-LARGE-MACHINE-BAY-7-SHELF-12-NO-00042"

var condition = "slotting in aluminium only, at half the feed, " + strings.Repeat("and never in the long machine, ", 4) + "by Ines"

var twenty = []case20{
	{"released", "EM-0412", 4, "Released", true, func(b *bench, t inspect.Tool) string {
		return released(b, t, good(4))
	}},
	{"released in the fixture", "SD-0033", 2, "Released", true, func(b *bench, t inspect.Tool) string {
		x := good(2)
		x.holding = inspect.InFixture
		return released(b, t, x)
	}},
	{"released, long id", long60, 12, "Released", true, func(b *bench, t inspect.Tool) string {
		return released(b, t, good(12))
	}},
	{"released, right to left", "\u05db\u05e8\u05e1-17", 3, "Released", true, func(b *bench, t inspect.Tool) string {
		return released(b, t, good(3))
	}},
	{"released after a concession", "EM-0500", 6, "Released", true, func(b *bench, t inspect.Tool) string {
		x := good(6)
		x.runout[2] = 0.0015
		b.rule(regrind(b, t, x), record.Concession, "use for roughing only")
		y := worn(6)
		y.diameter, y.length = 0.4800, 3.2470
		b.inspect(t, y)
		z := good(6)
		z.diameter, z.length = 0.4750, 3.2460
		id := b.inspect(t, z)
		b.rule(id, record.Release, "")
		return id
	}},
	{"conceded", "EM-0416", 4, "Use for roughing only", false, func(b *bench, t inspect.Tool) string {
		x := good(4)
		x.runout[2] = 0.0015
		id := regrind(b, t, x)
		b.rule(id, record.Concession, "use for roughing only")
		return id
	}},
	{"conceded, long condition", "EM-0419", 8, "Use on condition: slotting", false, func(b *bench, t inspect.Tool) string {
		x := good(8)
		x.runout[2] = 0.0015
		id := regrind(b, t, x)
		b.rule(id, record.Concession, condition)
		return id
	}},
	{"withdrawn", "EM-0417", 4, "Withdrawn", false, func(b *bench, t inspect.Tool) string {
		x := worn(4)
		x.diameter = 0.4455
		id := b.inspect(t, x)
		b.rule(id, record.Withdraw, "under the smallest useful diameter")
		return id
	}},
	{"locked", "EM-0401", 4, "Locked", false, func(b *bench, t inspect.Tool) string {
		x := worn(4)
		x.seen = inspect.Cracks
		return b.inspect(t, x)
	}},
	{"recalled", "EM-0377", 4, "Recalled", false, func(b *bench, t inspect.Tool) string {
		id := regrind(b, t, good(4))
		b.rule(id, record.Release, "")
		in, err := record.Find(b.l, id)
		b.must(err)
		for _, r := range in.Readings {
			if r.Feature == inspect.PrimaryLand && r.Flute == 3 {
				r.Value, r.Text = inches(0.0581), "0.0581"
				_, err := record.Correct(b.l, id, record.Fix{Reading: &r}, b.who("misread the loupe"))
				b.must(err)
			}
		}
		return id
	}},
	{"rejected", "EM-0420", 5, "To grind again", false, func(b *bench, t inspect.Tool) string {
		x := good(5)
		x.runout[2] = 0.0030
		return regrind(b, t, x)
	}},
	{"undecided", "EM-0396", 4, "", false, func(b *bench, t inspect.Tool) string {
		x := good(4)
		x.runout[1], x.runout[3], x.rounds = 0.0005, 0.0005, 2
		return regrind(b, t, x)
	}},
	{"unsigned", "EM-0388", 4, "Not signed", false, func(b *bench, t inspect.Tool) string { return regrind(b, t, good(4)) }},
	{"before", "EM-0415", 4, "To grind", false, func(b *bench, t inspect.Tool) string { return b.inspect(t, worn(4)) }},
	{"between", "EM-0413", 4, "Not finished", false, func(b *bench, t inspect.Tool) string {
		x := good(4)
		x.stage, x.diameter, x.length = inspect.Between, 0, 0
		return regrind(b, t, x)
	}},
	{"ground", "EM-0421", 7, "To inspect", false, func(b *bench, t inspect.Tool) string {
		id := b.inspect(t, worn(7))
		_, err := record.RecordGround(b.l, t.ID, record.Ground{Order: []int{1, 2, 3, 4, 5, 6, 7}, Wheel: "cup 4", Divisions: 2, By: "R. Vale", At: b.tick()})
		b.must(err)
		return id
	}},
	{"received", "EM-0418", 1, "Received", false, func(b *bench, t inspect.Tool) string { return "" }},
	{"not reground", "EM-0422", 11, "Not reground", false, func(b *bench, t inspect.Tool) string {
		x := worn(11)
		x.wear = 0.001
		id := b.inspect(t, x)
		b.rule(id, record.Release, "")
		return id
	}},
	{"practice", "PR-0001", 4, "Practice: invented", false, func(b *bench, t inspect.Tool) string {
		x := good(4)
		x.gauge = "practice (invented)"
		return b.inspect(t, x)
	}},
	{"retired", `EM"&'9`, 9, "Retired", false, func(b *bench, t inspect.Tool) string {
		id := regrind(b, t, good(9))
		b.rule(id, record.Release, "")
		t.Retired = "sold with the old machine"
		_, err := record.SaveTool(b.l, t)
		b.must(err)
		return id
	}},
}

// shop is a bench with the twenty, all of one job, and the inspection of each: a copy for each test of what is recorded
// once.
func shop(t *testing.T) (*bench, map[string]string) {
	t.Helper()
	recordedOnce.Do(func() { recorded = record20(t) })
	if recorded.inspections == nil {
		t.Fatal("the shop could not be recorded")
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, recorded.ledger); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &bench{t: t, l: l, now: recorded.now}, recorded.inspections
}

// shop20 is the ledger of the twenty, held in memory.
type shop20 struct {
	ledger      fstest.MapFS
	now         time.Time
	inspections map[string]string // by kind
}

var (
	recorded     shop20
	recordedOnce sync.Once
)

// record20 records them.
func record20(t *testing.T) shop20 {
	t.Helper()
	b := newBench(t)
	r := shop20{ledger: fstest.MapFS{}}
	var tools []string
	for _, c := range twenty {
		tools = append(tools, b.add(c.tool, c.flutes).ID)
	}
	_, err := record.SaveJob(b.l, record.Job{ID: "J-77", Customer: "Harrow Tool Hire (invented)", Reference: "4500123", Quantity: len(tools), Sample: len(tools), Tools: tools}, b.now)
	b.must(err)
	inspections := map[string]string{}
	for i, c := range twenty {
		t, err := record.FindTool(b.l, tools[i])
		b.must(err)
		inspections[c.kind] = c.make(b, t.Tool)
	}
	b.must(fs.WalkDir(os.DirFS(b.l.Dir()), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(filepath.Join(b.l.Dir(), path))
		r.ledger[path] = &fstest.MapFile{Data: data, Mode: 0o600}
		return err
	}))
	r.now, r.inspections = b.now, inspections
	return r
}
