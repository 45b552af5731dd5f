// Package papers fills what is printed with what stands in the ledger: sheets of inspections, tags of tools, the
// certificate of a job, charts. Words of a judgement come from package words; how a tool stands comes from package
// record and from nowhere else, so that no paper looks like a release that is none.
package papers

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// Source is what papers are made from.
type Source struct {
	Ledger *ledger.Ledger
	Bench  string      // what the bench is called
	Unit   length.Unit // lengths are printed in
	Back   string      // address of the page that the paper is made on, "" for none
}

// a tool with all its inspections as they stand, oldest first.
type tool struct {
	record.Tool
	all []record.Inspection
}

func (s Source) tool(id string) (tool, error) {
	t, all, err := record.Whole(s.Ledger, id)
	return tool{t, all}, err
}

// deciding returns the inspection that the tool's standing rests on; nil for none.
func (t *tool) deciding() *record.Inspection {
	for i := range t.all {
		if in := &t.all[i]; in.ID == t.State.Inspection && t.State.Inspection != "" {
			return in
		}
	}
	return nil
}

// lifted says who lifted the lock that an inspection put on the tool, "" where none was lifted.
func (t *tool) lifted(in *record.Inspection) string {
	for _, l := range t.Lifted {
		if l.Inspection == in.ID {
			return "its lock was lifted by " + l.Unlocking.By + ", " + day(l.Unlocking.At) + "; to be inspected anew"
		}
	}
	return ""
}

// Ruling says how a tool stands, of which all inspections are given: what its tag is headed with.
func (s Source) Ruling(t record.Tool, all []record.Inspection) paper.Ruling {
	return s.ruling(&tool{t, all})
}

// ruling says how a tool stands: the headline of its tag, of its row and of the sheet of the inspection that decides.
func (s Source) ruling(t *tool) paper.Ruling {
	in := t.deciding()
	signed := ""
	var by *record.Ruled
	if in != nil {
		by = in.Ruling()
	}
	if by != nil {
		signed = "by " + by.By + ", " + day(by.At)
	}
	switch t.Standing {
	case record.StandsWithdrawn:
		r := paper.Ruling{Mark: mark.Withdrawn, Word: "Withdrawn"}
		for _, x := range t.Rulings {
			if x.Word == record.Withdraw {
				r.Under = joined(x.Why, "by "+x.By+", "+day(x.At))
			}
		}
		return r
	case record.StandsLocked:
		l := t.Locks[0]
		seen := l.What() + " seen"
		if l.By != "" {
			seen += " by " + l.By + ", " + day(l.At)
		}
		return paper.Ruling{Mark: mark.Locked, Word: "Locked", Under: joined(seen+" in "+t.Named(l.Inspection, l.Ref.Bench), l.Note)}
	case record.StandsRecalled:
		return paper.Ruling{Mark: mark.Recalled, Word: "Recalled", Under: "get it back: " + s.why(in)}
	case record.StandsRetired:
		return paper.Ruling{Mark: mark.Retired, Word: "Retired", Under: t.Retired}
	case record.StandsReleased:
		switch {
		case t.NotReground:
			return paper.Ruling{Mark: mark.Conceded, Word: "Not reground", Under: joined("no grind was needed", signed)}
		case in != nil && in.Judgement.TrueIn == inspect.InFixture:
			return paper.Ruling{Mark: mark.Released, Word: "Released", Under: joined(signed, "true in the fixture only")}
		}
		return paper.Ruling{Mark: mark.Released, Word: "Released", Under: signed}
	case record.StandsConceded:
		r := paper.Ruling{Mark: mark.Conceded, Under: signed}
		r.Word = "Use on condition: " + by.Why
		if strings.HasPrefix(strings.ToLower(by.Why), "use ") {
			r.Word = strings.ToUpper(by.Why[:1]) + by.Why[1:]
		}
		if utf8.RuneCountInString(r.Word) > mostCell {
			r.Short = "On a condition"
		}
		return r
	}
	return s.unsettled(t, in)
}

