package record

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect/ledger"
)

// index is how every tool stands, folded from the records up to one of each bench. It is kept beside the ledger so that
// a list of many tools need not read them all; nothing is decided from it, and it can be deleted at any time.
//
// Its file has the SHA-256 of all that follows the first line in that line, what it folds in the second, and then a tool
// a line, as [Listed.row] spells it, by id in the order of Natural: what is not asked for is not taken apart.
//
//	{"sha256":"5e…","index":
//	{"format":2,"heads":[{"bench":"c3f17c2da90490f3","seq":7,"sha256":"78…"}],"left_out":null,…,"tools":[
//	["EM-0412","to grind",…],
//	["EM-0413","received",…]
//	]}}
type index struct {
	folded
	rows map[string]string // of the tools, by id
	ids  []string          // of all of them, sorted by settle
}

// folded is what an index is folded from.
type folded struct {
	Format    int               `json:"format"`
	Heads     []ledger.Ref      `json:"heads"`     // the newest record of each bench that it folds, of the kinds that standings rest on
	LeftOut   []string          `json:"left_out"`  // benches that were left out
	Amended   int               `json:"amended"`   // corrections and rulings in it
	Corrected map[string]bool   `json:"corrected"` // inspections with corrections, as bench and number of the summary
	Damage    []string          `json:"damage"`    // what could not be read; the tools that it may be of are marked
	Damaged   map[string]bool   `json:"damaged"`   // those tools, by id
	Told      map[string]string `json:"told"`      // what a register has told, by subject, as a mark of the newest that it folds
}

// indexFormat is the version of the file: one of another is built anew.
const indexFormat = 2

func newIndex(leftOut map[string]bool) *index {
	return &index{
		folded: folded{Format: indexFormat, LeftOut: slices.Sorted(maps.Keys(leftOut)), Corrected: map[string]bool{}, Damaged: map[string]bool{}},
		rows:   map[string]string{},
	}
}

// indexName is the file that the index is kept in, in the ledger's folder, behind a check value.
const indexName = "standing.json"

// staleAfter is how many newer records of standings make an index worth writing anew.
const staleAfter = 64

// readIndex returns how every tool stands now: from the index that is kept, with all that is newer. With a
// *ledger.DamageError it holds what can be read.
func readIndex(l Source) (*index, error) {
	leftOut, was, err := benchesOf(l)
	if err != nil {
		return &index{}, err
	}
	out := slices.Sorted(maps.Keys(leftOut))
	if ix := loadIndex(l.Dir()); ix != nil && slices.Equal(ix.LeftOut, out) {
		newer, err := ix.refresh(l)
		if err != errStale {
			told, failed := ix.takeTold(l)
			if newer, err = newer+told, cmp.Or(err, failed); newer > staleAfter && (err == nil || damaged(err)) {
				ix.save(l.Dir())
			}
			return ix, err
		}
	}
	ix, err := buildIndex(l, leftOut, was, mostFacts)
	if _, failed := ix.takeTold(l); err == nil {
		err = failed
	}
	if err == nil || damaged(err) {
		ix.save(l.Dir())
	}
	return ix, err
}

// takeTold takes into the index what a register has told since, and returns of how many tools that is.
func (ix *index) takeTold(l Source) (tools int, err error) {
	told, err := allTold(l)
	if err != nil {
		return 0, err
	}
	for subject, mark := range told {
		tool, is := strings.CutPrefix(subject, toolPrefix)
		if !is || ix.Told[subject] == mark {
			continue
		}
		tools++
		t, _, err := readTool(l, tool, nil)
		ix.put(t, err)
	}
	ix.Told = told
	return tools, nil
}

// loadIndex returns the index that is kept in a folder, nil for none that is whole.
func loadIndex(dir string) *index {
	if dir == "" {
		return nil
	}
	data, err := os.ReadFile(filepath.Join(dir, indexName))
	if err != nil {
		return nil
	}
	top, body, _ := bytes.Cut(data, []byte("\n"))
	head, rows, found := strings.Cut(string(body), indexTools)
	if !found || string(top) != indexTop(body) {
		return nil
	}
	ix := &index{rows: map[string]string{}}
	if json.Unmarshal([]byte(head+"}"), &ix.folded) != nil || ix.Format != indexFormat {
		return nil
	}
	for row := range strings.SplitSeq(rows, "\n") {
		if row == indexEnd {
			return ix
		}
		s := scanner{body: row}
		s.literal('[')
		id := s.text()
		if s.err != nil {
			return nil
		}
		ix.rows[id], ix.ids = strings.TrimSuffix(row, ","), append(ix.ids, id)
	}
	return nil
}

