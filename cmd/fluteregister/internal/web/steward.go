package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/cmd/internal/people"
	"flutelog/inspect/text"
)

type enrolPage struct {
	Line         string // made just now; it is shown once
	Label, Plant string
	Reads        bool
	Alike        []string // what is called so already: one more is asked for once again
}

func (s *Site) enrolPage(v *visit) error {
	s.show(v, http.StatusOK, "Enrol a bench", enrolPage{}.html)
	return nil
}

// enrol lets a bench send, and shows once the line that is pasted there.
func (s *Site) enrol(v *visit) error {
	p := enrolPage{Label: v.value("label"), Plant: v.value("plant"), Reads: v.value("reads") != ""}
	if p.Label == "" {
		return &refused{http.StatusUnprocessableEntity, "Say what the bench is called: people know it by that."}
	}
	var err error
	if p.Alike, err = s.calledAlike(v, p.Label); err != nil {
		return err
	}
	if len(p.Alike) > 0 && v.value("more") == "" {
		s.show(v, http.StatusUnprocessableEntity, "Enrol a bench", p.html)
		return nil
	}
	line, err := s.Enrol(v, store.Enrolled{Label: p.Label, Plant: p.Plant, Reads: p.Reads, Since: s.Now().UTC().Truncate(time.Microsecond)})
	if err != nil {
		return err
	}
	p.Line = line
	s.Say("%s has enrolled %q", v.who.Name, p.Label)
	s.show(v, http.StatusOK, "Enrol a bench", p.html)
	return nil
}

// calledAlike lists what may ask under a label already.
func (s *Site) calledAlike(v *visit, label string) (all []string, err error) {
	tokens, err := s.Store.Tokens(v, label)
	for _, t := range tokens {
		if t.Ended(s.Now()) || !strings.EqualFold(t.Label, label) {
			continue
		}
		what := "a line that no bench has used yet"
		switch {
		case t.Bench != "":
			what = "bench " + t.Bench
		case t.Reads:
			what = "a program that reads"
		}
		if t.Plant != "" {
			what += ", plant " + t.Plant
		}
		all = append(all, what+", enrolled "+s.moment(t.Since))
	}
	return all, err
}

type memberRow struct {
	people.Member
	May string
}

type peoplePage struct {
	People []memberRow
	Ended  []string
	Roles  []option
	Done   string
}

func (s *Site) peoplePage(v *visit) error { return s.showPeople(v, "") }

func (s *Site) showPeople(v *visit, done string) error {
	known, err := people.Read(s.Folder)
	if err != nil {
		return err
	}
	p := peoplePage{Done: done}
	for _, m := range known.Members() {
		switch {
		case m.Role == "":
		case m.Ended:
			p.Ended = append(p.Ended, m.Name)
		default:
			p.People = append(p.People, memberRow{m, Role(m.Role).May()})
		}
	}
	for _, r := range Roles {
		p.Roles = append(p.Roles, option{string(r), string(r) + ": " + r.May()})
	}
	s.show(v, http.StatusOK, "People", p.html)
	return nil
}

// addPerson lets a person look, with a role; one who is there already gets another role or PIN.
func (s *Site) addPerson(v *visit) error {
	m := people.Member{Name: v.value("name"), Role: v.value("role"), Plant: v.value("plant")}
	err := Join(s.Folder, m, v.r.PostForm.Get("pin"))
	if err != nil {
		return &refused{http.StatusUnprocessableEntity, err.Error()}
	}
	s.Say("%s has let %q in as %s", v.who.Name, m.Name, Role(m.Role).one())
	return s.showPeople(v, m.Name+" may look here now, as "+Role(m.Role).one()+".")
}

// Join lets a person look at the register whose people are kept in a folder.
func Join(folder string, m people.Member, pin string) error {
	if !Role(m.Role).atLeast(Machinist) {
		return fmt.Errorf("role %q: want one of %v", m.Role, Roles)
	}
	known, err := people.Read(folder)
	if err != nil {
		return err
	}
	if last := lastSteward(known); Role(m.Role) != Steward && last != "" && text.Fold(last) == text.Fold(m.Name) {
		return fmt.Errorf("%s is the last steward: make another one first", last)
	}
	return known.Join(m, pin)
}

// End takes from a person what they may.
func End(folder, name string) error {
	known, err := people.Read(folder)
	if err != nil {
		return err
	}
	if last := lastSteward(known); last != "" && text.Fold(last) == text.Fold(name) {
		return fmt.Errorf("%s is the last steward: make another one first", last)
	}
	return known.End(name)
}

// lastSteward returns the one steward that there is; "" where there are more, or none.
func lastSteward(known *people.People) string {
	last := ""
	for _, m := range known.Members() {
		switch {
		case m.Ended || Role(m.Role) != Steward:
		case last != "":
			return ""
		default:
			last = m.Name
		}
	}
	return last
}

func (s *Site) endPerson(v *visit) error {
	name := v.value("name")
	if err := End(s.Folder, name); err != nil {
		return &refused{http.StatusUnprocessableEntity, err.Error()}
	}
	s.Say("%s has ended what %q may", v.who.Name, name)
	return s.showPeople(v, name+" may not look here any more.")
}
