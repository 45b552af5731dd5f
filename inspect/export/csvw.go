package export

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"

	"flutelog/inspect"
)

// CSV is one CSV file that is described.
type CSV struct {
	URL     string // its name, relative to the metadata
	Kind    string // readings, inspections or tools
	Columns []string
}

// datatype is a datatype of W3C's Metadata Vocabulary for Tabular Data, 5.11.
type datatype struct {
	Base      string `json:"base"`
	Format    any    `json:"format,omitempty"`
	Minimum   *int   `json:"minimum,omitempty"`
	Maximum   *int   `json:"maximum,omitempty"`
	MinLength int    `json:"minLength,omitempty"`
}

// column is what a column of a name holds, in whichever file it stands.
type column struct {
	datatype
	always      bool   // in every row
	description string // in English
	property    string // of the row's subject
	unit        string // UCUM, where it is always the same
}

func oneOf(all ...string) datatype {
	for i, w := range all {
		all[i] = strings.NewReplacer("[", `\[`, "]", `\]`, "*", `\*`, ".", `\.`).Replace(w)
	}
	return datatype{Base: "string", Format: strings.Join(all, "|")}
}

func digits(hex int) datatype {
	return datatype{Base: "string", Format: fmt.Sprintf("[0-9a-f]{%d}", hex)}
}

func atLeast(base string, n int) datatype { return datatype{Base: base, Minimum: &n} }

func between(base string, n, m int) datatype { return datatype{Base: base, Minimum: &n, Maximum: &m} }

var (
	anything = datatype{Base: "string"}
	nonempty = datatype{Base: "string", MinLength: 1}
	yesNo    = datatype{Base: "boolean", Format: "yes|no"}
	stamp    = datatype{Base: "dateTimeStamp"}
	clock    = datatype{Base: "dateTime", Format: "yyyy-MM-dd HH:mm:ss"}
	signed   = datatype{Base: "decimal"}
	lengths  = oneOf("[in_i]", "mm")
	stages   = oneOf("before", "between", "after")
	verdicts = oneOf("accept", "reject", "undecided", "not judged", "worth grinding", "not worth grinding", "no grind needed")
)

