package export

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// valid checks documents against a schema of a published standard, as it stands in the folder that FLUTELOG_SCHEMAS
// names.
func valid(t *testing.T, schema string, documents map[string][]byte) {
	t.Helper()
	folder := os.Getenv("FLUTELOG_SCHEMAS")
	if folder == "" {
		t.Skip("FLUTELOG_SCHEMAS does not name a folder of the standards' schemas to check against")
	}
	if _, err := exec.LookPath("xmllint"); err != nil {
		if os.Getenv("FLUTELOG_TEST_NEEDS_ALL") != "" {
			t.Fatal("no xmllint here, and it is required")
		}
		t.Skip("no xmllint (Debian: libxml2-utils) here to check with")
	}
	dir := t.TempDir()
	args := []string{"--nonet", "--noout", "--schema", filepath.Join(folder, schema)}
	for name, document := range documents {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, document, 0o600); err != nil {
			t.Fatal(err)
		}
		args = append(args, path)
	}
	if out, err := exec.Command("xmllint", args...).CombinedOutput(); err != nil {
		lines := strings.Split(string(out), "\n")
		var bad []string
		for _, l := range lines {
			if !strings.HasSuffix(l, " validates") && len(bad) < 20 {
				bad = append(bad, l)
			}
		}
		t.Errorf("%s: %v\n%s", schema, err, strings.Join(bad, "\n"))
	}
	if n := len(documents); n == 0 {
		t.Error("nothing was checked")
	}
}

const many = 200

// some is how many documents the large schema is tried on in a short test: it takes long.
func some() uint64 {
	if testing.Short() {
		return 10
	}
	return many
}

// Whatever stands in an inspection, its document is one of the standard's. Source: the schemas of ISO 23952:2020, 3.0.0.
func TestQIFBySchema(t *testing.T) {
	documents := map[string][]byte{}
	for seed := range some() {
		document, err := QIF(invented(seed))
		if err != nil {
			t.Fatal(err)
		}
		documents[fmt.Sprintf("%d.qif", seed)] = document
	}
	valid(t, "qif/QIFDocument.xsd", documents)
}

// The same of the assets. Source: the schema MTConnectAssets_1.8.
func TestMTConnectBySchema(t *testing.T) {
	documents := map[string][]byte{}
	for seed := range uint64(many) {
		in := invented(seed)
		in.ClockSet, in.GivenUp = true, false
		left := int(seed % 7)
		document, err := MTConnect(Asset{Inspection: in, Regrinds: int(seed % 3), RegrindsLeft: &left, ConcessionIsUsable: seed%2 == 0})
		if err != nil {
			t.Fatal(err)
		}
		documents[fmt.Sprintf("%d.xml", seed)] = document
	}
	valid(t, "mtconnect/MTConnectAssets_1.8_1.0.xsd", documents)
}

