package page

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/words"
)

// deed is something that a person decides of tools or of a job, or tells of a tool. It is asked on a page of its own,
// which says what it means, and done once it is confirmed.
type deed struct {
	Title  string
	Means  []string // what it does, and what it does not
	Of     subject
	Signed bool // by one who may sign, with their PIN; else whoever is there tells it
	Fields []field
	Button string
	Grave  bool                                      // cannot be taken back
	may    func(l record.Source, ids []string) error // why it cannot be done now, whoever does it; nil where nothing is asked of how it stands
	do     func(s *Server, ids []string, who record.Who, f url.Values) error
}

// subject is what a deed is done to.
type subject int

const (
	ofTool subject = iota
	ofInspections
	ofJob
)

var why = field{Name: "why", Label: "Why; it is kept with your name"}

// deeds are those that there are, by the word in their address.
var deeds = map[string]deed{
	"release": {
		Title: "Release", Means: []string{"It conforms, and you sign for it. The tag then shows the diameter to set."}, Of: ofInspections, Signed: true, Button: "Release",
		may: mayRule(record.Release), do: rule(record.Release),
	},
	"concession": {
		Title: "Concede on a condition", Means: []string{"It does not conform, and is used all the same: for what the condition says and nothing else. The condition is the headline of its tag."}, Of: ofInspections, Signed: true, Button: "Concede",
		Fields: []field{{Name: "why", Label: "For what work, and why, as the machinist will read it: use for roughing only"}}, may: mayRule(record.Concession), do: rule(record.Concession),
	},
	"withdraw": {
		Title: "Withdraw for ever", Means: []string{"It cannot be taken back: no reading, no other bench and no later ruling brings the tool back."}, Of: ofInspections, Signed: true, Button: "Withdraw", Grave: true,
		Fields: []field{why}, may: mayRule(record.Withdraw), do: rule(record.Withdraw),
	},
	"unlock": {
		Title: "Lift the lock", Means: []string{"What was seen is no crack or burn, or it was ground out and looked at again. Every lock that stands on the tool is lifted, each by name; what was seen stays on record."}, Of: ofTool, Signed: true, Button: "Lift the lock", Grave: true,
		Fields: []field{{Name: "why", Label: "How you know: what was done, and with what it was looked at again"}},
		may:    func(l record.Source, ids []string) error { return record.MayUnlock(l, ids[0]) },
		do: func(s *Server, ids []string, who record.Who, _ url.Values) error {
			s.elsewhere.Look(record.ToolSubject(ids[0]))
			_, _, err := record.Unlock(s.Ledger, ids[0], who)
			return atWhy(who, err)
		},
	},
	"retire": {
		Title: "Retire", Means: []string{"The tool is out of use: nothing more is read of it. Its record stays."}, Of: ofTool, Button: "Retire", Grave: true,
		Fields: []field{why},
		do: func(s *Server, ids []string, who record.Who, _ url.Values) error {
			_, err := record.Retire(s.Ledger, ids[0], who.Why)
			return atWhy(who, err)
		},
	},
	"succeed": {
		Title: "Another takes its place", Means: []string{"Withdrawn or retired is for ever. Where it was a slip, the tool goes on under another id, and its life begins anew; both say so."}, Of: ofTool, Signed: true, Button: "Add it",
		Fields: []field{{Name: "as", Label: "The new id"}},
		do: func(s *Server, ids []string, who record.Who, f url.Values) error {
			old, err := record.FindTool(s.Ledger, ids[0])
			if err != nil {
				return err
			}
			fresh := old.Tool
			fresh.ID, fresh.Retired = strings.TrimSpace(f.Get("as")), ""
			_, err = record.Succeed(s.Ledger, fresh, old.ID, who)
			return at("as", err)
		},
	},
	"note": {
		Title: "Note", Means: []string{"Anything worth knowing of the tool. It is kept with the tool for good."}, Of: ofTool, Button: "Note it",
		Fields: []field{{Name: "text", Label: "What is worth knowing"}},
		do: func(s *Server, ids []string, who record.Who, f url.Values) error {
			_, err := record.RecordNote(s.Ledger, ids[0], record.Note{Text: strings.TrimSpace(f.Get("text")), By: who.By, At: record.Stamp(who.At)})
			return at("text", err)
		},
	},
	"away": {
		Title: "Sent out", Means: []string{"Where the tool is, until it is back. How it stands does not change."}, Of: ofTool, Button: "It was sent out",
		Fields: []field{{Name: "where", Label: "Where to, or to whom"}},
		do: func(s *Server, ids []string, who record.Who, f url.Values) error {
			_, err := record.RecordAway(s.Ledger, ids[0], record.Away{Where: strings.TrimSpace(f.Get("where")), By: who.By, At: record.Stamp(who.At)})
			return err
		},
	},
	"back": {
		Title: "Back", Means: []string{"The tool that was sent out is here again."}, Of: ofTool, Button: "It is back",
		do: func(s *Server, ids []string, who record.Who, _ url.Values) error {
			_, err := record.RecordAway(s.Ledger, ids[0], record.Away{Back: true, By: who.By, At: record.Stamp(who.At)})
			return err
		},
	},
	"ground": {
		Title: "Ground", Means: []string{"The tool was ground, and is to inspect now. What is told here is how its set-up is found again."}, Of: ofTool, Button: "It was ground",
		Fields: []field{
			{Name: "wheel", Label: "Wheel; empty where it is not told"},
			{Name: "divisions", Label: "Divisions of the feed dial since the wheel’s first touch, on the flutes"},
			{Name: "end-divisions", Label: "Divisions fed to the ends; empty where they were not ground"},
			{Name: "order", Label: "Flutes in the order in which they came to the wheel: 1, 4, 3, 2"},
			{Name: "last", Label: "How the last round was gone: without feed, or half a turn on"},
		},
		do: ground,
	},
	"job": {
		Title: "Release the job", Means: []string{"Every tool of it is settled, and you sign for the whole. Its certificate says so."}, Of: ofJob, Signed: true, Button: "Release the job",
		may: func(l record.Source, ids []string) error { return record.MayReleaseJob(l, ids[0]) },
		do: func(s *Server, ids []string, who record.Who, _ url.Values) error {
			if _, err := s.elsewhere.ToRuleJob(who.Why, ids[0]); err != nil {
				return atWhy(who, err)
			}
			_, err := record.ReleaseJob(s.Ledger, ids[0], who)
			return err
		},
	},
}