// columns says what each column holds: one name means one thing in every file. It is the one place to add a column to.
var columns = sync.OnceValue(func() map[string]column {
	return map[string]column{
		"bench":                 {digits(16), true, "id of the bench whose chain holds the record", "", ""},
		"sequence":              {atLeast("integer", 1), true, "place of the record in that chain", "", ""},
		"record_sha256":         {digits(64), true, "hash of the record, which ledger verify --head proves", "", ""},
		"readings_sequence":     {atLeast("integer", 1), true, "place of the record of the readings", "", ""},
		"on_shank":              {yesNo, false, "read after the tool was seated on its shank", "", ""},
		"checking_distance":     {atLeast("decimal", 0), false, "over which a drop was read, in the unit of column unit; empty is the one in force", "", ""},
		"advice":                {yesNo, false, "the limits are advice: they decide nothing", "", ""},
		"reason":                {anything, false, "why the verdict is not what the rule alone says", "", ""},
		"inspection":            {nonempty, true, "a word, though it may look like a number", "", ""},
		"tool":                  {nonempty, true, "a word, though it may look like a number", "", ""},
		"job":                   {anything, false, "", "", ""},
		"stage":                 {stages, true, "", "", ""},
		"inspector":             {anything, false, "", "", ""},
		"standing":              {oneOf("received", "to grind", "to finish", "to inspect", "to sign", "released", "conceded", "locked", "recalled", "withdrawn", "retired"), false, "what may be done with the tool, now", "", ""},
		"corrected":             {yesNo, false, "", "", ""},
		"corrected_by":          {anything, false, "", "", ""},
		"corrected_at":          {stamp, false, "", "", ""},
		"corrected_why":         {anything, false, "", "", ""},
		"ruling":                {oneOf("release", "concession", "withdraw"), false, "the newest on the inspection; of a tool the newest on any of its inspections, named in ruling_of", "", ""},
		"ruled_by":              {anything, false, "", "", ""},
		"ruled_at":              {stamp, false, "", "", ""},
		"ruled_why":             {anything, false, "of a concession its condition", "", ""},
		"ruling_of":             {anything, false, "the inspection that ruling is on; empty beside one is the tool itself", "", ""},
		"inspected_at_bench":    {digits(16), true, "id of the bench at which it was inspected, whichever ruled on it or put it right since", "", ""},
		"practice":              {yesNo, false, "read with a practice gauge: it stands for nothing", "", ""},
		"feature":               {anything, false, "", "", ""},
		"figure":                {anything, false, "the figure's name in the trade", "", ""},
		"flute":                 {atLeast("integer", 1), false, "flutes are numbered in the order in which they cut; of a figure, the one that decides", "", ""},
		"from_end":              {atLeast("decimal", 0), false, "distance from the end of the tool", "", ""},
		"from_end_unit":         {lengths, false, "UCUM", "", ""},
		"repeat":                {atLeast("integer", 1), false, "empty for the closing re-read", "", ""},
		"closing":               {yesNo, true, "flute 1 read again at the end of its set", "", ""},
		"value":                 {signed, false, "in the unit of column unit; of run-outs and the master a height over an arbitrary zero", "schema:value", ""},
		"unit":                  {oneOf("[in_i]", "mm", "deg", "1"), false, "UCUM; of value and limits, and in tools.csv of every length", "schema:unitText", ""},
		"as_read":               {nonempty, true, "digits of the gauge, or as typed", "", ""},
		"as_read_unit":          {oneOf("mm", "um", "[in_i]", "[mil_i]", "10*-4.[in_i]"), true, "UCUM", "", ""},
		"read_at":               {stamp, false, "not to be trusted where clock_set is no", "", ""},
		"read_at_utc":           {clock, false, "", "", ""},
		"clock_set":             {yesNo, true, "", "", ""},
		"gauge":                 {anything, false, "", "", ""},
		"gauge_serial":          {anything, false, "a word, though it may look like a number", "", ""},
		"gauge_calibration_due": {datatype{Base: "date"}, false, "good through that day", "", ""},
		"inspection_verdict":    {verdicts, false, "of the whole inspection, as it stands", "", ""},
		"judged_by":             {anything, false, "revision of the bench file", "", ""},
		"closed_at":             {stamp, true, "not to be trusted where clock_set is no", "", ""},
		"closed_at_utc":         {clock, true, "", "", ""},
		"work":                  {anything, false, "what the inspection calls for", "", ""},
		"given_up":              {anything, false, "why, where the inspection was given up", "", ""},
		"true_in":               {oneOf("fixture"), false, "released without the edges being tied to the shank", "", ""},
		"uncertainty_95":        {atLeast("decimal", 0), false, "expanded, two-sided, 95 %; unit as value", "", ""},
		"standard_uncertainty":  {atLeast("decimal", 0), false, "unit as value", "", ""},
		"degrees_of_freedom":    {atLeast("decimal", 0), false, "behind standard_uncertainty; empty beside one is unlimited", "", ""},
		"gauge_error":           {atLeast("decimal", 0), false, "the gauge's own error in the value, taken in full to both sides; unit as value", "", ""},
		"risk":                  {between("decimal", 0, 1), false, "of being wrong that this look spends, where the verdict was tried after each round; else 0.05", "", ""},
		"reject_band":           {signed, false, "by how much the value must lie beyond its limit to be rejected by the guarded rule; unit as value", "", ""},
		"wheel":                 {anything, false, "that the tool was ground with, by name", "", ""},
		"divisions":             {atLeast("integer", 0), false, "of the feed dial, fed to the flutes since the wheel's first touch; empty is not told", "", ""},
		"end_divisions":         {atLeast("integer", 0), false, "the same of the ends", "", ""},
		"limit_least":           {signed, false, "", "schema:minValue", ""},
		"limit_most":            {signed, false, "", "schema:maxValue", ""},
		"verdict":               {oneOf("accept", "reject", "undecided", "not judged"), false, "of the figure", "", ""},
		"decision_rule":         {oneOf("simple", "guarded"), false, "", "", ""},
		"probability_conforms":  {between("decimal", 0, 1), false, "that the true value conforms; never rounded to be sure", "", ""},
		"limit_source":          {anything, false, "", "", ""},
		"in_words":              {anything, false, "the finding as it is said", "", ""},
		"answer":                {anything, false, "what the inspection came to, in words", "", ""},
		"unread":                {anything, false, "names of what the stage requires and was not read or looked for, with spaces between", "", ""},
		"not_read_here":         {anything, false, "names of what is usual at the stage and left out by the bench file, with spaces between", "", ""},
		"diameter":              {atLeast("decimal", 0), true, "nominal, in the unit of column unit", "", ""},
		"flutes":                {between("integer", 1, 12), true, "", "", ""},
		"material":              {oneOf(inspect.ToolWords("material")...), true, "", "", ""},
		"helix_deg":             {between("decimal", 0, 90), true, "", "", "deg"},
		"hand":                  {oneOf("right", "left"), true, "of the helix", "", ""},
		"cut":                   {oneOf("right", "left"), false, "the hand in which it cuts", "", ""},
		"ends":                  {nonempty, true, "", "", ""},
		"teeth":                 {nonempty, true, "", "", ""},
		"duty":                  {nonempty, true, "", "", ""},
		"form":                  {anything, false, "of the relief", "", ""},
		"sharpened":             {anything, false, "the face that is ground", "", ""},
		"taper_deg":             {atLeast("decimal", 0), false, "a side", "", "deg"},
		"out_of_use":            {anything, false, "why, where it is", "", ""},
		"inspections":           {atLeast("integer", 0), true, "", "", ""},
		"regrinds_released":     {atLeast("integer", 0), true, "", "", ""},
		"last_inspection":       {anything, false, "", "", ""},
		"last_stage":            {stages, false, "", "", ""},
		"last_verdict":          {verdicts, false, "", "", ""},
		"last_closed_at":        {stamp, false, "", "", ""},
		"last_closed_at_utc":    {clock, false, "", "", ""},
		"last_tir":              {atLeast("decimal", 0), false, "radial run-out, in the unit of column unit", "", ""},
		"last_primary_share":    {atLeast("decimal", 0), false, "of the whole land", "", "1"},
		"last_diameter":         {atLeast("decimal", 0), false, "in the unit of column unit", "", ""},
		"note":                  {anything, false, "", "", ""},
	}
})

