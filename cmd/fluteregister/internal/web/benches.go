package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/look"
	"flutelog/inspect/ledger"
	"flutelog/inspect/mark"
	"flutelog/inspect/register"
)

// benchRow is one bench of the list.
type benchRow struct {
	Link, Name string
	Mark       mark.Mark
	Word       string
	Cells      []string
}

type benchesPage struct {
	Heading string
	Stop    []benchRow // forked
	Rows    []benchRow
	Witness string
	Enrols  bool
}

// called is the name of a bench of which an id is at hand.
func called(names map[string]string, bench string) string {
	return cmp.Or(names[bench], "bench "+bench)
}

// wrong is what a person must see to at a bench; nil for nothing.
func (s *Site) wrong(b store.Bench) []string {
	var all []string
	if b.Forks > 0 {
		all = append(all, "forked: two copies of it wrote on")
	}
	if b.Missing > 0 {
		all = append(all, plural(int(b.Missing), "line")+" that were here are missing; the bench sends them again, and its ledger is left as it is until then")
	}
	if b.State == register.Closed {
		return all
	}
	switch {
	case b.Seen == nil:
		all = append(all, "never heard of")
	case s.Now().Sub(*b.Seen) >= silentAfter:
		all = append(all, "silent for "+span(s.Now().Sub(*b.Seen)))
	}
	if b.Ahead != nil {
		if text := ahead(*b.Ahead); text != "" {
			all = append(all, "its clock is "+text)
		}
	}
	if b.Unread > 0 {
		all = append(all, plural(b.Unread, "line")+" cannot be read")
	}
	if b.Tokens == 0 {
		all = append(all, "it may not send: its enrolment has ended")
	}
	return all
}

// state is how a bench stands, in a mark and a word.
func (s *Site) state(b store.Bench) (mark.Mark, string) {
	switch {
	case b.Forks > 0:
		return mark.Trouble, "forked"
	case b.Missing > 0:
		return mark.Trouble, "lines missing"
	case b.State == register.Closed:
		return mark.Retired, "closed"
	case b.Seen == nil:
		return mark.Unread, "not heard yet"
	case s.Now().Sub(*b.Seen) >= silentAfter:
		return mark.Trouble, "silent"
	case b.Behind > 0:
		return mark.Half, "behind"
	case s.wrong(b) != nil:
		return mark.Trouble, "to see to"
	}
	return mark.Accept, "up to date"
}

func (s *Site) benchRow(b store.Bench) benchRow {
	r := benchRow{Link: link("/bench", b.Bench), Name: b.Name}
	r.Mark, r.Word = s.state(b)
	heard := "nothing heard yet"
	if b.Seen != nil {
		heard = "heard " + s.moment(*b.Seen)
		if d := s.Now().Sub(*b.Seen); d >= 24*time.Hour {
			heard = "silent for " + span(d)
		}
	}
	behind := "all lines are here"
	switch {
	case b.Missing > 0:
		behind = plural(int(b.Missing), "line") + " missing"
	case b.Seen == nil:
		behind = "no line yet"
	case b.Behind > 0:
		behind = plural(int(b.Behind), "line") + " behind"
	}
	clock := ""
	if b.Ahead != nil {
		if clock = ahead(*b.Ahead); clock != "" {
			clock = "clock " + clock
		}
	}
	r.Cells = []string{b.Plant, heard, behind, clock}
	return r
}

// benches lists the benches, those that are forked first.
func (s *Site) benches(v *visit) error {
	all, err := s.Store.Benches(v)
	if err != nil {
		return err
	}
	p := benchesPage{Enrols: Role(v.who.Role) == Steward}
	if p.Witness, err = s.Book.Head(); err != nil {
		return err
	}
	sees := 0
	for _, b := range all {
		if s.wrong(b) != nil {
			sees++
		}
		r := s.benchRow(b)
		if b.Forks > 0 {
			p.Stop = append(p.Stop, r)
		}
		p.Rows = append(p.Rows, r)
	}
	switch {
	case len(all) == 0:
		p.Heading = "No bench is enrolled yet"
	case sees == 0:
		p.Heading = plural(len(all), "bench") + ": nothing to see to"
	default:
		p.Heading = fmt.Sprintf("%s, %s to see to", plural(len(all), "bench"), look.Count(sees))
	}
	s.show(v, http.StatusOK, "Benches", p.html)
	return nil
}

// fact is something said of something.
type fact struct{ Name, Value string }

type benchPage struct {
	ID, Name string
	Mark     mark.Mark
	Word     string
	Wrong    []string
	Facts    []fact
	Head     string
	Forks    []forkRow
	Tools    string // where those are listed that it recorded of last
}

// forkRow is a place where two copies of a bench wrote on.
type forkRow struct {
	store.Fork
	Name, When string
	Said       string // by whom, when and why it was ruled on; "" for nobody yet
	GoesOn     string // what the copy that was refused is called now
	May        bool   // who looks may rule on it
}

// forkRows are the forks of a bench, or of all with "".
func (s *Site) forkRows(v *visit, bench string, all []store.Bench) ([]forkRow, error) {
	forks, err := s.Store.Forks(v, bench)
	benches := map[string]store.Bench{}
	for _, b := range all {
		benches[b.Bench] = b
	}
	var rows []forkRow
	for _, f := range forks {
		b := benches[f.Bench]
		r := forkRow{Fork: f, Name: b.Name, When: s.moment(f.Since), May: rules(Role(v.who.Role), v.who.Plant, b.Plant)}
		if f.Ruled != nil {
			r.Said = fmt.Sprintf("%s, %s: %s", f.RuledBy, s.moment(*f.Ruled), f.Why)
		}
		if f.Renewed != "" {
			r.GoesOn = cmp.Or(benches[f.Renewed].Name, f.Renewed)
		}
		rows = append(rows, r)
	}
	return rows, err
}

