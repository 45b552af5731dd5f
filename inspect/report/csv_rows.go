package report

import (
	"slices"
	"strconv"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/session"
	"flutelog/inspect/words"
)

// readingRow is one reading with the inspection it belongs to.
type readingRow struct {
	record *ledger.Record // of the readings
	*inspected
	reading *inspect.Reading
	gauge   inspect.Instrument
	synced  bool
}

type readingColumn struct {
	name string
	cell func(*table, *readingRow)
}

// inspectionColumns come before the readingColumns; they are the same in all rows of an inspection.
var inspectionColumns = []readingColumn{
	{"bench", func(t *table, r *readingRow) { t.word(r.record.Bench) }},
	{"sequence", func(t *table, r *readingRow) { t.number(strconv.FormatUint(r.record.Seq, 10)) }},
	{"record_sha256", func(t *table, r *readingRow) { t.word(r.record.Hash) }},
	{"inspection", func(t *table, r *readingRow) { t.text(r.id) }},
	{"tool", func(t *table, r *readingRow) { t.text(r.tool) }},
	{"job", func(t *table, r *readingRow) { t.text(r.job) }},
	{"stage", func(t *table, r *readingRow) { t.word(string(r.stage)) }},
	{"inspector", func(t *table, r *readingRow) { t.text(r.inspector) }},
}

var readingColumns = []readingColumn{
	{"feature", func(t *table, r *readingRow) { t.word(string(r.reading.Feature)) }},
	{"flute", func(t *table, r *readingRow) { t.count(r.reading.Flute) }},
	{"from_end", func(t *table, r *readingRow) { t.lengthOr(r.reading.FromEnd) }},
	{"repeat", func(t *table, r *readingRow) { t.count(r.reading.Repeat) }},
	{"closing", func(t *table, r *readingRow) { t.word(yes(r.reading.Closing)) }},
	{"value", func(t *table, r *readingRow) { t.length(r.reading.Value) }},
	{"unit", func(t *table, r *readingRow) { t.word(t.format.Unit.UCUM()) }},
	{"as_read", func(t *table, r *readingRow) { t.number(r.reading.Text) }},
	{"as_read_unit", func(t *table, r *readingRow) { t.word(r.reading.Unit.UCUM()) }},
	{"read_at", func(t *table, r *readingRow) { t.word(r.reading.At) }},
	{"read_at_utc", func(t *table, r *readingRow) { t.word(sheetTime(r.reading.At)) }},
	{"clock_set", func(t *table, r *readingRow) { t.word(yes(r.synced)) }},
	{"gauge", func(t *table, r *readingRow) { t.text(r.reading.Gauge) }},
	{"gauge_serial", func(t *table, r *readingRow) { t.text(r.gauge.Serial) }},
	{"gauge_calibration_due", func(t *table, r *readingRow) { t.word(r.gauge.CalibrationDue) }},
	{"inspection_verdict", func(t *table, r *readingRow) { t.word(string(r.verdict)) }},
	{"judged_by", func(t *table, r *readingRow) { t.revision(r.revision) }},
}

// readingRows writes a row for each reading that stands. The readings and the summary of an inspection are
// appended together, so a readings record waits for the summary that follows it.
type readingRows struct {
	table    *table
	filter   Filter
	readings ledger.Record
	said     []said                    // the events of those readings
	later    map[session.Question]bool // what is said to later than the event looked at
}

func (w *readingRows) take(r ledger.Record) error {
	switch r.Kind {
	case session.KindReadings:
		w.readings = r
	case session.KindSummary:
		if w.readings.Bench != r.Bench || w.readings.Seq+1 != r.Seq {
			return nil
		}
		in, err := parseInspected(string(r.Body))
		if err != nil {
			return recordError(r, err)
		}
		if !w.filter.takes(r.Bench, in.tool, in.job, in.stage, in.verdict, in.closed) {
			return nil
		}
		return w.write(&in)
	}
	return nil
}

