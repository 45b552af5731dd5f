package export

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"testing"

	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// kept opens a copy of the ledger that is kept as it is.
func kept(t *testing.T) *ledger.Ledger {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../testdata/ledger-2")); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(dir, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Everything that can be handed on of the kept ledger is: by the schemas, right in what those do not check, twice the same,
// with the readings that stand, to the picometre. What cannot is refused for a reason that is told.
func TestKeptLedger(t *testing.T) {
	l := kept(t)
	documents, assets := map[string][]byte{}, map[string][]byte{}
	for tool, err := range record.Tools(l, record.Filter{}) {
		if err != nil {
			t.Fatal(err)
		}
		ids := Inspections(tool, "")
		for _, id := range ids {
			file, err := QIFFile(l, id)
			if err != nil {
				t.Fatalf("%s: %v", id, err)
			}
			again, err := QIFFile(l, id)
			if err != nil || !bytes.Equal(again.Content, file.Content) {
				t.Errorf("%s: twice is not the same, %v", id, err)
			}
			if err := checkQIF(file.Content); err != nil {
				t.Errorf("%s: %v", id, err)
			}
			documents[file.Name] = file.Content
			stands, err := record.Find(l, id)
			if err != nil {
				t.Fatal(err)
			}
			var got, want []string
			for _, r := range stands.Inspection.Readings {
				want = append(want, fmt.Sprint(int64(r.Value), " ", r.Repeat, " ", r.Text))
			}
			f := read(t, file.Content)
			for _, m := range f.Measurements {
				if m.text("asRead") != "" {
					v, err := length.Parse(m.Value, length.Mm)
					if err != nil {
						t.Fatal(err)
					}
					got = append(got, fmt.Sprint(int64(v), " ", m.integer("repeat"), " ", m.text("asRead")))
				}
			}
			if !sameSet(got, want) {
				t.Errorf("%s: readings %v, want %v", id, got, want)
			}
			head := f.Results.Attributes.text("ledgerHead")
			if parsed, err := ledger.ParseHead(head); err != nil || parsed.Hash != stands.Newest.Hash {
				t.Errorf("%s: head %q, %v, want that of record %d", id, head, err, stands.Newest.Seq)
			}
			if pass := f.Component.Status == "PASS"; pass != (stands.Stands.Standing == record.StandsReleased && stands.Ruling() != nil && stands.Ruling().Word == record.Release && !stands.Stands.NotReground) {
				t.Errorf("%s: the component passes %v, and the tool is %s", id, pass, stands.Stands.Standing)
			}
		}
		asset, err := AssetFile(l, tool.ID, false)
		switch {
		case err == nil:
			assets[asset.Name] = asset.Content
			if available := bytes.Contains(asset.Content, []byte("<Status>AVAILABLE<")); available != (tool.Standing == record.StandsReleased) {
				t.Errorf("%s: available %v, and the tool is %s", tool.ID, available, tool.Standing)
			}
		case len(ids) == 0 && errors.Is(err, ErrNotInspected), errors.Is(err, ErrClockNotSet):
			t.Logf("%s: %v", tool.ID, err)
		default:
			t.Errorf("%s: %v", tool.ID, err)
		}
	}
	if len(documents) < 10 {
		t.Errorf("%d documents: too few to prove anything", len(documents))
	}
	valid(t, "qif/QIFDocument.xsd", documents)
	if len(assets) > 0 {
		valid(t, "mtconnect/MTConnectAssets_1.8_1.0.xsd", assets)
	}
}

// The ids in files that were handed on years ago are those of today.
func TestKeptIDs(t *testing.T) {
	file, err := QIFFile(kept(t), "EM-1.3")
	if err != nil {
		t.Fatal(err)
	}
	f := read(t, file.Content)
	diameter := ""
	for _, i := range f.Items.All {
		if i.Name == "diameter" {
			diameter = i.UUID
		}
	}
	if f.QPId != keptDocument || diameter != keptDiameter {
		t.Errorf("document %s, diameter %s, want %s, %s", f.QPId, diameter, keptDocument, keptDiameter)
	}
}

// As Python 3.11's uuid5 gives them for the names, with the hashes of the records in the kept ledger.
const (
	keptDocument = "8ec49949-f050-5743-97df-d9de7d1af03c"
	keptDiameter = "588b9f02-37b4-5cff-bf9e-d5c664aed6d2"
)