// mayRule says why a ruling cannot be made on inspections.
func mayRule(word record.Word) func(record.Source, []string) error {
	return func(l record.Source, ids []string) error { return record.MayRule(l, ids, word) }
}

// rule makes a ruling on inspections, all of them or none; withdrawn is a tool that was never inspected too.
func rule(word record.Word) func(*Server, []string, record.Who, url.Values) error {
	return func(s *Server, ids []string, who record.Who, _ url.Values) error {
		if word != record.Withdraw {
			var subjects []string
			for _, id := range ids {
				subjects = append(subjects, record.SubjectOf(id))
			}
			if _, err := s.elsewhere.ToRule(who.Why, subjects...); err != nil {
				return atWhy(who, err)
			}
		}
		_, err := record.Rule(s.Ledger, ids, word, who)
		if word == record.Release {
			return err
		}
		return atWhy(who, err)
	}
}

// atWhy puts an error at the reason where none was given, or none in words.
func atWhy(who record.Who, err error) error {
	if who.Why == "" || errors.Is(err, record.ErrNoReason) {
		return at("why", err)
	}
	return err
}

// ground tells how a tool was ground.
func ground(s *Server, ids []string, who record.Who, f url.Values) error {
	g := record.Ground{Wheel: strings.TrimSpace(f.Get("wheel")), LastRound: strings.TrimSpace(f.Get("last")), By: who.By, At: record.Stamp(who.At)}
	if g.Wheel != "" {
		if err := s.Bench.CheckWheel(g.Wheel); err != nil {
			return at("wheel", err)
		}
	}
	var err error
	for _, told := range []struct {
		name string
		fed  *int
	}{{"divisions", &g.Divisions}, {"end-divisions", &g.EndsFed}} {
		if n := strings.TrimSpace(f.Get(told.name)); n != "" {
			if *told.fed, err = strconv.Atoi(n); err != nil || *told.fed < 1 {
				return at(told.name, fmt.Errorf("%q: want a whole number, 1 or more", n))
			}
		}
	}
	if g.Order, err = inspect.ParseFlutes(f.Get("order")); err != nil {
		return at("order", err)
	}
	_, err = record.RecordGround(s.Ledger, ids[0], g)
	return err
}

