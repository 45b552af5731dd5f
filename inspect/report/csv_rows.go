package report

import (
	"strconv"

	"flutelog/inspect"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

type readingColumn struct {
	name string
	cell func(*table, *record.Row)
}

// inspectionColumns come before the readingColumns; they are the same in all rows of an inspection. sequence and
// record_sha256 are of the newest record that counts, in every report.
var inspectionColumns = []readingColumn{
	{"bench", func(t *table, r *record.Row) { t.word(r.Record.Bench) }},
	{"sequence", func(t *table, r *record.Row) { t.number(strconv.FormatUint(r.Record.Seq, 10)) }},
	{"record_sha256", func(t *table, r *record.Row) { t.word(r.Record.Hash) }},
	{"inspection", func(t *table, r *record.Row) { t.text(r.ID) }},
	{"tool", func(t *table, r *record.Row) { t.text(r.Tool) }},
	{"job", func(t *table, r *record.Row) { t.text(r.Job) }},
	{"stage", func(t *table, r *record.Row) { t.word(string(r.Stage)) }},
	{"inspector", func(t *table, r *record.Row) { t.text(r.Inspector) }},
}

// standingColumns come last, and are the same in all rows of an inspection too.
var standingColumns = []readingColumn{
	{"readings_sequence", func(t *table, r *record.Row) { t.number(strconv.FormatUint(r.Taken.Seq, 10)) }},
	{"standing", func(t *table, r *record.Row) { t.word(string(r.Standing)) }},
	{"practice", func(t *table, r *record.Row) { t.word(yes(r.Practice)) }},
	{"ruling", func(t *table, r *record.Row) { t.word(string(ruled(r.Ruling).Word)) }},
	{"ruled_by", func(t *table, r *record.Row) { t.text(ruled(r.Ruling).By) }},
	{"ruled_at", func(t *table, r *record.Row) { t.word(ruled(r.Ruling).At) }},
	{"ruled_why", func(t *table, r *record.Row) { t.text(ruled(r.Ruling).Why) }},
	{"inspected_at_bench", func(t *table, r *record.Row) { t.word(r.Bench) }},
}

var readingColumns = []readingColumn{
	{"feature", func(t *table, r *record.Row) { t.word(string(r.Feature)) }},
	{"flute", func(t *table, r *record.Row) { t.count(r.Reading.Flute) }},
	{"from_end", func(t *table, r *record.Row) { t.lengthOr(r.Reading.FromEnd) }},
	{"repeat", func(t *table, r *record.Row) { t.count(r.Reading.Repeat) }},
	{"closing", func(t *table, r *record.Row) { t.word(yes(r.Reading.Closing)) }},
	{"value", func(t *table, r *record.Row) { t.length(r.Reading.Value) }},
	{"unit", func(t *table, r *record.Row) { t.word(t.format.Unit.UCUM()) }},
	{"as_read", func(t *table, r *record.Row) { t.number(r.Reading.Text) }},
	{"as_read_unit", func(t *table, r *record.Row) { t.word(r.Reading.Unit.UCUM()) }},
	{"read_at", func(t *table, r *record.Row) { t.word(r.Reading.At) }},
	{"read_at_utc", func(t *table, r *record.Row) { t.word(sheetTime(r.Reading.At)) }},
	{"clock_set", func(t *table, r *record.Row) { t.word(yes(r.Taken.Time.Synchronised)) }},
	{"gauge", func(t *table, r *record.Row) { t.text(r.Reading.Gauge) }},
	{"gauge_serial", func(t *table, r *record.Row) { t.text(r.Gauges[r.Reading.Gauge].Serial) }},
	{"gauge_calibration_due", func(t *table, r *record.Row) { t.word(r.Gauges[r.Reading.Gauge].CalibrationDue) }},
	{"inspection_verdict", func(t *table, r *record.Row) { t.word(string(r.Verdict)) }},
	{"judged_by", func(t *table, r *record.Row) { t.revision(r.Revision) }},
	{"corrected", func(t *table, r *record.Row) { t.word(yes(r.Corrected != nil)) }},
	{"corrected_by", func(t *table, r *record.Row) { t.correctedBy(r.Corrected) }},
	{"on_shank", func(t *table, r *record.Row) { t.word(yes(r.Reading.OnShank)) }},
	{"checking_distance", func(t *table, r *record.Row) { t.lengthOr(r.Reading.Over) }},
}

func (t *table) reading(r *record.Row) {
	if r.First {
		t.begin()
		for _, c := range standingColumns {
			c.cell(t, r)
		}
		t.tail = append(t.tail[:0], t.cells...)
		t.begin()
		for _, c := range inspectionColumns {
			c.cell(t, r)
		}
		t.keep()
	}
	for _, c := range readingColumns {
		c.cell(t, r)
	}
	t.cells = append(t.cells, t.tail...)
	t.row()
}

// ruled returns a ruling, an empty one where there is none.
func ruled(r *record.Ruled) record.Ruling {
	if r == nil {
		return record.Ruling{}
	}
	return r.Ruling
}

func (t *table) correctedBy(c *record.Corrected) {
	if c == nil {
		t.word("")
		return
	}
	t.text(c.By)
}

// findingRow is one finding with the inspection it belongs to; an empty finding is an inspection without any.
type findingRow struct {
	*record.Inspection
	brief   *record.Brief
	answer  *words.Answer
	finding *inspect.Finding
	reason  string // of the finding
}

var findingColumns = []struct {
	name string
	cell func(*table, *findingRow)
}{
	{"bench", func(t *table, r *findingRow) { t.word(r.Newest.Bench) }},
	{"sequence", func(t *table, r *findingRow) { t.number(strconv.FormatUint(r.Newest.Seq, 10)) }},
	{"record_sha256", func(t *table, r *findingRow) { t.word(r.Newest.Hash) }},
	{"inspection", func(t *table, r *findingRow) { t.text(r.ID) }},
	{"tool", func(t *table, r *findingRow) { t.text(r.Tool.ID) }},
	{"job", func(t *table, r *findingRow) { t.text(r.Job) }},
	{"stage", func(t *table, r *findingRow) { t.word(string(r.Stage)) }},
	{"inspector", func(t *table, r *findingRow) { t.text(r.Inspector) }},
	{"closed_at", func(t *table, r *findingRow) { t.word(r.Closed) }},
	{"closed_at_utc", func(t *table, r *findingRow) { t.word(sheetTime(r.Closed)) }},
	{"clock_set", func(t *table, r *findingRow) { t.word(yes(r.Record.Time.Synchronised)) }},
	{"inspection_verdict", func(t *table, r *findingRow) { t.word(string(r.Judgement.Verdict)) }},
	{"work", func(t *table, r *findingRow) { t.text(workText(r.answer.Work)) }},
	{"given_up", func(t *table, r *findingRow) { t.text(r.Discarded) }},
	{"feature", func(t *table, r *findingRow) { t.word(string(r.finding.Feature)) }},
	{"figure", func(t *table, r *findingRow) { t.text(words.Name(*r.finding, t.format.Unit)) }},
	{"from_end", func(t *table, r *findingRow) { t.lengthOr(r.finding.FromEnd) }},
	{"from_end_unit", func(t *table, r *findingRow) {
		if r.finding.FromEnd == nil {
			t.word("")
			return
		}
		t.word(t.format.Unit.UCUM())
	}},
	{"flute", func(t *table, r *findingRow) { t.count(r.finding.Flute) }},
	{"value", func(t *table, r *findingRow) { t.quantity(r.finding.Value) }},
	{"uncertainty_95", func(t *table, r *findingRow) { t.quantity(r.finding.Uncertainty) }},
	{"limit_least", func(t *table, r *findingRow) { t.quantity(r.finding.Least) }},
	{"limit_most", func(t *table, r *findingRow) { t.quantity(r.finding.Most) }},
	{"unit", func(t *table, r *findingRow) { t.unitOf(r.finding.Value, r.finding.Most, r.finding.Least) }},
	{"verdict", func(t *table, r *findingRow) { t.word(string(r.finding.Verdict)) }},
	{"decision_rule", func(t *table, r *findingRow) { t.word(string(r.finding.Rule)) }},
	{"probability_conforms", func(t *table, r *findingRow) { t.probability(r.finding.Probability) }},
	{"limit_source", func(t *table, r *findingRow) { t.text(r.finding.Source) }},
	{"judged_by", func(t *table, r *findingRow) { t.revision(r.Basis.Revision) }},
	{"standing", func(t *table, r *findingRow) { t.word(string(r.Stands.Standing)) }},
	{"practice", func(t *table, r *findingRow) { t.word(yes(r.Figures.Practice)) }},
	{"corrected", func(t *table, r *findingRow) { t.word(yes(r.brief.Corrected != nil)) }},
	{"corrected_by", func(t *table, r *findingRow) { t.correctedBy(r.brief.Corrected) }},
	{"ruling", func(t *table, r *findingRow) { t.word(string(ruled(r.brief.Ruling).Word)) }},
	{"ruled_by", func(t *table, r *findingRow) { t.text(ruled(r.brief.Ruling).By) }},
	{"ruled_at", func(t *table, r *findingRow) { t.word(ruled(r.brief.Ruling).At) }},
	{"ruled_why", func(t *table, r *findingRow) { t.text(ruled(r.brief.Ruling).Why) }},
	{"standard_uncertainty", func(t *table, r *findingRow) { t.quantity(r.finding.Standard) }},
	{"degrees_of_freedom", func(t *table, r *findingRow) {
		if r.finding.DF == nil {
			t.word("")
			return
		}
		t.number(strconv.Itoa(*r.finding.DF))
	}},
	{"gauge_error", func(t *table, r *findingRow) { t.quantity(r.finding.GaugeError) }},
	{"risk", func(t *table, r *findingRow) {
		if r.finding.Risk == 0 {
			t.word("")
			return
		}
		t.probability(&r.finding.Risk)
	}},
	{"reason", func(t *table, r *findingRow) {
		if r.finding.Why == nil {
			t.word("")
			return
		}
		t.word(string(r.finding.Why.What))
	}},
	{"advice", func(t *table, r *findingRow) { t.word(yes(r.finding.Advice)) }},
	{"true_in", func(t *table, r *findingRow) { t.word(string(r.Judgement.TrueIn)) }},
	{"in_words", func(t *table, r *findingRow) { t.text(r.reason) }},
	{"answer", func(t *table, r *findingRow) { t.text(r.answer.Headline) }},
	{"unread", func(t *table, r *findingRow) { t.text(items(r.Judgement.Unread)) }},
	{"not_read_here", func(t *table, r *findingRow) { t.text(items(r.Judgement.NotAsked)) }},
	{"reject_band", func(t *table, r *findingRow) { t.quantity(r.finding.RejectBand) }},
	{"inspected_at_bench", func(t *table, r *findingRow) { t.word(r.Record.Bench) }},
	{"wheel", func(t *table, r *findingRow) { t.text(r.Wheel) }},
	{"divisions", func(t *table, r *findingRow) { t.count(r.Divisions) }},
	{"end_divisions", func(t *table, r *findingRow) { t.count(r.EndsFed) }},
}

// items lists the names of required things.
func items(all []inspect.Item) string {
	text := ""
	for i, item := range all {
		if i > 0 {
			text += " "
		}
		text += string(item)
	}
	return text
}

// findings writes a row for each finding of an inspection.
func (t *table) findings(in *record.Inspection) {
	answer := words.Of(in.Inspection, in.Judgement, t.format.Unit)
	findings := in.Judgement.Findings
	if len(findings) == 0 {
		findings = []inspect.Finding{{}}
	}
	brief := in.Brief()
	for i := range findings {
		row := findingRow{Inspection: in, brief: brief, answer: &answer, finding: &findings[i]}
		if i < len(answer.Findings) {
			row.reason = answer.Findings[i].Reason
		}
		for _, c := range findingColumns {
			c.cell(t, &row)
		}
		t.row()
	}
}

func workText(work []words.Work) string {
	text := ""
	for i, w := range work {
		if i > 0 {
			text += "; "
		}
		text += w.String()
	}
	return text
}

// toolRow is one tool as it stands, with the newest of its inspections and the ruling that decides.
type toolRow struct {
	record.Tool
	last   record.Life
	name   string // of the last
	ruling *record.Ruled
}

func newToolRow(t record.Tool) *toolRow {
	r := &toolRow{Tool: t, ruling: t.Ruling()}
	if n := len(t.Inspections); n > 0 {
		r.last = t.Inspections[n-1]
		r.name = t.Named(r.last.Inspection, r.last.Bench)
		if r.name != r.last.Inspection && t.Standing != record.StandsWithdrawn { // the ruling on another of that id would read as one on this
			r.ruling = r.last.Ruling
		}
	}
	return r
}

// rulingOf names the inspection that the ruling is of, "" where it is of the tool itself or there is none.
func (r *toolRow) rulingOf() string {
	if r.ruling == nil {
		return ""
	}
	of := r.ruling.Inspection
	for _, e := range r.Inspections {
		if e.Inspection == of && e.Ruling != nil && e.Ruling.Ref == r.ruling.Ref {
			return r.Named(of, e.Bench)
		}
	}
	return of
}

// outOfUse is why the tool is out of use for good, "" where it is not.
func (r *toolRow) outOfUse() string {
	if r.Retired == "" && r.Standing == record.StandsWithdrawn && r.ruling != nil {
		return r.ruling.Why
	}
	return r.Retired
}

var toolColumns = []struct {
	name string
	cell func(*table, *toolRow)
}{
	{"tool", func(t *table, r *toolRow) { t.text(r.ID) }},
	{"diameter", func(t *table, r *toolRow) { t.length(r.Diameter) }},
	{"unit", func(t *table, r *toolRow) { t.word(t.format.Unit.UCUM()) }},
	{"flutes", func(t *table, r *toolRow) { t.count(r.Flutes) }},
	{"material", func(t *table, r *toolRow) { t.word(string(r.Material)) }},
	{"helix_deg", func(t *table, r *toolRow) { t.number(trimmed(r.Helix.Format(9))) }},
	{"hand", func(t *table, r *toolRow) { t.word(string(r.Hand)) }},
	{"ends", func(t *table, r *toolRow) { t.word(string(r.Ends)) }},
	{"teeth", func(t *table, r *toolRow) { t.word(string(r.Teeth)) }},
	{"duty", func(t *table, r *toolRow) { t.word(string(r.Duty)) }},
	{"out_of_use", func(t *table, r *toolRow) { t.text(r.outOfUse()) }},
	{"inspections", func(t *table, r *toolRow) { t.number(strconv.Itoa(len(r.Inspections))) }},
	{"regrinds_released", func(t *table, r *toolRow) { t.number(strconv.Itoa(r.last.Regrind)) }},
	{"last_inspection", func(t *table, r *toolRow) { t.text(r.name) }},
	{"last_stage", func(t *table, r *toolRow) { t.word(string(r.last.Stage)) }},
	{"last_verdict", func(t *table, r *toolRow) { t.word(string(r.last.Verdict)) }},
	{"last_closed_at", func(t *table, r *toolRow) { t.word(r.last.Closed) }},
	{"last_closed_at_utc", func(t *table, r *toolRow) { t.word(sheetTime(r.last.Closed)) }},
	{"last_tir", func(t *table, r *toolRow) { t.quantity(r.last.TIR) }},
	{"last_primary_share", func(t *table, r *toolRow) { t.quantity(r.last.Share) }},
	{"last_diameter", func(t *table, r *toolRow) { t.quantity(r.last.Diameter) }},
	{"note", func(t *table, r *toolRow) { t.text(r.Note) }},
	{"standing", func(t *table, r *toolRow) { t.word(string(r.Standing)) }},
	{"corrected", func(t *table, r *toolRow) { t.word(yes(r.last.Corrected)) }},
	{"ruling", func(t *table, r *toolRow) { t.word(string(ruled(r.ruling).Word)) }},
	{"ruled_by", func(t *table, r *toolRow) { t.text(ruled(r.ruling).By) }},
	{"ruled_at", func(t *table, r *toolRow) { t.word(ruled(r.ruling).At) }},
	{"ruled_why", func(t *table, r *toolRow) { t.text(ruled(r.ruling).Why) }},
	{"ruling_of", func(t *table, r *toolRow) { t.text(r.rulingOf()) }},
}

func (t *table) tool(r *toolRow) {
	for _, c := range toolColumns {
		c.cell(t, r)
	}
	t.row()
}
