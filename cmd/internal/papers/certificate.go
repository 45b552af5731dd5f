package papers

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/mark"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// Certificate returns the certificate of a job as it stands; while a tool of it is not settled, or the job itself is not
// signed, it says so before all else.
func (s Source) Certificate(id string) (paper.Certificate, error) {
	var tools []tool
	job, err := record.WholeJob(s.Ledger, id, func(t record.Tool, all []record.Inspection) { tools = append(tools, tool{t, all}) })
	if err != nil {
		return paper.Certificate{}, err
	}
	head, err := s.Ledger.Head()
	if err != nil {
		return paper.Certificate{}, err
	}
	c := paper.Certificate{Job: job.ID, Customer: job.Customer, Order: job.Reference, Back: s.Back}
	sum := gathered{counts: map[record.Standing]int{}, limits: map[string][]string{}, gauges: map[string]bool{}, who: map[string]bool{}, held: map[string]bool{}}
	practised := 0
	for i := range tools {
		t := &tools[i]
		c.Rows = append(c.Rows, s.row(t, job.ID, &sum))
		if at := t.Received(job.ID); at != "" {
			if sum.came == "" || at < sum.came {
				sum.came = at
			}
			sum.cameLast = max(sum.cameLast, at)
		}
		if t.practised() {
			practised++
		}
	}
	c.Practice = practised > 0 && practised == len(c.Rows)
	c.Sums = sum.counted()
	if len(sum.nothing) > 0 {
		c.Unread = append(c.Unread, "Nothing after the grind: "+named(sum.nothing, len(c.Rows))+".")
	}
	for _, u := range sum.unread {
		c.Unread = append(c.Unread, named(u.tools, len(c.Rows))+": "+u.text)
	}
	if c.Unread == nil {
		c.AllRead = "Everything that this bench requires was read and looked at, on every tool."
	}
	c.Date, c.Lead = day(sum.newest), s.lead(job, &sum)
	c.Caption = fmt.Sprintf("Found before the grind, left after it. %s; TIR is the full indicator movement%s; \u00b1 is the uncertainty at 95\u00a0%%.", s.unitWord(), prefixed(", read in ", strings.Join(slices.Sorted(maps.Keys(sum.held)), " or ")))
	for _, text := range slices.Sorted(maps.Keys(sum.limits)) {
		c.Limits = append(c.Limits, text+" ("+named(sum.limits[text], len(c.Rows))+".)")
	}
	for _, g := range slices.Sorted(maps.Keys(sum.gauges)) {
		c.ReadWith = append(c.ReadWith, g+".")
	}
	if who := slices.Sorted(maps.Keys(sum.who)); len(who) > 0 {
		c.ReadWith = append(c.ReadWith, "By "+strings.Join(who, ", ")+", "+span(sum.oldest, sum.newest)+".")
	}
	if job.Note != "" {
		c.Notes = append(c.Notes, job.Note)
	}
	c.Condition = Lacking(job)
	c.Signed = []paper.Signature{{What: "Signed for the job", Who: listed(job.Released, day(job.ReleasedAt))}, {What: "Received, name and date"}}
	c.Proof = paper.Proof{Where: fmt.Sprintf("%s, record %d", cmp.Or(s.Bench, "bench"), head.Seq), Head: fmt.Sprintf("%s-%d-%.16s", head.Bench, head.Seq, head.Hash), Says: proves}
	return c, nil
}

// gathered is what the rows of a certificate have in common.
type gathered struct {
	counts         map[record.Standing]int
	notReground    int
	unread         []unreadTools
	nothing        []string            // tools without an inspection after the grind
	limits         map[string][]string // which tools were judged by which
	gauges, who    map[string]bool
	held           map[string]bool
	inspected      int
	oldest, newest string
	came, cameLast string // when the first and the last tool came
}

// Lacking says why the certificate of a job is none yet; "" where it is one.
func Lacking(job record.JobStanding) string {
	var lacks []string
	for _, t := range job.Of {
		if t.Lacks != "" {
			lacks = append(lacks, t.Tool+": "+t.Lacks)
		}
	}
	lacks = append(lacks, job.Lacks...)
	switch {
	case len(lacks) > 6:
		lacks = append(lacks[:5], fmt.Sprintf("and %d more", len(lacks)-5))
	case len(lacks) == 0 && job.Released == "":
		lacks = []string{"every tool is settled, and nobody has signed for the job"}
	}
	if len(lacks) == 0 {
		return ""
	}
	return "No certificate yet: " + strings.Join(lacks, "; ") + "."
}