// deedLink is the address where a deed is asked, with the tool that the page goes back to.
func deedLink(name, id, tool string) string {
	return "/deed?" + url.Values{"do": {name}, "id": {id}, "tool": {tool}}.Encode()
}

// deedPage is a deed that is asked.
type deedPage struct {
	deed
	Name string
	IDs  []string
	Rows []row
	Form form
	Sign *signing
	Who  string // tells it, where it is not signed
	Back string
	Not  []string // why it cannot be done, of each that it is asked of: then nothing is asked
	Rest string   // where it is asked of those that it can be done to
	Left int      // how many they are
}

// deed returns a deed by its word. Where the bench has joined a register, what lets something out can be given a reason: it
// is wanted where the register does not answer.
func (s *Server) deed(name string) (deed, bool) {
	d, ok := deeds[name]
	if (name == "release" || name == "job") && register.Joins(s.Ledger.Dir()) {
		d.Fields = []field{{Name: "why", Label: "Only where the register does not answer: why it is let out all the same"}}
	}
	return d, ok
}

// askDeed asks for a deed.
func (s *Server) askDeed(w http.ResponseWriter, r *http.Request) {
	s.showDeed(w, r, http.StatusOK, form{Values: r.Form})
}

// showDeed shows what is asked, as it was sent where it was refused.
func (s *Server) showDeed(w http.ResponseWriter, r *http.Request, status int, f form) {
	name := f.Get("do")
	d, ok := s.deed(name)
	ids := f.Values["id"]
	if !ok || len(ids) == 0 {
		s.refuseTo(w, r, s.deedBack(d, f), http.StatusUnprocessableEntity, errors.New("nothing is chosen: tick at least one"))
		return
	}
	p := deedPage{deed: d, Name: name, IDs: ids, Form: f, Back: s.deedBack(d, f)}
	for _, id := range ids {
		x, err := s.deedRow(d, id)
		if err != nil {
			s.refuse(w, r, statusOf(err), err)
			return
		}
		p.Rows = append(p.Rows, x)
	}
	if d.may != nil {
		err := d.may(s.Ledger, ids)
		if d.Of == ofJob && err == nil {
			err = s.byAnother(r, ids[0])
		}
		if err != nil {
			p.Not = strings.Split(err.Error(), "\n")
			if d.Of == ofJob {
				p.Rows[0].Under = "" // it is said once
			}
			p.Rest, p.Left = s.restOf(d, f)
			s.show(w, r, http.StatusUnprocessableEntity, d.Title, p.html)
			return
		}
	}
	if d.Signed {
		sign, err := s.signing(r)
		if err != nil {
			s.refuse(w, r, http.StatusInternalServerError, err)
			return
		}
		p.Sign = &sign
	} else if b := browserOf(r); b != nil {
		p.Who = b.Who
	}
	s.show(w, r, status, d.Title, p.html)
}

// Place is the place that a deed is asked at.
func (p deedPage) Place() string {
	if p.Of == ofJob {
		return "/jobs"
	}
	return "/tools"
}

// byAnother says that a job is released by one person alone, where it is another who is signed in.
func (s *Server) byAnother(r *http.Request, job string) error {
	j, err := record.FindJob(s.Ledger, job)
	if who := s.signedIn(r); err == nil && who != nil && j.Authority != "" && j.Authority != who.Name {
		return fmt.Errorf("it is released by %s alone; %s is signed in here", j.Authority, who.Name)
	}
	return nil
}

