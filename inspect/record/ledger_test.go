package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Everything in this file is invented.

func testTool(id string) inspect.Tool {
	return inspect.Tool{
		ID: id, Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Cut: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
}

// at is when all is done in these tests: nothing rests on a clock.
var at = time.Date(2026, 11, 27, 8, 0, 0, 0, time.UTC)

func by(name, why string) Who { return Who{name, why, at} }

func openAt(t testing.TB, dir string) *ledger.Ledger {
	t.Helper()
	l, err := ledger.Open(dir, ledger.Options{Bench: "test"})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func add(t testing.TB, l *ledger.Ledger, ids ...string) {
	t.Helper()
	for _, id := range ids {
		if _, err := SaveTool(l, testTool(id)); err != nil {
			t.Fatal(err)
		}
	}
}

// reading is of radial run-out, in tenths.
func reading(flute, repeat int, tenths length.Length) inspect.Reading {
	v := tenths * length.Tenth
	return inspect.Reading{Feature: inspect.RadialRunout, Flute: flute, Repeat: repeat, Value: v, Text: strings.TrimSuffix(v.In(length.In), " in"), Unit: length.In, Gauge: "dial"}
}

// inspected closes an inspection of a tool whose flute 2 stands some tenths over flute 1, and which release wants
// nothing else of. It returns its id.
func inspected(t testing.TB, l *ledger.Ledger, tool, job string, stage inspect.Stage, tenths length.Length, seen ...inspect.Seen) string {
	t.Helper()
	id, err := NextID(l, tool)
	if err != nil {
		t.Fatal(err)
	}
	in := inspect.Inspection{ID: id, Tool: testTool(tool), Stage: stage, Job: job, Inspector: "Vale", Holding: inspect.InVee, Basis: inspect.DefaultBasis(testTool(tool))}
	in.Basis.Gauges = map[string]inspect.Instrument{"dial": {Resolution: length.Tenth / 10}}
	in.Basis.Required = []inspect.Item{}
	event := func(e Event) json.RawMessage { return marshal(t, e) }
	opened := Event{What: "begun", At: Stamp(at), Inspection: &in, Plan: json.RawMessage(`{}`)}
	draft, err := l.NewDraft(id, ledger.Entry{Kind: KindOpened, Subject: ToolSubject(tool), Body: event(opened)})
	if err != nil {
		t.Fatal(err)
	}
	var d Draft
	events := []json.RawMessage{event(opened)}
	take := func(e Event) {
		if err := d.Take(e); err != nil {
			t.Fatal(err)
		}
	}
	take(opened)
	for _, s := range seen {
		if LocksTool(s, stage) {
			if err := LockNow(l, in, s, draft.Opened().Ref(), Stamp(at)); err != nil {
				t.Fatal(err)
			}
		}
		e := Event{What: "seen", At: Stamp(at), Seen: &s}
		events = append(events, event(e))
		take(e)
	}
	for repeat := 1; repeat <= 3; repeat++ {
		for flute := 1; flute <= 2; flute++ {
			r := reading(flute, repeat, length.Length(flute-1)*tenths)
			e := Event{What: "reading", Reading: &r}
			events = append(events, event(e))
			take(e)
		}
	}
	entries, err := Close(d, events, inspect.Judge(d.Inspection), Stamp(at), "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := draft.Close(entries...); err != nil {
		t.Fatal(err)
	}
	return id
}

// is fails unless a tool stands so: by its own records, by the index as it is kept, and by one built anew.
func is(t testing.TB, l *ledger.Ledger, tool string, want Standing) {
	t.Helper()
	got, err := FindTool(l, tool)
	if err != nil || got.Standing != want {
		t.Errorf("%s stands %q, %v, want %q", tool, got.Standing, err, want)
	}
	for _, kept := range []bool{true, false} {
		if !kept {
			os.Remove(filepath.Join(l.Dir(), indexName))
		}
		ix, err := readIndex(l)
		if err != nil || standingOf(ix.rows[tool]) != want {
			t.Errorf("%s is listed as %s, %v, want %q (index kept: %v)", tool, ix.rows[tool], err, want, kept)
		}
	}
}

func refused(t *testing.T, err error, want string) {
	t.Helper()
	if err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want an error with %q", err, want)
	}
}

func TestRulings(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B", "C")
	good, good2, bad := inspected(t, l, "A", "", inspect.After, 1), inspected(t, l, "B", "", inspect.After, 1), inspected(t, l, "C", "", inspect.After, 30)
	rule := func(word Word, why string, ids ...string) error {
		_, err := Rule(l, ids, word, by("Vale", why))
		return err
	}
	refused(t, rule(Release, "", good, bad), "does not conform")
	is(t, l, "A", StandsToSign) // of several all or none
	refused(t, rule("bless", "", good), "want release, concession or withdraw")
	for _, why := range []string{" ", "x", ".", "12 :-)", "a b c"} { // of nothing that a machinist could go by
		refused(t, rule(Concession, why, bad), "needs a reason")
	}
	refused(t, rule(Concession, "roughing", good), "needs no concession")
	refused(t, rule(Release, "", good, good), "already in this")
	refused(t, rule(Release, "", "A.9"), "no such closed inspection")
	refused(t, rule(Release, "", "A"), "that is a tool; its newest one is A.1")
	if _, err := Rule(l, []string{good}, Release, by(" ", "")); err == nil {
		t.Error("nobody ruled")
	}
	if err := rule(Release, "", good, good2); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReleased)
	is(t, l, "B", StandsReleased)
	refused(t, rule(Release, "", good), "was ruled by Vale on 2026-11-27 already")
	if err := rule(Concession, "roughing", bad); err != nil {
		t.Fatal(err)
	}
	is(t, l, "C", StandsConceded)
	refused(t, rule(Concession, "roughing", bad), "already")
	worn := inspected(t, l, "A", "", inspect.Before, 30)
	refused(t, rule(Release, "", good), "not the newest of this tool: inspection A.2 came later")
	refused(t, rule(Release, "", worn), "a tool is released by one after the grind")
	if err := rule(Withdraw, "dropped", worn); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsWithdrawn)
	for _, word := range []Word{Release, Concession, Withdraw} {
		refused(t, rule(word, "a slip", inspectedQuietly(t, l, "A")), "withdraw was ruled")
	}
	add(t, l, "D")
	if err := rule(Withdraw, "lost", "D"); err != nil {
		t.Fatal(err)
	}
	is(t, l, "D", StandsWithdrawn)
	refused(t, rule(Withdraw, "lost", "D"), "already")
	if _, err := Succeed(l, testTool("D2"), "D", by("Vale", "")); err != nil {
		t.Fatal(err)
	}
	is(t, l, "D", StandsWithdrawn)
	is(t, l, "D2", StandsReceived)
	_, err := Succeed(l, testTool("B2"), "B", by("Vale", ""))
	refused(t, err, "only one that was withdrawn")
	in, err := Find(l, bad)
	if err != nil || len(in.Rulings) != 1 || in.Newest.Seq <= in.Record.Seq || in.Newest.Hash != in.Ruling().Ref.Hash {
		t.Errorf("%+v, %v: the newest record that counts is the ruling", in.Newest, err)
	}
}

