package study

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestReadCrossed(t *testing.T) {
	const text = "# invented\npart,inspector,trial,value\r\n\n7,\"Ann, days\",1, -0.5\n7,Bo,12,1.25e-3\n"
	got, err := ReadCrossed(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	want := []Trial{{"7", "Ann, days", 1, -0.5}, {"7", "Bo", 12, 0.00125}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("readings (-want +got):\n%s", diff)
	}
}

func TestReadCrossedRefuses(t *testing.T) {
	const header = "part,inspector,trial,value\n1,A,1,5\n"
	tests := []struct{ name, text, want string }{
		{"empty", "", "no lines"},
		{"no header", "1,A,1,5\n", `line 1: header "1,A,1,5": want part,inspector,trial,value`},
		{"other order", "\ninspector,part,trial,value\n", "line 2: header"},
		{"too few columns", header + "1,A,2\n", "line 3"},
		{"too many columns", header + "1,A,2,5,6\n", "line 3"},
		{"no part", header + " ,A,2,5\n", "line 3: part is empty"},
		{"no value", header + "\n1,A,2,\n", "line 4: value is empty"},
		{"trial not whole", header + "1,A,1.5,5\n", `line 3: trial "1.5": want a whole number`},
		{"trial zero", header + "1,A,0,5\n", `line 3: trial "0"`},
		{"unit", header + "1,A,2,5mm\n", `line 3: value "5mm": want one plain number`},
		{"decimal comma", header + "1,A,2,\"0,5\"\n", `line 3: value "0,5": decimal comma`},
		{"not a number", header + "1,A,2,NaN\n", `line 3: value "NaN"`},
		{"open quote", header + "1,A,2,\"5\n", "line 3"},
	}
	for _, test := range tests {
		_, err := ReadCrossed(strings.NewReader(test.text))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: got error %v, want one with %q", test.name, err, test.want)
		}
	}
}

func TestReadNumbers(t *testing.T) {
	got, err := ReadNumbers(strings.NewReader("# invented\n 1 \r\n\n-0.25\n1000000000000.4\n2e-3"))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]float64{1, -0.25, 1000000000000.4, 0.002}, got); diff != "" {
		t.Errorf("numbers (-want +got):\n%s", diff)
	}
}

func TestReadNumbersRefuses(t *testing.T) {
	tests := []struct{ text, want string }{
		{"1\n2 3\n", `line 2: value "2 3": want one plain number`},
		{"1\n\n0,5\n", `line 3: value "0,5": decimal comma`},
		{"inf", `line 1: value "inf"`},
		{"nan", `line 1: value "nan"`},
		{"0x10p0", `line 1: value "0x10p0"`},
		{"1e999", `line 1: value "1e999": too large`},
		{"5mm", `line 1: value "5mm"`},
		{strings.Repeat("1", 1<<20), "too long"},
	}
	for _, test := range tests {
		_, err := ReadNumbers(strings.NewReader(test.text))
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%.20q: got error %v, want one with %q", test.text, err, test.want)
		}
	}
}

func FuzzReadCrossed(f *testing.F) {
	f.Add("part,inspector,trial,value\n1,A,1,5\n1,A,2,6\n1,B,1,5\n1,B,2,6\n2,A,1,5\n2,A,2,6\n2,B,1,5\n2,B,2,6\n")
	f.Add("part,inspector,trial,value\n1,A,1,1e308\n1,A,2,-1e308\n1,B,1,0\n1,B,2,0\n2,A,1,0\n2,A,2,0\n2,B,1,0\n2,B,2,0\n")
	f.Fuzz(func(t *testing.T, text string) {
		readings, err := ReadCrossed(strings.NewReader(text))
		if err != nil {
			return
		}
		c, err := AnalyseCrossed(readings, 1)
		if err != nil {
			return
		}
		for _, x := range []float64{c.GaugeSD, c.PartSD, c.TotalSD, *c.PercentOfTolerance, *c.Anova[0].F, *c.Anova[0].P} {
			if !(x >= 0) || math.IsInf(x, 1) {
				t.Errorf("%q: %+v", text, c)
			}
		}
	})
}