// indexTools stands between what an index folds and the tools, indexEnd behind them, and indexTop before all of it.
const (
	indexTools = `,"tools":[` + "\n"
	indexEnd   = "]}}"
)

func indexTop(body []byte) string { return fmt.Sprintf(`{"sha256":"%x","index":`, sha256.Sum256(body)) }

// save keeps the index where the folder can be written to. It needs no sync: one that is cut off is built anew.
func (ix *index) save(dir string) {
	if dir == "" {
		return
	}
	head, err := json.Marshal(ix.folded)
	if err != nil {
		return
	}
	body := append(head[:len(head)-1], indexTools...)
	for i, id := range ix.sorted() {
		if i > 0 {
			body = append(body, ",\n"...)
		}
		body = append(body, ix.rows[id]...)
	}
	body = append(body, "\n"+indexEnd+"\n"...)
	f, err := os.CreateTemp(dir, indexName+"-*")
	if err != nil {
		return
	}
	_, err = f.Write(slices.Concat([]byte(indexTop(body)+"\n"), body))
	if err = cmp.Or(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, indexName))
	}
	if err != nil {
		os.Remove(f.Name())
	}
}

// sorted returns the ids of all tools in the order of Natural.
func (ix *index) sorted() []string {
	if !slices.IsSortedFunc(ix.ids, Natural) {
		slices.SortFunc(ix.ids, Natural)
	}
	return ix.ids
}

// indexKinds are the kinds that an index is folded from.
var indexKinds = slices.Concat(lightKinds, []string{KindLeaveOut, KindContinues})

// errStale says that an index does not fold this ledger.
var errStale = errors.New("the index is of another ledger")

// refresh takes into the index what is newer than it, and returns how many records that is.
func (ix *index) refresh(l Source) (newer int, err error) {
	after, heads := map[string]uint64{}, map[string]ledger.Ref{}
	for _, h := range ix.Heads {
		after[h.Bench], heads[h.Bench] = h.Seq-1, h
	}
	met := map[string]bool{}
	tools := map[string]bool{}
	err = l.ScanAfter(after, indexKinds, func(r ledger.Record) error {
		if h, ok := heads[r.Bench]; ok && !met[r.Bench] {
			if met[r.Bench] = true; r.Ref() != h {
				return errStale
			}
			return nil
		}
		if r.Kind == KindLeaveOut || r.Kind == KindContinues {
			return errStale
		}
		newer++
		tools[strings.TrimPrefix(r.Subject, toolPrefix)] = tools[strings.TrimPrefix(r.Subject, toolPrefix)] || strings.HasPrefix(r.Subject, toolPrefix)
		ix.count(r)
		ix.reach(r)
		return nil
	})
	if err == nil && len(met) < len(heads) {
		err = errStale
	}
	if err != nil && !damaged(err) {
		return newer, err
	}
	for _, d := range damageOf(err) {
		if !slices.Contains(ix.Damage, d) {
			return newer, errStale
		}
	}
	maps.Copy(tools, ix.Damaged) // they may have been mended
	open, err2 := openTools(l)
	for _, tool := range open {
		tools[tool] = true
	}
	for tool, is := range tools {
		if is {
			t, _, err := readTool(l, tool, nil)
			ix.put(t, err)
		}
	}
	return newer, cmp.Or(err, err2)
}

// damageOf returns what could not be read, in words.
func damageOf(err error) []string {
	var all []string
	var d *ledger.DamageError
	if errors.As(err, &d) {
		for _, one := range d.Damage {
			all = append(all, one.String())
		}
	}
	return all
}

// openTools returns the tools of which an inspection is half read: what is seen in its draft may lock them.
func openTools(l Source) ([]string, error) {
	opened, err := l.Unfinished()
	var tools []string
	for _, r := range opened {
		tools = append(tools, strings.TrimPrefix(r.Subject, toolPrefix))
	}
	return tools, err
}

// reach notes how far the index goes.
func (ix *index) reach(r ledger.Record) {
	i := slices.IndexFunc(ix.Heads, func(h ledger.Ref) bool { return h.Bench == r.Bench })
	if i < 0 {
		ix.Heads = append(ix.Heads, r.Ref())
		return
	}
	ix.Heads[i] = r.Ref()
}

