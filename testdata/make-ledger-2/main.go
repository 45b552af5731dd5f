// Make-ledger-2 makes the ledger in testdata/ledger-2: invented, and with everything in it that a ledger of format 2
// can have. It was run once; what stands in testdata/ledger-2 is kept, and every version tells the same of it.
//
//	go run ./testdata/make-ledger-2 FOLDER
//
// In it are two benches, the second merged; tools on every step of their way and stopped in every way; a correction,
// one of a correction, and a recall; a concession, a withdrawal, a lock, one that was lifted and one of a draft that is
// still open; a job; a study, a dress, notes; bytes that a power cut left, voided by the next segment, which parts the
// readings of an inspection from its summary; and a torn tail.
package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: make-ledger-2 FOLDER, a new one")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "make-ledger-2:", err)
		os.Exit(1)
	}
}

// bench is one bench with its ledger. Its clock gains a second with every record.
type bench struct {
	*ledger.Ledger
	dir string
	now time.Time
	err error // the first; nothing is done after it
}

func openBench(dir, name string, now time.Time) *bench {
	b := &bench{dir: dir, now: now}
	b.Ledger, b.err = ledger.Open(dir, ledger.Options{Bench: name, Clock: b.clock})
	return b
}

// clock is set by a reference, and counts one boot.
func (b *bench) clock() ledger.Time {
	b.now = b.now.Add(time.Second)
	return ledger.Time{UTC: b.now, SinceBoot: b.now.Sub(start), Boot: "00000000-0000-4000-8000-000000000000", Synchronised: true}
}

var start = time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)

func (b *bench) do(what func() error) {
	if b.err == nil {
		b.err = what()
	}
}

func (b *bench) stamp() string { return b.now.UTC().Format("2006-01-02T15:04:05.000000Z") }

func (b *bench) who(by, why string) record.Who { return record.Who{By: by, Why: why, At: b.now} }

func tool(id string, flutes int, diameter length.Length) inspect.Tool {
	primary, secondary := 10*length.Degree, 19*length.Degree
	return inspect.Tool{
		ID: id, Diameter: diameter, Flutes: flutes, Material: inspect.HSS, Helix: 30 * length.Degree, Hand: inspect.RightHand, Cut: inspect.RightHand,
		Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing, PrimaryRelief: &primary, SecondaryRelief: &secondary, Note: "invented",
	}
}

func (b *bench) add(t inspect.Tool) {
	b.do(func() error { _, err := record.SaveTool(b.Ledger, t); return err })
}

// read is what is read in an inspection: heights, widths and a diameter, in the unit's own digits.
type read struct {
	stage     inspect.Stage
	job       string
	heights   []string // of each flute, every round
	primary   []string
	land      []string
	wear      []string
	diameter  string
	unit      length.Unit
	gauge     string
	seen      []inspect.Seen
	wheel     string
	divisions int
}

var looked = []inspect.Seen{
	{Sight: inspect.Cracks}, {Sight: inspect.Burn}, {Sight: inspect.ChippedCorner}, {Sight: inspect.ChippedEdge}, {Sight: inspect.BluntCorner}, {Sight: inspect.BentShank}, {Sight: inspect.BurredShank},
}

var cracked = []inspect.Seen{{Sight: inspect.Cracks, Yes: true, Note: "at the corner of flute 2"}}

// inspect opens an inspection, reads it and, unless it is left half read, closes it. It returns its id.
func (b *bench) inspect(t inspect.Tool, r read, leave bool) (id string) {
	b.do(func() error {
		var err error
		if id, err = record.NextID(b.Ledger, t.ID); err != nil {
			return err
		}
		draft, d, events, err := b.take(t, id, r)
		if err != nil || leave {
			return cmp.Or(err, draft.Release())
		}
		entries, err := record.Close(d, events, inspect.Judge(d.Inspection), b.stamp(), "")
		if err != nil {
			return err
		}
		_, err = draft.Close(entries...)
		return err
	})
	return id
}

