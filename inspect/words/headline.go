package words

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// headlines are the works as they are cried out.
var headlines = map[inspect.Task]string{
	inspect.NoWork:         "NO GRIND NEEDED",
	inspect.GrindPrimary:   "GRIND PRIMARY",
	inspect.GrindSecondary: "SECONDARY NEEDED",
	inspect.GrindBoth:      "SECONDARY NEEDED, AFTER THE PRIMARY",
	inspect.GrindFace:      "GRIND THE FACE",
	inspect.CutBack:        "CUT BACK THE END",
	inspect.StoneShank:     "STONE THE SHANK",
	inspect.Reseat:         "RESEAT FIRST",
	inspect.Downgrade:      "DOWNGRADE",
	inspect.Withdraw:       "WITHDRAW",
	inspect.Release:        "RELEASE",
	inspect.GrindAgain:     "GRIND AGAIN",
	inspect.ReadOn:         "READ ON",
	inspect.GoOn:           "GO ON",
}

// NotReleased ends the headline of an inspection after the grind that leaves something open; a paper whose ruling says it
// already leaves it out.
const NotReleased = ". NOT RELEASED"

// headline is the first work with where it is and the one figure that decided; a grind that follows a reseat or a
// stone is named with it.
func (t teller) headline() string {
	if len(t.j.Work) == 0 {
		return "NOT JUDGED"
	}
	w := t.j.Work[0]
	s := headlines[w.What]
	switch {
	case w.Because == inspect.Locked:
		return "LOCKED: " + t.sights(w.Sights) + ". DO NOT GRIND. DO NOT RUN."
	case t.j.TrueIn == inspect.InFixture:
		return "TRUE IN THE FIXTURE ONLY: everything asked was read and conforms, as held in the fixture"
	case w.Because == inspect.ThingsOpen:
		return s + ": " + t.openThings(w)
	case w.What == inspect.CutBack:
		if !t.in.Tool.HasEndTeeth() {
			s = "CUT BACK THE " + strings.ToUpper(t.form())
		}
		if w.Amount != nil {
			s += " " + t.length(*w.Amount)
		}
	case w.Amount != nil && w.What == inspect.GrindFace:
		s += ", " + t.length(*w.Amount) + " off each, the lands left alone"
	case w.What == inspect.Reseat || w.What == inspect.StoneShank:
		for _, next := range t.j.Work[1:] {
			if next.What != w.What && next.What != inspect.Reseat {
				s += ", THEN " + strings.TrimSuffix(headlines[next.What], " FIRST")
				break
			}
		}
	}
	also := slices.IndexFunc(t.j.Work, func(also inspect.Work) bool {
		return grinds(w.What) && grinds(also.What) && also.Where != w.Where
	})
	switch {
	case also >= 0 && t.j.Work[also].What == w.What:
		s += " ON FLUTES AND ENDS"
	case w.Where == inspect.OnEnds && w.What != inspect.CutBack:
		s += " ON THE ENDS"
	}
	if also >= 0 && t.j.Work[also].What != w.What {
		s += ", AND " + headlines[t.j.Work[also].What] + map[bool]string{true: " ON THE ENDS", false: " ON THE FLUTES"}[w.Where != inspect.OnEnds]
	}
	if w.Because == inspect.NothingRead {
		return s + ": nothing was read"
	}
	w.Findings = w.Findings[:min(len(w.Findings), 1)] // the one that decides
	if why := t.why(w); why != "" {
		s += ": " + why
	}
	return s
}

func grinds(what inspect.Task) bool {
	return what == inspect.GrindPrimary || what == inspect.GrindSecondary || what == inspect.GrindBoth
}

func (t teller) openThings(w inspect.Work) string {
	n := len(t.j.Unread)
	past := "nothing is over a limit, but"
	if slices.ContainsFunc(t.j.Findings, func(f inspect.Finding) bool { return f.Value == nil && f.Why != nil && f.Why.What == inspect.NotRead }) {
		past = "nothing that was read on all flutes is over a limit, but"
	}
	for _, i := range w.Findings {
		if !t.unread(inspect.Item(t.j.Findings[i].Feature)) {
			n++
		}
	}
	if i := slices.IndexFunc(t.j.Findings, func(f inspect.Finding) bool { return f.Past() && !f.Advice && f.Verdict != inspect.Accept }); i >= 0 {
		f := t.j.Findings[i]
		past = fmt.Sprintf("%s %s, %s, is past its limit, but not beyond its doubt;", Name(f, t.unit), t.quantity(f.Value), Band(f.Least, f.Most, t.unit))
	}
	s := fmt.Sprintf("%s %d things are open", past, n)
	if n == 1 {
		s = past + " 1 thing is open"
	}
	if t.j.Stage == inspect.After {
		s += NotReleased
	}
	return s
}

func (t teller) unread(i inspect.Item) bool {
	for _, u := range t.j.Unread {
		if u == i {
			return true
		}
	}
	return false
}

