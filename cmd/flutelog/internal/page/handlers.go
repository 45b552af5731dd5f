package page

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/export"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/report"
	"flutelog/inspect/words"
)

// begin begins an inspection of a tool.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) {
	_, behind := s.elsewhere.Look(record.ToolSubject(r.PostForm.Get("tool")))
	t, err := record.FindTool(s.Ledger, r.PostForm.Get("tool"))
	switch {
	case err != nil:
	case behind != nil:
		err = behind
	case t.Standing == record.StandsRetired:
		err = errors.New("the tool is out of use: " + t.Retired)
	case t.Standing == record.StandsWithdrawn:
		err = errors.New("the tool is withdrawn for good")
	case t.Standing == record.StandsLocked:
		err = errors.New("the tool is locked, " + t.Lacks() + "; one who may sign lifts that, on its card")
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	c, err := choicesOf(r.PostForm, s.Unit)
	if err != nil {
		s.askBegin(w, r, http.StatusUnprocessableEntity, t, refused(r.PostForm, err))
		return
	}
	b := browserOf(r)
	if b.Who != "" {
		c.Inspector = "" // whoever is signed in reads
	}
	id, err := s.hub.begin(t, c, b.Who)
	if err == nil {
		s.devices.holds(id, b)
	}
	if err != nil {
		s.askBegin(w, r, statusOf(err), t, refused(r.PostForm, err))
		return
	}
	http.Redirect(w, r, link("/inspection", id), http.StatusSeeOther)
}

func choicesOf(f url.Values, unit length.Unit) (c bench.Choices, err error) {
	c = bench.Choices{
		Job: strings.TrimSpace(f.Get("job")), Inspector: strings.TrimSpace(f.Get("inspector")),
		Holding: inspect.Holding(f.Get("holding")), Reseated: f.Get("reseated") != "", Unit: unit,
	}
	if c.Stage, err = inspect.ParseStage(f.Get("stage")); err != nil {
		return c, err
	}
	if text := f.Get("repeats"); text != "" {
		if c.Repeats, err = strconv.Atoi(text); err != nil {
			return c, at("repeats", errors.New("repeats: want a whole number"))
		}
	}
	c.Wheel = strings.TrimSpace(f.Get("wheel"))
	if text := f.Get("divisions"); text != "" {
		if c.Divisions, err = strconv.Atoi(text); err != nil {
			return c, at("divisions", errors.New("divisions: want a whole number"))
		}
	}
	if text := strings.TrimSpace(f.Get("offset")); text != "" {
		offset, err := length.Parse(text, unit)
		if err != nil {
			return c, at("offset", fmt.Errorf("offset: %w", err))
		}
		c.Offset = &offset
	}
	return c, nil
}

// closedPage is what the page of a closed inspection shows.
type closedPage struct {
	*record.Inspection
	View    view
	Answer  words.Answer
	Head    string
	May     []ruling
	Sign    signing
	Form    form         // of a ruling that was refused
	NoAsset string       // why the tool cannot be handed on as an asset, "" where it can
	Enters  []words.Fact // what the machinist enters once it is let out
}

// Route says whether the way to the grinder is open.
func (p closedPage) Route() bool { return routed(*p.Inspection) }

// LetOut says whether the tool was let out by this inspection: what it called for is not to be done any more.
func (p closedPage) LetOut() bool {
	return p.ID == p.Stands.Inspection && (p.Stands.Standing == record.StandsReleased || p.Stands.Standing == record.StandsConceded)
}

// Signs says whether a release waits for a signature.
func (p closedPage) Signs() bool {
	return slices.ContainsFunc(p.May, func(r ruling) bool { return r.Word == record.Release })
}

// Otherwise are the other rulings that can be made.
func (p closedPage) Otherwise() []ruling {
	return slices.DeleteFunc(slices.Clone(p.May), func(r ruling) bool { return r.Word == record.Release })
}

// Refused is what was refused of the release, or of the other rulings: each has its form.
func (p closedPage) Refused(release bool) form {
	if (p.Form.Get("ruling") == string(record.Release)) != release {
		return form{}
	}
	return p.Form
}

// Late is why a ruling was refused that is not asked any more.
func (p closedPage) Late() string {
	if p.Form.Get("ruling") == string(record.Release) && p.Signs() || p.Form.Get("ruling") != string(record.Release) && len(p.Otherwise()) > 0 {
		return ""
	}
	return cmp.Or(p.Form.Wrong["sign"], p.Form.Wrong["why"], p.Form.Wrong[""])
}