// inspectedQuietly is a clear inspection after the grind.
func inspectedQuietly(t testing.TB, l *ledger.Ledger, tool string) string {
	return inspected(t, l, tool, "", inspect.After, 1)
}

func TestLocks(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B", "C")
	crack := inspect.Seen{Sight: inspect.Cracks, Yes: true, Note: "at the corner"}
	inspected(t, l, "A", "", inspect.Before, 1, crack)
	is(t, l, "A", StandsLocked)
	good := inspectedQuietly(t, l, "A")
	is(t, l, "A", StandsLocked)
	_, err := Rule(l, []string{good}, Release, by("Vale", ""))
	refused(t, err, "the tool is locked, cracks seen in A.1")
	for _, why := range []string{" ", ".", "ok"} {
		_, _, err = Unlock(l, "A", by("Vale", why))
		refused(t, err, "needs a reason")
	}
	_, _, err = Unlock(l, "B", by("Vale", "a slip"))
	refused(t, err, "is not locked")
	lifted, records, err := Unlock(l, "A", by("Vale", "a scratch"))
	if err != nil || len(lifted) != 1 || lifted[0].Note != "at the corner" || *records[0].About != lifted[0].Ref {
		t.Fatalf("%+v, %+v, %v", lifted, records, err)
	}
	is(t, l, "A", StandsToSign)
	inspected(t, l, "B", "", inspect.After, 1, inspect.Seen{Sight: inspect.Burn, Yes: true})
	is(t, l, "B", StandsLocked)
	inspected(t, l, "C", "", inspect.Before, 1, inspect.Seen{Sight: inspect.Burn, Yes: true})
	if c, err := FindTool(l, "C"); err != nil || c.Standing == StandsLocked {
		t.Errorf("%s, %v: a burn before the grind is ground out", c.Standing, err)
	}
	// One that was withdrawn is not unlocked any more.
	if _, err := Rule(l, []string{"B.1"}, Withdraw, by("Vale", "burnt")); err != nil {
		t.Fatal(err)
	}
	_, _, err = Unlock(l, "B", by("Vale", "a slip"))
	refused(t, err, "withdraw was ruled")
}

// A crack that stands in an inspection locks the tool though no lock was recorded for it: in the draft that is open,
// and in what another program closed.
func TestLockThatWasNotRecorded(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B")
	in := inspect.Inspection{ID: "A.1", Tool: testTool("A"), Stage: inspect.After, Basis: inspect.DefaultBasis(testTool("A"))}
	opened := marshal(t, Event{What: "begun", At: Stamp(at), Inspection: &in})
	draft, err := l.NewDraft("A.1", ledger.Entry{Kind: KindOpened, Subject: ToolSubject("A"), Body: opened})
	if err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReceived)
	seen := marshal(t, Event{What: "seen", Seen: &inspect.Seen{Sight: inspect.Cracks, Yes: true}})
	if err := draft.Append(seen); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsLocked)
	d := Draft{Inspection: in, Opened: Stamp(at)}
	d.Inspection.Seen = []inspect.Seen{{Sight: inspect.Cracks, Yes: true}}
	entries, err := Close(d, []json.RawMessage{opened, seen}, inspect.Judge(d.Inspection), Stamp(at), "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := draft.Close(entries...); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsLocked)
	if _, _, err := Unlock(l, "A", by("Vale", "looked again")); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsToInspect) // the lock is lifted, and nothing else was judged
	if a, err := FindTool(l, "A"); err != nil || a.What != nil {
		t.Errorf("%v, %v: want nothing called for", a.What, err)
	}
}

