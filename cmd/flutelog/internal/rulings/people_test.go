package rulings

import (
	"slices"
	"testing"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/internal/people"
)

// Who may sign are those whom the bench file lists, else the people whom the bench knows, else anyone; a name is the listed one,
// however it is spelled.
func TestSigner(t *testing.T) {
	known, err := people.Read(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	nobody := *known
	if err := known.Add("Jo Sand", ""); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		listed     []string
		known      *people.People
		name, want string // want "" is refused
		may        []string
	}{
		{nil, &nobody, "Anyone", "Anyone", nil},
		{nil, known, "jo sand", "Jo Sand", []string{"Jo Sand"}},
		{nil, known, "Nobody Else", "", []string{"Jo Sand"}},
		{[]string{"R. Vale"}, known, "r. vale", "R. Vale", []string{"R. Vale"}},
		{[]string{"R. Vale"}, known, "Jo Sand", "", []string{"R. Vale"}},
	} {
		b := &bench.File{Inspectors: c.listed}
		if got, err := Signer(b, c.known, c.name); got != c.want || (err != nil) != (c.want == "") {
			t.Errorf("%v, %s: %q, %v; want %q", c.listed, c.name, got, err, c.want)
		}
		if may := Signers(b, c.known); !slices.Equal(may, c.may) {
			t.Errorf("%v: %v may, want %v", c.listed, may, c.may)
		}
	}
}
