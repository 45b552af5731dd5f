package export

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// formatRevision changes when the same record would give other results.
const formatRevision = "1"

// QIF writes an inspection as a results document of the Quality Information Framework, ISO 23952:2020 (version 3.0):
// definitions, nominals, items and measurements of every figure, every sight and every raw reading, with the gauges,
// the limits, and what the proof of them in the ledger is. Lengths are in millimetres and exact, angles in degrees.
//
// A figure's Value carries the combined standard uncertainty where the readings tell one; the expanded uncertainty, the
// degrees of freedom, the decision rule and the probability of conformance stand in the measurement's attributes.
// Times are left out where the clock was not set. The status of the inspection is PASS only after the grind, for
// what is accepted and is not locked or recalled since; that of the component is PASS only for a tool that is released.
func QIF(in Inspection) ([]byte, error) {
	w := &qif{in: in, devices: map[string]string{}}
	w.standard, w.software = w.next(), w.next()
	devices := w.gauges()
	w.part, w.component = w.next(), w.next()
	results := w.next()
	for _, f := range in.Figures {
		w.figure(f)
	}
	for _, s := range in.Seen {
		w.sight(s)
	}
	w.readings()

	newest := strings.Join(in.Records, "/")
	root := node("QIFDocument",
		text("QPId", id("qif-document", formatRevision, newest)),
		node("Header", node("Application", text("Name", "flutelog")), text("Description", w.description())),
		list("StandardsDefinitions", node("Standard",
			node("Organization", text("OtherStandardsOrganization", "none: limits of the bench")),
			text("Designator", token(judgedBy(in.JudgedBy)))).attr("id", w.standard)),
		list("SoftwareDefinitions", node("Software", text("VendorName", "flutelog"), text("ApplicationName", "flutelog")).attr("id", w.software)),
		node("FileUnits",
			node("PrimaryUnits", unit("AngularUnit", "radian", "deg", "0.017453292519943295"), unit("LinearUnit", "meter", "mm", "0.001")),
			w.shareUnit()),
		nodeIf("MeasurementResources", list("MeasurementDevices", devices...)),
		node("Product", list("PartSet", node("Part", text("UUID", id("tool", in.ToolBench, in.Tool.ID))).attr("label", fmt.Sprintf("end mill %s mm, %d flutes, %s", exact(in.Tool.Diameter), in.Tool.Flutes, in.Tool.Material)).attr("id", w.part))),
		node("Characteristics", text("FormalStandardId", w.standard),
			list("CharacteristicDefinitions", w.definitions...), list("CharacteristicNominals", w.nominals...), list("CharacteristicItems", w.items...)),
		node("Results",
			list("MeasurementResultsSet", node("MeasurementResults",
				w.proof(),
				w.traceability(),
				text("ThisResultsInstanceQPId", id("qif-results", formatRevision, newest)),
				nodeIf("MeasuredCharacteristics", list("CharacteristicMeasurements", w.measurements...)),
				status("InspectionStatus", w.inspectionStatus()),
				w.ids("ActualComponentIds", w.component),
			).attr("id", results)),
			list("ActualComponentSets", list("ActualComponentSet", node("ActualComponent",
				text("SerialNumber", in.Tool.ID),
				status("Status", w.componentStatus()),
				nodeIf("Traceability", textIf("LotNumber", in.Job)),
			).attr("id", w.component)))),
	).attr("xmlns", "http://qifstandards.org/xsd/qif3").attr("versionQIF", "3.0.0").attr("idMax", strconv.Itoa(w.last))
	return document(root)
}

// qif gathers a document. Ids are numbers from 1, given out as they are needed.
type qif struct {
	in                                  Inspection
	last                                int
	standard, software, part, component string
	devices                             map[string]string // ids by the gauge's name
	definitions, nominals, items        []*element
	measurements                        []*element
	shares                              bool           // whether anything is in the unit 1
	designators                         map[string]int // how often each was used
}

func (w *qif) next() string {
	w.last++
	return strconv.Itoa(w.last)
}