func TestCorrections(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B")
	id := inspectedQuietly(t, l, "A")
	if _, err := Rule(l, []string{id}, Release, by("Vale", "")); err != nil {
		t.Fatal(err)
	}
	fix := func(r inspect.Reading) (Inspection, error) {
		return Correct(l, id, Fix{Reading: &r}, by("Vale", "misread"))
	}
	_, err := fix(reading(2, 9, 1))
	refused(t, err, "has no reading")
	_, err = fix(reading(2, 1, 1))
	refused(t, err, "already")
	_, err = Correct(l, id, Fix{Reading: &inspect.Reading{}}, by("Vale", ""))
	refused(t, err, "needs a reason")
	in, err := fix(reading(2, 1, 1+1))
	if err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReleased) // it still conforms
	c := in.Corrections[0]
	if c.Was.Value != length.Tenth || c.Reading.Value != 2*length.Tenth || c.Reading.Gauge != "dial" || in.Readings[1].Value != 2*length.Tenth || in.Newest.Seq != c.Record.Seq {
		t.Errorf("%+v", c)
	}
	if in, err = fix(reading(2, 1, 40)); err != nil || in.Stands.Standing != StandsRecalled || in.Corrections[1].Was.Value != 2*length.Tenth {
		t.Fatalf("%+v, %v", in.Stands, err)
	}
	is(t, l, "A", StandsRecalled)
	_, err = Rule(l, []string{id}, Release, by("Vale", ""))
	refused(t, err, "does not conform")
	if _, err = fix(reading(2, 1, 1)); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsRecalled)
	if _, err := Rule(l, []string{id}, Release, by("Vale", "")); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReleased)
	// A chip has a length.
	long := 20 * length.Thou
	if in, err = Correct(l, id, Fix{Seen: &inspect.Seen{Sight: inspect.ChippedCorner, Yes: true, Length: &long}}, by("Vale", "measured")); err != nil || *in.Seen[0].Length != long {
		t.Errorf("%+v, %v", in.Seen, err)
	}
	_, err = Correct(l, id, Fix{Seen: &inspect.Seen{Sight: inspect.ChippedCorner, Yes: true, Length: &long}}, by("Vale", "measured"))
	refused(t, err, "already")
	_, err = Correct(l, id, Fix{Seen: &inspect.Seen{Sight: inspect.Cracks, Yes: true, Length: &long}}, by("Vale", "measured"))
	refused(t, err, "only a chip has a length")
	if _, err = Correct(l, id, Fix{Seen: &inspect.Seen{Sight: inspect.ChippedCorner}}, by("Vale", "wrong tool")); err != nil {
		t.Fatal(err)
	}
	// A sight, and what locks.
	seen := func(s inspect.Sight, yes bool) error {
		_, err := Correct(l, id, Fix{Seen: &inspect.Seen{Sight: s, Yes: yes}}, by("Vale", "looked again"))
		return err
	}
	refused(t, seen(inspect.Cracks, false), "not looked for")
	if err := seen(inspect.Cracks, true); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsLocked)
	if err := seen(inspect.Cracks, false); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsLocked) // a lock is lifted by nothing but an unlocking
	if in, err := Find(l, id); err != nil || len(in.Seen) != 2 || in.Seen[0].Yes {
		t.Errorf("%+v, %v", in.Seen, err)
	}
}

// Everything that is given of an inspection is as it stands, whichever way it is asked for.
func TestOneReader(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B")
	inspected(t, l, "A", "", inspect.Before, 3)
	after, other := inspectedQuietly(t, l, "A"), inspectedQuietly(t, l, "B")
	if _, err := Rule(l, []string{after}, Release, by("Vale", "fine")); err != nil {
		t.Fatal(err)
	}
	r := reading(2, 2, 50)
	if _, err := Correct(l, after, Fix{Reading: &r}, by("Nobody", "misread")); err != nil {
		t.Fatal(err)
	}
	want, err := Find(l, after)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for in, err := range Inspections(l, Filter{}) {
		if err != nil {
			t.Fatal(err)
		}
		n++
		found, err := Find(l, in.ID)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(in.Inspection, found.Inspection) || !reflect.DeepEqual(in.Judgement, found.Judgement) || !reflect.DeepEqual(in.Figures, found.Figures) ||
			in.Stands.Standing != found.Stands.Standing || in.Newest.Ref() != found.Newest.Ref() || len(in.Corrections) != len(found.Corrections) || len(in.Rulings) != len(found.Rulings) {
			t.Errorf("%s: in the stream %+v\nand found %+v", in.ID, in, found)
		}
	}
	if n != 3 {
		t.Errorf("%d inspections, want 3", n)
	}
	var rows []Row
	for row, err := range Readings(l, Filter{Tool: "A", Stage: inspect.After}) {
		if err != nil {
			t.Fatal(err)
		}
		rows = append(rows, *row)
	}
	if len(rows) != 6 || rows[3].Value != 50*length.Tenth || rows[3].Corrected == nil || rows[3].Corrected.By != "Nobody" || rows[2].Corrected != nil ||
		rows[0].Standing != StandsRecalled || rows[0].Ruling.Word != Release || rows[0].Verdict != want.Judgement.Verdict || rows[0].Record.Hash != want.Newest.Hash {
		t.Errorf("rows %+v", rows)
	}
	for _, in := range []struct {
		filter Filter
		want   []string
	}{
		{Filter{Verdict: inspect.Accept}, []string{other}},
		{Filter{Standing: StandsRecalled, Stage: inspect.After}, []string{after}},
		{Filter{Tool: "B"}, []string{other}},
		{Filter{From: at.AddDate(0, 0, 1)}, nil},
	} {
		var got []string
		for i, err := range Inspections(l, in.filter) {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, i.ID)
		}
		if !slices.Equal(got, in.want) {
			t.Errorf("%+v gives %v, want %v", in.filter, got, in.want)
		}
	}
	for r, err := range Regrinds(l) {
		if err != nil {
			t.Fatal(err)
		}
		if r.Inspection == after && (!reflect.DeepEqual(r.Figures, want.Figures) || r.Before == nil || r.Before.Inspection != "A.1") {
			t.Errorf("in a trend %+v, before %+v, and it stands as %+v", r.Figures, r.Before, want.Figures)
		}
	}
	tool, err := FindTool(l, "A")
	if err != nil || len(tool.Inspections) != 2 || !tool.Inspections[1].Corrected || *tool.Inspections[1].TIR != *quantityOf(want.Figures.TIR) || tool.Inspections[1].Ruling == nil {
		t.Errorf("history %+v, %v", tool.Inspections, err)
	}
	earlier, err := Earlier(l, &want)
	if err != nil || len(earlier) != 1 || earlier[0].ID != "A.1" {
		t.Errorf("before it %v, %v", earlier, err)
	}
}