// take opens an inspection and takes its readings, each into the draft.
func (b *bench) take(t inspect.Tool, id string, r read) (*ledger.Draft, record.Draft, []json.RawMessage, error) {
	in := inspect.Inspection{
		ID: id, Tool: t, Stage: r.stage, Job: r.job, Inspector: "Person A", Holding: inspect.InVee, Basis: inspect.DefaultBasis(t),
		Grinder: "grinder 1", Wheel: r.wheel, Divisions: r.divisions,
	}
	in.Basis.Revision, in.Basis.Unit, in.Basis.Required = "bench.toml 0123456789ab", r.unit, []inspect.Item{inspect.Item(inspect.RadialRunout)}
	in.Basis.Gauges = map[string]inspect.Instrument{
		"dial":                {Resolution: length.Tenth / 2, PermissibleError: length.Tenth / 2, Serial: "1234", CalibrationDue: "2027-01-31"},
		"practice (invented)": {Resolution: length.Tenth / 2},
	}
	in.LastDiameter, in.Regrind, _ = record.Known(b.Ledger, t.ID, r.stage)
	var d record.Draft
	var events []json.RawMessage
	opened := record.Event{What: "begun", At: b.stamp(), Inspection: &in, Plan: json.RawMessage("{}")}
	text, err := json.Marshal(opened)
	if err != nil {
		return nil, d, nil, err
	}
	draft, err := b.NewDraft(id, ledger.Entry{Kind: record.KindOpened, Subject: record.ToolSubject(t.ID), Body: text})
	if err != nil {
		return nil, d, nil, err
	}
	events = append(events, text)
	if err := d.Take(opened); err != nil {
		return nil, d, nil, err
	}
	put := func(e record.Event) error {
		b.now = b.now.Add(3 * time.Second)
		if e.Reading != nil {
			e.Reading.At = b.stamp()
		} else {
			e.At = b.stamp()
		}
		text, err := json.Marshal(e)
		if err == nil {
			err = draft.Append(text)
		}
		events = append(events, text)
		return cmp.Or(err, d.Take(e))
	}
	for _, s := range r.seen {
		if record.LocksTool(s, r.stage) {
			if err := record.LockNow(b.Ledger, in, s, draft.Opened().Ref(), b.stamp()); err != nil {
				return nil, d, nil, err
			}
		}
		if err := put(record.Event{What: "seen", Seen: &s}); err != nil {
			return nil, d, nil, err
		}
	}
	for _, reading := range r.readings() {
		if err := put(record.Event{What: "reading", Reading: &reading}); err != nil {
			return nil, d, nil, err
		}
	}
	return draft, d, events, nil
}

// readings puts the digits into readings: heights three rounds over, the rest once.
func (r read) readings() []inspect.Reading {
	var all []inspect.Reading
	add := func(f inspect.Feature, flute, repeat int, text, gauge string) {
		value, err := length.Parse(text, r.unit)
		if err != nil {
			panic(err) // they are all written below
		}
		all = append(all, inspect.Reading{Feature: f, Flute: flute, Repeat: repeat, Value: value, Text: text, Unit: r.unit, Gauge: gauge})
	}
	gauge := cmp.Or(r.gauge, "dial")
	for repeat := 1; repeat <= 3; repeat++ {
		for i, text := range r.heights {
			add(inspect.RadialRunout, i+1, repeat, text, gauge)
		}
	}
	for _, widths := range []struct {
		feature inspect.Feature
		texts   []string
	}{{inspect.WearLand, r.wear}, {inspect.PrimaryLand, r.primary}, {inspect.Land, r.land}} {
		for i, text := range widths.texts {
			add(widths.feature, i+1, 1, text, "loupe")
		}
	}
	if r.diameter != "" {
		add(inspect.Diameter, 0, 1, r.diameter, "micrometer")
	}
	return all
}

func (b *bench) rule(word record.Word, why string, ids ...string) {
	b.do(func() error { _, err := record.Rule(b.Ledger, ids, word, b.who("Person A", why)); return err })
}

func (b *bench) correct(id string, f inspect.Feature, flute, repeat int, text string, unit length.Unit, why string) {
	b.do(func() error {
		value, err := length.Parse(text, unit)
		if err != nil {
			return err
		}
		r := inspect.Reading{Feature: f, Flute: flute, Repeat: repeat, Value: value, Text: text, Unit: unit}
		_, err = record.Correct(b.Ledger, id, record.Fix{Reading: &r}, b.who("Person B", why))
		return err
	})
}

