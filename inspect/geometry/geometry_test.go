package geometry

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"flutelog/inspect/length"
	"flutelog/inspect/published"
)

// table reads a published or constructed table as one map per row; its first line names its source.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	header, records := published.Table(t, "../../testdata/published/"+name)
	var rows []map[string]string
	for _, record := range records {
		row := map[string]string{}
		for i, name := range header {
			row[name] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// in makes lengths of text such as "0 0.0003", in the unit.
func in(t *testing.T, unit length.Unit, text string) []length.Length {
	t.Helper()
	var ls []length.Length
	for _, s := range strings.Fields(text) {
		l, err := length.Parse(s, unit)
		if err != nil {
			t.Fatal(err)
		}
		ls = append(ls, l)
	}
	return ls
}

func degrees(f float64) length.Angle { return length.Angle(math.Round(f * float64(length.Degree))) }

func micrometres(f float64) length.Length {
	return length.Length(math.Round(f * float64(length.Micrometre)))
}

// near fails unless got is within tolerance of want.
func near(t *testing.T, what string, got, want, tolerance length.Length) {
	t.Helper()
	if (got - want).Abs() > tolerance {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, tolerance)
	}
}

func nearAngle(t *testing.T, what string, got, want, tolerance length.Angle) {
	t.Helper()
	off := turned(got - want)
	if min(off, 360*length.Degree-off) > tolerance {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, tolerance)
	}
}

func nearFloat(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, tolerance)
	}
}

// wantError fails unless err says every part.
func wantError(t *testing.T, err error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Errorf("got no error, want one saying %q", parts)
		return
	}
	for _, p := range parts {
		if !strings.Contains(err.Error(), p) {
			t.Errorf("error %q does not say %q", err, p)
		}
	}
}

func seeded(n uint64) *rand.Rand { return rand.New(rand.NewPCG(n, 1)) }

// between returns a random value from lo to hi.
func between(r *rand.Rand, lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