// Figures that say other than their summary are found, and nothing is shown or ruled by them.
func TestForgedFigures(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A")
	id := inspected(t, l, "A", "", inspect.After, 30)
	in, err := Find(l, id)
	if err != nil {
		t.Fatal(err)
	}
	f := in.Figures
	f.Verdict, f.Work = inspect.Accept, []inspect.Task{inspect.Release}
	about := in.Record.Ref()
	if _, err := l.Append(ledger.Entry{Kind: KindFigures, Subject: ToolSubject("A"), Body: marshal(t, f), About: &about}); err != nil {
		t.Fatal(err)
	}
	_, err = Find(l, id)
	refused(t, err, "forged or damaged")
	_, err = Rule(l, []string{id}, Release, by("Vale", ""))
	refused(t, err, "forged or damaged")
}

func TestPractice(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A")
	in := inspect.Inspection{ID: "A.1", Tool: testTool("A"), Stage: inspect.After, Holding: inspect.InVee, Basis: inspect.DefaultBasis(testTool("A"))}
	in.Basis.Required = []inspect.Item{}
	d := Draft{Inspection: in, Opened: Stamp(at)}
	events := []json.RawMessage{marshal(t, Event{What: "begun", Inspection: &in})}
	for _, r := range []inspect.Reading{reading(1, 1, 0), reading(2, 1, 1)} {
		r.Gauge = "practice (invented)"
		d.Inspection.Readings = append(d.Inspection.Readings, r)
		events = append(events, marshal(t, Event{What: "reading", Reading: &r}))
	}
	entries, err := Close(d, events, inspect.Judgement{Verdict: inspect.Accept, Work: []inspect.Work{{What: inspect.Release}}}, Stamp(at), "")
	if err == nil {
		_, err = l.Append(entries...)
	}
	if err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReceived)
	_, err = Rule(l, []string{"A.1"}, Release, by("Vale", ""))
	refused(t, err, "never released")
	for row, err := range Readings(l, Filter{}) {
		if err != nil || !row.Practice {
			t.Errorf("a row of practice readings does not say so, %v", err)
		}
	}
	for r := range Regrinds(l) {
		t.Errorf("%s is in a trend", r.Inspection)
	}
}

func TestJobs(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B", "C")
	if _, err := SaveJob(l, Job{ID: "J", Quantity: 3, Sample: 3, Tools: []string{"A", "B", "C"}}, at); err != nil {
		t.Fatal(err)
	}
	release := func() error { _, err := ReleaseJob(l, "J", by("Vale", "")); return err }
	inspected(t, l, "C", "J", inspect.Before, 1, inspect.Seen{Sight: inspect.Cracks, Yes: true})
	a, b := inspected(t, l, "A", "J", inspect.After, 1), inspected(t, l, "B", "J", inspect.After, 30)
	err := release()
	for _, want := range []string{"A is to sign, it lacks a signature", "B is to grind", "C is locked, it lacks an unlocking: cracks seen in C.1", "0 of 3"} {
		refused(t, err, want)
	}
	for _, ruling := range []struct {
		id   string
		word Word
	}{{a, Release}, {b, Concession}, {"C.1", Withdraw}} {
		refused(t, release(), "is not released")
		if _, err := Rule(l, []string{ruling.id}, ruling.word, by("Vale", "why")); err != nil {
			t.Fatal(err)
		}
	}
	j, err := FindJob(l, "J")
	if err != nil || len(j.Of) != 3 || j.Lacks != nil || !j.Of[2].Settled || j.Of[2].State.Standing != StandsWithdrawn {
		t.Errorf("%+v, %v", j, err)
	}
	if err := release(); err != nil { // a tool scrapped on arrival is settled
		t.Fatal(err)
	}
	refused(t, release(), "was released by Vale already")
	_, err = ForJob(l, "J")
	refused(t, err, "was released by Vale")
	_, err = FindJob(l, "K")
	if !errors.Is(err, ErrNoJob) {
		t.Error(err)
	}
	var of []string
	for tool, err := range Tools(l, Filter{Job: "J"}) {
		of = append(of, tool.ID)
		if err != nil {
			t.Error(err)
		}
	}
	if add(t, l, "D"); !slices.Equal(of, []string{"A", "B", "C"}) {
		t.Errorf("tools of the job: %v", of)
	}
	// Who came with another job has been received anew.
	if _, err := SaveJob(l, Job{ID: "K", Quantity: 1, Sample: 1, Tools: []string{"A"}, Authority: "Person B"}, at); err != nil {
		t.Fatal(err)
	}
	is(t, l, "A", StandsReceived)
	_, err = ReleaseJob(l, "K", by("Vale", ""))
	refused(t, err, "want Person B")
}

