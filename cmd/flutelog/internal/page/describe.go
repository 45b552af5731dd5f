package page

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"flutelog/cmd/flutelog/internal/board"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

func (s *Server) addPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, r, http.StatusOK, "Add a tool", form{Values: url.Values{"id": {r.FormValue("id")}}}.addTool)
}

// add adds a tool, or several that are alike: none of a range of which one cannot be.
func (s *Server) add(w http.ResponseWriter, r *http.Request) {
	t, errs := s.toolOf(r.PostForm, inspect.Tool{})
	ids, err := board.Spread([]string{t.ID})
	if err != nil {
		errs = append(errs, at("id", err))
	}
	if errs == nil {
		var tools []inspect.Tool
		for _, t.ID = range ids {
			tools = append(tools, t)
		}
		var known *record.KnownError
		if err := record.AddTools(s.Ledger, tools); errors.As(err, &known) {
			errs = append(errs, at("id", fmt.Errorf("%s is in the ledger already", known.ID)))
		} else if err != nil {
			errs = append(errs, err)
		}
	}
	if errs != nil {
		s.show(w, r, http.StatusUnprocessableEntity, "Add a tool", refused(r.PostForm, errs...).addTool)
		return
	}
	if len(ids) > 1 {
		http.Redirect(w, r, toolsLink("", record.StandsReceived, 0), http.StatusSeeOther)
		return
	}
	http.Redirect(w, r, link("/tool", t.ID), http.StatusSeeOther)
}

// changePage asks what is to be changed of what is known of a tool.
func (s *Server) changePage(w http.ResponseWriter, r *http.Request) {
	t, err := record.FindTool(s.Ledger, r.FormValue("id"))
	if err != nil && t.ID == "" {
		s.absent(w, r, r.FormValue("id"), err)
		return
	}
	s.show(w, r, http.StatusOK, "Change "+t.ID, form{Values: s.toolForm(t.Tool)}.changeTool)
}

// change records what is known of a tool now; what was known stays in the ledger.
func (s *Server) change(w http.ResponseWriter, r *http.Request) {
	old, err := record.FindTool(s.Ledger, r.PostForm.Get("id"))
	if err != nil && old.ID == "" {
		s.absent(w, r, r.PostForm.Get("id"), err)
		return
	}
	t, errs := s.toolOf(r.PostForm, old.Tool)
	if errs == nil {
		t.ID = old.ID
		if _, err := record.SaveTool(s.Ledger, t); err != nil {
			errs = append(errs, err)
		}
	}
	if errs != nil {
		s.show(w, r, http.StatusUnprocessableEntity, "Change "+old.ID, refused(r.PostForm, errs...).changeTool)
		return
	}
	http.Redirect(w, r, link("/tool", old.ID), http.StatusSeeOther)
}

// toolOf reads the form that describes a tool over what is known of it, and all that is wrong with it.
func (s *Server) toolOf(f url.Values, t inspect.Tool) (inspect.Tool, []error) {
	var errs []error
	wrong := func(field string, err error) {
		if err != nil {
			errs = append(errs, at(field, err))
		}
	}
	text := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	t.ID, t.Note = text("id"), text("note")
	t.Material, t.Hand, t.Ends, t.Teeth, t.Duty = inspect.Material(text("material")), inspect.Hand(text("hand")), inspect.Ends(text("ends")), inspect.Teeth(text("teeth")), inspect.Duty(text("duty"))
	t.Cut, t.Form, t.Sharpened, t.CentreCutting = inspect.Hand(text("cut")), inspect.Form(text("form")), inspect.Sharpened(text("sharpened")), f.Get("centre") != ""
	if t.Cut == inspect.RightHand {
		t.Cut = "" // the usual is left out
	}
	if t.Form == inspect.FlatRelief {
		t.Form = ""
	}
	if t.Sharpened == inspect.OnPeriphery {
		t.Sharpened = ""
	}
	if t.ID == "" {
		wrong("id", errors.New("the tool needs a name or a number"))
	}
	var err error
	t.Diameter, err = length.Parse(text("diameter"), s.Unit)
	wrong("diameter", err)
	if t.Flutes, err = strconv.Atoi(text("flutes")); err != nil {
		wrong("flutes", errors.New("the number of flutes is needed"))
	}
	t.Helix, err = length.ParseAngle(cmp.Or(text("helix"), "30"))
	wrong("helix", err)
	t.Taper, err = length.ParseAngle(cmp.Or(text("taper"), "0"))
	wrong("taper", err)
	t.Angles = nil
	for _, one := range strings.FieldsFunc(f.Get("angles"), func(r rune) bool { return r == ',' || r == ' ' }) {
		a, err := length.ParseAngle(one)
		wrong("angles", err)
		t.Angles = append(t.Angles, a)
	}
	for name, angle := range map[string]**length.Angle{"primary": &t.PrimaryRelief, "secondary": &t.SecondaryRelief, "rake": &t.Rake} {
		if *angle = nil; text(name) != "" {
			a, err := length.ParseAngle(text(name))
			wrong(name, err)
			*angle = &a
		}
	}
	for name, size := range map[string]**length.Length{"edges": &t.Edges, "at-least": &t.AtLeast, "at-most": &t.AtMost} {
		if *size = nil; text(name) != "" {
			l, err := length.Parse(text(name), s.Unit)
			if err == nil && l <= 0 {
				err = fmt.Errorf("%s: want more than zero", text(name))
			}
			wrong(name, err)
			*size = &l
		}
	}
	if class := text("class"); class != "" && errs == nil {
		if t.AtLeast != nil || t.AtMost != nil {
			wrong("class", errors.New("give it, or the least and the most diameter"))
		} else if least, most, err := inspect.SizeClass(class, t.Diameter); err != nil {
			wrong("class", err)
		} else {
			t.AtLeast, t.AtMost = &least, &most
		}
	}
	if errs == nil {
		if ids, err := board.Spread([]string{t.ID}); err == nil {
			one := t
			one.ID = ids[0]
			if err := one.Check(); err != nil {
				errs = append(errs, err)
			}
		}
	}
	return t, errs
}

// toolForm is what is known of a tool as the form that describes one.
func (s *Server) toolForm(t inspect.Tool) url.Values {
	f := url.Values{
		"id": {t.ID}, "diameter": {t.Diameter.In(s.Unit)}, "flutes": {strconv.Itoa(t.Flutes)}, "material": {string(t.Material)}, "helix": {t.Helix.String()},
		"hand": {string(t.Hand)}, "ends": {string(t.Ends)}, "teeth": {string(t.Teeth)}, "duty": {string(t.Duty)}, "note": {t.Note},
		"cut": {string(t.Cut)}, "form": {string(t.Form)}, "sharpened": {string(t.Sharpened)},
	}
	if t.CentreCutting {
		f.Set("centre", "yes")
	}
	if t.Taper != 0 {
		f.Set("taper", t.Taper.String())
	}
	var angles []string
	for _, a := range t.Angles {
		angles = append(angles, a.String())
	}
	f.Set("angles", strings.Join(angles, ", "))
	for name, angle := range map[string]*length.Angle{"primary": t.PrimaryRelief, "secondary": t.SecondaryRelief, "rake": t.Rake} {
		if angle != nil {
			f.Set(name, angle.String())
		}
	}
	for name, size := range map[string]*length.Length{"edges": t.Edges, "at-least": t.AtLeast, "at-most": t.AtMost} {
		if size != nil {
			f.Set(name, size.In(s.Unit))
		}
	}
	return f
}
