package draw

import (
	"encoding/xml"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"flutelog/inspect/mark"
)

// node is an element of a drawing, read back.
type node struct {
	XMLName  xml.Name
	Attrs    []xml.Attr `xml:",any,attr"`
	Children []node     `xml:",any"`
	Text     string     `xml:",chardata"`
}

// parse reads a drawing back. That it is well-formed XML is asked of every drawing here.
func parse(t *testing.T, drawing mark.HTML) node {
	t.Helper()
	var n node
	if err := xml.Unmarshal([]byte(drawing), &n); err != nil {
		t.Fatalf("drawing is not well-formed: %v\n%s", err, drawing)
	}
	return n
}

func (n node) attr(name string) string {
	for _, a := range n.Attrs {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// all returns the elements of a class, at any depth, in order.
func (n node) all(class string) []node {
	var found []node
	if slices.Contains(strings.Fields(n.attr("class")), class) {
		found = append(found, n)
	}
	for _, c := range n.Children {
		found = append(found, c.all(class)...)
	}
	return found
}

func (n node) one(t *testing.T, class string) node {
	t.Helper()
	found := n.all(class)
	if len(found) != 1 {
		t.Fatalf("%d elements of class %q, want 1", len(found), class)
	}
	return found[0]
}

// words returns all text inside, with a line break after each element.
func (n node) words() string {
	s := n.Text
	for _, c := range n.Children {
		s += c.words() + "\n"
	}
	return s
}

func (n node) number(t *testing.T, name string) float64 {
	t.Helper()
	return float(t, n.attr(name))
}

func float(t *testing.T, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

var coordinate = regexp.MustCompile(`-?[0-9.]+`)

// places returns the points of a path or of a transform.
func places(t *testing.T, text string) [][2]float64 {
	t.Helper()
	var ps [][2]float64
	numbers := coordinate.FindAllString(text, -1)
	for i := 0; i+1 < len(numbers); i += 2 {
		ps = append(ps, [2]float64{float(t, numbers[i]), float(t, numbers[i+1])})
	}
	return ps
}

func apart(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// near fails when two numbers differ by more than what rounding to two decimals of a px and to the digits
// shown can make.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s: got %v, want %v within %v", what, got, want, within)
	}
}
