package record_test

import (
	"fmt"
	"os"
	"time"

	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// A tool is inspected, a reading at a time, each on disk before it is acknowledged; then it stands as what was read of it says, and a
// person decides.
func Example() {
	folder, err := os.MkdirTemp("", "ledger")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	if err := inspectAndRule(folder); err != nil {
		fmt.Println(err)
	}
	// Output:
	// EM-0412 stands to grind by EM-0412.1
	// EM-0412 stands withdrawn
}

func inspectAndRule(folder string) error {
	l, err := ledger.Open(folder, ledger.Options{Bench: "bench 1"})
	if err != nil {
		return err
	}
	tool := inspect.Tool{
		ID: "EM-0412", Diameter: length.Inch / 2, Flutes: 2, Material: inspect.HSS, Helix: 30 * length.Degree,
		Hand: inspect.RightHand, Ends: inspect.SquareEnd, Teeth: inspect.PlainTeeth, Duty: inspect.Finishing,
	}
	if _, err := record.SaveTool(l, tool); err != nil {
		return err
	}
	in := inspect.Inspection{ID: "EM-0412.1", Tool: tool, Stage: inspect.Before, Holding: inspect.InFixture, Basis: inspect.DefaultBasis(tool)}
	w, err := record.Begin(l, in, nil, time.Now)
	if err != nil {
		return err
	}
	for flute, wear := range []length.Length{9 * length.Thou, 8 * length.Thou} {
		r := inspect.Reading{Feature: inspect.WearLand, Flute: flute + 1, Repeat: 1, Value: wear, Unit: length.In}
		if err := w.Read(r); err != nil {
			return err
		}
	}
	if _, _, err := w.Close(); err != nil {
		return err
	}
	read, err := record.FindTool(l, "em-0412") // ids compare without case
	if err != nil {
		return err
	}
	fmt.Println(read.ID, "stands", read.Standing, "by", read.Inspection)
	who := record.Who{By: "R. Vale", Why: "under its smallest diameter", At: time.Now()}
	if _, err := record.Rule(l, []string{"EM-0412.1"}, record.Withdraw, who); err != nil {
		return err
	}
	if read, err = record.FindTool(l, "EM-0412"); err != nil {
		return err
	}
	fmt.Println(read.ID, "stands", read.Standing)
	return nil
}
