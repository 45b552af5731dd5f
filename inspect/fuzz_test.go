package inspect

import (
	"strings"
	"testing"

	"flutelog/inspect/length"
)

// What a readings file holds is readings of the tool's own flutes, each once, or an error that says where.
func FuzzReadCSV(f *testing.F) {
	const header = "feature,flute,from_end,repeat,value,unit\n"
	for _, rows := range []string{
		"cracks,,,,no,\nradial-runout,1,1in,1,0.0001,in\nradial-runout,1,,close,0,in\n", "land,4,,,0.02,\n", "land,5,,,0.02,in\n", "land,1,,1,0.02,in\nland,1,,1,0.02,in\n",
		"\"land\n\",1,,1,1,in\n", "diameter,,,1,12.7,mm\n", "land,1,,0,1,in\n", "land,99999999999999999999,,1,1,in\n",
	} {
		f.Add(header + rows)
	}
	tool := Tool{ID: "EM-1", Diameter: length.Inch / 2, Flutes: 4, Material: HSS}
	f.Fuzz(func(t *testing.T, text string) {
		readings, seen, err := ReadCSV(strings.NewReader(text), "file", tool, length.In)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "file:") {
				t.Errorf("error %q does not say where", err)
			}
			return
		}
		keys := map[Key]bool{}
		for _, r := range readings {
			if keys[r.Key()] || r.Flute < 0 || r.Flute > tool.Flutes || r.Repeat < 0 {
				t.Errorf("reading %+v of %q", r, text)
			}
			keys[r.Key()] = true
		}
		Judge(Inspection{Tool: tool, Stage: After, Readings: readings, Seen: seen, Basis: DefaultBasis(tool)})
	})
}

// A figure that is read writes itself so that it reads back the same.
func FuzzQuantity(f *testing.F) {
	for _, s := range []string{"0.0127mm", "-9.5deg", "0.5", "", "deg", "mm", "1/2", "0/1", "1/0", "1001/1", "1e2", "0.0000000001mm", "9223372036.854775808"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var q, again Quantity
		if q.UnmarshalText([]byte(s)) != nil {
			return
		}
		text, err := q.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		if err := again.UnmarshalText(text); err != nil || again != q {
			t.Errorf("%q writes %q, which reads %+v, %v; want %+v", s, text, again, err, q)
		}
	})
}
