package export

import (
	"errors"
	"fmt"
	"strings"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
)

// File is a file to be handed on.
type File struct {
	Name    string
	Content []byte
}

// QIFFile returns the results document of a closed inspection: ID, or ID@BENCH where several benches have one of the id.
func QIFFile(l *ledger.Ledger, inspection string) (File, error) {
	a, err := record.FindAccount(l, inspection)
	if err != nil {
		return File{}, err
	}
	in, err := Of(a)
	if err != nil {
		return File{}, err
	}
	content, err := QIF(in)
	name := in.ID
	if strings.Contains(inspection, "@") {
		name = inspection
	}
	return File{FileName(name, ".qif"), content}, err
}

// ErrNotInspected says that nothing of a tool can be handed on.
var ErrNotInspected = errors.New("it has no closed inspection")

// AssetFile returns the cutting-tool asset of a tool, by its newest inspection. Where the shop says so, one that was
// released by concession is available.
func AssetFile(l *ledger.Ledger, tool string, concessionIsUsable bool) (File, error) {
	t, err := record.FindTool(l, tool)
	if err != nil {
		return File{}, err
	}
	newest := Inspections(t, "")
	if len(newest) == 0 {
		return File{}, fmt.Errorf("tool %s: %w", t.ID, ErrNotInspected)
	}
	a, err := record.FindAccount(l, newest[len(newest)-1])
	if err != nil {
		return File{}, err
	}
	earlier, err := record.Earlier(l, &a.Inspection)
	if err != nil {
		return File{}, err
	}
	_, all, err := record.Whole(l, t.ID)
	if err != nil {
		return File{}, err
	}
	asset, err := AssetOf(a, earlier, all)
	if err != nil {
		return File{}, err
	}
	asset.ConcessionIsUsable = concessionIsUsable
	content, err := MTConnect(asset)
	if err != nil {
		return File{}, fmt.Errorf("tool %s, by inspection %s: %w", t.ID, a.ID, err)
	}
	return File{FileName(t.ID, ".mtconnect.xml"), content}, nil
}

// Inspections names the closed inspections of a tool that can be handed on, for a job where one is named, the oldest first:
// those that were not given up nor read with a practice gauge. Where benches have one of the same id, it names the bench
// as well.
func Inspections(t record.Tool, job string) []string {
	times := map[string]int{}
	for _, life := range t.Inspections {
		times[life.Inspection]++
	}
	var ids []string
	for _, life := range t.Inspections {
		switch {
		case life.Practice, job != "" && life.Job != job:
		case times[life.Inspection] > 1:
			ids = append(ids, life.Inspection+"@"+life.Bench)
		default:
			ids = append(ids, life.Inspection)
		}
	}
	return ids
}
