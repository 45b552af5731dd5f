package paper

import (
	"io"
	"slices"

	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
)

// Tag is what is tied to a tool. What looks like a release, and whether a diameter stands on it, follows from the mark
// of its ruling.
type Tag struct {
	Ruling     Ruling // Under: what the headline leaves open
	Tool, What string
	Inspection string
	Diameter   string // cutting diameter; printed on a release, or a concession, alone
	Radius     string // offset; the same
	Change     string // since it was last out
	Smallest   string // the smallest useful diameter
	Facts      []Fact // what else is told: why, next, waits for
	Foot       string // behind the inspection: who and when
	NotRead    string // what is not read at this bench at all; stands on the back
	Practice   bool
}

// Sizes of the square code on a tag, in mm: a module, and the most that the whole may be wide.
const (
	tagModule = 0.8
	tagSymbol = 26.4
)

// Scanned is what stands before a tool's id in its square code, so that whoever reads it tells it from a reading.
const Scanned = "T."

// Symbol is the square code of the tool, nothing for an id that it cannot hold.
func (t Tag) Symbol() mark.HTML {
	svg, _, err := draw.Symbol(Scanned+t.Tool, tagModule, tagSymbol)
	if err != nil {
		return ""
	}
	return svg
}

// Shown are the facts of a tag, those of its size left out where it may not be used.
func (t Tag) Shown() []Fact {
	var all []Fact
	if t.Ruling.Usable() {
		for _, f := range []Fact{{"radius offset", t.Radius}, {"smallest", t.Smallest}, {"since last out", t.Change}} {
			if f.Value != "" {
				all = append(all, f)
			}
		}
	}
	return append(all, t.Facts...)
}

// Size is the class of the headline: the longer it is, the smaller.
func (t Tag) Size() string { return size(t.Ruling.Word, 16, 44) }

// Tags is a run of tags to cut apart.
type Tags struct {
	Tags []Tag
	Back string // address of the page they were made on
}

// Rows gives the tags by twos, as they stand beside each other.
func (t Tags) Rows() [][]Tag { return slices.Collect(slices.Chunk(t.Tags, 2)) }

// WriteTags writes tags as one document, six a page; a row with a tag that holds more is higher than the others, and
// nothing of it is left out. Errors are those of w.
func WriteTags(w io.Writer, t Tags) error {
	t.Tags = slices.Clone(t.Tags)
	for i := range t.Tags {
		if one := &t.Tags[i]; one.Practice {
			one.Ruling = Ruling{Mark: mark.Invented, Word: "Practice: invented", Under: "read with a pretend gauge; stands nowhere"}
			one.Foot = ""
		}
	}
	return write(w, "tags", "", t.html)
}