// description is what the inspection came to, behind how the tool stands where that is not as the inspection left it.
func (w *qif) description() string {
	in := w.in
	d := token(in.Answer)
	if in.TrueIn == inspect.InFixture && !strings.Contains(d, "FIXTURE ONLY") {
		d = "TRUE IN THE FIXTURE ONLY: " + d
	}
	switch status := w.componentStatus(); {
	case in.GivenUp:
		return "GIVEN UP: " + d
	case status != "PASS":
		return strings.ToUpper(status) + "; the inspection came to: " + d
	}
	return d
}

func unit(kind, si, name, factor string) *element {
	return node(kind, text("SIUnitName", si), text("UnitName", name), node("UnitConversion", text("Factor", factor)))
}

func (w *qif) shareUnit() *element {
	if !w.shares {
		return nil
	}
	return list("UserDefinedUnits", node("UserDefinedUnit", text("WhatIsMeasured", "share of the whole"), text("UnitName", "1")))
}

// gauges describes what was read with.
func (w *qif) gauges() []*element {
	var all []*element
	for _, name := range w.in.gaugeNames() {
		w.devices[name] = w.next()
		g, known := w.in.Gauges[name]
		e := node("GageDevice", text("Name", token(name)), textIf("SerialNumber", g.Serial))
		if known {
			e.add(attributes(decimal("resolution_mm", exact(g.Resolution)), decimal("permissibleError_mm", exact(g.PermissibleError))))
		}
		if g.CalibrationDue != "" { // it holds through that day
			e.add(list("Calibrations", node("Calibration", text("ExpirationDate", g.CalibrationDue+"T23:59:59Z"))))
		}
		all = append(all, e.attr("id", w.devices[name]))
	}
	return all
}

// Attributes of the standard, by their type. One without a value is nil.

func attributes(of ...*element) *element { return list("Attributes", of...) }

func named(kind, name, value string) *element {
	if value == "" {
		return nil
	}
	return node(kind).attr("name", name).attr("value", value)
}

func phrase(name, value string) *element  { return named("AttributeStr", name, value) }
func decimal(name, value string) *element { return named("AttributeD1", name, value) }
func moment(name, value string) *element  { return named("AttributeTime", name, value) }

func count(name string, n int) *element {
	if n == 0 {
		return nil
	}
	return named("AttributeI1", name, strconv.Itoa(n))
}

func truth(name string, b bool) *element { return named("AttributeBool", name, strconv.FormatBool(b)) }

func quantity(name string, q *inspect.Quantity) *element {
	if q == nil {
		return nil
	}
	return decimal(name, number(*q))
}

// closed returns when the inspection was closed, "" where the clock was not set.
func (w *qif) closed() string {
	if !w.in.ClockSet {
		return ""
	}
	return w.in.Closed
}

func (w *qif) proof() *element {
	in := w.in
	all := []*element{
		phrase("ledgerHead", in.Head), phrase("summaryHead", in.SummaryHead), phrase("readingsHead", in.ReadingsHead),
		phrase("stage", string(in.Stage)), phrase("holding", string(in.Holding)), truth("reseated", in.Reseated),
		truth("clockSet", in.ClockSet), truth("corrected", in.Corrected), phrase("judgedBy", judgedBy(in.JudgedBy)),
		phrase("verdict", string(in.Verdict)), phrase("standing", string(in.Standing)), phrase("trueIn", string(in.TrueIn)),
		phrase("wheel", in.Wheel), count("divisions", in.Divisions), count("endDivisions", in.EndsFed),
	}
	if r := in.Ruling; r != nil {
		all = append(all, phrase("ruling", r.Word), phrase("ruledBy", r.By), phrase("ruledWhy", r.Why))
		if r.ClockSet {
			all = append(all, moment("ruledAt", r.At))
		}
	}
	return attributes(all...)
}

func (w *qif) traceability() *element {
	t := node("InspectionTraceability", text("ReportNumber", w.in.ID))
	if w.in.ClockSet {
		t.add(textIf("InspectionStart", w.in.Opened), textIf("InspectionEnd", w.in.Closed))
	}
	t.add(node("InspectionSoftwareItems", w.ids("AnalysisSoftware", w.software)))
	if w.in.Inspector != "" {
		t.add(node("InspectionOperator", text("Name", token(w.in.Inspector))))
	}
	return t
}