func (g *gathered) counted() []paper.Count {
	names := map[record.Standing]string{record.StandsConceded: "on a condition"}
	order := []record.Standing{
		record.StandsReleased, record.StandsConceded, record.StandsWithdrawn, record.StandsRetired, record.StandsRecalled, record.StandsLocked,
		record.StandsReceived, record.StandsToGrind, record.StandsToFinish, record.StandsToInspect, record.StandsToSign,
	}
	var all []paper.Count
	for _, st := range order {
		if n := g.counts[st]; n > 0 {
			all = append(all, paper.Count{Mark: mark.Standing(st), Words: fmt.Sprintf("%d %s", n, cmp.Or(names[st], string(st)))})
		}
	}
	if g.notReground > 0 {
		all = append(all, paper.Count{Mark: mark.Conceded, Words: fmt.Sprintf("%d not reground", g.notReground)})
	}
	return all
}

func (s Source) lead(job record.JobStanding, g *gathered) string {
	n := max(job.Quantity, len(job.Of))
	text := plural(n, "end mill") + " received"
	if g.came != "" {
		text += " " + day(g.came)
		if day(g.cameLast) != day(g.came) {
			text += " to " + day(g.cameLast)
		}
	}
	if len(job.Of) < n {
		text += fmt.Sprintf(", %d of them told here", len(job.Of))
	}
	switch {
	case g.inspected == n:
		return text + ", every one inspected after the grind."
	case g.inspected == 0:
		return text + ", none inspected after the grind."
	}
	return text + fmt.Sprintf(", %d inspected after the grind.", g.inspected)
}

func span(from, to string) string {
	a, b := day(from), day(to)
	if a == b {
		return a
	}
	return a + " to " + b
}

// named names tools, of so many.
func named(ids []string, of int) string {
	if len(ids) == of && of > 1 {
		return "Every tool"
	}
	return strings.Join(ids, ", ")
}

// unreadTools are tools of which the same was not read.
type unreadTools struct {
	text  string
	tools []string
}

func (g *gathered) open(tool, text string) {
	for i := range g.unread {
		if g.unread[i].text == text {
			g.unread[i].tools = append(g.unread[i].tools, tool)
			return
		}
	}
	g.unread = append(g.unread, unreadTools{text, []string{tool}})
}

// row is one tool of a job: as it was found, what was done, how it was left, and its ruling.
func (s Source) row(t *tool, job string, g *gathered) paper.CertificateRow {
	r := paper.CertificateRow{Ruling: s.ruling(t), Tool: t.ID, What: strings.Join(append([]string{fmt.Sprintf("%s \u00d7 %d, %s", s.nominal(t.Tool.Diameter), t.Flutes, material(t.Material))}, kind(t.Tool.Tool)...), ", ")}
	if t.practised() {
		r.Ruling = paper.Ruling{Mark: mark.Invented, Word: "Practice: invented"}
	}
	if t.NotReground && r.Ruling.Usable() {
		g.notReground++
	} else {
		g.counts[t.Standing]++
	}
	var before, between, after *record.Inspection
	for i := range t.all {
		in := &t.all[i]
		if in.Discarded != "" || in.Figures.Practice || in.Job != job && job != "" && in.Job != "" {
			continue
		}
		switch in.Stage {
		case inspect.Before:
			before, between, after = in, nil, nil
		case inspect.Between:
			between = in
		case inspect.After:
			after = in
		}
		g.saw(in)
	}
	dash := "\u2013"
	r.FoundWear, r.FoundTIR, r.FoundDiameter, r.Faces, r.Divisions, r.TIR, r.Share, r.Relief, r.Diameter, r.Length = dash, dash, dash, dash, dash, dash, dash, dash, dash, dash
	if before != nil {
		r.FoundWear, r.FoundDiameter = s.figure(before.Judgement.Figure(inspect.WearLand)), s.figure(before.Judgement.Figure(inspect.Diameter))
		tir, _ := s.worstTIR(before)
		r.FoundTIR = tir
	}
	var notes []string
	if r.Ruling.Short != "" {
		notes = append(notes, r.Ruling.Word)
	}
	if t.Standing == record.StandsConceded { // what the condition is about
		if why := s.conceded(t.deciding()); why != "" {
			notes = append(notes, "does not conform: "+why)
		}
	}
	notes = append(notes, r.Ruling.Under)
	if after != nil {
		g.inspected++
		s.left(after, &r)
		r.Faces, r.Divisions = done(before, between), fed(t, before, between, after)
		a := words.Of(after.Inspection, after.Judgement, s.Unit)
		if open := s.unread(a); len(open) > 0 {
			g.open(t.ID, strings.Join(open, " "))
		}
		for _, gauge := range s.gauges(after) {
			g.gauges[gauge] = true
		}
		if text := s.limits(after); text != "" {
			g.limits[text] = append(g.limits[text], t.ID)
		}
	} else if t.Standing != record.StandsReleased || !t.NotReground {
		g.nothing = append(g.nothing, t.ID)
	}
	for i := range t.all {
		for _, c := range t.all[i].Corrections {
			notes = append(notes, "corrected, "+Correction(c.Correction, s.Unit))
		}
	}
	r.Note = joined(notes...)
	return r
}

