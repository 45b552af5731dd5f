package record

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
)

// Standing is what may be done with a tool, in one word.
type Standing string

// The standings, in the order of a tool's way through the shop; those that stop it come last.
const (
	StandsReceived  Standing = "received"   // nothing is read of it since it came
	StandsToGrind   Standing = "to grind"   //
	StandsToFinish  Standing = "to finish"  // the primary is ground and read, the tool still held
	StandsToInspect Standing = "to inspect" //
	StandsToSign    Standing = "to sign"    // a person's word is wanted
	StandsReleased  Standing = "released"   //
	StandsConceded  Standing = "conceded"   // released although it does not conform
	StandsLocked    Standing = "locked"     // a crack was seen, or a burn between or after
	StandsRecalled  Standing = "recalled"   // it was released, and a correction says otherwise
	StandsWithdrawn Standing = "withdrawn"  // for good
	StandsRetired   Standing = "retired"    //
)

// Standings lists the standings.
var Standings = []Standing{
	StandsReceived, StandsToGrind, StandsToFinish, StandsToInspect, StandsToSign, StandsReleased, StandsConceded,
	StandsLocked, StandsRecalled, StandsWithdrawn, StandsRetired,
}

// Usable says whether a tool that stands so may be used.
func (s Standing) Usable() bool { return s == StandsReleased || s == StandsConceded }

// Stops says whether a tool that stands so must not be used, and is out: locked or recalled.
func (s Standing) Stops() bool { return s == StandsLocked || s == StandsRecalled }

// State is how a tool stands, and what that rests on. It is worked out from the tool's records alone, by no clock, and
// is the same in whatever order they came together.
type State struct {
	Standing    Standing
	What        []inspect.Task  // what the deciding inspection calls for
	Decided     Place           // the record that says where the tool is on its way; none where nothing is read
	Since       Place           // the record that the standing rests on: that, or what stopped the tool
	Inspection  string          // the one that decides, "" for none
	NotReground bool            // to sign, or released, without having been ground
	Conflict    bool            // the deciding inspection was corrected at two benches that did not know of each other
	Locks       []StandingLock  // that stand, oldest first
	Recalls     []ledger.Record // that stand, oldest first
	Open        []string        // inspections that are half read
	Away        *Away           // where it was sent; nil when it is here
	Job         string          // that it came with last
	Elsewhere   Elsewhere       // what of it only a register has told
	ToldAt      string          // the bench, in words, that recorded what the standing rests on, where that is a register's word; else ""
}

// Place names a record and orders it. Its zero value is before all records.
type Place struct {
	ledger.Ref
	Counter uint64 `json:"counter"`
	Time    string `json:"time,omitempty"` // of the record, as far as clocks go; nothing is ordered by it
	Told    bool   `json:"-"`              // it is a register's word
	Where   string `json:"-"`              // the bench of it, in words
}

// StandingLock is a lock with the record that an unlocking must name.
type StandingLock struct {
	Lock
	Ref       ledger.Ref
	TakenBack bool   // noted as a slip
	Told      bool   // it is a register's word
	Where     string // the bench of its record, in words
	at        Place
}

// What says what was seen, and where it is told at which flute.
func (l Lock) What() string {
	words := strings.ReplaceAll(string(l.Sight), "-", " ")
	if l.Unsure {
		words = "perhaps " + words
	}
	if l.Flute > 0 {
		words = strings.TrimSuffix(words, "s") + " at flute " + strconv.Itoa(l.Flute)
	}
	return words
}

// String says what locked the tool.
func (l StandingLock) String() string {
	words := l.What() + " seen in " + l.Inspection
	if l.Note != "" {
		words += " (" + l.Note + ")"
	}
	if l.TakenBack {
		words += ", taken back at once"
	}
	if l.Told {
		words += ", at " + l.Where + " by the register's word"
	}
	return words
}

// A fact is one record of a tool with its body taken apart; of kinds that no standing rests on body is nil.
type fact struct {
	ledger.Record
	body any    // *Figures, *Lock, *Unlocking, *Ruling, *Correction, *Recall, *Ground, *Away, *Received, *inspect.Tool, *Opened, *Note
	was  string // the bench that its own goes on in place of, "" for none

	unread error // why the body cannot be taken for what its kind says: the tool is fenced
}