// Two benches merged: ids are for people, and a ruling is of the inspection that it names.
func TestMergedBenches(t *testing.T) {
	one, two := t.TempDir(), t.TempDir()
	a, b := openAt(t, one), openAt(t, two)
	add(t, a, "A")
	if _, err := b.Merge(one, ledger.MergeOptions{Check: Check}); err != nil {
		t.Fatal(err)
	}
	inspected(t, a, "A", "", inspect.After, 1)
	inspected(t, b, "A", "", inspect.After, 42)
	if _, err := Rule(a, []string{"A.1"}, Release, by("Vale", "")); err != nil {
		t.Fatal(err)
	}
	is(t, a, "A", StandsReleased)
	for _, m := range []struct {
		into *ledger.Ledger
		from string
	}{{a, two}, {b, one}} {
		if report, err := m.into.Merge(m.from, ledger.MergeOptions{Check: Check}); err != nil {
			t.Fatal(report, err)
		}
	}
	for _, l := range []*ledger.Ledger{a, b} {
		is(t, l, "A", StandsToGrind) // the release did not know of the other's rejection
		_, err := Find(l, "A.1")
		if !errors.Is(err, ErrAmbiguous) {
			t.Errorf("A.1 of two benches: %v", err)
		}
	}
	head, err := a.Head()
	if err != nil {
		t.Fatal(err)
	}
	mine, err := Find(a, "A.1@"+head.Bench)
	if err != nil || mine.Ruling() == nil {
		t.Errorf("%+v, %v", mine.Rulings, err)
	}
	other, err := b.Head()
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := Find(a, "A.1@"+other.Bench[:8])
	if err != nil || theirs.Ruling() != nil || theirs.Judgement.Verdict != inspect.Reject {
		t.Errorf("the other bench's inspection has the ruling %+v, %v", theirs.Rulings, err)
	}
	both, err := FindTool(a, "A")
	if err != nil || both.Named("A.1", head.Bench) != "A.1@"+head.Bench[:6] || both.Named("A.2", head.Bench) != "A.2" {
		t.Errorf("what tells them apart: %s, %v", both.Named("A.1", head.Bench), err)
	}
	if id, err := NextID(a, "A"); err != nil || id != "A.2" {
		t.Errorf("next id %s, %v", id, err)
	}
	// Left out, by a record of this bench only.
	if _, err := LeaveOutBench(a, other.Bench, by("Vale", "its gauge was off")); err != nil {
		t.Fatal(err)
	}
	is(t, a, "A", StandsReleased)
	if _, err := Find(a, "A.1"); err != nil {
		t.Errorf("left out and still in the way: %v", err)
	}
	if _, err := b.Merge(one, ledger.MergeOptions{Check: Check}); err != nil {
		t.Fatal(err)
	}
	is(t, b, "A", StandsToGrind)
	_, err = LeaveOutBench(a, head.Bench, by("Vale", "a slip"))
	refused(t, err, "its own")
}

// Processes that rule, lock and inspect at once: none makes it looser. Each round one releases while another locks, or
// rejects; in whatever order they come, the tool is not left released over what the other found.
func TestRaces(t *testing.T) {
	rounds := 30
	if testing.Short() {
		rounds = 8
	}
	dir := t.TempDir()
	l := openAt(t, dir)
	for i := range rounds {
		tool := fmt.Sprint("T", i)
		add(t, l, tool)
		id := inspectedQuietly(t, l, tool)
		var both sync.WaitGroup
		both.Add(3)
		released := make([]error, 2)
		for n := range 2 {
			go func() {
				defer both.Done()
				_, released[n] = Rule(openAt(t, dir), []string{id}, Release, by(fmt.Sprint("Person ", n), ""))
			}()
		}
		go func() {
			defer both.Done()
			l := openAt(t, dir)
			if i%2 == 0 {
				in, err := Find(l, id)
				if err == nil {
					err = LockNow(l, in.Inspection, inspect.Seen{Sight: inspect.Cracks, Yes: true}, in.Record.Ref(), Stamp(at))
				}
				if err != nil {
					t.Error(err)
				}
				return
			}
			inspected(t, l, tool, "", inspect.After, 30)
		}()
		both.Wait()
		if released[0] == nil && released[1] == nil {
			t.Errorf("%s was released twice", tool)
		}
		if stands, err := FindTool(l, tool); err != nil || stands.Standing != map[bool]Standing{true: StandsLocked, false: StandsToGrind}[i%2 == 0] {
			t.Errorf("%s stands %s, %v", tool, stands.Standing, err)
		}
	}
}

// Killed between any two system calls: a lock comes before the line of the draft, and what belongs together is one
// append. So a ledger cut anywhere in what was written last is one in which it has happened whole, or not at all.
func TestCutAnywhere(t *testing.T) {
	dir := t.TempDir()
	l := openAt(t, dir)
	add(t, l, "A")
	id := inspectedQuietly(t, l, "A")
	if _, err := Rule(l, []string{id}, Release, by("Vale", "")); err != nil {
		t.Fatal(err)
	}
	r, seen := reading(2, 1, 50), inspect.Seen{Sight: inspect.Cracks, Yes: true}
	for _, step := range []struct {
		name       string
		do         func() error
		was, comes Standing
	}{
		{"corrected to a reject", func() error { _, err := Correct(l, id, Fix{Reading: &r}, by("Vale", "misread")); return err }, StandsReleased, StandsRecalled},
		{"corrected to a crack", func() error { _, err := Correct(l, id, Fix{Seen: &seen}, by("Vale", "seen")); return err }, StandsRecalled, StandsLocked},
		{"withdrawn", func() error { _, err := Rule(l, []string{id}, Withdraw, by("Vale", "cracked")); return err }, StandsLocked, StandsWithdrawn},
	} {
		before := chainOf(t, dir)
		if err := step.do(); err != nil {
			t.Fatal(err)
		}
		after := chainOf(t, dir)
		happened := 0
		for cut := len(before); cut <= len(after); cut++ {
			if testing.Short() && (cut-len(before))%997 != 0 && cut != len(after) {
				continue
			}
			copied := copyOf(t, dir, after[:cut])
			got, err := FindTool(openAt(t, copied), "A")
			if err != nil || got.Standing != step.was && got.Standing != step.comes {
				t.Fatalf("%s, cut %d bytes into what was written: %s, %v", step.name, cut-len(before), got.Standing, err)
			}
			if got.Standing == step.comes {
				happened++
			} else if happened > 0 {
				t.Fatalf("%s: it happened, and with more of it written it did not", step.name)
			}
			os.RemoveAll(copied)
		}
		if happened == 0 {
			t.Errorf("%s: it never happened", step.name)
		}
	}
}

func segmentOf(t *testing.T, dir string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*", "*.jsonl"))
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	return files[len(files)-1]
}

func chainOf(t *testing.T, dir string) []byte {
	t.Helper()
	data, err := os.ReadFile(segmentOf(t, dir))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// copyOf copies a ledger of one segment, with that holding data.
func copyOf(t *testing.T, dir string, data []byte) string {
	t.Helper()
	to, err := os.MkdirTemp(t.TempDir(), "cut")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	rel, err := filepath.Rel(dir, segmentOf(t, dir))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(to, rel), data, 0o600); err != nil {
		t.Fatal(err)
	}
	os.Remove(filepath.Join(to, filepath.Dir(rel), "heads.json")) // as old as what was written last may be
	return to
}

