package export

import (
	"encoding/xml"
	"slices"
	"strconv"
	"strings"
	"testing"
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

	Value             string `xml:"-"`
	Name, UUID        string `xml:"-"`
	Least, Most       string `xml:"-"` // "" is no limit
	PermissibleOfUnit string `xml:"-"` // of the device, in millimetres
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
		for _, d := range f.Devices {
			if d.ID == m.Device {
				m.PermissibleOfUnit = d.Attributes.text("permissibleError_mm")
			}
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