// unread returns what of a tool's records cannot be understood, or nil. What a bench that is left out wrote does not
// count, but for what might stop the tool.
func unread(facts []*fact, leftOut map[string]bool) error {
	for _, x := range facts {
		if x.unread != nil && (!leftOut[x.Bench] || x.Kind == KindLock || x.Kind == KindRecall || x.Kind == KindRuling) {
			return x.unread
		}
	}
	return nil
}

// held is one inspection as a fold sees it.
type held struct {
	closed      *fact // figures at its close
	now         *Figures
	corrections []*fact
	covered     map[ledger.Ref]bool // corrections that now rests on
	conflict    bool
	forged      bool // other figures say that they are of the same closing
}

func (h *held) summary() ledger.Ref { return *h.closed.About }

// knew says whether a ruling knew of a record: no later one of its bench's is known to it.
func (r *Ruling) knew(of ledger.Ref) bool {
	return slices.ContainsFunc(r.Seen, func(s ledger.Ref) bool { return s.Bench == of.Bench && s.Seq >= of.Seq })
}

// fold works out how a tool stands from all records of it that are known, in any order. What a left-out bench recorded
// is passed over but for what keeps a tool out of use.
//
// A release or concession counts only while its ruling knew of every inspection, grind and receipt there is, and was by
// the newest of them: what was recorded after it, or came from another bench without being seen, decides in its place.
func fold(facts []*fact, leftOut map[string]bool) (*folding, State) {
	facts = slices.Clone(facts)
	slices.SortFunc(facts, func(a, b *fact) int { return ledger.Compare(a.Record, b.Record) })
	facts = slices.CompactFunc(facts, func(a, b *fact) bool { return a.Ref() == b.Ref() })
	f := &folding{bySummary: map[ledger.Ref]*held{}, byCorrection: map[ledger.Ref]*held{}}
	for _, x := range facts {
		if !leftOut[x.Bench] || stops(x.body) {
			f.take(x)
		}
	}
	f.correct()
	return f, f.state()
}

// stops says whether a record keeps a tool out of use: it counts whoever wrote it.
func stops(body any) bool {
	switch b := body.(type) {
	case *Lock, *Recall:
		return true
	case *Ruling:
		return b.Word == Withdraw
	case *inspect.Tool:
		return b.Retired != ""
	}
	return false
}

// folding is a tool's records sorted by what they say, each kind in the order of the ledger.
type folding struct {
	bySummary    map[ledger.Ref]*held
	byCorrection map[ledger.Ref]*held
	inspections  []*held
	figures      []*fact // of corrections
	corrections  []*fact
	locks        []*fact
	unlocked     []ledger.Ref
	slips        []ledger.Ref // locks whose answer was taken back at once
	rulings      []*fact
	recalls      []*fact
	flow         []*fact // receipts, grinds, inspections at their close: what moves a tool on
	open         []*fact
	closed       []string // drafts, by bench and name
	retired      *fact    // what took it out of use first; nil for none
	away         *Away
	job          string
}

func (f *folding) take(x *fact) {
	if x.Closes != "" {
		f.closed = append(f.closed, x.Bench+" "+x.Closes, x.was+" "+x.Closes)
	}
	switch b := x.body.(type) {
	case *Opened:
		f.open = append(f.open, x)
	case *Figures:
		f.takeFigures(x, b)
	case *Correction:
		f.corrections = append(f.corrections, x)
	case *Lock:
		f.locks = append(f.locks, x)
	case *Unlocking:
		if x.About != nil {
			f.unlocked = append(f.unlocked, *x.About)
		}
	case *Ruling:
		f.rulings = append(f.rulings, x)
	case *Recall:
		f.recalls = append(f.recalls, x)
	case *Ground:
		f.flow = append(f.flow, x)
	case *Received:
		f.flow, f.job = append(f.flow, x), b.Job
	case *Note:
		if b.TakenBack {
			f.slips = append(f.slips, refOf(x.About))
		}
	case *Away:
		if f.away = b; b.Back {
			f.away = nil
		}
	case *inspect.Tool:
		if b.Retired != "" && f.retired == nil {
			f.retired = x
		}
	}
}

func (f *folding) takeFigures(x *fact, b *Figures) {
	if x.About == nil {
		return
	}
	if h := f.bySummary[*x.About]; h != nil {
		h.forged = true
		return
	}
	h := &held{closed: x, now: b, covered: map[ledger.Ref]bool{}}
	f.figures = append(f.figures, x)
	f.bySummary[*x.About] = h
}

