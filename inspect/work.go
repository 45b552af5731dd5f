package inspect

import (
	"fmt"
	"slices"
	"strings"
)

// The two kinds of faces that are ground, each with its own work.
const (
	onFlutes = "flutes"
	onEnds   = "ends"
)

// decide turns findings and what was seen into the work they call for, the verdict on the whole and the
// answer in words.
func (j *Judgement) decide(in Inspection) {
	switch in.Stage {
	case Before:
		j.workBefore(in)
	case Between:
		j.workBetween()
	case After:
		j.workAfter(in)
	}
	j.Verdict = j.verdict(in.Stage)
	j.Answer = j.answer()
}

func (j *Judgement) call(what Task, where, why string) {
	j.Work = append(j.Work, Work{what, where, why})
}

// withdrawn calls for the tool to be withdrawn where what was seen or its size leaves nothing to grind.
func (j *Judgement) withdrawn(in Inspection) bool {
	for _, s := range in.Seen {
		switch {
		case !s.Yes:
		case s.Sight == Cracks || s.Sight == Burn || s.Sight == BentShank:
			j.call(Withdraw, "", noted(string(s.Sight), s.Note))
		}
	}
	for _, f := range j.with(Reject, Diameter) {
		j.call(Withdraw, "", f.Reason)
	}
	return len(j.Work) > 0
}

func noted(what, note string) string {
	what = strings.ReplaceAll(what, "-", " ")
	if note != "" {
		return what + " (" + note + ")"
	}
	return what
}

// with returns the findings of some features that have a verdict.
func (j *Judgement) with(v Verdict, features ...Feature) []Finding {
	var fs []Finding
	for _, f := range j.Findings {
		if f.Verdict == v && slices.Contains(features, f.Feature) {
			fs = append(fs, f)
		}
	}
	return fs
}

// why joins the reasons of findings.
func why(fs []Finding) string {
	var reasons []string
	for _, f := range fs {
		reasons = append(reasons, f.Reason)
	}
	return strings.Join(reasons, "; ")
}

// workBefore says what a worn tool needs. Being worn is no fault: what it comes to is the work.
func (j *Judgement) workBefore(in Inspection) {
	if j.withdrawn(in) {
		return
	}
	if j.Plan != nil && j.Plan.DiameterAfter != nil && in.Basis.Limits.Diameter.Least != nil && *j.Plan.DiameterAfter < *in.Basis.Limits.Diameter.Least {
		j.call(Downgrade, "", fmt.Sprintf("after the grind it would measure %s, under %s", j.Plan.DiameterAfter.In(in.Basis.Unit), in.Basis.Limits.Diameter.Least.In(in.Basis.Unit)))
		return
	}
	var blunt []string
	for _, s := range in.Seen {
		switch {
		case s.Yes && s.Sight == ChippedCorner && in.Tool.HasEndTeeth():
			j.call(CutBack, onEnds, noted(string(s.Sight), s.Note))
		case s.Yes && (s.Sight == BluntCorner || s.Sight == ChippedCorner):
			blunt = append(blunt, noted(string(s.Sight), s.Note))
		}
	}
	j.grindFlutes(in, blunt)
	if in.Tool.HasEndTeeth() {
		j.grindEnds(blunt)
	}
	if len(j.Work) == 0 && len(j.Findings)+len(in.Seen) > 0 {
		j.call(NoWork, "", "nothing that was read calls for a grind")
	}
}

func (j *Judgement) grindFlutes(in Inspection, blunt []string) {
	worn := append(j.with(Reject, WearLand, RadialRunout), j.with(Undecided, WearLand, RadialRunout)...)
	secondary := append(j.with(Reject, PrimaryLand, Heel), j.with(Undecided, PrimaryLand)...)
	wearRead := len(j.with(Accept, WearLand)) > 0 || len(worn) > 0
	reason := why(worn)
	if !in.Tool.HasEndTeeth() && len(blunt) > 0 {
		worn, reason = append(worn, Finding{}), strings.Join(append(blunt, reason), "; ")
	}
	switch {
	case len(secondary) > 0:
		j.call(GrindBoth, onFlutes, why(secondary))
	case len(worn) > 0 && j.Plan != nil && j.Plan.RatioAfter > in.Basis.Limits.SecondaryOver.Value():
		j.call(GrindBoth, onFlutes, j.Plan.Words)
	case len(worn) > 0:
		j.call(GrindPrimary, onFlutes, reason)
	case !wearRead && len(j.with(Accept, PrimaryLand)) > 0:
		j.call(GrindPrimary, onFlutes, "the wear was not read; where the edges are dull the primary alone will do: "+why(j.with(Accept, PrimaryLand)))
	}
}

func (j *Judgement) grindEnds(blunt []string) {
	worn := append(j.with(Reject, AxialRunout), j.with(Undecided, AxialRunout)...)
	secondary := append(j.with(Reject, EndPrimaryLand), j.with(Undecided, EndPrimaryLand)...)
	switch {
	case len(secondary) > 0:
		j.call(GrindBoth, onEnds, why(secondary))
	case len(worn) > 0 || len(blunt) > 0:
		reasons := slices.DeleteFunc(append(blunt, why(worn)), func(s string) bool { return s == "" })
		j.call(GrindPrimary, onEnds, strings.Join(reasons, "; "))
	}
}