// The documents of inspections that were judged are of the standards too, and right in what the schema does not check.
func TestJudgedBySchema(t *testing.T) {
	qif, assets := map[string][]byte{}, map[string][]byte{}
	for seed := range some() {
		a, err := AssetOf(judged(seed), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if qif[fmt.Sprintf("%d.qif", seed)], err = QIF(a.Inspection); err != nil {
			t.Fatal(err)
		}
		if err := checkQIF(qif[fmt.Sprintf("%d.qif", seed)]); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if assets[fmt.Sprintf("%d.xml", seed)], err = MTConnect(a); err != nil {
			t.Fatal(err)
		}
	}
	valid(t, "qif/QIFDocument.xsd", qif)
	valid(t, "mtconnect/MTConnectAssets_1.8_1.0.xsd", assets)
}

// What the schema of QIF does not check: that counts are right, that no id is over idMax or given twice, that every
// reference leads to what it says, and that every unit is declared.
func checkQIF(document []byte) error {
	type open struct {
		name     string
		n        string
		children int
	}
	var stack []open
	ids, units := map[string]string{}, map[string]bool{}
	type reference struct{ from, to string }
	var references []reference
	most, idMax := 0, -1
	chars := ""
	var usedUnits []string
	d := xml.NewDecoder(bytes.NewReader(document))
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		switch e := token.(type) {
		case xml.StartElement:
			if len(stack) > 0 {
				stack[len(stack)-1].children++
			}
			o := open{name: e.Name.Local}
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "n":
					o.n = a.Value
				case "idMax":
					idMax, _ = strconv.Atoi(a.Value)
				case "id":
					n, err := strconv.Atoi(a.Value)
					if err != nil || ids[a.Value] != "" {
						return fmt.Errorf("id %q of %s: not a number, or given twice", a.Value, o.name)
					}
					ids[a.Value], most = o.name, max(most, n)
				case "unitName":
					usedUnits = append(usedUnits, a.Value)
				}
			}
			stack, chars = append(stack, o), ""
		case xml.CharData:
			chars += string(e)
		case xml.EndElement:
			o := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			if o.n != "" && o.n != strconv.Itoa(o.children) {
				return fmt.Errorf("%s says that it holds %s, and holds %d", o.name, o.n, o.children)
			}
			switch {
			case o.name == "Id":
				references = append(references, reference{stack[len(stack)-1].name, chars})
			case strings.HasSuffix(o.name, "Id") && !strings.HasSuffix(o.name, "QPId"):
				references = append(references, reference{o.name, chars})
			case o.name == "UnitName":
				units[chars] = true
			}
			chars = ""
		}
	}
	if most != idMax {
		return fmt.Errorf("idMax is %d, and the last id %d", idMax, most)
	}
	wanted := map[string]string{
		"FormalStandardId": "Standard", "AnalysisSoftware": "Software", "MeasurementDeviceIds": "GageDevice", "CharacteristicDefinitionId": "CharacteristicDefinition",
		"CharacteristicNominalId": "CharacteristicNominal", "CharacteristicItemId": "CharacteristicItem", "ActualComponentId": "ActualComponent", "ActualComponentIds": "ActualComponent",
	}
	for _, r := range references {
		want, known := wanted[r.from]
		if !known || !strings.HasSuffix(ids[r.to], want) {
			return fmt.Errorf("%s leads to id %s, which is %q", r.from, r.to, ids[r.to])
		}
	}
	for _, u := range usedUnits {
		if !units[u] {
			return fmt.Errorf("unit %q is not declared", u)
		}
	}
	return nil
}

func TestQIFBeyondTheSchema(t *testing.T) {
	for seed := range 5 * some() {
		document, err := QIF(invented(seed))
		if err != nil {
			t.Fatal(err)
		}
		if err := checkQIF(document); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
}

// The check finds what it is for.
func TestCheckFindsWhatIsBroken(t *testing.T) {
	whole, err := QIF(released())
	if err != nil {
		t.Fatal(err)
	}
	if err := checkQIF(whole); err != nil {
		t.Fatal(err)
	}
	for from, to := range map[string]string{
		`idMax="`:                     `idMax="9`,
		`<CharacteristicItems n="`:    `<CharacteristicItems n="9`,
		`<ActualComponentId>`:         `<ActualComponentId>9`,
		`<UnitName>1</UnitName>`:      `<UnitName>2</UnitName>`,
		`<CharacteristicItemId>`:      `<CharacteristicItemId>1<!-- -->`,
		`<FormalStandardId>1</Formal`: `<FormalStandardId>2</Formal`,
	} {
		broken := strings.Replace(string(whole), from, to, 1)
		if broken == string(whole) || checkQIF([]byte(broken)) == nil {
			t.Errorf("%s for %s is not found", to, from)
		}
	}
}

// Raw readings and figures come back out of the document as the integers that they were.
func TestValuesRoundTrip(t *testing.T) {
	for seed := range 5 * some() {
		in := invented(seed)
		document, err := QIF(in)
		if err != nil {
			t.Fatal(err)
		}
		file := read(t, document)
		var got, want []string
		for _, m := range file.Measurements {
			if m.text("asRead") != "" {
				l, err := length.Parse(m.Value, length.Mm)
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, fmt.Sprint(int64(l), m.integer("repeat"), m.text("closing"), m.text("asReadUnit")))
			}
		}
		for _, r := range in.Readings {
			closing := ""
			if r.Closing {
				closing = "true"
			}
			want = append(want, fmt.Sprint(int64(r.Value), r.Repeat, closing, r.Unit.UCUM()))
		}
		if !sameSet(got, want) {
			t.Fatalf("seed %d: readings\n%v\nwant\n%v", seed, got, want)
		}
		for i, f := range in.Figures {
			m := file.Measurements[i]
			if f.Value == nil {
				if m.Value != "" {
					t.Errorf("seed %d: figure %d has value %s, and there is none", seed, i, m.Value)
				}
				continue
			}
			if string(f.Value.Number(length.Mm)) != nineDecimals(m.Value) {
				t.Errorf("seed %d: figure %d: got %s, want %s", seed, i, m.Value, f.Value.Number(length.Mm))
			}
		}
	}
}