// mostCell is how many letters of a headline a table's cell takes.
const mostCell = 30

// unsettled says how a tool stands that nobody has ruled on.
func (s Source) unsettled(t *tool, in *record.Inspection) paper.Ruling {
	switch t.Standing {
	case record.StandsToGrind:
		if in != nil && in.Stage == inspect.After {
			return paper.Ruling{Mark: mark.ToGrind, Word: "To grind again", Under: s.why(in)}
		}
		return paper.Ruling{Mark: mark.ToGrind, Word: "To grind", Under: s.why(in)}
	case record.StandsToFinish:
		return paper.Ruling{Mark: mark.ToFinish, Word: "Not finished", Under: "leave it in the fixture; the inspection after the grind is to come"}
	case record.StandsToSign:
		if in == nil || in.Judgement.Outcome() == inspect.Clear {
			r := paper.Ruling{Mark: mark.ToSign, Word: "Not signed", Under: "no signature yet: all that was asked conforms"}
			if in != nil && in.Judgement.TrueIn == inspect.InFixture {
				r.Under += ", true in the fixture only"
			}
			return r
		}
		return paper.Ruling{Mark: mark.ToSign, Word: "Not signed", Under: s.why(in)}
	case record.StandsToInspect:
		switch {
		case in == nil:
			return paper.Ruling{Mark: mark.ToInspect, Word: "To inspect", Under: "ground, and not read since"}
		case in.Judgement.Verdict == inspect.Undecided:
			return paper.Ruling{Mark: mark.Undecided, Word: "Undecided", Under: s.why(in)}
		}
		return paper.Ruling{Mark: mark.Unread, Word: "Not all read", Under: s.why(in)}
	}
	if in != nil {
		if lifted := t.lifted(in); lifted != "" {
			return paper.Ruling{Mark: mark.Received, Word: "Received", Under: lifted}
		}
		return paper.Ruling{Mark: mark.Unread, Word: "Not all read", Under: s.why(in)}
	}
	return paper.Ruling{Mark: mark.Received, Word: "Received", Under: "nothing read yet"}
}

// rulingOn says how the tool of an inspection stands, for the sheet of that inspection: a release is told on the sheet
// of the inspection that it rests on and on no other.
func (s Source) rulingOn(t *tool, in *record.Inspection) paper.Ruling {
	decides := t.deciding()
	switch {
	case in.Figures.Practice:
		return paper.Ruling{Mark: mark.Invented, Word: "Practice: invented", Under: "read with a pretend gauge; it stands nowhere"}
	case in.Discarded != "":
		return paper.Ruling{Mark: mark.NotJudged, Word: "Given up", Under: in.Discarded}
	}
	switch t.Standing {
	case record.StandsWithdrawn, record.StandsLocked, record.StandsRecalled, record.StandsRetired:
		return s.ruling(t)
	}
	if decides != nil && decides.Record.Ref() == in.Record.Ref() {
		return s.ruling(t)
	}
	stands := s.ruling(t)
	r := paper.Ruling{Mark: mark.NotJudged, Word: "Earlier inspection", Under: "the tool was ground or received since, and stands as " + strings.ToLower(stands.Word[:1]) + stands.Word[1:]}
	if decides != nil {
		r.Under = "how the tool stands is told by " + decides.ID
	} else if stands.Usable() {
		r.Under = "the tool was ruled on since"
	}
	return r
}

// why says what an inspection calls for and why, without the word that cries it out.
func (s Source) why(in *record.Inspection) string {
	if in == nil {
		return ""
	}
	a := words.Of(in.Inspection, in.Judgement, s.Unit)
	if len(a.Work) == 0 {
		return a.Verdict
	}
	w := a.Work[0]
	switch in.Judgement.Work[0].What {
	case inspect.Release, inspect.NoWork, inspect.ReadOn:
		return s.tidy(w.Why)
	}
	return s.tidy(w.String())
}

