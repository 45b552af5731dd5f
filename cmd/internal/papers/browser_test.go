package papers

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/ledger"
	"flutelog/inspect/paper/printtest"
)

// The twenty tools and rulings on paper, A4 and Letter: one page a usual sheet, six tags a page, the header on every page of
// the certificate; no word of a release on what is none; the square codes read back, and the head of a sheet taken by
// the ledger that it is of.
func TestPrinted(t *testing.T) {
	p := printtest.New(t)
	b, inspections := shop(t)
	s := b.source()
	var ids []string
	for _, x := range twenty {
		ids = append(ids, x.tool)
		id := inspections[x.kind]
		if id == "" || testing.Short() && !slices.Contains([]string{"released, long id", "recalled", "practice", "before"}, x.kind) {
			continue
		}
		t.Run(x.kind, func(t *testing.T) {
			p := p.Tab(t)
			sheet, document := sheetOf(t, s, id)
			p.Open(t, document)
			for paper := range printtest.Sizes {
				pdf := p.Print(t, "filled sheet "+x.kind, paper)
				pages := printtest.Pages(t, pdf)
				if most := map[bool]int{true: 1, false: 2}[x.usual()]; pages > most {
					t.Errorf("sheet of %s on %s: %d pages", x.kind, paper, pages)
				}
				if covered := printtest.Covered(t, pdf); covered != nil && x.kind != "practice" {
					t.Errorf("sheet of %s on %s: %q", x.kind, paper, covered)
				}
				text := printtest.Words(t, pdf)
				if x.free != strings.Contains(text, "RELEASED") || slices.Contains(noRelease, x.kind) && release.MatchString(text) {
					t.Errorf("sheet of %s on %s says: %s", x.kind, paper, text)
				}
				got := printtest.Symbols(t, pdf, pages)
				if !slices.Equal(got, []string{sheet.Proof.Head}) {
					t.Fatalf("sheet of %s on %s: square codes %q, want the head %s", x.kind, paper, got, sheet.Proof.Head)
				}
				if r, err := ledger.Verify(b.l.Dir(), got, nil); err != nil || len(r.Damage) > 0 {
					t.Errorf("sheet of %s: the ledger does not take its head: %+v, %v", x.kind, r, err)
				}
			}
		})
	}
	_, document := tagsOf(t, s, ids...)
	p.Tags(t, "filled tags", document, 4, []string{"0.4817 in", "radius offset 0.24085", "\u22120.0059 dia., \u22120.0020 long", "smallest 0.4500", "USE FOR ROUGHING ONLY", "true in the fixture only", "EM-0412.2, signed by N. Okafor 20 Nov 2026"}, nil)
	var held []string
	for _, x := range twenty {
		if slices.Contains(noRelease, x.kind) {
			held = append(held, x.tool)
		}
	}
	_, document = tagsOf(t, s, held...)
	p.Open(t, document)
	if text := printtest.Words(t, p.Print(t, "filled tags held", "Letter")); release.MatchString(text) {
		t.Errorf("tags of what is no release say: %s", text)
	}
	_, document = certificateOf(t, s, "J-77")
	p.Open(t, document)
	for paper := range printtest.Sizes {
		pdf := p.Print(t, "filled certificate", paper)
		n, text := printtest.Pages(t, pdf), printtest.Words(t, pdf)
		for _, f := range printtest.Covered(t, pdf) {
			t.Errorf("certificate on %s: %s", paper, f)
		}
		if n > 3 || strings.Count(text, "Job J-77, Harrow Tool Hire") < n-1 || !strings.Contains(text, fmt.Sprintf("Page %d of %d", n, n)) {
			t.Errorf("certificate on %s: %d pages: %s", paper, n, text)
		}
		for _, x := range twenty {
			if x.tool != long60 && !strings.Contains(x.tool, "\u05db") && !strings.Contains(text, x.tool) {
				t.Errorf("certificate on %s: no row of %s", paper, x.tool)
			}
		}
	}
}