// An index that is of another ledger, forged, or damaged is built anew; one that is older has what is newer added.
func TestIndex(t *testing.T) {
	dir := t.TempDir()
	l := openAt(t, dir)
	add(t, l, "A-10", "A-2", "A-1", "B")
	inspected(t, l, "A-1", "", inspect.Before, 30)
	kept := filepath.Join(dir, indexName)
	list := func() string {
		var all []string
		for e, err := range List(l) {
			if err != nil {
				t.Fatal(err)
			}
			all = append(all, e.ID+" "+string(e.Standing))
		}
		return strings.Join(all, ", ")
	}
	want := "A-1 to grind, A-2 received, A-10 received, B received"
	if got := list(); got != want {
		t.Fatalf("%s, want %s", got, want)
	}
	older, err := os.ReadFile(kept)
	if err != nil {
		t.Fatal(err)
	}
	inspectedQuietly(t, l, "B")
	want = "A-1 to grind, A-2 received, A-10 received, B to sign"
	_, body, _ := strings.Cut(string(older), "\n")
	body = strings.Replace(body, `"format":2`, `"format":1`, 1)
	for name, text := range map[string]string{
		"of another version": indexTop([]byte(body)) + "\n" + body,
		"as it was":          string(older), "none": "", "no JSON": "{", "another's standing": strings.Replace(string(older), "received", "released", 1),
		"a head that is none": strings.Replace(string(older), `"seq":`, `"seq":1`, 1),
	} {
		if err := os.WriteFile(kept, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := list(); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
	// However few records are held at once, it comes to the same.
	whole, err := buildIndex(l, nil, nil, mostFacts)
	if err != nil || len(whole.rows) != 4 {
		t.Fatalf("%d tools, %v", len(whole.rows), err)
	}
	whole.sorted()
	for most := range 12 {
		parts, err := buildIndex(l, nil, nil, most)
		if parts.sorted(); err != nil || !reflect.DeepEqual(parts, whole) {
			t.Errorf("%d at once: %v\n%+v\nwant %+v", most, err, parts, whole)
		}
	}
	// One that is whole and folds another ledger.
	elsewhere := openAt(t, t.TempDir())
	add(t, elsewhere, "Z")
	for range List(elsewhere) {
	}
	foreign, err := os.ReadFile(filepath.Join(elsewhere.Dir(), indexName))
	if err == nil {
		err = os.WriteFile(kept, foreign, 0o600)
	}
	if got := list(); err != nil || got != want {
		t.Errorf("another ledger's index: %s, %v", got, err)
	}
}

// An index is read as it was written: what most tools have, and what few have, by every field that there is.
func TestIndexIsReadAsWritten(t *testing.T) {
	relief, last, least := 10*length.Degree, 12*length.Millimetre, 11*length.Millimetre
	full := testTool(`A "1"`)
	full.Angles, full.PrimaryRelief, full.AtLeast, full.Note, full.Taper, full.Retired = []length.Angle{0, 90 * length.Degree}, &relief, &least, "é\\\n", length.Degree, "small"
	all := []Listed{{
		Tool: full, Standing: StandsRetired, What: []inspect.Task{inspect.GrindPrimary, inspect.CutBack}, Inspection: "A.1", NotReground: true,
		Since: Place{ledger.Ref{Bench: "a", Seq: 3, Hash: "11"}, 4, "2026-11-27", false, ""}, Open: []string{"A.2"}, Away: &Away{Where: "coating", At: "x"}, Job: "J", Last: &last, Wheel: "cup", Damaged: "d", ToldAt: "b",
	}, {Tool: testTool("B"), Standing: StandsReceived}, {}}
	value := reflect.ValueOf(&Listed{}).Elem()
	for _, field := range reflect.VisibleFields(value.Type()) {
		value.SetZero()
		f := value.FieldByIndex(field.Index)
		switch f.Kind() {
		case reflect.String:
			f.SetString("x")
		case reflect.Int, reflect.Int64:
			f.SetInt(7)
		case reflect.Bool:
			f.SetBool(true)
		case reflect.Pointer:
			f.Set(reflect.New(f.Type().Elem()))
		case reflect.Slice:
			f.Set(reflect.MakeSlice(f.Type(), 1, 1))
		case reflect.Struct: // its fields are visible themselves, or stand above
		default:
			t.Errorf("%s is of a kind that is not tried", field.Name)
		}
		all = append(all, value.Interface().(Listed))
	}
	for _, want := range all {
		if got, err := listedOf(want.row()); err != nil || !reflect.DeepEqual(got, want) || standingOf(want.row()) != want.Standing {
			t.Errorf("%v: %+v\nwant %+v", err, got, want)
		}
	}
}

// A flipped bit is fenced: the tool whose record it was is marked and never told as in use, the others are told as they
// are, and a report is written with what can be read.
func TestDamageIsFenced(t *testing.T) {
	for name, at := range map[string]func(in Inspection) int64{
		"the summary": func(in Inspection) int64 { return in.Record.Offset }, "the readings": func(in Inspection) int64 { return in.Taken.Offset },
	} {
		t.Run(name, func(t *testing.T) { damageIsFenced(t, at) })
	}
}

func damageIsFenced(t *testing.T, at func(Inspection) int64) {
	dir := t.TempDir()
	l := openAt(t, dir)
	add(t, l, "A", "B")
	for _, tool := range []string{"A", "B"} {
		if _, err := Rule(l, []string{inspectedQuietly(t, l, tool)}, Release, by("Vale", "")); err != nil {
			t.Fatal(err)
		}
	}
	in, err := Find(l, "A.1")
	if err != nil {
		t.Fatal(err)
	}
	whole := chainOf(t, dir)
	flip := slices.Clone(whole)
	for i := range 9 { // more than one byte, which would be mended
		flip[at(in)+150+int64(i)] ^= 1
	}
	if err := os.WriteFile(segmentOf(t, dir), flip, 0o600); err != nil {
		t.Fatal(err)
	}
	for round := range 3 { // built, kept, and kept once more
		l := openAt(t, dir)
		stands, marked := map[string]Standing{}, map[string]bool{}
		var failed error
		for e, err := range List(l) {
			if err != nil {
				failed = err
				continue
			}
			stands[e.ID], marked[e.ID] = e.Standing, e.Damaged != ""
		}
		if stands["A"].Usable() || !marked["A"] || stands["B"] != StandsReleased || marked["B"] {
			t.Errorf("round %d: %v, marked %v, %v", round, stands, marked, failed)
		}
	}
	l = openAt(t, dir)
	if a, err := FindTool(l, "A"); !damaged(err) {
		t.Errorf("A: %s, %v", a.Standing, err)
	}
	_, err = Rule(l, []string{"A.1"}, Withdraw, by("Vale", "a slip"))
	if !damaged(err) {
		t.Errorf("a ruling on what cannot be read: %v", err)
	}
	if _, err := Rule(l, []string{inspectedQuietly(t, l, "B")}, Release, by("Vale", "")); err != nil {
		t.Errorf("B: %v", err)
	}
	rows := 0
	for row, err := range Readings(l, Filter{}) {
		if err != nil && !damaged(err) {
			t.Error(err)
		}
		if err == nil && row.Tool == "B" {
			rows++
		}
	}
	if rows != 12 {
		t.Errorf("%d rows of B, want 12", rows)
	}
	// Put back, and told as it was.
	mended := append(slices.Clone(whole), chainOf(t, dir)[len(whole):]...)
	if err := os.WriteFile(segmentOf(t, dir), mended, 0o600); err != nil {
		t.Fatal(err)
	}
	for e, err := range List(openAt(t, dir)) {
		if err != nil || e.Damaged != "" || e.Standing != StandsReleased {
			t.Errorf("%s %s %s, %v", e.ID, e.Standing, e.Damaged, err)
		}
	}
}

// What is refused of a merge is said with its place.
func TestCheck(t *testing.T) {
	about := &ledger.Ref{Bench: "a", Seq: 1, Hash: strings.Repeat("0", 64)}
	tool, err := json.Marshal(testTool("A"))
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		kind, subject, body string
		about               *ledger.Ref
		want                string // "" is taken
	}{
		{KindTool, "tool:A", string(tool), nil, ""},
		{KindTool, "tool:B", string(tool), nil, `stands under "tool:B"`},
		{KindTool, "tool:A", `"str"`, nil, "does not read as what it must be"},
		{KindTool, "tool:A", strings.Replace(string(tool), `"flutes":2`, `"flutes":"two"`, 1), nil, "its flutes is not of the kind"},
		{KindTool, "tool:A", strings.Replace(string(tool), `"flutes":2`, `"flutes":2000000000`, 1), nil, "flutes"},
		{KindSummary, "tool:A", `[]`, about, "does not read as what it must be"},
		{KindSummary, "tool:A", `{}`, about, "id"},
		{KindOpened, "tool:A", `{"what":"begun"}`, nil, "does not say what is inspected"},
		{KindFigures, "tool:A", `{"tool":"A"}`, about, ""},
		{KindFigures, "tool:A", `{"tool":"A"}`, nil, "does not name the record"},
		{KindFigures, "tool:A", `{"tool":1}`, about, "want a string"},
		{KindRuling, "tool:A", `{"ruling":"bless"}`, about, "not known"},
		{KindRuling, "tool:A", `{"ruling":"release"}`, nil, "does not name"},
		{KindCorrection, "tool:A", `{}`, about, "corrects nothing"},
		{KindUnlock, "tool:A", `{}`, nil, "does not name"},
		{KindJob, "job:J", `{"id":"J","quantity":1,"sample":1}`, nil, ""},
		{KindJob, "job:J", `{"id":"J","quantity":1,"sample":2}`, nil, "to inspect of"},
		{KindJob, "tool:A", `{"job":"J"}`, nil, ""},
		{"of a later version", "tool:A", `{}`, nil, ""},
	} {
		err := Check(ledger.Record{Bench: "a", Seq: 7, Kind: test.kind, Subject: test.subject, Body: []byte(test.body), About: test.about})
		if test.want == "" && err != nil || test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), "record 7 of bench a")) {
			t.Errorf("%s under %s %s: %v, want %q", test.kind, test.subject, test.body, err, test.want)
		}
	}
}