// restOf is where a deed that was asked of several is asked of those alone that it can be done to, and how many they are;
// nowhere where it can be done to none of them.
func (s *Server) restOf(d deed, f form) (link string, left int) {
	v := url.Values{"do": {f.Get("do")}, "job": {f.Get("job")}, "tool": {f.Get("tool")}}
	for _, id := range f.Values["id"] {
		if d.may(s.Ledger, []string{id}) == nil {
			v.Add("id", id)
		}
	}
	if left = len(v["id"]); left == 0 {
		return "", 0
	}
	return "/deed?" + v.Encode(), left
}

// deedBack is where a deed was asked from, and leads to once it is done.
func (s *Server) deedBack(d deed, f form) string {
	switch {
	case d.Of == ofJob:
		return link("/job", f.Get("id"))
	case f.Get("job") != "":
		return link("/job", f.Get("job"))
	case f.Get("id") == "":
		return "/tools"
	case d.Of == ofInspections:
		if in, err := record.Find(s.Ledger, f.Get("id")); err == nil {
			return link("/tool", in.Tool.ID)
		}
	}
	return link("/tool", f.Get("id")) // a tool that was never inspected is withdrawn by its own
}

// deedRow says what a deed is done to, and how it stands.
func (s *Server) deedRow(d deed, id string) (row, error) {
	if d.Of == ofJob {
		j, err := record.FindJob(s.Ledger, id)
		return row{ID: j.ID, Right: j.Customer, Under: papers.Lacking(j)}, err
	}
	if d.Of == ofInspections {
		in, err := record.Find(s.Ledger, id)
		if err == nil {
			return row{Mark: mark.Standing(in.Stands.Standing).SVG(), ID: in.Tool.ID, Word: string(in.Stands.Standing), Right: in.ID, Under: words.Headline(in.Inspection, in.Judgement, s.Unit), Link: link("/inspection", in.ID)}, nil
		}
		if !errors.Is(err, record.ErrNoInspection) {
			return row{}, err
		}
	}
	t, err := record.FindTool(s.Ledger, id)
	if err != nil && t.ID == "" {
		return row{}, err
	}
	return row{Mark: mark.Standing(t.Standing).SVG(), ID: t.ID, Word: string(t.Standing), Under: papers.Source{Unit: s.Unit}.Full(t.Tool), Link: link("/tool", t.ID)}, nil
}

// doDeed does a deed that was confirmed.
func (s *Server) doDeed(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	d, ok := s.deed(f.Get("do"))
	if !ok || len(f["id"]) == 0 {
		s.showDeed(w, r, http.StatusUnprocessableEntity, form{Values: f})
		return
	}
	who := record.Who{Why: strings.TrimSpace(f.Get("why")), At: s.Now()}
	var err error
	if d.Signed {
		who.By, err = s.signer(r)
		err = atSign(err)
	} else {
		who.By = cmp.Or(browserOf(r).Who, strings.TrimSpace(f.Get("by")))
		if d.Grave && f.Get("confirmed") == "" {
			err = at("confirmed", errors.New("not done: tick that you mean it"))
		}
	}
	if err == nil {
		err = d.do(s, f["id"], who, f)
	}
	if err != nil {
		status := http.StatusUnprocessableEntity
		if isAbsent(err) {
			status = http.StatusNotFound
		}
		s.showDeed(w, r, status, refused(f, err))
		return
	}
	http.Redirect(w, r, s.deedBack(d, form{Values: f}), http.StatusSeeOther)
}

// atSign puts what was wrong with a signature where it is signed.
func atSign(err error) error { return at("sign", err) }

// Asked returns the fields of a deed filled with what was sent.
func (p deedPage) Asked() []field {
	fields := slices.Clone(p.Fields)
	for i, f := range fields {
		fields[i].Value, fields[i].Wrong = p.Form.Get(f.Name), p.Form.Wrong[f.Name]
	}
	return fields
}