// reason is the same for a tag: the figure that decided alone.
func (s Source) reason(in *record.Inspection) string {
	if in == nil {
		return ""
	}
	j := in.Judgement
	if len(j.Work) == 0 || len(j.Work[0].Findings) == 0 {
		return s.why(in)
	}
	return s.fell(j.Findings[j.Work[0].Findings[0]])
}

// conceded is what a concession lets pass: the figure that decided, then all else that does not conform.
func (s Source) conceded(in *record.Inspection) string {
	if in == nil {
		return ""
	}
	all := []string{s.reason(in)}
	a := words.Of(in.Inspection, in.Judgement, s.Unit)
	for i, w := range in.Judgement.Work {
		if i > 0 && len(w.Findings) == 0 && len(w.Sights) > 0 {
			all = append(all, s.tidy(a.Work[i].String()))
		}
	}
	for _, f := range in.Judgement.Findings {
		if text := s.fell(f); f.Verdict == inspect.Reject && !f.Advice && text != all[0] {
			all = append(all, text)
		}
	}
	return joined(all...)
}

// fell is a figure beside its limit.
func (s Source) fell(f inspect.Finding) string {
	text := words.Figure(f.Feature) + " " + s.figure(f.Value)
	if f.Uncertainty != nil && f.Verdict == inspect.Undecided {
		text += " \u00b1 " + s.figure(f.Uncertainty)
	}
	if f.Least != nil || f.Most != nil {
		text += ", " + strings.TrimSpace(s.bare(words.Band(f.Least, f.Most, s.Unit)))
	}
	if f.Flute > 0 {
		text = fmt.Sprintf("flute %d ", f.Flute) + text
	}
	return text
}

// joined puts clauses behind each other, and listed words, leaving out empty ones.
func joined(parts ...string) string { return strings.Join(given(parts), "; ") }

func listed(parts ...string) string { return strings.Join(given(parts), ", ") }

func given(parts []string) []string {
	return slices.DeleteFunc(parts, func(p string) bool { return p == "" })
}

// day and moment print a time of the ledger for people; what is no time is printed as it is.
func day(stamp string) string { return stamped(stamp, "2 January 2006") }

func shortDay(stamp string) string { return stamped(stamp, "2 Jan 2006") }

func moment(stamp string) string { return stamped(stamp, "2 January 2006, 15:04 UTC") }

// over prints from when to when.
func over(from, to string) string {
	if day(from) == day(to) {
		return stamped(from, "2 January 2006, 15:04") + " to " + stamped(to, "15:04 UTC")
	}
	return moment(from) + " to " + moment(to)
}

func stamped(stamp, layout string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.UTC().Format(layout)
}

// clock says that a time is not to be trusted.
func clock(r ledger.Record) string {
	if r.Time.Synchronised {
		return ""
	}
	return " (the clock was not set)"
}

// size prints a length without its unit: all decimals of the unit, less a nought that says nothing.
func (s Source) size(l length.Length) string {
	text := l.Format(s.Unit, s.Unit.Decimals())
	if s.Unit.Decimals() > 3 {
		text = strings.TrimSuffix(text, "0")
	}
	return strings.Replace(text, "-", "\u2212", 1)
}

// distance prints a distance from the end, without the noughts that say nothing.
func (s Source) distance(l length.Length) string {
	text := strings.TrimRight(l.Format(s.Unit, s.Unit.Decimals()), "0")
	for _, fraction, _ := strings.Cut(text, "."); len(fraction) < 2; fraction += "0" {
		text += "0"
	}
	return text
}

// signed prints a length that is a change, with its sign.
func (s Source) signed(l length.Length) string {
	if l > 0 {
		return "+" + s.size(l)
	}
	return s.size(l)
}

// bare takes the unit off the lengths of a text whose heading says it; degrees keep their sign.
func (s Source) bare(text string) string {
	unit := string(s.Unit)
	text = strings.NewReplacer(" "+unit+" ", " ", " "+unit+",", ",", " deg", "\u00b0").Replace(s.tidy(text) + " ")
	return strings.TrimSpace(text)
}