// A record that is whole as bytes and no tool as words is fenced: lists say so, kept or made anew, nothing rests on it, and
// what it stands for goes on once its bench is left out.
func TestUnreadableBodiesAreFenced(t *testing.T) {
	for name, forge := range map[string]*strings.Replacer{
		"too many flutes":     strings.NewReplacer(`"flutes":2`, `"flutes":2000000000`),
		"fewer than none":     strings.NewReplacer(`"flutes":2`, `"flutes":-2`),
		"a word for a number": strings.NewReplacer(`"flutes":2`, `"flutes":"two"`),
		"another tool's":      strings.NewReplacer(`"id":"A"`, `"id":"B"`),
		"not to be printed":   strings.NewReplacer(`"id":"A"`, `"id":"A\u001b[2J"`),
	} {
		t.Run(name, func(t *testing.T) {
			l, other := openAt(t, t.TempDir()), openAt(t, t.TempDir())
			add(t, l, "A", "B")
			if _, err := Rule(l, []string{inspectedQuietly(t, l, "A")}, Release, by("Vale", "")); err != nil {
				t.Fatal(err)
			}
			body, err := json.Marshal(testTool("A"))
			if err != nil {
				t.Fatal(err)
			}
			forged := forge.Replace(string(body))
			if forged == string(body) {
				t.Fatal("nothing is forged")
			}
			records, err := other.Append(ledger.Entry{Kind: KindTool, Subject: ToolSubject("A"), Body: []byte(forged)})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := l.Merge(other.Dir(), ledger.MergeOptions{Check: Check}); err != nil {
				t.Fatal(err)
			}
			for range 2 {
				for e, err := range List(l) {
					if err != nil || (e.Damaged != "") != (e.ID == "A") || e.ID == "A" && (e.Standing.Usable() || e.Flutes != 2) {
						t.Errorf("%s of %d flutes stands %s, damaged %q, %v", e.ID, e.Flutes, e.Standing, e.Damaged, err)
					}
				}
				os.Remove(l.Dir() + "/" + indexName)
			}
			if tool, err := FindTool(l, "A"); err == nil {
				t.Errorf("A of %d flutes", tool.Flutes)
			}
			if _, err := LeaveOutBench(l, records[0].Bench, by("Vale", "forged")); err != nil {
				t.Fatal(err)
			}
			is(t, l, "A", StandsReleased)
		})
	}
}