func (w *qif) ids(name string, of ...string) *element {
	var all []*element
	for _, id := range of {
		if id != "" {
			all = append(all, text("Id", id))
		}
	}
	return list(name, all...)
}

// status writes a status: one of the standard's words, which are in capitals, or one of ours.
func status(name, word string) *element {
	if word == strings.ToUpper(word) {
		return node(name, text("InspectionStatusEnum", word))
	}
	return node(name, text("OtherInspectionStatus", word))
}

func (w *qif) inspectionStatus() string {
	in := w.in
	switch {
	case in.GivenUp:
		return "NOT_CALCULATED"
	case in.ruled("withdraw"):
		return "FAIL"
	case in.Calls == CallsGrind:
		return "REWORK"
	case in.Calls == CallsPerson, in.Verdict == inspect.Reject:
		return "FAIL"
	case in.Verdict == inspect.NotJudged:
		return "NOT_CALCULATED"
	case in.Verdict == inspect.Undecided, in.Calls == CallsForReading, in.Standing == record.StandsLocked, in.Standing == record.StandsRecalled:
		return "UNKNOWN"
	case in.Stage == inspect.Before:
		return "not reground"
	case in.Stage == inspect.Between:
		return "between the grinds: go on"
	}
	return "PASS"
}

// componentStatus is how the tool itself stands.
func (w *qif) componentStatus() string {
	switch in := w.in; in.Standing {
	case record.StandsReleased:
		if in.NotReground {
			return "released, not reground"
		}
		if !in.ruled("release") {
			return "released by another inspection"
		}
		return "PASS"
	case record.StandsConceded:
		return "released by concession"
	default:
		return string(in.Standing)
	}
}

// characteristic is what the four parts of one characteristic are made of.
type characteristic struct {
	kind       string // the standard's, before Characteristic…
	name, uuid string
	device     string // id
	definition []*element
	nominal    []*element
	item       *element // attributes of the item
	measured   []measured
}

type measured struct {
	attributes *element
	status, at string
	device     string
	value      *element
}

func (w *qif) add(c characteristic) {
	definition, nominal, item := w.next(), w.next(), w.next()
	w.definitions = append(w.definitions, node(c.kind+"CharacteristicDefinition", text("Name", c.name)).add(c.definition...).attr("id", definition))
	w.nominals = append(w.nominals, node(c.kind+"CharacteristicNominal", text("CharacteristicDefinitionId", definition)).add(c.nominal...).attr("id", nominal))
	w.items = append(w.items, node(c.kind+"CharacteristicItem", c.item, text("Name", c.name),
		node("CharacteristicDesignator", text("Designator", c.name), text("UUID", c.uuid)),
		w.ids("MeasurementDeviceIds", c.device), text("CharacteristicNominalId", nominal)).attr("id", item))
	for _, m := range c.measured {
		w.measurements = append(w.measurements, node(c.kind+"CharacteristicMeasurement", m.attributes,
			node("Status", text("CharacteristicStatusEnum", m.status)), text("CharacteristicItemId", item), textIf("TimeStamp", m.at),
			text("ActualComponentId", w.component), w.ids("MeasurementDeviceIds", m.device), m.value).attr("id", w.next()))
	}
}

// uuid names a characteristic of the tool: the same in every inspection, so that its values can be strung together.
func (w *qif) uuid(of, feature, place string) string {
	key := of + "/" + feature + "/" + place
	if w.designators == nil {
		w.designators = map[string]int{}
	}
	w.designators[key]++
	if n := w.designators[key]; n > 1 { // such as a run-out read again after the tool was seated anew
		place += "/" + strconv.Itoa(n)
	}
	return id(of, w.in.ToolBench, w.in.Tool.ID, feature, place)
}

var characteristicStatus = map[inspect.Verdict]string{
	inspect.Accept: "PASS", inspect.Reject: "FAIL", inspect.Undecided: "INDETERMINATE", inspect.NotJudged: "NOT_ANALYZED",
}