// tear leaves bytes behind the chain, as a power cut in the middle of a line does, and opens the ledger again.
func (b *bench) tear(name string) {
	b.do(func() error {
		head, err := b.Head()
		if err != nil {
			return err
		}
		segments, err := filepath.Glob(filepath.Join(b.dir, head.Bench, "*.jsonl"))
		if err != nil {
			return err
		}
		f, err := os.OpenFile(segments[len(segments)-1], os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		if _, err := f.WriteString("9a3c51d7 999 999 note 00112233"); err != nil {
			return err
		}
		if err := f.Close(); err != nil || name == "" {
			return err
		}
		again := openBench(b.dir, name, b.now)
		b.Ledger, b.now = again.Ledger, again.now
		return again.err
	})
}

var (
	fine   = []string{"0", "0.0001", "0.0002", "0.0001"}
	off    = []string{"0", "0.0008", "0.0016", "0.0008"}
	widths = []string{"0.016", "0.017", "0.016", "0.016"}
	lands  = []string{"0.055", "0.056", "0.055", "0.056"}
	worn   = []string{"0.010", "0.012", "0.009", "0.011"}
)

func before(job string) read {
	return read{stage: inspect.Before, job: job, heights: off, primary: []string{"0.024", "0.025", "0.024", "0.026"}, land: lands, wear: worn, diameter: "0.4995", unit: length.In, seen: looked}
}

func after(job string, heights []string) read {
	return read{stage: inspect.After, job: job, heights: heights, primary: widths, land: lands, diameter: "0.4921", unit: length.In, seen: looked, wheel: "cup", divisions: 3}
}

func write(dir string) error {
	if _, err := os.Stat(dir); err == nil {
		return fmt.Errorf("%s is there already", dir)
	}
	b := openBench(dir, "bench one", start)
	four := func(n int) inspect.Tool { return tool(fmt.Sprintf("EM-%d", n), 4, length.Inch/2) }
	for n := 1; n <= 10; n++ {
		b.add(four(n))
	}
	metric := tool("MM-12", 3, 12*length.Millimetre)
	b.add(metric)
	b.do(func() error {
		_, err := record.SaveJob(b.Ledger, record.Job{ID: "J-1", Customer: "tool room 2", Quantity: 3, Sample: 3, Authority: "Person A", Tools: []string{"EM-1", "EM-2", "EM-4"}}, b.now)
		return err
	})
	b.do(func() error {
		_, err := record.SaveStudy(b.Ledger, "dial", record.Study{Date: "2026-03-02", Who: "Person A", SD: 0.6, DF: 27})
		return err
	})
	b.do(func() error {
		_, err := record.SaveDress(b.Ledger, "cup", record.Dress{Date: "2026-03-02", Who: "Person A"})
		return err
	})

	// EM-1: its whole way, released, and corrected since to what still conforms.
	b.inspect(four(1), before("J-1"), false)
	b.do(func() error {
		_, err := record.RecordGround(b.Ledger, "EM-1", record.Ground{Order: []int{1, 4, 3, 2}, Wheel: "cup", Divisions: 3, By: "Person A", At: b.stamp()})
		return err
	})
	b.inspect(four(1), read{stage: inspect.Between, job: "J-1", primary: []string{"0.020", "0.021", "0.020", "0.020"}, land: lands, unit: length.In}, false)
	em1 := b.inspect(four(1), after("J-1", fine), false)
	b.rule(record.Release, "", em1)
	b.correct(em1, inspect.RadialRunout, 3, 2, "0.00015", length.In, "misread a half division")
	b.correct(em1, inspect.Diameter, 0, 1, "0.4920", length.In, "thimble read one line low")

	// EM-2: does not conform, and may be used for roughing.
	b.inspect(four(2), before("J-1"), false)
	em2 := b.inspect(four(2), after("J-1", off), false)
	b.rule(record.Concession, "roughing only", em2)

	// EM-3: a crack locks it. EM-4: a crack, and withdrawn.
	crack := read{stage: inspect.Before, heights: fine, unit: length.In, seen: cracked}
	b.inspect(four(3), crack, false)
	crack.job = "J-1"
	b.rule(record.Withdraw, "cracked", b.inspect(four(4), crack, false))
	b.do(func() error { _, err := record.ReleaseJob(b.Ledger, "J-1", b.who("Person A", "")); return err })

	// EM-5: released, then corrected to a reject, and the correction corrected again: recalled until it is released anew.
	em5 := b.inspect(four(5), after("", fine), false)
	b.rule(record.Release, "", em5)
	b.correct(em5, inspect.RadialRunout, 2, 1, "0.0041", length.In, "the zero had been knocked")
	b.correct(em5, inspect.RadialRunout, 2, 2, "0.0040", length.In, "and here")
	b.correct(em5, inspect.RadialRunout, 2, 3, "0.0042", length.In, "and here")
	b.correct(em5, inspect.RadialRunout, 2, 3, "0.0041", length.In, "a slip in the correction")

	// EM-6: a lock that was lifted, and a clear inspection that nobody has signed.
	b.inspect(four(6), crack, false)
	b.do(func() error {
		_, _, err := record.Unlock(b.Ledger, "EM-6", b.who("Person A", "a scratch: seen under the lamp"))
		return err
	})
	b.inspect(four(6), after("", fine), false)

	// EM-7: read with a practice gauge. EM-8: half read, and a crack in it. EM-9: sent out. EM-10: retired.
	practice := after("", fine)
	practice.gauge = "practice (invented)"
	b.inspect(four(7), practice, false)
	b.inspect(four(8), read{stage: inspect.After, heights: fine, unit: length.In, seen: cracked}, true)
	b.do(func() error {
		_, err := record.RecordAway(b.Ledger, "EM-9", record.Away{Where: "coating", By: "Person A", At: b.stamp()})
		return err
	})
	b.do(func() error {
		_, err := record.RecordNote(b.Ledger, "EM-9", record.Note{Text: "flute 2 is marked", By: "Person A", At: b.stamp()})
		return err
	})
	retired := four(10)
	retired.Retired = "under its smallest diameter"
	b.add(retired)

	// MM-12, metric: a power cut parts the readings of its inspection from their summary, and leaves bytes that the next
	// segment voids.
	b.apart(metric)

	// A second bench that knew of all this, and of nothing after: there EM-1 is found cracked and EM-6 rejected, while here
	// EM-6 is released.
	other := openBench(dir+"-other", "bench two", b.now)
	other.do(func() error { _, err := other.Merge(dir, ledger.MergeOptions{Check: record.Check}); return err })
	other.inspect(four(1), crack, false)
	other.inspect(four(6), after("", off), false)
	b.rule(record.Release, "", "EM-6.2")
	b.do(func() error {
		if other.err != nil {
			return other.err
		}
		_, err := b.Merge(other.dir, ledger.MergeOptions{Check: record.Check})
		return err
	})
	b.tear("")
	if b.err != nil {
		return b.err
	}
	return os.RemoveAll(other.dir)
}

// apart closes an inspection whose readings stand at the end of one segment, and all else in the next.
func (b *bench) apart(t inspect.Tool) {
	r := read{
		stage: inspect.After, heights: []string{"0.000", "0.003", "0.006"}, primary: []string{"0.40", "0.41", "0.40"}, land: []string{"1.40", "1.41", "1.40"},
		diameter: "11.812", unit: length.Mm, seen: looked,
	}
	var entries []ledger.Entry
	var draft *ledger.Draft
	b.do(func() error {
		var d record.Draft
		var events []json.RawMessage
		var err error
		if draft, d, events, err = b.take(t, t.ID+".1", r); err != nil {
			return err
		}
		if entries, err = record.Close(d, events, inspect.Judge(d.Inspection), b.stamp(), ""); err != nil {
			return err
		}
		records, err := b.Append(entries[0])
		if err != nil {
			return err
		}
		about := records[0].Ref()
		entries[1].AboutBack, entries[1].About = 0, &about
		return draft.Release()
	})
	b.tear("bench one")
	b.do(func() error {
		draft, _, err := b.OpenDraft(t.ID + ".1")
		if err != nil {
			return err
		}
		_, err = draft.Close(entries[1:]...)
		return err
	})
}