// why says what calls for a work.
func (t teller) why(w inspect.Work) string {
	switch w.Because {
	case inspect.Locked:
		return "locked: " + t.sights(w.Sights)
	case inspect.NothingRead:
		return join(append([]string{"nothing was read"}, t.open()...)...)
	case inspect.ThingsOpen:
		return join(t.open()...)
	case inspect.AllConform:
		return t.conforms(w.What)
	case inspect.PlanNeedsBoth:
		return join(t.planWords(t.j.PlanOf(w.Where)), t.findings(w.Findings), t.sights(w.Sights))
	case inspect.SmallAfter:
		p, least := t.j.Plan, t.in.Basis.Limits[inspect.Diameter].Least
		return fmt.Sprintf("after the grind %s, under %s", t.length(*p.DiameterAfter), t.quantity(least))
	case inspect.OneOffset:
		return join(t.offset(w), t.findings(w.Findings))
	case inspect.ReseatedTwice:
		return join("reseated twice and still off centre: it is not the seating; read the shank at two places and look at the collet", t.findings(w.Findings))
	case inspect.ShankOut:
		return join(t.findings(w.Findings), "no grind mends the shank's own run-out")
	case inspect.LooksAlike:
		return join(t.findings(w.Findings), "off centre or wheel wear, these look alike on three flutes: read the shank", t.sights(w.Sights))
	case inspect.CostsAMinute:
		return join(t.findings(w.Findings), "undecided, so grind it: it costs a minute", t.sights(w.Sights))
	case inspect.StillToGrind:
		return join("called for before the grind and not told as ground", t.findings(w.Findings))
	case inspect.Vanished:
		return join(t.findings(w.Findings), "the primary has all but vanished")
	}
	return join(t.findings(w.Findings), t.sights(w.Sights))
}

// conforms says what was found in order.
func (t teller) conforms(what inspect.Task) string {
	switch what {
	case inspect.NoWork:
		for _, f := range t.j.Findings {
			if f.Feature == inspect.WearLand && f.Most != nil {
				return fmt.Sprintf("worst wear %s of %s", t.quantity(f.Value), t.quantity(f.Most))
			}
		}
	case inspect.GoOn:
		for _, f := range t.j.Findings {
			if f.Feature == inspect.PrimaryLand && f.Value != nil {
				return "no secondary needed, share " + t.quantity(f.Value) + " at most"
			}
		}
		return "no secondary needed"
	}
	return "everything asked was read and conforms"
}

// offset says by how much a tool is held off centre.
func (t teller) offset(w inspect.Work) string {
	for _, c := range t.j.Causes {
		if c.Held() && len(w.Findings) > 0 && t.j.Findings[w.Findings[0]].Feature == c.Feature {
			if c.Feature == inspect.AxialRunout {
				return "held tilted, the teeth agree"
			}
			return "held off centre by " + t.length(c.Parts[0].Size) + ", the teeth agree"
		}
	}
	return "held off centre: less the shank's own run-out the teeth agree"
}

// planWords says what clearing the wear comes to.
func (t teller) planWords(p *inspect.Grind) string {
	if p == nil || p.RatioAfter == nil {
		return ""
	}
	after := "after the grind"
	if p.Divisions != nil {
		after = "after " + divisions(*p.Divisions)
	}
	most := t.in.Basis.Limits.MostShare().Quantity()
	s := fmt.Sprintf("%s the primary is %.3f of the land", after, *p.RatioAfter)
	switch {
	case p.RubsAfter:
		return s + ", and its heel rubs"
	case p.OverAfter:
		return s + ", over " + t.quantity(&most)
	}
	return s + ", " + t.quantity(&most) + " at most: the primary alone will do"
}

func divisions(n int) string {
	if n == 1 {
		return "1 division"
	}
	return fmt.Sprintf("%d divisions", n)
}

func (t teller) findings(is []int) string {
	var parts []string
	for _, i := range is {
		parts = append(parts, t.told(t.j.Findings[i]))
	}
	return join(parts...)
}

// sights tells what was seen: chipped corner of flute 2, 0.0150 in long (note).
func (t teller) sights(all []inspect.Seen) string {
	var parts []string
	for _, s := range all {
		p := map[inspect.Sight]string{
			inspect.Cracks: "crack", inspect.Burn: "burn", inspect.BentShank: "the shank is bent", inspect.BurredShank: "burr or score",
		}[s.Sight]
		if p == "" {
			p = strings.ReplaceAll(string(s.Sight), "-", " ")
		}
		switch {
		case s.Unsure && s.Sight == inspect.BentShank:
			p = "the shank is perhaps bent"
		case s.Unsure:
			p = "perhaps a " + p
		}
		if s.Flute > 0 {
			p += fmt.Sprintf(" at flute %d", s.Flute)
		}
		if s.Length != nil {
			p += ", " + t.length(*s.Length) + " long"
		}
		if s.Note != "" {
			p += " (" + s.Note + ")"
		}
		parts = append(parts, p)
	}
	return join(parts...)
}

// Answered is the answer to a visual question: yes, flute 2, 0.01500 in long. What was noted with it is not told.
func Answered(s inspect.Seen, unit length.Unit) string {
	text := "yes"
	switch {
	case !s.Yes:
		return "no"
	case s.Unsure:
		text = "unsure"
	}
	if s.Flute > 0 {
		text += fmt.Sprintf(", flute %d", s.Flute)
	}
	if s.Length != nil {
		text += ", " + s.Length.In(unit) + " long"
	}
	return text
}

// join puts clauses behind each other, leaving out empty ones.
func join(parts ...string) string {
	var some []string
	for _, p := range parts {
		if p != "" {
			some = append(some, p)
		}
	}
	return strings.Join(some, "; ")
}