func (w *qif) figure(f Figure) {
	c := characteristic{name: token(f.Name), device: w.devices[f.Gauge]}
	place := ""
	if f.FromEnd != nil {
		place = exact(*f.FromEnd)
		c.name += " at " + place + " mm"
	}
	c.uuid = w.uuid("characteristic", string(f.Feature), place)
	m := measured{status: "NOT_ANALYZED", at: w.closed(), device: c.device}
	source := ""
	if f.limited() {
		source = f.Source
		if s := characteristicStatus[f.Verdict]; s != "" && !w.in.GivenUp {
			m.status = s
		}
	}
	all := []*element{quantity("expandedUncertainty95", f.Uncertainty)}
	if f.Standard != nil {
		df := "INF"
		if f.DF != nil {
			df = strconv.Itoa(*f.DF)
		}
		all = append(all, decimal("degreesOfFreedom", df), quantity("gaugeError", f.GaugeError), quantity("rejectBand", f.RejectBand), quantity("acceptBand", f.AcceptBand))
		if f.Risk != 0 {
			all = append(all, decimal("riskOfThisLook", strconv.FormatFloat(f.Risk, 'f', -1, 64)))
		}
	}
	all = append(all, phrase("decisionRule", f.Rule), f.probability(), phrase("reason", f.Why), count("decidingFlute", f.Flute), decimal("fromEnd_mm", place), phrase("limitSource", source))
	if f.Carried {
		all = append(all, truth("carriedFromBetween", true))
	}
	if f.Advice {
		all = append(all, quantity("adviceLeast", f.Least), quantity("adviceMost", f.Most), phrase("adviceSource", f.Source))
	}
	m.attributes = attributes(all...)
	limits := f.limits()
	what := text("WhatToMeasure", c.name)
	switch {
	case f.Value != nil && f.Value.UCUM(length.Mm) == "1" && f.limited():
		w.shares = true
		c.kind = "UserDefinedUnit"
		target := f.Target
		for _, q := range []*inspect.Quantity{f.Most, f.Least} { // the standard wants one
			if target == nil {
				target = q
			}
		}
		c.nominal = []*element{share("TargetValue", target), share("MaxValue", f.Most), share("MinValue", f.Least), text("DefinedAsLimit", "true")}
		m.value = share("Value", f.Value)
	case f.Value != nil && f.Value.UCUM(length.Mm) == "1":
		c.kind, c.definition = "UserDefinedAttribute", []*element{what} // nothing limits it, and its unit asks for limits
		m.value = text("Value", number(*f.Value))
	case f.angular():
		c.kind = "UserDefinedAngular"
		if f.Over != nil {
			what.Text += " of the flute that decides, from the drop over " + exact(*f.Over) + " mm"
		}
		c.definition = []*element{limits, what}
	case f.runout() && f.limited() && f.Least == nil:
		c.kind = "CircularRunout"
		c.definition = []*element{text("ToleranceValue", number(*f.Most))}
	case f.Feature == inspect.Diameter:
		c.kind, c.definition = "Diameter", []*element{limits}
	case f.Feature == inspect.Length:
		c.kind, c.definition = "Length", []*element{limits}
	default:
		c.kind, c.definition = "UserDefinedLinear", []*element{limits, what}
	}
	if f.runout() {
		c.item = attributes(phrase("holding", string(w.in.Holding)))
	}
	if c.nominal == nil && f.Target != nil && c.kind != "UserDefinedAttribute" && c.kind != "CircularRunout" {
		c.nominal = []*element{text("TargetValue", number(*f.Target))}
	}
	if m.value == nil && f.Value != nil {
		m.value = text("Value", number(*f.Value))
	}
	if m.value != nil && f.Standard != nil && c.kind != "UserDefinedAttribute" {
		m.value.attr("combinedUncertainty", number(*f.Standard))
	}
	c.measured = []measured{m}
	w.add(c)
}

func (f Figure) probability() *element {
	if f.Probability == nil {
		return nil
	}
	return decimal("probabilityConforms", inspect.FormatProbability(*f.Probability))
}

func (f Figure) runout() bool {
	return f.Feature == inspect.RadialRunout || f.Feature == inspect.AxialRunout || f.Feature == inspect.ShankRunout || f.Feature == inspect.RunoutToShank
}

