package trend

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestText(t *testing.T) {
	fixed := standard
	fixed.SD = 3 / outer // limits of 3
	c := chart(t, Individuals, 1, []float64{0, 1, -2, 3, 6, 0.5}, &fixed)
	want := `centre 0, limits -3 to 3
        |    X
        |
        |
        |
  upper |---o--
        |
        |
        | o   X
 centre |o.....
        |
        |
        |  o
  lower |------
points 1 to 6; o point, X point of a signal
`
	if diff := cmp.Diff(want, c.Text(80, nil)); diff != "" {
		t.Errorf("chart (-want +got):\n%s", diff)
	}
}

// What was rejected is marked and named, whether or not it is a signal.
func TestTextMarksRejected(t *testing.T) {
	c := chart(t, Individuals, 1, []float64{2, 2, 2}, nil)
	got := c.Text(80, func(point int) bool { return point == 3 })
	if strings.Count(got, " centre |ooR\n") != 1 || !strings.HasSuffix(got, ", R rejected\n") {
		t.Error(got)
	}
}

func TestTextFitsItsWidth(t *testing.T) {
	_, data := columns(t, "subgroups_thickness.csv")
	c := chart(t, Individuals, 1, data, nil)
	for _, test := range []struct{ width, columns int }{{80, 71}, {40, 31}, {19, 10}, {0, 10}, {500, 100}} {
		lines := strings.Split(strings.TrimSpace(c.Text(test.width, nil)), "\n")
		widest := 0
		for _, line := range lines[1 : len(lines)-1] {
			widest = max(widest, len(line))
		}
		if widest != textLabel+1+test.columns {
			t.Errorf("width %d: %d columns, want %d points beside the names", test.width, widest, test.columns)
		}
		if want := "points " + map[int]string{71: "30", 31: "70", 10: "91", 100: "1"}[test.columns] + " to 100"; !strings.HasPrefix(lines[len(lines)-1], want) {
			t.Errorf("width %d: last line %q, want %q", test.width, lines[len(lines)-1], want)
		}
	}
}

func TestTextOfValuesAllAlike(t *testing.T) {
	c := chart(t, Individuals, 1, []float64{2, 2, 2}, nil)
	if got := c.Text(80, nil); strings.Count(got, " centre |ooo\n") != 1 {
		t.Errorf("chart\n%s\nlacks three points on the centre", got)
	}
}

// A life has no limits to be drawn, and no figure is written with an exponent.
func TestLifeTextAndPlainFigures(t *testing.T) {
	c := chart(t, Individuals, 1, []float64{0.5, 0.495, 0.49, 0.3}, nil)
	got := c.LifeText(80, nil)
	for _, never := range []string{"centre", "upper", "lower", "limits", "signal", "X"} {
		if strings.Contains(got, never) {
			t.Errorf("%q in\n%s", never, got)
		}
	}
	if !strings.HasPrefix(got, "from 0.5 to 0.3\n") || strings.Count(got, "o\n") < 2 {
		t.Errorf("%s", got)
	}
	for x, want := range map[float64]string{0.00005: "0.00005", 0.0000123456789: "0.0000123457", 1234567: "1234567", 0: "0", -0.25: "-0.25", 100: "100", 3.48205: "3.48205"} {
		if got := plain(x); got != want {
			t.Errorf("%v: %s, want %s", x, got, want)
		}
	}
}