// closed shows what a closed inspection came to, as it stands now, with a ruling that was refused as it was sent.
func (s *Server) closed(w http.ResponseWriter, r *http.Request, id string, status int, f form) {
	in, err := record.Find(s.Ledger, id)
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	rulings, err := record.Allowed(s.Ledger, id)
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	sign, err := s.signing(r)
	if err != nil {
		s.refuse(w, r, http.StatusInternalServerError, err)
		return
	}
	var enters []words.Fact
	if in.ID == in.Stands.Inspection && slices.Contains([]record.Standing{record.StandsToSign, record.StandsReleased, record.StandsConceded}, in.Stands.Standing) {
		o, err := record.FindOffsets(s.Ledger, in.Tool.ID)
		if err != nil {
			s.refuse(w, r, statusOf(err), err)
			return
		}
		enters = entered(o, s.Unit)
	}
	noAsset := ""
	if _, err := export.AssetFile(s.Ledger, in.Tool.ID, false); err != nil {
		noAsset = err.Error()
	}
	s.show(w, r, status, id, closedPage{&in, view{Inspection: in.Inspection, Unit: s.Unit, Decided: decided(in.Judgement)}, words.Of(in.Inspection, in.Judgement, s.Unit), in.Newest.Head().String(),
		choices(rulings), sign, f, noAsset, enters}.html)
}

// entered is what a machinist enters for a tool, as far as it was read, and by how much each changed.
func entered(o record.Offsets, unit length.Unit) []words.Fact {
	var all []words.Fact
	if d := o.Diameter.Now; d != nil {
		all = append(all, words.Fact{Name: "Cutting diameter", Value: d.In(unit)}, words.Fact{Name: "Radius offset", Value: (*d / 2).In(unit)})
	}
	if l := o.Length.Now; l != nil {
		all = append(all, words.Fact{Name: "Length", Value: l.In(unit)})
	}
	if change := o.Diameter.Change(); change != nil {
		all = append(all, words.Fact{Name: "Diameter " + o.Diameter.Since(), Value: change.In(unit)})
	}
	if change := o.Length.Change(); change != nil {
		all = append(all, words.Fact{Name: "Length " + o.Length.Since(), Value: change.In(unit)})
	}
	return all
}

// ruling is one that can be made, with what it means to the person who makes it.
type ruling struct {
	Word  record.Word
	Means string
}

func choices(words []record.Word) []ruling {
	means := map[record.Word]string{
		record.Release: "release: it conforms, and I sign for it", record.Concession: "concession: released although it does not conform",
		record.Withdraw: "withdraw: out of use for good",
	}
	var all []ruling
	for _, w := range words {
		all = append(all, ruling{w, means[w]})
	}
	return all
}

// decide rules on a closed inspection.
func (s *Server) decide(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	id := f.Get("id")
	who := record.Who{Why: strings.TrimSpace(f.Get("why")), At: s.Now()}
	var err error
	who.By, err = s.signer(r)
	err = atSign(err)
	if err == nil {
		err = rule(record.Word(f.Get("ruling")))(s, []string{id}, who, f)
	}
	if err != nil {
		if isAbsent(err) {
			s.refuse(w, r, statusOf(err), err)
			return
		}
		s.closed(w, r, id, statusOf(err), refused(f, err))
		return
	}
	http.Redirect(w, r, link("/inspection", id), http.StatusSeeOther)
}

// sheet shows the sheet of an inspection, to print.
func (s *Server) sheet(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	sheet, err := s.papers(link("/inspection", id)).Sheet(id)
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.printed(w, r, func(w io.Writer) error { return paper.WriteSheet(w, sheet) })
}

// tag shows the tag of a tool, to print.
func (s *Server) tag(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	tags, err := s.papers(link("/tool", id)).Tags([]string{id})
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	s.printed(w, r, func(w io.Writer) error { return paper.WriteTags(w, tags) })
}

// papers makes papers that lead back to where they were asked for.
func (s *Server) papers(back string) papers.Source {
	return papers.Source{Ledger: s.Ledger, Bench: s.Bench.Name, Unit: s.Unit, Back: back}
}

// readings sends the readings of a closed inspection, as they stand, as a file.
func (s *Server) readings(w http.ResponseWriter, r *http.Request) {
	id := r.FormValue("id")
	in, err := record.Find(s.Ledger, id)
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+fileName(id)+`.csv"`)
	report.ReadingsCSV(w, in.Rows(), report.Format{Unit: s.Unit})
}

// fileName is an id with nothing in it that a file's name may not have everywhere.
func fileName(id string) string {
	return strings.Map(func(r rune) rune {
		if r < 128 && (r == '.' || r == '-' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
			return r
		}
		return '_'
	}, id)
}

func isAbsent(err error) bool {
	return errors.Is(err, record.ErrNoTool) || errors.Is(err, record.ErrNoJob) || errors.Is(err, record.ErrNoInspection) || errors.Is(err, fs.ErrNotExist)
}