// correct sorts the figures of corrections from those of closings, and finds of each inspection the figures that all
// its corrections are in.
func (f *folding) correct() {
	corrected := map[ledger.Ref]*Correction{}
	for _, c := range f.corrections {
		corrected[c.Ref()] = c.body.(*Correction)
		delete(f.bySummary, c.Ref())
	}
	for _, c := range f.corrections {
		if h := f.bySummary[refOf(c.About)]; h != nil {
			h.corrections = append(h.corrections, c)
			f.byCorrection[c.Ref()] = h
		}
	}
	for _, x := range f.figures {
		if h := f.bySummary[*x.About]; h != nil {
			f.inspections = append(f.inspections, h)
			f.flow = append(f.flow, x)
			continue
		}
		h := f.byCorrection[*x.About]
		if h == nil {
			continue // about something that is not here
		}
		covers := map[ledger.Ref]bool{*x.About: true}
		for _, r := range corrected[*x.About].After {
			covers[r] = true
		}
		h.now, h.covered = x.body.(*Figures), covers
	}
	for _, h := range f.inspections {
		h.conflict = h.forged || slices.ContainsFunc(h.corrections, func(c *fact) bool { return !h.covered[c.Ref()] })
	}
	slices.SortFunc(f.flow, func(a, b *fact) int { return ledger.Compare(a.Record, b.Record) })
}

func refOf(r *ledger.Ref) ledger.Ref {
	if r == nil {
		return ledger.Ref{}
	}
	return *r
}

func (f *folding) state() State {
	s := State{Standing: StandsReceived, Job: f.job, Away: f.away}
	f.opened(&s)
	f.locked(&s)
	f.moved(&s)
	f.recalled(&s)
	s.Since = s.Decided
	withdrawn := slices.IndexFunc(f.rulings, func(x *fact) bool { return x.body.(*Ruling).Word == Withdraw })
	switch {
	case withdrawn >= 0:
		s.Standing, s.Since = StandsWithdrawn, placeOf(f.rulings[withdrawn].Record)
	case len(s.Locks) > 0:
		s.Standing, s.Since = StandsLocked, s.Locks[0].at
	case len(s.Recalls) > 0:
		s.Standing, s.Since = StandsRecalled, placeOf(s.Recalls[0])
	case s.Standing == StandsRecalled:
	case f.retired != nil:
		s.Standing, s.Since = StandsRetired, placeOf(f.retired.Record)
	}
	s.NotReground = s.NotReground && (s.Standing == StandsToSign || s.Standing == StandsReleased)
	if s.Since.Told {
		s.ToldAt = s.Since.Where
	}
	return s
}

// opened finds what is half read. A tool that an inspection before the grind is half read of has been received anew.
func (f *folding) opened(s *State) {
	for _, x := range f.open {
		if x.Opens == "" || slices.Contains(f.closed, x.Bench+" "+x.Opens) {
			continue
		}
		b := x.body.(*Opened)
		s.Open = append(s.Open, b.Inspection.ID)
		if b.Inspection.Stage == inspect.Before {
			f.flow = append(f.flow, x)
		}
		if b.locks.Yes { // seen in the draft, and no lock recorded
			f.virtual(x, Lock{Inspection: b.Inspection.ID, Stage: b.Inspection.Stage, Sight: b.locks.Sight, Flute: b.locks.Flute, Unsure: b.locks.Unsure, Note: b.locks.Note, At: b.lockedAt}, x.Ref())
		}
	}
	slices.SortFunc(f.flow, func(a, b *fact) int { return ledger.Compare(a.Record, b.Record) })
}

// locked finds the locks that stand. An inspection in which a crack stands is one, though no lock was recorded for it.
func (f *folding) locked(s *State) {
	for _, h := range f.inspections {
		if n := h.now; n.Locks != "" && !n.Discarded {
			f.virtual(h.closed, Lock{Inspection: n.Inspection, Stage: n.Stage, Sight: n.Locks}, h.summary())
		}
	}
	for _, x := range f.locks {
		if !slices.Contains(f.unlocked, x.Ref()) {
			lock, at := *x.body.(*Lock), placeOf(x.Record)
			if seen, err := time.Parse(time.RFC3339, lock.At); err == nil && x.Kind == KindOpened { // its record is older than the sight
				at.Time = Stamp(seen.UTC())
			}
			s.Locks = append(s.Locks, StandingLock{lock, x.Ref(), slices.Contains(f.slips, x.Ref()), x.Told, x.At(), at})
		}
	}
}

