package record

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// Listed is a tool in a list or on a board: as it stands, in short.
type Listed struct {
	inspect.Tool
	Standing    Standing       `json:"standing"`
	What        []inspect.Task `json:"what,omitempty"`       // what the deciding inspection calls for
	Inspection  string         `json:"inspection,omitempty"` // that decides
	NotReground bool           `json:"not_reground,omitempty"`
	Since       Place          `json:"since"` // the record that the standing rests on
	Open        []string       `json:"open,omitempty"`
	Away        *Away          `json:"away,omitempty"`
	Job         string         `json:"job,omitempty"`
	Last        *length.Length `json:"last_diameter,omitempty"` // that was read last
	Wheel       string         `json:"wheel,omitempty"`         // that it was ground with last
	Damaged     string         `json:"damaged,omitempty"`       // what of it cannot be read
	ToldAt      string         `json:"told_at,omitempty"`       // the bench that recorded what the standing rests on, where that is a register's word
}

// index is how every tool stands, folded from the records up to one of each bench. It is kept beside the ledger so that
// a list of many tools need not read them all; nothing is decided from it, and it can be deleted at any time.
type index struct {
	Heads     []ledger.Ref       `json:"heads"`     // the newest record of each bench that it folds, of the kinds that standings rest on
	LeftOut   []string           `json:"left_out"`  // benches that were left out
	Amended   int                `json:"amended"`   // corrections and rulings in it
	Corrected map[string]bool    `json:"corrected"` // inspections with corrections, as bench and number of the summary
	Damage    []string           `json:"damage"`    // what could not be read; the tools that it may be of are marked
	Told      map[string]string  `json:"told"`      // what a register has told, by subject, as a mark of the newest that it folds
	Tools     map[string]*Listed `json:"tools"`     // by id
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

func loadIndex(dir string) *index {
	if dir == "" {
		return nil
	}
	data, err := os.ReadFile(filepath.Join(dir, indexName))
	if err != nil {
		return nil
	}
	s := scanner{body: string(data)}
	var sum, body string
	for name := range s.members() {
		switch name {
		case "sha256":
			sum = s.text()
		case "index":
			body = s.value()
		}
	}
	if got := sha256.Sum256([]byte(body)); s.err != nil || hex.EncodeToString(got[:]) != sum {
		return nil
	}
	ix, err := parseIndex(body)
	if err != nil || ix.Tools == nil {
		return nil
	}
	return ix
}

// parseIndex reads an index as it is written. The tools are many, and are taken apart by hand.
func parseIndex(body string) (*index, error) {
	ix := &index{}
	s := scanner{body: body}
	for name := range s.members() {
		switch name {
		case "heads":
			s.decode(&ix.Heads)
		case "left_out":
			s.decode(&ix.LeftOut)
		case "amended":
			ix.Amended = s.integer()
		case "corrected":
			s.decode(&ix.Corrected)
		case "damage":
			s.decode(&ix.Damage)
		case "told":
			s.decode(&ix.Told)
		case "tools":
			ix.Tools = map[string]*Listed{}
			for id := range s.members() {
				e := &Listed{}
				s.listed(e)
				ix.Tools[id] = e
			}
		}
	}
	return ix, s.err
}

// listed reads a tool of an index.
func (s *scanner) listed(e *Listed) {
	for name := range s.members() {
		switch name {
		case "id":
			e.ID = s.text()
		case "diameter":
			e.Tool.Diameter = s.length()
		case "flutes":
			e.Flutes = s.integer()
		case "material":
			e.Material = inspect.Material(s.text())
		case "helix":
			s.decodeText(&e.Helix)
		case "hand":
			e.Hand = inspect.Hand(s.text())
		case "ends":
			e.Ends = inspect.Ends(s.text())
		case "teeth":
			e.Teeth = inspect.Teeth(s.text())
		case "duty":
			e.Duty = inspect.Duty(s.text())
		case "note":
			e.Note = s.text()
		case "retired":
			e.Retired = s.text()
		case "standing":
			e.Standing = Standing(s.text())
		case "what":
			for range s.elements() {
				e.What = append(e.What, inspect.Task(s.text()))
			}
		case "inspection":
			e.Inspection = s.text()
		case "not_reground":
			e.NotReground = s.value() == "true"
		case "since":
			for name := range s.members() {
				switch name {
				case "bench":
					e.Since.Bench = s.text()
				case "seq":
					e.Since.Seq = s.unsigned()
				case "sha256":
					e.Since.Hash = s.text()
				case "counter":
					e.Since.Counter = s.unsigned()
				case "time":
					e.Since.Time = s.text()
				}
			}
		case "job":
			e.Job = s.text()
		case "last_diameter":
			l := s.length()
			e.Last = &l
		case "wheel":
			e.Wheel = s.text()
		case "told_at":
			e.ToldAt = s.text()
		default:
			s.decodeMember(name, e)
		}
	}
}

// save keeps the index where the folder can be written to. It needs no sync: one that is cut off is built anew.
func (ix *index) save(dir string) {
	if dir == "" {
		return
	}
	body, err := json.Marshal(ix)
	if err != nil {
		return
	}
	sum := sha256.Sum256(body)
	data := slices.Concat([]byte(`{"sha256":"`+hex.EncodeToString(sum[:])+`","index":`), body, []byte("}\n"))
	f, err := os.CreateTemp(dir, indexName+"-*")
	if err != nil {
		return
	}
	_, err = f.Write(data)
	if err = cmp.Or(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), filepath.Join(dir, indexName))
	}
	if err != nil {
		os.Remove(f.Name())
	}
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
	for id, e := range ix.Tools {
		tools[id] = tools[id] || e.Damaged != "" // it may have been mended
	}
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
	ix := &index{LeftOut: slices.Sorted(maps.Keys(leftOut)), Corrected: map[string]bool{}, Tools: map[string]*Listed{}}
	of, all := map[string]int{}, 0 // records of each tool, and of all
	facts := map[string][]fact{}
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
func (ix *index) fold(l Source, facts map[string][]fact, leftOut map[string]bool) (err error) {
	for id, fs := range facts {
		if e := readDrafts(l, fs); e != nil {
			err = cmp.Or(err, e)
		}
		t, _ := newTool(fs, leftOut)
		if t.ID == "" {
			t.ID = id
		}
		ix.put(t, nil)
	}
	return err
}