// angular says whether the figure is an angle; without a value its limits say so.
func (f Figure) angular() bool {
	for _, q := range []*inspect.Quantity{f.Value, f.Least, f.Most} {
		if q != nil {
			return q.UCUM(length.Mm) == "deg"
		}
	}
	return false
}

func (f Figure) limits() *element {
	if !f.limited() {
		return text("NonTolerance", "MEASURED")
	}
	t := node("Tolerance")
	if f.Most != nil {
		t.add(text("MaxValue", number(*f.Most)))
	}
	if f.Least != nil {
		t.add(text("MinValue", number(*f.Least)))
	}
	return t.add(text("DefinedAsLimit", "true"))
}

func share(name string, q *inspect.Quantity) *element {
	if q == nil {
		return nil
	}
	return text(name, number(*q)).attr("unitName", "1")
}

func (w *qif) sight(s inspect.Seen) {
	name := strings.ReplaceAll(string(s.Sight), "-", " ")
	var chip, unsure *element
	if s.Length != nil {
		chip = decimal("length_mm", exact(*s.Length))
	}
	if s.Unsure {
		unsure = truth("unsure", true)
	}
	m := measured{status: "PASS", at: w.closed(), value: text("Value", "no")}
	m.attributes = attributes(phrase("note", s.Note), count("flute", s.Flute), chip, unsure)
	switch {
	case w.in.GivenUp:
		m.status = "NOT_ANALYZED"
	case s.Unsure:
		m.status, m.value = "INDETERMINATE", text("Value", "yes")
	case s.Yes:
		m.status, m.value = "FAIL", text("Value", "yes")
	}
	w.add(characteristic{
		kind: "UserDefinedAttribute", name: name, uuid: w.uuid("characteristic", string(s.Sight), ""), measured: []measured{m},
		definition: []*element{text("WhatToMeasure", name+", by eye")},
		nominal:    []*element{list("PassValues", text("StringValue", "no")), list("FailValues", text("StringValue", "yes"))},
	})
}

// place is where readings are repeats of each other.
type place struct {
	feature inspect.Feature
	flute   int
	fromEnd length.Length
	stated  bool
	onShank bool
}

// readings adds every raw reading, one measurement a repeat of the item that is read at one place.
func (w *qif) readings() {
	at := map[place][]inspect.Reading{}
	order := map[place]int{}
	for _, r := range w.in.Readings {
		k := r.Key()
		p := place{k.Feature, k.Flute, k.FromEnd, k.Stated, k.OnShank}
		if _, known := order[p]; !known {
			order[p] = len(order)
		}
		at[p] = append(at[p], r)
	}
	for _, p := range slices.SortedFunc(maps.Keys(at), func(a, b place) int { return order[a] - order[b] }) {
		name, of := string(p.feature), []string{string(p.feature), strconv.Itoa(p.flute)}
		if p.flute > 0 {
			name += " flute " + of[1]
		}
		where := ""
		if p.stated {
			where = exact(p.fromEnd)
			name += " at " + where + " mm"
		}
		if p.onShank {
			name += ", seated on the shank"
			where += " on the shank"
		}
		c := characteristic{kind: "UserDefinedLinear", name: name + " reading", uuid: w.uuid("reading", of[0]+"/"+of[1], where)}
		what := string(p.feature) + " as it was read"
		if p.feature.Heights() {
			what += ", a height over an arbitrary zero"
		}
		c.definition = []*element{text("NonTolerance", "MEASURED"), text("WhatToMeasure", what)}
		for _, r := range at[p] {
			m := measured{status: "NOT_ANALYZED", device: w.devices[r.Gauge], value: text("Value", exact(r.Value))}
			if w.in.ClockSet {
				m.at = r.At
			}
			var closing, over *element
			if r.Closing {
				closing = truth("closing", true)
			}
			if r.Over != nil {
				over = decimal("over_mm", exact(*r.Over))
			}
			m.attributes = attributes(count("repeat", r.Repeat), closing, over, phrase("asRead", r.Text), phrase("asReadUnit", r.Unit.UCUM()))
			c.device = m.device
			c.measured = append(c.measured, m)
		}
		w.add(c)
	}
}