// virtual adds the lock that should have been recorded and was not. An unlocking names it by ref.
func (f *folding) virtual(x *fact, l Lock, ref ledger.Ref) {
	if slices.ContainsFunc(f.locks, func(o *fact) bool { return o.Bench == x.Bench && o.body.(*Lock).Inspection == l.Inspection }) {
		return
	}
	lock := *x
	lock.Bench, lock.Seq, lock.Hash, lock.body = ref.Bench, ref.Seq, ref.Hash, &l
	f.locks = append(f.locks, &lock)
}

// reground returns the inspections after the grind that came after one: it was told, or the tool was to be ground.
func (f *folding) reground() map[*held]bool {
	after := map[*held]bool{}
	ground := false
	for _, x := range f.flow {
		h := f.inspection(x)
		switch {
		case h == nil:
			_, ground = x.body.(*Ground)
		case h.now.Discarded || h.now.Practice:
		case h.now.Stage == inspect.After:
			if after[h] = ground; h.now.leaves() != StandsToInspect {
				ground = h.now.leaves() == StandsToGrind
			}
		default:
			ground = h.now.leaves() == StandsToGrind || ground && h.now.Stage == inspect.Between
		}
	}
	return after
}

// moved works out where a tool is on its way.
func (f *folding) moved(s *State) {
	type step struct {
		*fact
		of    *held      // the inspection that it closes, nil for none
		named ledger.Ref // what a ruling must have known to know of it
	}
	var flow []step
	for _, x := range f.flow {
		switch h := f.inspection(x); {
		case h == nil:
			flow = append(flow, step{fact: x, named: x.Ref()})
		case !h.now.Discarded && !h.now.Practice:
			flow = append(flow, step{x, h, h.summary()})
		}
	}
	unruled, decided := slices.Clone(flow), false
	for _, x := range f.rulings {
		r := x.body.(*Ruling)
		h := f.bySummary[refOf(x.About)]
		if h == nil || !rulable(r.Word, h.now.Stage) {
			continue
		}
		known := func(x step) bool { return r.knew(x.named) }
		last := slices.IndexFunc(flow, func(x step) bool { return x.of == h })
		if last < 0 || slices.ContainsFunc(flow[last+1:], known) {
			continue // not by the newest that it knew of
		}
		unruled = slices.DeleteFunc(unruled, known)
		if slices.ContainsFunc(flow, func(x step) bool { return !known(x) }) {
			continue
		}
		stands := h.standsBy(r)
		if s.Standing.Usable() && !stands.Usable() {
			continue // one that knew more has settled it
		}
		decided = true
		s.Standing, s.Decided, s.Inspection, s.What, s.Conflict = stands, placeOf(x.Record), h.now.Inspection, h.now.Work, h.conflict
		s.NotReground = h.now.Stage == inspect.Before
	}
	if len(unruled) == 0 && (decided || len(flow) == 0) {
		return
	}
	if len(unruled) == 0 { // each ruled on at a bench that did not know of the other
		unruled = flow
		defer func() { s.Standing = StandsToSign }()
	}
	newest := unruled[len(unruled)-1]
	s.Decided, s.What, s.Inspection, s.NotReground, s.Conflict = placeOf(newest.Record), nil, "", false, false
	switch newest.body.(type) {
	case *Received, *Opened:
		s.Standing = StandsReceived
	case *Ground:
		s.Standing = StandsToInspect
	default:
		h := newest.of
		s.Standing, s.What, s.Inspection, s.Conflict = h.now.leaves(), h.now.Work, h.now.Inspection, h.conflict
		if h.now.Locks != "" && len(s.Locks) == 0 {
			s.What = nil // the lock was lifted, and nothing else was judged
		}
		s.NotReground = s.Standing == StandsToSign && h.now.Stage == inspect.Before && h.now.clear()
		if h.conflict && s.Standing == StandsToSign {
			s.Standing = StandsToInspect
		}
	}
}

// rulable says whether a tool can be released by an inspection at a stage.
func rulable(word Word, stage inspect.Stage) bool {
	return stage == inspect.After && word != Withdraw || stage == inspect.Before && word == Release
}