// What an inspection before the grind called for is owed until a grind told since is of it; one that does not say of what is of
// all that was planned.
func TestOwed(t *testing.T) {
	l := openAt(t, t.TempDir())
	add(t, l, "A", "B")
	owed := func(tool string, want ...inspect.Face) {
		t.Helper()
		_, r, _ := Known(l, tool, inspect.After)
		if r == nil || !slices.Equal(inspect.Faces(r.Owed), want) {
			t.Errorf("%s owes %+v, want %v", tool, r, want)
		}
	}
	ends, flutes := inspect.Face{Do: inspect.DoPrimary, Where: inspect.OnEnds}, inspect.Face{Do: inspect.DoPrimary, Where: inspect.OnFlutes}
	for _, tool := range []string{"A", "B"} {
		inspected(t, l, tool, "", inspect.Before, 1, inspect.Seen{Sight: inspect.BluntCorner, Yes: true}, inspect.Seen{Sight: inspect.ChippedEdge, Yes: true})
		owed(tool, ends, flutes)
	}
	for tool, g := range map[string]Ground{"A": {Faces: []inspect.Face{ends}, At: Stamp(at)}, "B": {At: Stamp(at)}} {
		if _, err := RecordGround(l, tool, g); err != nil {
			t.Fatal(err)
		}
	}
	owed("A", flutes)
	owed("B")
	inspected(t, l, "A", "", inspect.Between, 1)
	owed("A", flutes)
	if _, err := RecordGround(l, "A", Ground{Faces: []inspect.Face{flutes}, At: Stamp(at)}); err != nil {
		t.Fatal(err)
	}
	owed("A")
}

// New tools are added all at once or none: not beside one that is there, nor two that are one to a person or a spreadsheet.
func TestAddTools(t *testing.T) {
	l := openAt(t, t.TempDir())
	named := func(ids ...string) (tools []inspect.Tool) {
		for _, id := range ids {
			tools = append(tools, testTool(id))
		}
		return tools
	}
	if err := AddTools(l, named("EM-1", "0412", "3/4")); err != nil {
		t.Fatal(err)
	}
	before, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ids  []string
		want string
	}{
		{[]string{"EM-2", "EM-1"}, `tool "EM-1" is in the ledger already`},
		{[]string{"EM-2", "em-1"}, `tool "EM-1" is in the ledger already`},
		{[]string{"EM-2", "412"}, `there is "0412", and a spreadsheet`},
		{[]string{"EM-2", "em-2"}, `there is "EM-2", which is the same but for its spelling`},
		{[]string{"7", "7.0"}, `there is "7", and a spreadsheet`},
		{[]string{"EM-2", ""}, "id"},
	} {
		refused(t, AddTools(l, named(c.ids...)), c.want)
	}
	if after, err := l.Head(); err != nil || after != before {
		t.Errorf("something of a refused list is recorded: %v, %v", after, err)
	}
	var known *KnownError
	if err := AddTools(l, named("em-1")); !errors.As(err, &known) || known.ID != "EM-1" {
		t.Errorf("%v, want the id as it is spelled here", err)
	}
	// One that is only recorded of is not in the ledger yet.
	if _, err := save(l, KindNote, ToolSubject("EM-9"), Note{Text: "lies on the bench", At: Stamp(at)}); err != nil {
		t.Fatal(err)
	}
	if err := AddTools(l, named("EM-9")); err != nil {
		t.Error(err)
	}
}

// A correction puts right what was read. How it was read, with what and over which distance stays as it was told.
func TestCorrectionKeepsHowItWasRead(t *testing.T) {
	tool := testTool("A")
	tool.Flutes = 3
	over := 20 * length.Thou
	for _, was := range []inspect.Reading{
		{Feature: inspect.Diameter, Repeat: 1, Value: 4955 * length.Tenth, Text: "0.4955", Unit: length.In, How: inspect.ByVee, Gauge: "micrometer", At: "2026-01-02T08:00:00Z"},
		{Feature: inspect.ReliefDrop, Flute: 2, Repeat: 1, Value: 30 * length.Tenth, Text: "0.003", Unit: length.In, Over: &over, DropBy: inspect.BySliding, Gauge: "dial"},
	} {
		in := Inspection{Inspection: inspect.Inspection{ID: "A.1", Tool: tool, Stage: inspect.After, Basis: inspect.DefaultBasis(tool), Readings: []inspect.Reading{was}}}
		c := Correction{Reading: &inspect.Reading{Feature: was.Feature, Flute: was.Flute, Repeat: 1, Value: was.Value + length.Tenth, Text: "12.61", Unit: length.Mm}}
		if err := c.was(&in); err != nil {
			t.Fatal(err)
		}
		want := was
		want.Value, want.Text, want.Unit = was.Value+length.Tenth, "12.61", length.Mm
		if !reflect.DeepEqual(*c.Reading, want) || !reflect.DeepEqual(*c.Was, was) {
			t.Errorf("corrected to %+v, want %+v", *c.Reading, want)
		}
	}
}
