package page

import (
	"flutelog/cmd/internal/papers"
	"flutelog/inspect/length"
	"flutelog/inspect/paper"
	"flutelog/inspect/record"
)

// trends charts what a tool's life has of each figure.
func trends(lives []record.Life, unit length.Unit) []paper.Charted {
	return papers.Source{Unit: unit}.Lives(lives, false)
}
