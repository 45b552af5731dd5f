package papers

import (
	"errors"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// Tags returns the tags of tools, in their order.
func (s Source) Tags(ids []string) (paper.Tags, error) {
	tags := paper.Tags{Back: s.Back}
	for _, id := range ids {
		t, err := s.tool(id)
		if err != nil {
			return tags, err
		}
		tags.Tags = append(tags.Tags, s.tag(&t))
	}
	return tags, nil
}

// ToolID returns the id of a tool as it was recorded, of what was typed, or scanned off a tag: a literal id comes before
// one with the mark of a tag. It is record.ErrNoTool for one that is not known.
func (s Source) ToolID(typed string) (string, error) {
	t, err := record.FindTool(s.Ledger, typed)
	if errors.Is(err, record.ErrNoTool) && len(typed) > len(paper.Scanned) && strings.EqualFold(typed[:len(paper.Scanned)], paper.Scanned) {
		t, err = record.FindTool(s.Ledger, typed[len(paper.Scanned):])
	}
	return t.Tool.ID, err
}

func (s Source) tag(t *tool) paper.Tag {
	tag := paper.Tag{Ruling: s.ruling(t), Tool: t.ID, What: s.Short(t.Tool.Tool), Practice: t.practised()}
	in := t.deciding()
	if in == nil && len(t.all) > 0 && (tag.Practice || t.Standing == record.StandsLocked) {
		in = &t.all[len(t.all)-1]
	}
	if in != nil {
		tag.Inspection, tag.Foot = in.ID, strings.TrimSpace(in.Inspector+" "+shortDay(in.Closed))
		if r := in.Ruling(); r != nil && tag.Ruling.Usable() {
			tag.Foot = "signed by " + r.By + " " + shortDay(r.At)
		}
		d, l := value(in, inspect.Diameter), value(in, inspect.Length)
		if d != nil { // what a machinist enters
			tag.Diameter, tag.Radius = s.size(*d)+" "+string(s.Unit), s.size(*d/2)
		}
		tag.Change = s.change(t, in, d, l)
		if a := words.Of(in.Inspection, in.Judgement, s.Unit); a.NotAsked != "" {
			tag.NotRead = "Not read at this bench: " + a.NotAsked + "."
		}
	}
	if least := s.smallest(t, in); least != nil {
		tag.Smallest = s.size(*least)
	}
	tag.Ruling.Under = s.tagUnder(t, in, tag.Ruling)
	switch t.Standing {
	case record.StandsLocked, record.StandsToSign:
		tag.Facts = append(tag.Facts, paper.Fact{Name: "waits for", Value: "one who may sign"})
	case record.StandsToGrind:
		if in != nil && in.Judgement.FeedsPrimary(inspect.OnFlutes) && in.Judgement.Plan != nil && in.Judgement.Plan.Divisions != nil {
			tag.Facts = append(tag.Facts, paper.Fact{Name: "next", Value: divisions(*in.Judgement.Plan.Divisions) + " from the first touch, then look"})
		}
	case record.StandsRecalled:
		tag.Facts = append(tag.Facts, paper.Fact{Name: "bring it to", Value: s.Bench})
	}
	if len(t.Open) > 0 {
		tag.Facts = append(tag.Facts, paper.Fact{Name: "half read", Value: t.Open[0]})
	}
	if t.Job != "" && !tag.Ruling.Usable() {
		tag.Facts = append(tag.Facts, paper.Fact{Name: "job", Value: t.Job})
	}
	return tag
}

// tagUnder is what stands under the headline: on what may be used only what it is true of, for who signed stands at the
// foot.
func (s Source) tagUnder(t *tool, in *record.Inspection, r paper.Ruling) string {
	switch {
	case r.Go() && in != nil && in.Judgement.TrueIn == inspect.InFixture:
		return "true in the fixture only"
	case r.Go():
		return ""
	case t.NotReground && r.Usable():
		return "no grind was needed"
	case t.Standing == record.StandsConceded:
		return s.conceded(in)
	case t.Standing == record.StandsToGrind && in != nil && !in.Judgement.Releases():
		return s.tidy(words.Headline(in.Inspection, in.Judgement, s.Unit))
	case t.Standing == record.StandsReceived && in != nil && t.lifted(in) != "":
		return t.lifted(in)
	case t.Standing == record.StandsRecalled, t.Standing == record.StandsToInspect && in != nil, t.Standing == record.StandsReceived && in != nil:
		return s.reason(in)
	}
	return r.Under
}

// practised says whether all that was read of a tool was read with a practice gauge.
func (t *tool) practised() bool {
	for i := range t.all {
		if !t.all[i].Figures.Practice {
			return false
		}
	}
	return len(t.all) > 0
}

// change says how diameter and length, as far as an inspection read them, changed since the machinist last had the tool.
func (s Source) change(t *tool, in *record.Inspection, d, l *length.Length) string {
	i := slices.IndexFunc(t.all, func(e record.Inspection) bool { return e.Record.Ref() == in.Record.Ref() })
	o := record.OffsetsOf(t.all[:i+1])
	var parts []string
	if c := o.Diameter.Change(); c != nil && d != nil {
		parts = append(parts, s.signed(*c)+" dia.")
	}
	if c := o.Length.Change(); c != nil && l != nil {
		parts = append(parts, s.signed(*c)+" long")
	}
	return strings.Join(parts, ", ")
}

// value returns the length that an inspection, as it stands, has of a feature; nil for none.
func value(in *record.Inspection, f inspect.Feature) *length.Length {
	q := in.Judgement.Figure(f)
	if q == nil {
		return nil
	}
	l := q.Length()
	return &l
}

// smallest returns the smallest useful diameter of a tool, by the limits of its newest inspection.
func (s Source) smallest(t *tool, in *record.Inspection) *length.Length {
	if in == nil && len(t.all) > 0 {
		in = &t.all[len(t.all)-1]
	}
	if in == nil {
		return nil
	}
	least, _ := in.Basis.Limits.Of(inspect.Diameter).Lengths()
	return least
}