// keys tell the rows of a file apart. Cells of a key may be empty.
var keys = map[string][]string{
	"readings":    {"bench", "inspection", "feature", "flute", "from_end", "repeat", "closing", "on_shank"},
	"inspections": {"bench", "inspection", "feature", "figure", "from_end"},
	"tools":       {"tool"},
}

// MetadataName returns the name that CSV on the Web looks for the metadata of a single CSV file by.
func MetadataName(file string) string { return file + "-metadata.json" }

// MetadataOfAll is the name that it looks for beside several. Source: W3C, Model for Tabular Data 5.3.
const MetadataOfAll = "csv-metadata.json"

// Metadata describes CSV files as W3C's CSV on the Web asks (Metadata Vocabulary for Tabular Data, Recommendation of 17
// December 2015): the dialect, of every column the datatype, whether a cell may be empty, its bounds, format and
// meaning; the keys of each file, and that a row's tool is one of tools.csv where that is among them. With a decimal
// comma, cells are parted by semicolons.
//
// CSV on the Web knows no units: a unit is a column, or the property schema:unitText of one.
func Metadata(files []CSV, decimalComma bool) ([]byte, error) {
	type object = map[string]any
	delimiter := ","
	if decimalComma {
		delimiter = ";"
	}
	tools := slices.ContainsFunc(files, func(f CSV) bool { return f.Kind == "tools" })
	var tables []any
	for _, f := range files {
		var cells []any
		for _, name := range f.Columns {
			c, known := columns()[name]
			if !known {
				return nil, fmt.Errorf("column %q of %s: nothing says what it holds", name, f.URL)
			}
			if decimalComma && c.Base == "decimal" {
				c.Format = object{"decimalChar": ","}
			}
			cell := object{"name": name, "titles": name, "datatype": c.datatype}
			for key, value := range map[string]string{"dc:description": c.description, "propertyUrl": c.property, "schema:unitText": c.unit} {
				if value != "" {
					cell[key] = value
				}
			}
			if c.always {
				cell["required"] = true
			}
			cells = append(cells, cell)
		}
		schema := object{"columns": cells, "primaryKey": keys[f.Kind], "aboutUrl": "#row-{_row}"}
		if tools && f.Kind != "tools" {
			schema["foreignKeys"] = []any{object{"columnReference": "tool", "reference": object{"resource": "tools.csv", "columnReference": "tool"}}}
		}
		tables = append(tables, object{"url": f.URL, "tableSchema": schema})
	}
	m := object{
		"@context": []any{"http://www.w3.org/ns/csvw", object{"@language": "en"}},
		"dialect": object{
			"delimiter": delimiter, "quoteChar": `"`, "doubleQuote": true, "header": true, "encoding": "utf-8", "lineTerminators": []string{"\r\n"},
		},
	}
	if len(files) == 1 {
		for key, value := range tables[0].(object) {
			m[key] = value
		}
	} else {
		m["dc:title"], m["tables"] = "flutelog quality report", tables
	}
	text, err := json.MarshalIndent(m, "", " ")
	return append(text, '\n'), err
}

// sqlTypes are the types of SQL by those of CSV on the Web. Database programs that do not know one take it for text.
var sqlTypes = map[string]string{
	"string": "text", "integer": "bigint", "decimal": "numeric", "boolean": "boolean", "dateTimeStamp": "timestamp with time zone", "dateTime": "timestamp", "date": "date",
}

// SQL returns statements that make a typed table for each file, named by its kind, in the order that its rows can be
// loaded in: what the metadata says, for a database.
func SQL(files []CSV) (string, error) {
	var b strings.Builder
	b.WriteString("-- Typed tables for the CSV files beside this; csv-metadata.json says what each column means.\n")
	files = slices.Clone(files)
	slices.SortStableFunc(files, func(x, y CSV) int { return len(keys[x.Kind]) - len(keys[y.Kind]) })
	for _, f := range files {
		fmt.Fprintf(&b, "create table %s (\n", f.Kind)
		for i, name := range f.Columns {
			c, known := columns()[name]
			if !known {
				return "", fmt.Errorf("column %q of %s: nothing says what it holds", name, f.URL)
			}
			fmt.Fprintf(&b, "  %q %s", name, sqlTypes[c.Base])
			if c.always {
				b.WriteString(" not null")
			}
			switch {
			case f.Kind == "tools" && name == "tool":
				b.WriteString(" primary key")
			case name == "tool" && files[0].Kind == "tools":
				b.WriteString(" references tools")
			}
			if i < len(f.Columns)-1 {
				b.WriteByte(',')
			}
			b.WriteByte('\n')
		}
		b.WriteString(");\n")
	}
	return b.String(), nil
}