// saw counts an inspection's gauges, people and days in.
func (g *gathered) saw(in *record.Inspection) {
	if g.oldest == "" || in.Opened < g.oldest {
		g.oldest = in.Opened
	}
	g.newest = max(g.newest, in.Closed)
	if x := in.Ruling(); x != nil {
		g.newest = max(g.newest, x.At)
	}
	if in.Inspector != "" {
		g.who[in.Inspector] = true
	}
	if in.Holding != "" && in.Stage == inspect.After {
		g.held["the "+string(in.Holding)] = true
	}
}

// limits tells the limits that an inspection was judged by, where they come from and by which rule; "" where nothing was.
func (s Source) limits(in *record.Inspection) string {
	var parts, from []string
	for _, f := range in.Judgement.Findings {
		if !judged(f) {
			continue
		}
		part := words.Figure(f.Feature) + " " + words.Band(f.Least, f.Most, s.Unit)
		if !slices.Contains(parts, part) {
			parts = append(parts, part)
		}
		if f.Source != "" && !slices.Contains(from, f.Source) {
			from = append(from, f.Source)
		}
	}
	if parts == nil {
		return ""
	}
	slices.Sort(from)
	return sentence(s.bare(strings.Join(parts, "; "))) + " From: " + listed(strings.Join(from, "; "), "revision "+in.Basis.Revision) + prefixed(". ", ruledBy(in.Judgement)) + "."
}

func (s Source) worstTIR(in *record.Inspection) (tir, band string) {
	var worst *inspect.Finding
	for i, f := range in.Judgement.Findings {
		if f.Feature == inspect.RadialRunout && f.Value != nil && (worst == nil || f.Value.Length() > worst.Value.Length()) {
			worst = &in.Judgement.Findings[i]
		}
	}
	if worst == nil {
		return "\u2013", ""
	}
	if worst.Uncertainty != nil {
		band = s.figure(worst.Uncertainty)
	}
	return s.figure(worst.Value), band
}

// left is how an inspection after the grind left a tool.
func (s Source) left(in *record.Inspection, r *paper.CertificateRow) {
	r.TIR, r.TIRUncertainty = s.worstTIR(in)
	for _, l := range in.Judgement.Lands {
		if !l.Ends && len(l.Ratios) > 0 {
			r.Share = fmt.Sprintf("%.2f", slices.Max(l.Ratios))
		}
	}
	if q := in.Judgement.Figure(inspect.ReliefDrop); q != nil {
		r.Relief = q.Angle().Format(1) + "\u00b0"
	}
	r.Diameter, r.Length = s.figure(in.Judgement.Figure(inspect.Diameter)), s.figure(in.Judgement.Figure(inspect.Length))
}

// done names the faces that were called for before and between the grinds, and so were ground before what followed.
func done(before, between *record.Inspection) string {
	names := map[inspect.Task][]string{
		inspect.GrindPrimary: {"primary"}, inspect.GrindSecondary: {"secondary"}, inspect.GrindBoth: {"primary", "secondary"}, inspect.GrindFace: {"face"}, inspect.CutBack: {"cut back"},
	}
	var faces []string
	for _, in := range []*record.Inspection{before, between} {
		if in == nil {
			continue
		}
		for _, w := range in.Judgement.Work {
			for _, n := range names[w.What] {
				if w.Where == inspect.OnEnds {
					n = "ends"
				}
				if !slices.Contains(faces, n) {
					faces = append(faces, n)
				}
			}
		}
	}
	if faces == nil {
		return "not told"
	}
	return strings.Join(faces, ", ")
}

func fedNumbers(flutes, ends int) []string {
	var all []string
	if flutes > 0 {
		all = append(all, fmt.Sprint(flutes))
	}
	if ends > 0 {
		all = append(all, fmt.Sprintf("ends %d", ends))
	}
	return all
}

// fed are the divisions that were told of a grind, in their order.
func fed(t *tool, before, between, after *record.Inspection) string {
	var all []string
	for _, in := range []*record.Inspection{between, after} {
		if in != nil {
			all = append(all, fedNumbers(in.Divisions, in.EndsFed)...)
		}
	}
	if all == nil {
		for _, g := range t.Grounds {
			if (before == nil || g.At > before.Closed) && g.At < after.Closed {
				all = append(all, fedNumbers(g.Divisions, g.EndsFed)...)
			}
		}
	}
	if all == nil {
		return "\u2013"
	}
	return strings.Join(all, ", ")
}