// workBetween says, the tool still held, whether the secondary is needed.
func (j *Judgement) workBetween() {
	j.grindAgain()
	j.grindSecondary()
	if len(j.Work) == 0 {
		j.readAgain()
	}
	if len(j.Work) == 0 && len(j.Findings) > 0 {
		j.call(NoWork, "", "no secondary is needed; go on to the inspection after the grind")
	}
}

// workAfter says whether the tool can be released.
func (j *Judgement) workAfter(in Inspection) {
	if j.withdrawn(in) {
		return
	}
	for _, s := range in.Seen {
		if s.Yes {
			j.call(GrindAgain, "", noted(string(s.Sight), s.Note))
		}
	}
	j.grindAgain()
	j.grindSecondary()
	if len(j.Work) == 0 {
		j.readAgain()
	}
	if len(j.Work) == 0 && len(j.Findings) > 0 {
		j.call(Release, "", "everything that was read conforms")
	}
}

func (j *Judgement) grindSecondary() {
	for _, feature := range []Feature{PrimaryLand, EndPrimaryLand} {
		where := onFlutes
		if feature.OnEnds() {
			where = onEnds
		}
		rejected := j.with(Reject, feature)
		if feature == PrimaryLand {
			rejected = append(rejected, j.with(Reject, Heel)...)
		}
		if len(rejected) > 0 {
			j.call(GrindSecondary, where, why(rejected))
		} else if fs := j.with(Undecided, feature); len(fs) > 0 {
			j.call(GrindSecondary, where, why(fs)+": undecided, so grind it: it costs a minute")
		}
	}
}

// grindAgain calls for every face that does not conform, but for lands, which a secondary mends.
func (j *Judgement) grindAgain() {
	for _, f := range j.Findings {
		if f.Verdict != Reject || f.Feature == PrimaryLand || f.Feature == EndPrimaryLand || f.Feature == Heel {
			continue
		}
		where := onFlutes
		if f.Feature.OnEnds() {
			where = onEnds
		}
		j.call(GrindAgain, where, f.Reason)
	}
}

func (j *Judgement) readAgain() {
	for _, f := range j.Findings {
		if f.Verdict == Undecided || f.Verdict == NotJudged {
			j.call(ReadAgain, "", f.Reason)
		}
	}
	for _, f := range j.Unread {
		j.call(ReadAgain, "", f.Name()+" was not read, and release rests on it")
	}
}

// verdict is the verdict on the whole. Before the grind a worn tool is not rejected; only one that is not
// worth grinding is.
func (j *Judgement) verdict(stage Stage) Verdict {
	if len(j.Work) == 0 {
		return NotJudged
	}
	worst := Accept
	for _, w := range j.Work {
		switch w.What {
		case Withdraw, Downgrade:
			return Reject
		case GrindAgain, GrindSecondary:
			worst = Reject
		case ReadAgain:
			worst = j.open()
		}
	}
	return worst
}

// open is the verdict where something must be read again: not judged where nothing but lack of readings
// stands in the way.
func (j *Judgement) open() Verdict {
	for _, f := range j.Findings {
		if f.Verdict == Undecided {
			return Undecided
		}
	}
	return NotJudged
}

var headlines = map[Task]string{
	NoWork:         "NO GRIND NEEDED",
	GrindPrimary:   "GRIND THE PRIMARY",
	GrindBoth:      "SECONDARY NEEDED",
	GrindSecondary: "SECONDARY NEEDED",
	CutBack:        "CUT BACK THE END",
	Downgrade:      "DOWNGRADE",
	Withdraw:       "WITHDRAW",
	Release:        "RELEASE",
	GrindAgain:     "GRIND AGAIN",
	ReadAgain:      "READ AGAIN",
}

func (j *Judgement) answer() string {
	if len(j.Work) == 0 {
		return "NOT JUDGED: nothing was read"
	}
	w := j.Work[0]
	s := headlines[w.What]
	if w.Where == onEnds {
		s += " ON THE ENDS"
	}
	if w.Why != "" {
		s += ": " + w.Why
	}
	return s
}

// FallsShort says whether the inspection calls for more than it allows to go on: before, a secondary, a
// cut-back, a downgrade or a withdrawal; between and after, anything but going on.
func (j Judgement) FallsShort(stage Stage) bool {
	return slices.ContainsFunc(j.Work, func(w Work) bool {
		switch w.What {
		case GrindBoth, GrindSecondary, CutBack, Downgrade, Withdraw, GrindAgain:
			return true
		case GrindPrimary:
			return stage != Before
		}
		return false
	})
}

// Open says whether too little was read, or too coarsely, to say.
func (j Judgement) Open() bool { return j.Verdict == Undecided || j.Verdict == NotJudged }