func (w *readingRows) write(in *inspected) error {
	var err error
	if w.said, err = appendSaid(w.said[:0], string(w.readings.Body)); err != nil {
		return recordError(w.readings, err)
	}
	w.dropTakenBack()
	row := readingRow{record: &w.readings, inspected: in, synced: w.readings.Time.Synchronised}
	w.table.begin()
	for _, c := range inspectionColumns {
		c.cell(w.table, &row)
	}
	w.table.keep()
	for i := range w.said {
		if !w.said[i].stands {
			continue
		}
		row.reading = &w.said[i].reading
		row.gauge = in.gauges[row.reading.Gauge]
		for _, c := range readingColumns {
			c.cell(w.table, &row)
		}
		if err := w.table.row(); err != nil {
			return err
		}
	}
	return nil
}

// dropTakenBack goes through the events from the last to the first: a reading stands unless something is said to its
// question later.
func (w *readingRows) dropTakenBack() {
	clear(w.later)
	for i := len(w.said) - 1; i >= 0; i-- {
		said := &w.said[i]
		said.stands = said.stands && !w.later[said.to]
		w.later[said.to] = true
	}
}

// findingRow is one finding with the inspection it belongs to; a nil finding is an inspection without any.
type findingRow struct {
	record  *ledger.Record
	summary *session.Summary
	answer  *words.Answer
	finding *inspect.Finding
}

var findingColumns = []struct {
	name string
	cell func(*table, *findingRow)
}{
	{"bench", func(t *table, r *findingRow) { t.word(r.record.Bench) }},
	{"sequence", func(t *table, r *findingRow) { t.number(strconv.FormatUint(r.record.Seq, 10)) }},
	{"record_sha256", func(t *table, r *findingRow) { t.word(r.record.Hash) }},
	{"inspection", func(t *table, r *findingRow) { t.text(r.summary.Inspection.ID) }},
	{"tool", func(t *table, r *findingRow) { t.text(r.summary.Inspection.Tool.ID) }},
	{"job", func(t *table, r *findingRow) { t.text(r.summary.Inspection.Job) }},
	{"stage", func(t *table, r *findingRow) { t.word(string(r.summary.Inspection.Stage)) }},
	{"inspector", func(t *table, r *findingRow) { t.text(r.summary.Inspection.Inspector) }},
	{"closed_at", func(t *table, r *findingRow) { t.word(r.summary.Closed) }},
	{"closed_at_utc", func(t *table, r *findingRow) { t.word(sheetTime(r.summary.Closed)) }},
	{"clock_set", func(t *table, r *findingRow) { t.word(yes(r.record.Time.Synchronised)) }},
	{"inspection_verdict", func(t *table, r *findingRow) { t.word(string(r.summary.Judgement.Verdict)) }},
	{"work", func(t *table, r *findingRow) { t.text(workText(r.answer.Work)) }},
	{"given_up", func(t *table, r *findingRow) { t.text(r.summary.Discarded) }},
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
	{"judged_by", func(t *table, r *findingRow) { t.revision(r.summary.Inspection.Basis.Revision) }},
}

