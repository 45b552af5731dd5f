package export

import (
	"bytes"
	"encoding/xml"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// released is an invented inspection after the grind of a tool that was released by it.
func released() Inspection {
	q := func(l length.Length) *inspect.Quantity { v := inspect.LengthQuantity(l); return &v }
	share := func(f float64) *inspect.Quantity { v := inspect.ShareQuantity(f); return &v }
	df, p := 15, 0.9999999
	return Inspection{
		ID: "EM-0412.2", ToolBench: "a57e82c6b158ea0a", Bench: "a57e82c6b158ea0a",
		Tool: inspect.Tool{ID: "EM-0412", Diameter: length.Inch / 2, Flutes: 4, Material: inspect.HSS, Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing},
		Job:  "J-17", Inspector: "Vale", Stage: inspect.After, Holding: inspect.InVee,
		Opened: "2026-11-27T02:33:30.000000Z", Closed: "2026-11-27T02:33:35.302896Z", ClockSet: true,
		JudgedBy: "/srv/shop/bench.toml 720a50e4", Verdict: inspect.Accept, Answer: "RELEASE: everything that was read conforms", Calls: CallsNothing,
		Figures: []Figure{
			{Feature: inspect.RadialRunout, FromEnd: ptr(2540 * length.Micrometre), Name: "radial run-out (TIR)", Value: q(2540 * length.Nanometre), Uncertainty: q(4073341), Standard: q(1700000), DF: &df,
				Most: q(12700 * length.Nanometre), Source: "common practice, no source", Verdict: inspect.Accept, Rule: "guarded", Probability: &p, Gauge: "indicator"},
			{Feature: inspect.Diameter, Name: "diameter", Value: q(12492566667), Least: q(11430 * length.Micrometre), Target: q(length.Inch / 2), Verdict: inspect.Accept, Rule: "guarded"},
			{Feature: inspect.PrimaryLand, Name: "primary share of the land", Flute: 2, Value: share(0.300826446), Most: share(0.5), Target: share(0.25), Verdict: inspect.Accept, Rule: "simple"},
			{Feature: inspect.Length, Name: "length", Value: q(75946 * length.Micrometre), Verdict: inspect.NotJudged},
		},
		Radial:   []length.Length{0, 1270 * length.Nanometre, 2540 * length.Nanometre, 1270 * length.Nanometre},
		Readings: []inspect.Reading{{Feature: inspect.RadialRunout, Flute: 1, FromEnd: ptr(2540 * length.Micrometre), Repeat: 1, Text: "0.00000", Unit: length.In, Gauge: "indicator", At: "2026-11-27T02:33:31.000000Z"}},
		Seen:     []inspect.Seen{{Sight: inspect.Cracks}},
		Gauges:   map[string]Instrument{"indicator": {Serial: "0071", Resolution: 1270 * length.Nanometre, PermissibleError: 2540 * length.Nanometre, CalibrationDue: "2027-06-30"}},
		Standing: record.StandsReleased, Ruling: &Ruling{Word: "release", By: "Vale", At: "2026-11-27T02:33:35.924667Z", ClockSet: true},
		Head: "a57e82c6b158ea0a-22-aa", SummaryHead: "a57e82c6b158ea0a-21-bb", Records: []string{"bb", "aa"}, NewestAt: "2026-11-27T02:33:35.924667Z", NewestSet: true,
	}
}

func ptr[T any](v T) *T { return &v }

// Source of the first: Python's documentation of its module uuid, uuid5(NAMESPACE_DNS, 'python.org'). Of the second: the
// namespace as Python 3.11's uuid gives it, and of the third a name in it.
func TestNameUUID(t *testing.T) {
	dns := [16]byte{0x6b, 0xa7, 0xb8, 0x10, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8}
	space := namespace
	defer func() { namespace = space }()
	namespace = dns
	if got, want := id("python.org"), "886313e1-3b8a-5372-9b90-0c9aee199e5d"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	namespace = space
	if got, want := id("tool", "a57e82c6b158ea0a", "EM-0412"), "b2c62ed0-bf47-5e95-995e-cfacafae61e9"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestFileName(t *testing.T) {
	for of, want := range map[string]string{"EM-0412.2": "EM-0412.2.qif", "A B": "A_B-" + id("name", "A B")[:8] + ".qif", "../x": ".._x-" + id("name", "../x")[:8] + ".qif"} {
		if got := FileName(of, ".qif"); got != want {
			t.Errorf("%q: got %q, want %q", of, got, want)
		}
	}
	if FileName("A B", "") == FileName("A/B", "") {
		t.Error("two ids have one name")
	}
}

// The same record gives the same bytes; another record, another document of the same characteristics.
func TestStable(t *testing.T) {
	first, _ := QIF(released())
	again, _ := QIF(released())
	if !bytes.Equal(first, again) {
		t.Error("two exports of one record differ")
	}
	in := released()
	in.Records, in.Corrected = append(in.Records, "dd"), true
	corrected, _ := QIF(in)
	a, b := read(t, first), read(t, corrected)
	if a.QPId == b.QPId {
		t.Error("a correction leaves the document's id as it was")
	}
	for i := range a.Items.All {
		if a.Items.All[i].UUID != b.Items.All[i].UUID {
			t.Errorf("%s: its UUID changes with a correction", a.Items.All[i].Name)
		}
	}
	if bytes.Contains(first, []byte("/srv")) {
		t.Error("the path of the bench file leaves the shop")
	}
}

// What a document says of the inspection and of the tool, against the table of what each means.
func TestStatuses(t *testing.T) {
	type want struct{ inspection, component, cutter string }
	for name, c := range map[string]struct {
		change func(*Asset)
		want   want
	}{
		"released":              {func(a *Asset) {}, want{"PASS", "PASS", "RECONDITIONED MEASURED AVAILABLE"}},
		"accepted, unsigned":    {func(a *Asset) { a.Ruling, a.Standing = nil, record.StandsToSign }, want{"PASS", "to sign", "RECONDITIONED MEASURED UNAVAILABLE"}},
		"undecided":             {func(a *Asset) { a.undecided() }, want{"UNKNOWN", "to inspect", "MEASURED UNAVAILABLE"}},
		"not judged":            {func(a *Asset) { a.undecided(); a.Verdict = inspect.NotJudged }, want{"NOT_CALCULATED", "to inspect", "MEASURED UNAVAILABLE"}},
		"rejected":              {func(a *Asset) { a.rejected(CallsGrind, record.StandsToGrind) }, want{"REWORK", "to grind", "USED MEASURED TAGGED_OUT UNAVAILABLE"}},
		"withdraw called for":   {func(a *Asset) { a.rejected(CallsPerson, record.StandsToSign) }, want{"FAIL", "to sign", "USED MEASURED TAGGED_OUT UNAVAILABLE"}},
		"withdrawn":             {func(a *Asset) { a.rejected(CallsGrind, record.StandsWithdrawn); a.Ruling = &Ruling{Word: "withdraw"} }, want{"FAIL", "withdrawn", "MEASURED EXPIRED UNAVAILABLE"}},
		"retired":               {func(a *Asset) { a.Standing = record.StandsRetired }, want{"PASS", "retired", "MEASURED EXPIRED UNAVAILABLE"}},
		"conceded":              {func(a *Asset) { a.rejected(CallsGrind, record.StandsConceded); a.Ruling = &Ruling{Word: "concession"} }, want{"REWORK", "released by concession", "MEASURED UNAVAILABLE"}},
		"conceded, and used":    {func(a *Asset) { a.rejected(CallsGrind, record.StandsConceded); a.ConcessionIsUsable = true }, want{"REWORK", "released by concession", "RECONDITIONED MEASURED AVAILABLE"}},
		"locked after all":      {func(a *Asset) { a.Standing = record.StandsLocked }, want{"UNKNOWN", "locked", "MEASURED TAGGED_OUT UNAVAILABLE"}},
		"recalled":              {func(a *Asset) { a.Standing = record.StandsRecalled }, want{"UNKNOWN", "recalled", "MEASURED TAGGED_OUT UNAVAILABLE"}},
		"worn, before":          {func(a *Asset) { a.before(CallsGrind, record.StandsToGrind) }, want{"REWORK", "to grind", "USED MEASURED TAGGED_OUT UNAVAILABLE"}},
		"none, before":          {func(a *Asset) { a.before(CallsNothing, record.StandsToSign) }, want{"not reground", "to sign", "MEASURED UNAVAILABLE"}},
		"none, before, signed":  {func(a *Asset) { a.before(CallsNothing, record.StandsReleased); a.NotReground = true }, want{"not reground", "released, not reground", "USED MEASURED AVAILABLE"}},
		"the same, once ground": {func(a *Asset) { a.before(CallsNothing, record.StandsReleased); a.NotReground, a.Regrinds = true, 1 }, want{"not reground", "released, not reground", "RECONDITIONED MEASURED AVAILABLE"}},
		"between":               {func(a *Asset) { a.Stage, a.Standing = inspect.Between, record.StandsToFinish }, want{"between the grinds: go on", "to finish", "USED MEASURED TAGGED_OUT UNAVAILABLE"}},
		"given up":              {func(a *Asset) { a.GivenUp = true }, want{"NOT_CALCULATED", "PASS", ""}},
	} {
		a := Asset{Inspection: released()}
		c.change(&a)
		document, err := QIF(a.Inspection)
		if err != nil {
			t.Fatal(err)
		}
		f := read(t, document)
		got := want{f.Results.Status + f.Results.OtherStatus, f.Component.Status + f.Component.OtherStatus, ""}
		if document, err := MTConnect(a); err == nil {
			var asset struct {
				Status []string `xml:"Assets>CuttingTool>CuttingToolLifeCycle>CutterStatus>Status"`
			}
			if err := xml.Unmarshal(document, &asset); err != nil {
				t.Fatal(err)
			}
			got.cutter = strings.Join(asset.Status, " ")
		}
		if got != c.want {
			t.Errorf("%s: got %+v, want %+v", name, got, c.want)
		}
	}
}

func (a *Asset) undecided() {
	a.Verdict, a.Calls, a.Standing, a.Ruling = inspect.Undecided, CallsForReading, record.StandsToInspect, nil
}

func (a *Asset) rejected(c Calls, s record.Standing) {
	a.Verdict, a.Calls, a.Standing, a.Ruling = inspect.Reject, c, s, nil
}

func (a *Asset) before(c Calls, s record.Standing) {
	a.Stage, a.Calls, a.Standing = inspect.Before, c, s
}

// Of the pairs that the standard forbids in words none is ever written, whatever stands in an inspection; and a tool is
// AVAILABLE only where its standing says so. Source: the annotation of CutterStatus in the schema of MTConnect 1.8.
func TestForbiddenPairs(t *testing.T) {
	forbidden := map[string][]string{
		"NEW": {"USED", "RECONDITIONED", "EXPIRED"}, "AVAILABLE": {"UNAVAILABLE", "EXPIRED", "BROKEN", "NOT_REGISTERED"}, "ALLOCATED": {"UNALLOCATED"},
	}
	for seed := range uint64(2000) {
		a := Asset{Inspection: invented(seed), Regrinds: int(seed % 2), ConcessionIsUsable: seed%3 == 0}
		a.NotReground = seed%5 == 0
		words := cutterStatus(a)
		has := map[string]bool{}
		for _, w := range words {
			if has[w] {
				t.Errorf("%v: %s twice", words, w)
			}
			has[w] = true
		}
		for one, others := range forbidden {
			for _, other := range others {
				if has[one] && has[other] {
					t.Errorf("%v: %s with %s", words, one, other)
				}
			}
		}
		if has["AVAILABLE"] == has["UNAVAILABLE"] || has["AVAILABLE"] && a.Standing != record.StandsReleased && !(a.Standing == record.StandsConceded && a.ConcessionIsUsable) {
			t.Errorf("%v for a tool that is %s", words, a.Standing)
		}
	}
}

func TestClockNotSet(t *testing.T) {
	a := Asset{Inspection: released()}
	a.NewestSet = false
	if _, err := MTConnect(a); !errors.Is(err, ErrClockNotSet) {
		t.Errorf("got %v, want a refusal", err)
	}
	in := released()
	in.ClockSet, in.Ruling.ClockSet = false, false
	document, err := QIF(in)
	if err != nil {
		t.Fatal(err)
	}
	if i := bytes.Index(document, []byte("2026-11-27T")); i >= 0 {
		t.Errorf("a time by a clock that was not set: %s", document[max(0, i-60):i+30])
	}
}

// Text comes back as it was written, but for what XML cannot carry.
func TestTextSurvives(t *testing.T) {
	in := released()
	in.Tool.ID, in.Job = `A&<"é 漢 -->`, "bell\x07 and \u202e"
	document, err := QIF(in)
	if err != nil {
		t.Fatal(err)
	}
	f := read(t, document)
	if diff := cmp.Diff([]string{in.Tool.ID, "bell\ufffd and \u202e"}, []string{f.Component.Serial, f.Component.Lot}); diff != "" {
		t.Error(diff)
	}
}