func (ix *index) count(r ledger.Record) {
	if r.Kind == KindCorrection || r.Kind == KindRuling {
		ix.Amended++
	}
	if r.Kind == KindCorrection && r.About != nil {
		ix.Corrected[keyOf(*r.About)] = true
	}
}

// mostFacts is how many records are held at once while a whole ledger is folded, some 50 MiB of them: a ledger that has more
// is read once for each so many.
const mostFacts = 40_000

// buildIndex folds the whole ledger, most records at once or those of one tool.
func buildIndex(l Source, leftOut map[string]bool, was map[string]string, most int) (*index, error) {
	ix := newIndex(leftOut)
	of, all := map[string]int{}, 0 // records of each tool, and of all
	facts := map[string][]*fact{}
	err := l.ScanAfter(nil, indexKinds, func(r ledger.Record) error {
		ix.reach(r)
		ix.count(r)
		tool, ok := strings.CutPrefix(r.Subject, toolPrefix)
		if !ok {
			return nil
		}
		of[tool]++
		if all++; all > most {
			clear(facts)
			return nil
		}
		facts[tool] = append(facts[tool], lightFact(r, was[r.Bench]))
		return nil
	})
	if err != nil && !damaged(err) {
		return ix, err
	}
	if err != nil { // whose records are damaged each tool's own history says
		ix.Damage = damageOf(err)
		subjects, failed := l.Subjects(toolPrefix)
		for _, subject := range subjects {
			t, _, err := readTool(l, strings.TrimPrefix(subject, toolPrefix), nil)
			ix.put(t, err)
		}
		return ix, cmp.Or(failed, err)
	}
	if all <= most {
		return ix, ix.fold(l, facts, leftOut)
	}
	for tools := slices.Sorted(maps.Keys(of)); len(tools) > 0; {
		clear(facts)
		for held := 0; len(tools) > 0 && (held == 0 || held+of[tools[0]] <= most); tools = tools[1:] {
			held += of[tools[0]]
			facts[tools[0]] = nil
		}
		err := l.ScanAfter(nil, indexKinds, func(r ledger.Record) error {
			tool := strings.TrimPrefix(r.Subject, toolPrefix)
			if fs, ok := facts[tool]; ok && len(tool) < len(r.Subject) && len(fs) < of[tool] { // no more than are in reach of the heads
				facts[tool] = append(fs, lightFact(r, was[r.Bench]))
			}
			return nil
		})
		if err = cmp.Or(err, ix.fold(l, facts, leftOut)); err != nil {
			return ix, err
		}
	}
	return ix, nil
}

// fold lists tools as their facts say.
func (ix *index) fold(l Source, facts map[string][]*fact, leftOut map[string]bool) (err error) {
	for id, fs := range facts {
		if e := readDrafts(l, fs); e != nil {
			err = cmp.Or(err, e)
		}
		t, _ := newTool(fs, leftOut)
		if t.ID == "" {
			t.ID = id
		}
		ix.put(t, unread(fs, leftOut))
	}
	return err
}

// lightFact decodes as much of a record as a list needs, and lets go of the rest.
func lightFact(r ledger.Record, was string) *fact {
	body, err := decode(r)
	r.Body = nil
	if f, ok := body.(*Figures); ok {
		f.TIR, f.Residual, f.Ratio, f.Relief, f.Edges = nil, nil, nil, nil, nil
	}
	return &fact{Record: r, body: body, was: was, unread: err}
}

func keyOf(r ledger.Ref) string { return r.Bench + "-" + strconv.FormatUint(r.Seq, 10) }

// put lists a tool. One that cannot be read is listed as damaged, and never as in use.
func (ix *index) put(t Tool, err error) {
	if t.ID == "" {
		return
	}
	e := Listed{
		Tool: t.Tool, Standing: t.Standing, What: t.What, Inspection: t.Inspection, NotReground: t.NotReground, Since: t.Since,
		Open: t.Open, Away: t.Away, Job: t.Job, Last: t.LastDiameter(), ToldAt: t.ToldAt,
	}
	for _, i := range t.Inspections {
		e.Wheel = cmp.Or(i.Wheel, e.Wheel)
	}
	delete(ix.Damaged, t.ID)
	if err != nil {
		ix.Damaged[t.ID] = true
		if e.Damaged = err.Error(); e.Standing.Usable() {
			e.Standing = StandsToInspect // what cannot be read may say otherwise
		}
	}
	if _, known := ix.rows[t.ID]; !known {
		ix.ids = append(ix.ids, t.ID)
	}
	ix.rows[t.ID] = e.row()
}
