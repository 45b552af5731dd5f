package paper

import (
	"html/template"
	"io"

	"flutelog/inspect/draw"
	"flutelog/inspect/mark"
)

// Tag is what is tied to a tool. What looks like a release, and whether a diameter stands on it, follows from the mark
// of its ruling.
type Tag struct {
	Ruling     Ruling // Under: one line, what the headline leaves open
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
func (t Tag) Symbol() template.HTML {
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
		known := []Fact{{"radius offset", t.Radius}, {"smallest", t.Smallest}, {"since last out", t.Change}}
		if t.Size() == "longest" {
			known = known[:2] // its condition has the room
		}
		for _, f := range known {
			if f.Value != "" {
				all = append(all, f)
			}
		}
	}
	if t.Size() == "longest" {
		return all
	}
	return append(all, t.Facts...)
}

// tagsPage is how many tags stand on one page.
const tagsPage = 6

// Tags is a run of tags to cut apart.
type Tags struct {
	Tags []Tag
	Back string // address of the page they were made on
}

// Pages gives the tags page by page.
func (t Tags) Pages() [][]Tag {
	var pages [][]Tag
	for i := 0; i < len(t.Tags); i += tagsPage {
		pages = append(pages, t.Tags[i:min(i+tagsPage, len(t.Tags))])
	}
	return pages
}

// WriteTags writes tags as one document, six a page. Errors are those of w.
func WriteTags(w io.Writer, t Tags) error {
	for i := range t.Tags {
		t.Tags[i] = t.Tags[i].fitted()
	}
	return write(w, "tags", t)
}

// fitted cuts what is too long for a tag.
func (t Tag) fitted() Tag {
	if t.Practice {
		t.Ruling = Ruling{Mark: mark.Invented, Word: "Practice: invented", Under: "read with a pretend gauge; stands nowhere"}
		t.Foot = ""
	}
	t.Ruling.Word, t.Ruling.Under = cut(t.Ruling.Word, 210), cut(t.Ruling.Under, 66)
	t.What, t.Foot, t.NotRead = cut(t.What, 60), cut(t.Foot, 120), cut(t.NotRead, 100)
	facts := t.Facts
	t.Facts = nil
	for i, f := range facts {
		if i < 2 {
			t.Facts = append(t.Facts, Fact{cut(f.Name, 20), cut(f.Value, 60)})
		}
	}
	return t
}

// Size is the class of the headline: the longer it is, the smaller.
func (t Tag) Size() string { return size(t.Ruling.Word, 16, 44) }

// BackWord is the headline on the back: a long one is said to stand in front.
func (t Tag) BackWord() string {
	if t.Size() != "longest" {
		return t.Ruling.Word
	}
	return cut(t.Ruling.Word, 70)
}
