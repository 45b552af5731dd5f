package export

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// shop is a ledger whose clock is set, and goes a second on with every look.
type shop struct {
	*ledger.Ledger
	t   *testing.T
	now time.Time
	set bool
}

func newShop(t *testing.T) *shop {
	t.Helper()
	s := &shop{t: t, now: time.Date(2026, 11, 27, 2, 33, 0, 0, time.UTC), set: true}
	var err error
	s.Ledger, err = ledger.Open(t.TempDir(), ledger.Options{Bench: "invented", Clock: func() ledger.Time {
		s.now = s.now.Add(time.Second)
		return ledger.Time{UTC: s.now, Synchronised: s.set}
	}})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func (s *shop) stamp() string {
	s.now = s.now.Add(time.Second)
	return s.now.Format("2006-01-02T15:04:05.000000Z")
}

func (s *shop) must(err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// tool records a tool.
func (s *shop) tool(t inspect.Tool) {
	s.t.Helper()
	_, err := record.SaveTool(s.Ledger, t)
	s.must(err)
}

// A diameter that the newest inspection did not read is the newest that stands, and is said to be; read before the tool was
// ground, it is no longer the tool's, and is not handed on.
func TestOlderDiameter(t *testing.T) {
	s := newShop(t)
	without := func(stage inspect.Stage) inspect.Inspection {
		in := whole("EM-0412", stage)
		in.Readings = slices.DeleteFunc(in.Readings, func(r inspect.Reading) bool { return r.Feature == inspect.Diameter })
		return in
	}
	before, after := whole("EM-0412", inspect.Before), whole("EM-0412", inspect.After)
	s.tool(before.Tool)
	s.inspect(before, "")
	s.inspect(without(inspect.After), "")
	if c, _ := s.asset("EM-0412"); c.Diameter.Value != "" || c.Told.Stale != "EM-0412.1" || c.Told.Read != "" || c.Length != "76.2" {
		t.Errorf("ground since: %+v", c)
	}
	s.inspect(after, "")
	s.inspect(after, "set up wrongly")
	s.inspect(without(inspect.After), "")
	if c, _ := s.asset("EM-0412"); c.Diameter.Value != "12.5222" || c.Diameter.Nominal != "12.7" || c.Told.Read != "EM-0412.3" || c.Told.Stale != "" {
		t.Errorf("read again without its diameter: %+v", c)
	}
	s.inspect(without(inspect.Before), "")
	if c, _ := s.asset("EM-0412"); c.Diameter.Value != "12.5222" || c.Told.Read != "EM-0412.3" {
		t.Errorf("back, worn: %+v", c)
	}
	if c, _ := s.asset("EM-0412"); c.Told.Read == c.ID {
		t.Error("the inspection is named, not the tool")
	}
}

// inspect records an inspection of a tool that is there, and closes it.
func (s *shop) inspect(in inspect.Inspection, discarded string) inspect.Judgement {
	s.t.Helper()
	var err error
	in.ID, err = record.NextID(s.Ledger, in.Tool.ID)
	s.must(err)
	readings, seen := in.Readings, in.Seen
	in.Readings, in.Seen = nil, nil
	var events []json.RawMessage
	add := func(e record.Event) json.RawMessage {
		line, err := json.Marshal(e)
		s.must(err)
		events = append(events, line)
		return line
	}
	opened := add(record.Event{What: "begun", At: s.stamp(), Inspection: &in})
	draft, err := s.NewDraft(in.ID, ledger.Entry{Kind: record.KindOpened, Subject: record.ToolSubject(in.Tool.ID), Body: opened})
	s.must(err)
	for _, r := range readings {
		r.At = s.stamp()
		s.must(draft.Append(add(record.Event{What: "reading", Reading: &r})))
	}
	for _, x := range seen {
		s.must(draft.Append(add(record.Event{What: "seen", At: s.stamp(), Seen: &x})))
	}
	d, err := record.Taken{ID: in.ID, Events: events}.Fold()
	s.must(err)
	j := inspect.Judge(d.Inspection)
	entries, err := record.Close(d, events, j, s.stamp(), discarded)
	s.must(err)
	_, err = draft.Close(entries...)
	s.must(err)
	return j
}

func (s *shop) who() record.Who { return record.Who{By: "Vale", Why: "as agreed", At: s.now} }

func (s *shop) qif(id string) (qifFile, []byte) {
	s.t.Helper()
	f, err := QIFFile(s.Ledger, id)
	s.must(err)
	if err := checkQIF(f.Content); err != nil {
		s.t.Error(err)
	}
	return read(s.t, f.Content), f.Content
}

// cutter is as much of an asset as a control reads.
type cutter struct {
	ID       string   `xml:"assetId,attr"`
	Time     string   `xml:"timestamp,attr"`
	Status   []string `xml:"CuttingToolLifeCycle>CutterStatus>Status"`
	Regrinds struct {
		Maximum string `xml:"maximumCount,attr"`
		Count   string `xml:",chardata"`
	} `xml:"CuttingToolLifeCycle>ReconditionCount"`
	Diameter struct {
		Code    string `xml:"code,attr"`
		Nominal string `xml:"nominal,attr"`
		Minimum string `xml:"minimum,attr"`
		Value   string `xml:",chardata"`
	} `xml:"CuttingToolLifeCycle>Measurements>CuttingDiameterMax"`
	Length string `xml:"CuttingToolLifeCycle>Measurements>FunctionalLength"`
	Told   struct {
		Radial string `xml:"radialRunout,attr"`
		Read   string `xml:"diameterReadIn,attr"`
		Stale  string `xml:"diameterReadBeforeTheGrindIn,attr"`
		Head   string `xml:"ledgerHead,attr"`
	} `xml:"Description>inspection"`
	Items []struct {
		Indices string `xml:"indices,attr"`
		Flute   struct {
			Radial string `xml:"radialHeight,attr"`
			Axial  string `xml:"axialHeight,attr"`
		} `xml:"Description>flute"`
	} `xml:"CuttingToolLifeCycle>CuttingItems>CuttingItem"`
}

func (s *shop) asset(tool string) (cutter, []byte) {
	s.t.Helper()
	f, err := AssetFile(s.Ledger, tool, false)
	s.must(err)
	var all struct {
		Tool cutter `xml:"Assets>CuttingTool"`
	}
	s.must(xml.Unmarshal(f.Content, &all))
	return all.Tool, f.Content
}

// whole is an invented inspection of a half-inch end mill at a stage, of which everything asked is read; worn before the grind
// and good after it, but for what is changed.
func whole(id string, stage inspect.Stage) inspect.Inspection {
	tool := inspect.Tool{
		ID: id, Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	in := inspect.Inspection{Tool: tool, Stage: stage, Inspector: "Vale", Holding: inspect.InVee, Basis: inspect.DefaultBasis(tool)}
	in.Basis.Gauges = map[string]inspect.Instrument{"indicator": {Resolution: length.Tenth / 2, Serial: "IND-0071", CalibrationDue: "2027-06-30"}}
	in.Basis.Feed.Division = 2 * length.Thou
	for _, s := range inspect.Sights {
		in.Seen = append(in.Seen, inspect.Seen{Sight: s})
	}
	each := func(f inspect.Feature, repeats int, values ...length.Length) {
		for repeat := range repeats {
			for i, v := range values {
				r := inspect.Reading{Feature: f, Flute: i + 1, Repeat: repeat + 1, Value: v, Text: v.Format(length.In, 5), Unit: length.In, Gauge: "indicator"}
				if f.Single() {
					r.Flute = 0
				}
				in.Readings = append(in.Readings, r)
			}
		}
	}
	wear, diameter := 12*length.Thou, length.Inch/2
	if stage == inspect.After {
		wear, diameter = 0, length.Inch/2-7*length.Thou
	}
	for _, f := range []inspect.Feature{inspect.RadialRunout, inspect.AxialRunout} {
		each(f, 3, 0, length.Tenth, 2*length.Tenth, length.Tenth)
	}
	each(inspect.Diameter, 3, diameter)
	each(inspect.WearLand, 1, wear, wear, wear, wear)
	for _, f := range []inspect.Feature{inspect.PrimaryLand, inspect.EndPrimaryLand} {
		each(f, 1, 20*length.Thou, 20*length.Thou, 20*length.Thou, 20*length.Thou)
	}
	for _, f := range []inspect.Feature{inspect.Land, inspect.EndLand} {
		each(f, 1, 80*length.Thou, 80*length.Thou, 80*length.Thou, 80*length.Thou)
	}
	if stage == inspect.After {
		each(inspect.ReliefDrop, 3, 28*length.Tenth, 28*length.Tenth, 28*length.Tenth, 28*length.Tenth)
	}
	each(inspect.Length, 1, 3*length.Inch)
	return in
}

// A tool on its way through the shop: what is handed on of it at each step.
func TestLife(t *testing.T) {
	s := newShop(t)
	before, after := whole("EM-0412", inspect.Before), whole("EM-0412", inspect.After)
	s.tool(before.Tool)
	if _, err := AssetFile(s.Ledger, "EM-0412", false); !errors.Is(err, ErrNotInspected) {
		t.Errorf("of a tool that nothing is read of: %v", err)
	}
	s.inspect(before, "")
	f, _ := s.qif("EM-0412.1")
	c, _ := s.asset("EM-0412")
	if f.Results.Status != "REWORK" || f.Component.OtherStatus != "to grind" || strings.Join(c.Status, " ") != "USED MEASURED TAGGED_OUT UNAVAILABLE" || c.Regrinds.Count != "0" {
		t.Errorf("worn: %s, %s, %v, %+v", f.Results.Status, f.Component.OtherStatus, c.Status, c.Regrinds)
	}
	if j := s.inspect(after, ""); !j.Releases() {
		t.Fatalf("after the grind it calls for %+v: %+v", j.Work, j.Unread)
	}
	unsigned, _ := s.qif("EM-0412.2")
	c, _ = s.asset("EM-0412")
	if unsigned.Results.Status != "PASS" || unsigned.Component.OtherStatus != "to sign" || strings.Join(c.Status, " ") != "RECONDITIONED MEASURED UNAVAILABLE" || c.Regrinds.Maximum != "" {
		t.Errorf("unsigned: %s, %s, %v", unsigned.Results.Status, unsigned.Component.OtherStatus, c.Status)
	}
	_, err := record.Rule(s.Ledger, []string{"EM-0412.2"}, record.Release, s.who())
	s.must(err)
	released, document := s.qif("EM-0412.2")
	c, _ = s.asset("EM-0412")
	if released.Component.Status != "PASS" || released.Results.Attributes.text("ruledBy") != "Vale" || released.QPId == unsigned.QPId {
		t.Errorf("released: %s by %s, document %s and before %s", released.Component.Status, released.Results.Attributes.text("ruledBy"), released.QPId, unsigned.QPId)
	}
	if strings.Join(c.Status, " ") != "RECONDITIONED MEASURED AVAILABLE" || c.Diameter.Value != "12.5222" || c.Length != "76.2" || c.Regrinds.Count != "1" || c.Regrinds.Maximum == "" || len(c.Items) != 4 {
		t.Errorf("released: %+v", c)
	}
	// heights of 0, 1, 2 and 1 tenths of a thou; 0.5 in nominal, 90 % of it at least
	if d := c.Diameter; d.Code != "DC" || d.Nominal != "12.7" || d.Minimum != "11.43" || c.Told.Radial != "0.00508" || c.Told.Head != released.Results.Attributes.text("ledgerHead") {
		t.Errorf("released: %+v, %+v", d, c.Told)
	}
	for i, want := range []string{"0", "0.00254", "0.00508", "0.00254"} {
		if c.Items[i].Indices != fmt.Sprint(i+1) || c.Items[i].Flute.Radial != want || c.Items[i].Flute.Axial != want {
			t.Errorf("flute %d: %+v, want %s", i+1, c.Items[i], want)
		}
	}
	if len(released.Devices) != 1 || released.Devices[0].Name != "indicator" || released.Devices[0].Attributes.text("resolution_mm") != "0.00127" || released.Component.Lot != "" {
		t.Errorf("devices %+v, job %q", released.Devices, released.Component.Lot)
	}
	for name, want := range map[string]string{"radial run-out (TIR)": "0.00508", "diameter": "12.5222", "primary share of the land": "0.25", "length": "76.2"} {
		i := slices.IndexFunc(released.Measurements, func(m *measurement) bool { return m.Name == name })
		if i < 0 || released.Measurements[i].Value != want || released.Measurements[i].Device != released.Devices[0].ID {
			t.Errorf("%s: %+v, want %s", name, released.Measurements[max(i, 0)], want)
		}
	}
	if _, twice := s.qif("EM-0412.2"); !bytes.Equal(document, twice) {
		t.Error("two exports of one record differ")
	}
	head := released.Results.Attributes.text("ledgerHead")
	if parsed, err := ledger.ParseHead(head); err != nil || parsed.String() != head || head == released.Results.Attributes.text("summaryHead") {
		t.Errorf("head %q: %v", head, err)
	}

	_, err = record.Correct(s.Ledger, "EM-0412.2", record.Fix{Reading: &inspect.Reading{
		Feature: inspect.RadialRunout, Flute: 2, Repeat: 1, Value: 40 * length.Tenth, Text: "0.0040", Unit: length.In, Gauge: "indicator",
	}}, s.who())
	s.must(err)
	recalled, _ := s.qif("EM-0412.2")
	c, _ = s.asset("EM-0412")
	if recalled.Component.OtherStatus != "recalled" || recalled.Results.Status == "PASS" || recalled.QPId == released.QPId || strings.Join(c.Status, " ") != "MEASURED TAGGED_OUT UNAVAILABLE" {
		t.Errorf("corrected: %s, %s, %v", recalled.Component.OtherStatus, recalled.Results.Status, c.Status)
	}
	if recalled.Items.All[0].UUID != released.Items.All[0].UUID {
		t.Error("a correction gives a characteristic another UUID")
	}
	found := false
	for _, m := range recalled.Measurements {
		found = found || m.text("asRead") == "0.0040" && m.Value == "0.1016" && m.integer("repeat") == 1
	}
	if !found {
		t.Error("the corrected reading is not in the document")
	}
	first, _ := s.qif("EM-0412.1")
	if first.Items.All[0].UUID != released.Items.All[0].UUID {
		t.Errorf("%s and %s have not one UUID", first.Items.All[0].Name, released.Items.All[0].Name)
	}
}

// What a machinist enters is what was read last, and its change since the tool was last let out, or else since it came
// in: 0.5 in comes in, 0.493 in is let out, and 0.492 in comes back.
func TestOffsets(t *testing.T) {
	s := newShop(t)
	s.tool(whole("EM-3", inspect.Before).Tool)
	sized := func(stage inspect.Stage, diameter length.Length) {
		in := whole("EM-3", stage)
		for i := range in.Readings {
			if in.Readings[i].Feature == inspect.Diameter {
				in.Readings[i].Value = diameter
			}
		}
		s.inspect(in, "")
	}
	expect := func(now, change length.Length) {
		t.Helper()
		o, err := record.FindOffsets(s.Ledger, "EM-3")
		s.must(err)
		if o.Diameter.Now == nil || *o.Diameter.Now != now || o.Diameter.Change() == nil || *o.Diameter.Change() != change || *o.Length.Change() != 0 {
			t.Errorf("got %v, want %v changed by %v", o, now, change)
		}
	}
	sized(inspect.Before, 500*length.Thou)
	if o, err := record.FindOffsets(s.Ledger, "EM-3"); err != nil || o.Diameter.Change() != nil {
		t.Errorf("read once: %v, %v", o, err)
	}
	sized(inspect.After, 493*length.Thou)
	expect(493*length.Thou, -7*length.Thou)
	if o, err := record.FindOffsets(s.Ledger, "EM-3"); err != nil || o.Diameter.Since() != "since it came in" {
		t.Errorf("never let out: %v, %v", o.Diameter.Since(), err)
	}
	_, err := record.Rule(s.Ledger, []string{"EM-3.2"}, record.Release, s.who())
	s.must(err)
	expect(493*length.Thou, -7*length.Thou)
	sized(inspect.Before, 492*length.Thou)
	expect(492*length.Thou, -length.Thou)
	if o, err := record.FindOffsets(s.Ledger, "EM-3"); err != nil || o.Diameter.Since() != "since last let out" {
		t.Errorf("let out: %v, %v", o.Diameter.Since(), err)
	}
	sized(inspect.After, 486*length.Thou)
	expect(486*length.Thou, -7*length.Thou)
}

// What was given up or read in practice, and what no clock tells the time of.
func TestWhatIsNotHandedOn(t *testing.T) {
	s := newShop(t)
	in := whole("EM-1", inspect.After)
	s.tool(in.Tool)
	s.inspect(in, "dropped")
	if f, _ := s.qif("EM-1.1"); f.Results.Status != "NOT_CALCULATED" {
		t.Errorf("given up: %s", f.Results.Status)
	}
	if _, err := AssetFile(s.Ledger, "EM-1", false); !errors.Is(err, ErrNotInspected) {
		t.Errorf("given up: %v", err)
	}
	for i := range in.Readings {
		in.Readings[i].Gauge = "practice"
	}
	s.inspect(in, "")
	if _, err := QIFFile(s.Ledger, "EM-1.2"); !errors.Is(err, ErrPractice) {
		t.Errorf("practice: %v", err)
	}
	s.set = false
	s.inspect(whole("EM-1", inspect.After), "")
	if _, err := AssetFile(s.Ledger, "EM-1", false); !errors.Is(err, ErrClockNotSet) {
		t.Errorf("clock not set: %v", err)
	}
	if _, document := s.qif("EM-1.3"); bytes.Contains(document, []byte("2026-")) {
		t.Error("a time by a clock that was not set")
	}
	if _, err := QIFFile(s.Ledger, "EM-1.9"); !errors.Is(err, record.ErrNoInspection) {
		t.Errorf("unknown: %v", err)
	}
}

// A tool released by concession carries its condition, and is available only where the shop says so; a crack tells
// against it at once.
func TestConcessionAndLock(t *testing.T) {
	s := newShop(t)
	in := whole("EM-2", inspect.After)
	for i := range in.Readings {
		if r := &in.Readings[i]; r.Feature == inspect.RadialRunout && r.Flute == 3 {
			r.Value = 12 * length.Tenth
		}
	}
	s.tool(in.Tool)
	s.inspect(in, "")
	_, err := record.Rule(s.Ledger, []string{"EM-2.1"}, record.Concession, s.who())
	s.must(err)
	f, _ := s.qif("EM-2.1")
	c, document := s.asset("EM-2")
	if f.Component.OtherStatus != "released by concession" || f.Results.Status != "REWORK" || strings.Join(c.Status, " ") != "MEASURED UNAVAILABLE" || !bytes.Contains(document, []byte(`condition="as agreed"`)) {
		t.Errorf("%s, %s, %v in %s", f.Component.OtherStatus, f.Results.Status, c.Status, document)
	}
	usable, err := AssetFile(s.Ledger, "EM-2", true)
	s.must(err)
	if !bytes.Contains(usable.Content, []byte(">AVAILABLE<")) {
		t.Error("the shop says that it is available")
	}
	crack := whole("EM-2", inspect.Before)
	crack.Seen[0].Yes = true
	s.inspect(crack, "")
	f, _ = s.qif("EM-2.1")
	if c, _ := s.asset("EM-2"); f.Component.OtherStatus != "locked" || strings.Join(c.Status, " ") != "MEASURED TAGGED_OUT UNAVAILABLE" {
		t.Errorf("a crack since: %s, %v", f.Component.OtherStatus, c.Status)
	}
}

// Inspections recorded of many tools, every one handed on: by the schemas, and right in what those do not check.
func TestRecordedBySchema(t *testing.T) {
	s := newShop(t)
	documents, assets := map[string][]byte{}, map[string][]byte{}
	for seed := range some() {
		in := judged(seed).Inspection.Inspection
		s.tool(in.Tool)
		s.inspect(in, "")
		_, documents[fmt.Sprintf("%d.qif", seed)] = s.qif(in.Tool.ID + ".1")
		_, assets[fmt.Sprintf("%d.xml", seed)] = s.asset(in.Tool.ID)
	}
	valid(t, "qif/QIFDocument.xsd", documents)
	valid(t, "mtconnect/MTConnectAssets_1.8_1.0.xsd", assets)
}