// tidy leaves out the last nought of lengths as words print them, where it says nothing.
func (s Source) tidy(text string) string {
	if s.Unit.Metric() {
		return spare.mm.ReplaceAllString(text, "$1")
	}
	return spare.in.ReplaceAllString(text, "$1")
}

var spare = struct{ in, mm *regexp.Regexp }{regexp.MustCompile(`\b(\d+\.\d{4})0\b`), regexp.MustCompile(`\b(\d+\.\d{3})0\b`)}

func (s Source) figure(q *inspect.Quantity) string {
	if q == nil {
		return "\u2013"
	}
	return strings.Replace(s.bare(q.In(s.Unit)), "-", "\u2212", 1)
}

// unitWord is the name of the unit that a table is in.
func (s Source) unitWord() string {
	if s.Unit.Metric() {
		return "Millimetres"
	}
	return "Inches"
}

// nominal prints the size that a tool is called by: in inches a fraction, where it is one.
func (s Source) nominal(l length.Length) string {
	const parts = 64
	if s.Unit.Metric() || l <= 0 || l%(length.Inch/parts) != 0 {
		return s.size(l)
	}
	n, of := int(l/(length.Inch/parts)), parts
	for n%2 == 0 && of > 1 {
		n, of = n/2, of/2
	}
	switch {
	case of == 1:
		return strconv.Itoa(n)
	case n > of:
		return fmt.Sprintf("%d\u00a0%d/%d", n/of, n%of, of)
	}
	return fmt.Sprintf("%d/%d", n, of)
}

// Short and Full say what a tool is.
func (s Source) Short(t inspect.Tool) string {
	return strings.Join(append([]string{fmt.Sprintf("%s %s, %d fl., %s", s.nominal(t.Diameter), s.Unit, t.Flutes, material(t.Material))}, kind(t)...), ", ")
}

// kind says in a word each what of a tool's kind is not as usual.
func kind(t inspect.Tool) (all []string) {
	if t.Ends != inspect.SquareEnd && t.Ends != "" {
		all = append(all, string(t.Ends)+" end")
	}
	if t.Teeth == inspect.ChipBreakerTeeth {
		all = append(all, "chip-breaker")
	}
	if t.Taper > 0 {
		all = append(all, "taper "+strings.TrimSuffix(strings.TrimRight(t.Taper.Format(2), "0"), ".")+"\u00b0")
	}
	if t.LeftCut() {
		all = append(all, "left-hand cut")
	}
	return all
}

// Full is documented with Short.
func (s Source) Full(t inspect.Tool) string {
	helix := "straight flutes"
	if t.Helix > 0 {
		helix = "helix " + t.Helix.Format(0) + "\u00b0 " + string(t.Hand)
	}
	all := append([]string{fmt.Sprintf("%s %s end mill, %s, %s, %s", s.nominal(t.Diameter), s.Unit, plural(t.Flutes, "flute"), material(t.Material), helix)}, kind(t)...)
	if t.CentreCutting {
		all = append(all, "centre cutting")
	}
	if t.Angles != nil {
		all = append(all, "unequally spaced")
	}
	if t.Form != "" && t.Form != inspect.FlatRelief {
		all = append(all, string(t.Form)+" relief")
	}
	if t.Sharpened == inspect.OnFace {
		all = append(all, "sharpened on the face")
	}
	if t.Duty == inspect.Roughing {
		all = append(all, "roughing")
	}
	return strings.Join(all, ", ")
}

func material(m inspect.Material) string {
	if m == inspect.HSS {
		return "HSS"
	}
	return string(m)
}

// head names a record as "ledger verify --head" takes it, with the beginning of its hash.
func shortHead(r ledger.Record) string {
	return fmt.Sprintf("%s-%d-%.16s", r.Bench, r.Seq, r.Hash)
}

const proves = "With this head and the ledger, flutelog finds any change to what was recorded up to it; what is newer is only as safe as its folder."

func (s Source) proof(r ledger.Record) paper.Proof {
	return paper.Proof{Where: fmt.Sprintf("%s, record %d", cmp.Or(s.Bench, "bench"), r.Seq), Head: shortHead(r), Says: proves}
}
