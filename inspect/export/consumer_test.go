package export

import (
	"encoding/xml"
	"math/big"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// qifFile is as much of a results document as a program reads that knows nothing of this one.
type qifFile struct {
	QPId        string   `xml:"QPId"`
	Description string   `xml:"Header>Description"`
	Devices     []device `xml:"MeasurementResources>MeasurementDevices>GageDevice"`
	Definitions struct {
		All []definition `xml:",any"`
	} `xml:"Characteristics>CharacteristicDefinitions"`
	Nominals struct {
		All []nominal `xml:",any"`
	} `xml:"Characteristics>CharacteristicNominals"`
	Items struct {
		All []item `xml:",any"`
	} `xml:"Characteristics>CharacteristicItems"`
	Results struct {
		Attributes attributeList `xml:"Attributes"`
		Report     string        `xml:"InspectionTraceability>ReportNumber"`
		Start      string        `xml:"InspectionTraceability>InspectionStart"`
		Operator   string        `xml:"InspectionTraceability>InspectionOperator>Name"`
		Measured   struct {
			All []*measurement `xml:",any"`
		} `xml:"MeasuredCharacteristics>CharacteristicMeasurements"`
		Status      string `xml:"InspectionStatus>InspectionStatusEnum"`
		OtherStatus string `xml:"InspectionStatus>OtherInspectionStatus"`
	} `xml:"Results>MeasurementResultsSet>MeasurementResults"`
	Component struct {
		Serial      string `xml:"SerialNumber"`
		Status      string `xml:"Status>InspectionStatusEnum"`
		OtherStatus string `xml:"Status>OtherInspectionStatus"`
		Lot         string `xml:"Traceability>LotNumber"`
	} `xml:"Results>ActualComponentSets>ActualComponentSet>ActualComponent"`

	Measurements []*measurement `xml:"-"`
}

type attributeList struct {
	All []struct {
		Name  string `xml:"name,attr"`
		Value string `xml:"value,attr"`
	} `xml:",any"`
}

func (l attributeList) text(name string) string {
	for _, a := range l.All {
		if a.Name == name {
			return a.Value
		}
	}
	return ""
}

func (l attributeList) integer(name string) int {
	n, _ := strconv.Atoi(l.text(name))
	return n
}

type device struct {
	ID         string `xml:"id,attr"`
	Name       string
	Attributes attributeList `xml:"Attributes"`
}

type definition struct {
	ID        string `xml:"id,attr"`
	Tolerance string `xml:"ToleranceValue"`
	Most      string `xml:"Tolerance>MaxValue"`
	Least     string `xml:"Tolerance>MinValue"`
}

type nominal struct {
	ID         string `xml:"id,attr"`
	Definition string `xml:"CharacteristicDefinitionId"`
	Most       string `xml:"MaxValue"`
	Least      string `xml:"MinValue"`
}

type item struct {
	ID      string `xml:"id,attr"`
	Name    string
	UUID    string `xml:"CharacteristicDesignator>UUID"`
	Nominal string `xml:"CharacteristicNominalId"`
}

// measurement is a measurement with what the other parts of the document say of it.
type measurement struct {
	XMLName       xml.Name
	Item          string `xml:"CharacteristicItemId"`
	Status        string `xml:"Status>CharacteristicStatusEnum"`
	TimeStamp     string
	Device        string        `xml:"MeasurementDeviceIds>Id"`
	AttributeList attributeList `xml:"Attributes"`
	Result        struct {
		Text        string `xml:",chardata"`
		Uncertainty string `xml:"combinedUncertainty,attr"`
		Unit        string `xml:"unitName,attr"`
	} `xml:"Value"`

	Value       string `xml:"-"`
	Name, UUID  string `xml:"-"`
	Least, Most string `xml:"-"` // "" is no limit
}

func (m *measurement) text(name string) string { return m.AttributeList.text(name) }
func (m *measurement) integer(name string) int { return m.AttributeList.integer(name) }

// read reads a document as a program would that has the standard and nothing else.
func read(t *testing.T, document []byte) qifFile {
	t.Helper()
	var f qifFile
	if err := xml.Unmarshal(document, &f); err != nil {
		t.Fatal(err)
	}
	for _, m := range f.Results.Measured.All {
		m.Value = strings.TrimSpace(m.Result.Text)
		i := slices.IndexFunc(f.Items.All, func(i item) bool { return i.ID == m.Item })
		n := slices.IndexFunc(f.Nominals.All, func(n nominal) bool { return n.ID == f.Items.All[i].Nominal })
		d := slices.IndexFunc(f.Definitions.All, func(d definition) bool { return d.ID == f.Nominals.All[n].Definition })
		m.Name, m.UUID = f.Items.All[i].Name, f.Items.All[i].UUID
		m.Least, m.Most = f.Definitions.All[d].Least, f.Definitions.All[d].Most
		if tolerance := f.Definitions.All[d].Tolerance; tolerance != "" {
			m.Most = tolerance
		}
		if m.Least == "" && m.Most == "" {
			m.Least, m.Most = f.Nominals.All[n].Least, f.Nominals.All[n].Most
		}
	}
	f.Measurements = f.Results.Measured.All
	return f
}

func sameSet(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

// nineDecimals writes a decimal number with nine decimals.
func nineDecimals(s string) string {
	whole, fraction, _ := strings.Cut(s, ".")
	return whole + "." + fraction + strings.Repeat("0", 9-len(fraction))
}

// verdict comes to a verdict from the document alone, as a program would that knows the standard and the two rules:
//
//	simple   the value is held against its limits; one equal to its limit conforms
//	guarded  accepted where it conforms with t(0.95, df) u and the gauge's own error to spare, rejected where it
//	         is beyond a limit by the band that the file says rejects, else undecided; without an uncertainty
//	         nothing is said. Of a share and a relief the file says by which band they are accepted, too. Where the verdict was tried after each round, the file says what risk this look spends
//	         in the place of 0.05
//
// A run-out may fall short of its value by what all its flutes together can be misread by, which a standard uncertainty
// does not tell: hence the band of its own. A reason says where something else than the rule decided: a distance that was not set well enough.
func (m *measurement) verdict(t *testing.T) string {
	t.Helper()
	rational := func(s string) *big.Rat {
		n, ok := new(big.Rat).SetString(s)
		if !ok {
			t.Fatalf("%s: %q is no number", m.Name, s)
		}
		return n
	}
	if m.Value == "" || m.Least == "" && m.Most == "" {
		return "NOT_ANALYZED"
	}
	// beyond says whether the value is beyond a limit by more than so much; less than nothing is on the safe side.
	beyond := func(by float64) bool {
		value, margin := rational(m.Value), new(big.Rat).SetFloat64(by)
		return m.Most != "" && new(big.Rat).Sub(value, margin).Cmp(rational(m.Most)) > 0 || m.Least != "" && new(big.Rat).Add(value, margin).Cmp(rational(m.Least)) < 0
	}
	number := func(s string) float64 {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%s: %v", m.Name, err)
		}
		return f
	}
	switch {
	case m.text("reason") == "distance coarse", m.text("reason") == "suspect":
		return "INDETERMINATE"
	case m.text("decisionRule") == "simple" && beyond(0):
		return "FAIL"
	case m.text("decisionRule") == "simple":
		return "PASS"
	case m.Result.Uncertainty == "":
		return "NOT_ANALYZED"
	}
	sureness := 0.95
	if risk := m.text("riskOfThisLook"); risk != "" {
		sureness = 1 - number(risk)
	}
	guard := distuv.UnitNormal.Quantile(sureness) * number(m.Result.Uncertainty) // with unlimited degrees of freedom
	if df := m.text("degreesOfFreedom"); df != "INF" {
		guard = distuv.StudentsT{Sigma: 1, Nu: number(df)}.Quantile(sureness) * number(m.Result.Uncertainty)
	}
	if gauge := m.text("gaugeError"); gauge != "" {
		guard += number(gauge)
	}
	if accept := m.text("acceptBand"); accept != "" {
		guard = number(accept)
	}
	switch reject := m.text("rejectBand"); {
	case beyond(0) && reject != "" && beyond(number(reject)):
		return "FAIL"
	case beyond(-guard):
		return "INDETERMINATE"
	}
	return "PASS"
}

// Who has the file alone comes to the verdict of each figure that the inspection came to.
func TestConsumer(t *testing.T) {
	came := map[string]int{}
	seeds := uint64(many)
	if os.Getenv("FLUTELOG_LONG") != "" {
		seeds = 20 * many
	}
	for seed := range seeds {
		in, err := Of(judged(seed))
		if err != nil {
			t.Fatal(err)
		}
		document, err := QIF(in)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range read(t, document).Measurements[:len(in.Figures)] {
			got := m.verdict(t)
			if got != m.Status {
				t.Errorf("seed %d, %s, rule %q: %s between %q and %q, u %s, df %s, U %s: comes to %s, and the file says %s", seed, m.Name, m.text("decisionRule"),
					m.Value, m.Least, m.Most, m.Result.Uncertainty, m.text("degreesOfFreedom"), m.text("expandedUncertainty95"), got, m.Status)
			}
			came[m.text("decisionRule")+" "+m.Status]++
			if kind := map[string]string{"UserDefinedUnitCharacteristicMeasurement": "share", "UserDefinedAngularCharacteristicMeasurement": "relief"}[m.XMLName.Local]; kind != "" {
				came[kind+" "+m.text("decisionRule")+" "+m.Status]++
			}
		}
	}
	for _, all := range []string{"simple PASS", "simple FAIL", "guarded PASS", "guarded FAIL", "guarded INDETERMINATE", "guarded NOT_ANALYZED", " NOT_ANALYZED",
		"share guarded PASS", "share guarded FAIL", "share guarded INDETERMINATE", "relief guarded PASS", "relief guarded FAIL", "relief guarded INDETERMINATE"} {
		if came[all] < 10 {
			t.Errorf("%q came up %d times: too few to prove anything", all, came[all])
		}
	}
}