// findings writes a row for each finding of a summary.
func (t *table) findings(r ledger.Record, f Filter) error {
	if r.Kind != session.KindSummary {
		return nil
	}
	var s session.Summary
	if err := unmarshal(r, &s); err != nil || !f.takesSummary(r.Bench, s) {
		return err
	}
	answer := words.Of(s.Inspection, s.Judgement, t.format.Unit)
	findings := s.Judgement.Findings
	if len(findings) == 0 {
		findings = []inspect.Finding{{}}
	}
	for i := range findings {
		row := findingRow{&r, &s, &answer, &findings[i]}
		for _, c := range findingColumns {
			c.cell(t, &row)
		}
		if err := t.row(); err != nil {
			return err
		}
	}
	return nil
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

// toolRow is one tool as it stands, and what its inspections came to.
type toolRow struct {
	tool        inspect.Tool
	inspections int
	regrinds    int // released after a grind
	last        session.Summary
	lastTIR     *inspect.Quantity
	lastShare   *inspect.Quantity
	lastSize    *inspect.Quantity
}

var toolColumns = []struct {
	name string
	cell func(*table, *toolRow)
}{
	{"tool", func(t *table, r *toolRow) { t.text(r.tool.ID) }},
	{"diameter", func(t *table, r *toolRow) { t.length(r.tool.Diameter) }},
	{"unit", func(t *table, r *toolRow) { t.word(t.format.Unit.UCUM()) }},
	{"flutes", func(t *table, r *toolRow) { t.count(r.tool.Flutes) }},
	{"material", func(t *table, r *toolRow) { t.word(string(r.tool.Material)) }},
	{"helix_deg", func(t *table, r *toolRow) { t.number(trimmed(r.tool.Helix.Format(9))) }},
	{"hand", func(t *table, r *toolRow) { t.word(string(r.tool.Hand)) }},
	{"ends", func(t *table, r *toolRow) { t.word(string(r.tool.Ends)) }},
	{"teeth", func(t *table, r *toolRow) { t.word(string(r.tool.Teeth)) }},
	{"duty", func(t *table, r *toolRow) { t.word(string(r.tool.Duty)) }},
	{"out_of_use", func(t *table, r *toolRow) { t.text(r.tool.Retired) }},
	{"inspections", func(t *table, r *toolRow) { t.number(strconv.Itoa(r.inspections)) }},
	{"regrinds_released", func(t *table, r *toolRow) { t.number(strconv.Itoa(r.regrinds)) }},
	{"last_inspection", func(t *table, r *toolRow) { t.text(r.last.Inspection.ID) }},
	{"last_stage", func(t *table, r *toolRow) { t.word(string(r.last.Inspection.Stage)) }},
	{"last_verdict", func(t *table, r *toolRow) { t.word(string(r.last.Judgement.Verdict)) }},
	{"last_closed_at", func(t *table, r *toolRow) { t.word(r.last.Closed) }},
	{"last_closed_at_utc", func(t *table, r *toolRow) { t.word(sheetTime(r.last.Closed)) }},
	{"last_tir", func(t *table, r *toolRow) { t.quantity(r.lastTIR) }},
	{"last_primary_share", func(t *table, r *toolRow) { t.quantity(r.lastShare) }},
	{"last_diameter", func(t *table, r *toolRow) { t.quantity(r.lastSize) }},
	{"note", func(t *table, r *toolRow) { t.text(r.tool.Note) }},
}

// toolRows gathers what stands of each tool; it needs memory by the tools, not by the inspections.
type toolRows struct {
	table  *table
	filter Filter
	rows   map[string]*toolRow
	order  []string
}

func (w *toolRows) row(id string) *toolRow {
	if w.rows[id] == nil {
		w.rows[id] = &toolRow{}
		w.order = append(w.order, id)
	}
	return w.rows[id]
}

func (w *toolRows) take(r ledger.Record) error {
	switch r.Kind {
	case session.KindTool:
		var t inspect.Tool
		if err := unmarshal(r, &t); err != nil {
			return err
		}
		w.row(t.ID).tool = t
	case session.KindSummary:
		var s session.Summary
		if err := unmarshal(r, &s); err != nil || s.Discarded != "" || !w.filter.takesSummary(r.Bench, s) {
			return err
		}
		w.row(s.Inspection.Tool.ID).add(s)
	}
	return nil
}

func (r *toolRow) add(s session.Summary) {
	r.inspections++
	if s.Judgement.Releases() {
		r.regrinds++
	}
	r.last = s
	for _, f := range s.Judgement.Findings {
		switch f.Feature {
		case inspect.RadialRunout:
			r.lastTIR = f.Value
		case inspect.PrimaryLand:
			r.lastShare = f.Value
		case inspect.Diameter:
			r.lastSize = f.Value
		}
	}
}

func (w *toolRows) write() error {
	slices.Sort(w.order)
	for _, id := range w.order {
		r := w.rows[id]
		if w.filter.Tool != "" && id != w.filter.Tool || r.tool.ID == "" {
			continue
		}
		for _, c := range toolColumns {
			c.cell(w.table, r)
		}
		if err := w.table.row(); err != nil {
			return err
		}
	}
	return nil
}
