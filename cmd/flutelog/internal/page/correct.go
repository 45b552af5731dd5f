package page

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flutelog/cmd/internal/papers"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// correctPage is the readings and sights of a closed inspection as they stand, each of which can be chosen, and the form
// that puts the one that was chosen right.
type correctPage struct {
	ID, Tool  string
	Headline  string
	Flutes    []int
	Rows      []correctRow
	Sights    []cell
	Since     []string // corrections so far
	Chosen    string   // what is put right, in words; "" for nothing yet
	Stands    string
	Sight     bool
	Form      form
	Sign      signing
	Discarded string
}

// correctRow is one round of one feature.
type correctRow struct {
	Name  string
	Cells []cell // a flute each, or one for the tool
}

// cell is a value that can be put right.
type cell struct {
	Name, Text, Link string
	Chosen           bool
}

// correctAt names a reading or a sight in an address.
func correctAt(inspection, what string) string {
	return "/correct?" + url.Values{"id": {inspection}, "of": {what}}.Encode()
}

// correctForm shows what of an inspection can be put right.
func (s *Server) correctForm(w http.ResponseWriter, r *http.Request) {
	s.askCorrect(w, r, http.StatusOK, form{Values: r.Form})
}

func (s *Server) askCorrect(w http.ResponseWriter, r *http.Request, status int, f form) {
	in, err := record.Find(s.Ledger, f.Get("id"))
	var sign signing
	if err == nil {
		sign, err = s.signing(r)
	}
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	p := correctPage{ID: in.ID, Tool: in.Tool.ID, Headline: words.Headline(in.Inspection, in.Judgement, s.Unit), Form: f, Sign: sign, Discarded: in.Discarded}
	for i := range in.Tool.Flutes {
		p.Flutes = append(p.Flutes, i+1)
	}
	of := f.Get("of")
	rounds := map[inspect.Key]int{}
	for _, x := range in.Readings {
		k := x.Key()
		what := k.String()
		if what == of {
			p.Chosen, p.Stands = words.Named(k), x.Text+" "+string(x.Unit)
		}
		k.Flute = 0
		i, ok := rounds[k]
		if !ok {
			n := in.Tool.Flutes
			if x.Feature.Single() {
				n = 1
			}
			i = len(p.Rows)
			p.Rows, rounds[k] = append(p.Rows, correctRow{capital(roundName(k, s.Unit)), make([]cell, n)}), i
		}
		p.Rows[i].Cells[max(x.Flute, 1)-1] = cell{Name: x.Key().Words(s.Unit), Text: x.Text + " " + string(x.Unit), Link: correctAt(in.ID, what), Chosen: what == of}
	}
	for _, sight := range inspect.Sights {
		name := strings.ReplaceAll(string(sight), "-", " ")
		c := cell{Name: capital(name), Text: "not looked for", Link: correctAt(in.ID, string(sight)), Chosen: string(sight) == of}
		if i := slices.IndexFunc(in.Seen, func(x inspect.Seen) bool { return x.Sight == sight }); i >= 0 {
			c.Text = words.Answered(in.Seen[i], s.Unit)
		}
		if c.Chosen {
			p.Chosen, p.Stands, p.Sight = name, c.Text, true
		}
		p.Sights = append(p.Sights, c)
	}
	for _, c := range in.Corrections {
		p.Since = append(p.Since, papers.Correction(c.Correction, s.Unit))
	}
	s.show(w, r, status, "Correct "+in.ID, p.html)
}

// correct puts one reading or one sight right, as a record of its own, and shows how the tool stands then.
func (s *Server) correct(w http.ResponseWriter, r *http.Request) {
	f := r.PostForm
	in, err := record.Find(s.Ledger, f.Get("id"))
	if err != nil {
		s.refuse(w, r, statusOf(err), err)
		return
	}
	who := record.Who{Why: strings.TrimSpace(f.Get("why")), At: s.Now()}
	fix, err := s.fixOf(in, f)
	if err == nil {
		who.By, err = s.signer(r)
		err = at("sign", err)
	}
	if err == nil {
		_, err = record.Correct(s.Ledger, in.ID, fix, who)
		err = atWhy(who, err)
	}
	if err != nil {
		s.askCorrect(w, r, http.StatusUnprocessableEntity, refused(f, err))
		return
	}
	http.Redirect(w, r, link("/tool", in.Tool.ID), http.StatusSeeOther)
}

// fixOf reads what is put right: the reading or sight that was chosen, with its new value.
func (s *Server) fixOf(in record.Inspection, f url.Values) (record.Fix, error) {
	of, value := f.Get("of"), strings.TrimSpace(f.Get("value"))
	if sight := inspect.Sight(of); slices.Contains(inspect.Sights, sight) {
		seen, err := record.ReadSeen(sight, value, s.Unit)
		if err != nil {
			return record.Fix{}, at("value", err)
		}
		if flute := strings.TrimSpace(f.Get("flute")); flute != "" {
			if seen.Flute, err = strconv.Atoi(flute); err != nil || seen.Flute < 1 || seen.Flute > in.Tool.Flutes {
				return record.Fix{}, at("flute", fmt.Errorf("%q: want one of the flutes, 1 to %d", flute, in.Tool.Flutes))
			}
		}
		return record.Fix{Seen: &seen}, nil
	}
	i := slices.IndexFunc(in.Readings, func(x inspect.Reading) bool { return x.Key().String() == of })
	if i < 0 {
		return record.Fix{}, errors.New("which reading or sight? Choose one")
	}
	read := in.Readings[i]
	typed, err := length.Entry{Unit: s.Unit}.Parse(value)
	if err != nil {
		return record.Fix{}, at("value", err)
	}
	read.Value, read.Text, read.Unit = typed.Value, typed.Text, typed.Unit
	return record.Fix{Reading: &read}, nil
}