// lightFact decodes as much of a record as a list needs, and lets go of the rest.
func lightFact(r ledger.Record, was string) fact {
	body, err := decode(r)
	if err != nil {
		body = nil // what cannot be read is fenced; verify names it
	}
	r.Body = nil
	if f, ok := body.(*Figures); ok {
		f.TIR, f.Residual, f.Ratio, f.Relief, f.Edges = nil, nil, nil, nil, nil
	}
	return fact{Record: r, body: body, was: was}
}

func keyOf(r ledger.Ref) string { return r.Bench + "-" + strconv.FormatUint(r.Seq, 10) }

// put lists a tool. One that cannot be read is listed as damaged, and never as in use.
func (ix *index) put(t Tool, err error) {
	if t.ID == "" {
		return
	}
	e := &Listed{
		Tool: t.Tool, Standing: t.Standing, What: t.What, Inspection: t.Inspection, NotReground: t.NotReground, Since: t.Since,
		Open: t.Open, Away: t.Away, Job: t.Job, Last: t.LastDiameter(), ToldAt: t.ToldAt,
	}
	for _, i := range t.Inspections {
		e.Wheel = cmp.Or(i.Wheel, e.Wheel)
	}
	if err != nil {
		if e.Damaged = err.Error(); e.Standing.Usable() {
			e.Standing = StandsToInspect // what cannot be read may say otherwise
		}
	}
	ix.Tools[t.ID] = e
}

// List gives every tool as it stands, in short: ids that end in numbers by those numbers. A *ledger.DamageError comes
// last.
func List(l Source) iter.Seq2[Listed, error] {
	return func(yield func(Listed, error) bool) {
		ix, err := readIndex(l)
		if err != nil && !damaged(err) {
			yield(Listed{}, err)
			return
		}
		for _, id := range slices.SortedFunc(maps.Keys(ix.Tools), Natural) {
			e := ix.Tools[id]
			if e.Flutes == 0 {
				continue // recorded of, and never added
			}
			if !yield(*e, nil) {
				return
			}
		}
		if err != nil {
			yield(Listed{}, err)
		}
	}
}

// Natural compares ids as people sort them: A-2 comes before A-10.
func Natural(a, b string) int {
	for a != "" && b != "" {
		da, ra := digits(a)
		db, rb := digits(b)
		if da != "" && db != "" {
			na, nb := strings.TrimLeft(da, "0"), strings.TrimLeft(db, "0")
			if c := cmp.Or(cmp.Compare(len(na), len(nb)), strings.Compare(na, nb), cmp.Compare(len(da), len(db))); c != 0 {
				return c
			}
			a, b = ra, rb
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// digits cuts the digits off that text begins with.
func digits(text string) (number, rest string) {
	n := 0
	for n < len(text) && '0' <= text[n] && text[n] <= '9' {
		n++
	}
	return text[:n], text[n:]
}
