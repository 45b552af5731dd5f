// Package published reads tables of standards, handbooks and reference data from files, for tests that check against them.
package published

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// Rows returns the rows of a table without its header. Lines that begin with # say where it comes from.
func Rows(t testing.TB, file string) [][]string {
	t.Helper()
	_, rows := Table(t, file)
	return rows
}

// Table returns the header of a table and its rows, of which it has one at least.
func Table(t testing.TB, file string) (header []string, rows [][]string) {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	all, err := in.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	if len(all) < 2 {
		t.Fatalf("%s has no rows", file)
	}
	return all[0], all[1:]
}

// Number returns a number as such a table spells it.
func Number(t testing.TB, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}