// standsBy says what a ruling makes of a tool, as far as its inspection goes. A release holds while the inspection,
// as it stands, calls for nothing; a concession, until a verdict is worse than it knew.
func (h *held) standsBy(r *Ruling) Standing {
	worse := slices.ContainsFunc(h.corrections, func(c *fact) bool { return c.body.(*Correction).Worse && !r.knew(c.Ref()) })
	switch {
	case worse, r.Word == Release && (h.conflict || !h.now.clear()):
		return StandsRecalled
	case r.Word == Release:
		return StandsReleased
	}
	return StandsConceded
}

// ruledOn returns the inspection that a ruling is on: the one it names, or of a ruling on the tool itself the newest closed
// that it knew of; nil for none.
func (f *folding) ruledOn(x *fact) *held {
	if x.About != nil {
		return f.bySummary[*x.About]
	}
	for _, h := range slices.Backward(f.inspections) {
		if !h.now.Discarded && x.body.(*Ruling).knew(h.summary()) {
			return h
		}
	}
	return nil
}

// inspection returns the inspection that a record closes, nil for none.
func (f *folding) inspection(x *fact) *held {
	if _, ok := x.body.(*Figures); !ok {
		return nil
	}
	return f.bySummary[*x.About]
}

// recalled finds the recalls that stand: until a later inspection after the grind is released that knew of it, a
// concession that did, or a release of the same that names it.
func (f *folding) recalled(s *State) {
	for _, x := range f.recalls {
		of := f.byCorrection[refOf(x.About)]
		settled := slices.ContainsFunc(f.rulings, func(y *fact) bool {
			r := y.body.(*Ruling)
			h := f.bySummary[refOf(y.About)]
			switch {
			case h == nil || !r.knew(x.Ref()) || h.now.Practice || h.now.Discarded:
				return false
			case r.Word == Concession:
				return true
			case r.Word != Release:
				return false
			case h == of:
				return slices.Contains(r.Recalls, x.Ref())
			}
			return h.now.Stage == inspect.After && (of == nil || ledger.Compare(h.closed.Record, of.closed.Record) > 0)
		})
		if !settled {
			s.Recalls = append(s.Recalls, x.Record)
		}
	}
}

func placeOf(r ledger.Record) Place {
	p := Place{Ref: r.Ref(), Counter: r.Counter, Time: Stamp(r.Time.UTC), Told: r.Told}
	if r.Told {
		p.Where = r.At()
	}
	return p
}

// Works that call for no work: those that ask for nothing, and those that ask for more to be read.
var (
	asksNothing = []inspect.Task{inspect.NoWork, inspect.Release, inspect.GoOn}
	asksReading = []inspect.Task{inspect.ReadOn}
	asksPerson  = []inspect.Task{inspect.Downgrade, inspect.Withdraw}
)

func (f *Figures) asks(tasks []inspect.Task) bool {
	return slices.ContainsFunc(f.Work, func(t inspect.Task) bool { return slices.Contains(tasks, t) })
}

// clear says whether an inspection calls for nothing at all.
func (f *Figures) clear() bool {
	return len(f.Work) > 0 && !slices.ContainsFunc(f.Work, func(t inspect.Task) bool { return !slices.Contains(asksNothing, t) })
}

// leaves says how a tool stands that nothing has happened to since this inspection of it.
func (f *Figures) leaves() Standing {
	locked := f.Locks != "" // nothing else was judged: when the lock is lifted it covers nothing
	switch {
	case !locked && f.asks(asksPerson):
		return StandsToSign
	case !locked && len(f.Work) > 0 && slices.ContainsFunc(f.Work, func(t inspect.Task) bool { return !slices.Contains(asksNothing, t) && !slices.Contains(asksReading, t) }):
		return StandsToGrind
	case f.Stage == inspect.Between:
		return StandsToFinish
	case f.clear():
		return StandsToSign
	case f.Stage == inspect.Before:
		return StandsReceived
	}
	return StandsToInspect
}

// seenOf returns the newest record of each bench among some, of those kinds that a standing rests on, which a ruling names as known.
func seenOf(facts []*fact) []ledger.Ref {
	newest := map[string]ledger.Ref{}
	for _, x := range facts {
		if x.Seq > newest[x.Bench].Seq && x.Hash != "" {
			newest[x.Bench] = x.Ref()
		}
	}
	return slices.SortedFunc(maps.Values(newest), func(a, b ledger.Ref) int { return strings.Compare(a.Bench, b.Bench) })
}