// bench shows one bench.
func (s *Site) bench(v *visit) error {
	all, err := s.Store.Benches(v)
	if err != nil {
		return err
	}
	id := v.value("id")
	for _, b := range all {
		if b.Bench != id {
			continue
		}
		forks, err := s.forkRows(v, id, all)
		if err != nil {
			return err
		}
		p := benchPage{ID: b.Bench, Name: b.Name, Wrong: s.wrong(b), Forks: forks, Tools: toolsLink("", "", b.Bench, 0)}
		p.Mark, p.Word = s.state(b)
		if b.Seq > 0 {
			p.Head = ledger.Head{Bench: b.Bench, Seq: b.Seq, Hash: b.SHA256}.String()
		}
		p.Facts = append(p.Facts, fact{"Plant", cmp.Or(b.Plant, "not told")}, fact{"Enrolled", s.moment(b.Since)})
		if b.Seen != nil {
			p.Facts = append(p.Facts, fact{"Last heard", s.moment(*b.Seen)})
		}
		p.Facts = append(p.Facts, fact{"Lines here", look.Count(int(b.Seq))})
		if b.Behind > 0 {
			p.Facts = append(p.Facts, fact{"Lines still there", look.Count(int(b.Behind))})
		}
		if b.Ahead != nil {
			p.Facts = append(p.Facts, fact{"Its clock", cmp.Or(ahead(*b.Ahead), "right to two minutes")})
		}
		if b.Continues != "" {
			p.Facts = append(p.Facts, fact{"Goes on for", b.Continues})
		}
		if b.Ends != nil {
			p.Facts = append(p.Facts, fact{"May send until", s.moment(*b.Ends)})
		}
		s.show(v, http.StatusOK, "Bench "+p.Name, p.html)
		return nil
	}
	return &refused{http.StatusNotFound, fmt.Sprintf("There is no bench of the id “%s”.", id)}
}

type seeToPage struct {
	Forks   []forkRow // that are not settled
	Settled []forkRow
	Unread  []unreadRow
	Unclear []store.Unclear
	Doubles []doubleRow
}

type unreadRow struct {
	Link, Name string
	Seq        uint64
	Why        string
}

type doubleRow struct {
	Inspection string
	Tool       string
	At         string
}

// Clear says that there is nothing to see to.
func (p seeToPage) Clear() bool {
	return len(p.Forks)+len(p.Unread)+len(p.Unclear)+len(p.Doubles) == 0
}

// seeTo lists what only a person can settle.
func (s *Site) seeTo(v *visit) error {
	all, err := s.Store.Benches(v)
	if err != nil {
		return err
	}
	names := map[string]string{}
	for _, b := range all {
		names[b.Bench] = b.Name
	}
	forks, err := s.forkRows(v, "", all)
	if err != nil {
		return err
	}
	var p seeToPage
	for _, f := range forks {
		if f.Settled() {
			p.Settled = append(p.Settled, f)
		} else {
			p.Forks = append(p.Forks, f)
		}
	}
	unread, err := s.Store.Unread(v)
	if err != nil {
		return err
	}
	for _, u := range unread {
		p.Unread = append(p.Unread, unreadRow{link("/bench", u.Bench), called(names, u.Bench), u.Seq, u.Why})
	}
	if p.Unclear, err = s.Store.Unclear(v); err != nil {
		return err
	}
	doubles, err := s.Store.Doubles(v)
	if err != nil {
		return err
	}
	for _, d := range doubles {
		var at []string
		for _, b := range d.Benches {
			at = append(at, called(names, b))
		}
		slices.Sort(at)
		tool := d.Inspection
		if i := strings.LastIndexByte(tool, '.'); i > 0 {
			tool = tool[:i]
		}
		p.Doubles = append(p.Doubles, doubleRow{d.Inspection, tool, strings.Join(at, ", ")})
	}
	s.show(v, http.StatusOK, "To see to", p.html)
	return nil
}

// rule notes what a person found of a bench's forks, in the register's own ledger: nothing of a tool is touched.
func (s *Site) rule(v *visit) error {
	all, err := s.Store.Benches(v)
	if err != nil {
		return err
	}
	id, why, found := v.value("bench"), v.value("why"), store.Ruling{Truth: store.Truth(v.value("found"))}
	if found.Truth == "gone" {
		found = store.Ruling{Truth: store.Here, Gone: true}
	}
	for _, b := range all {
		switch {
		case b.Bench != id:
		case !rules(Role(v.who.Role), v.who.Plant, b.Plant):
			return &refused{http.StatusForbidden, fmt.Sprintf("The forks of %s are ruled on by an inspector of its plant, or a steward.", b.Name)}
		case why == "":
			return &refused{http.StatusUnprocessableEntity, "Say what was found, and what became of the other copy."}
		case b.Forks == 0:
			return &refused{http.StatusUnprocessableEntity, b.Name + " has no fork that is not settled."}
		case found.Check() != nil:
			return &refused{http.StatusUnprocessableEntity, "Say which copy is the bench: " + found.Check().Error() + "."}
		default:
			x := book.Ruled{Bench: b.Bench, By: v.who.Name, Why: why, At: s.Now().UTC().Truncate(time.Microsecond), Ruling: found}
			if _, _, err := s.Book.Rule(v, s.Store, x); err != nil {
				return err
			}
			http.Redirect(v.w, v.r, link("/bench", b.Bench), http.StatusSeeOther)
			return nil
		}
	}
	return &refused{http.StatusNotFound, fmt.Sprintf("There is no bench of the id “%s”.", id)}
}
