package trend

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	textRows  = 13 // height of a chart in text
	textLabel = 8  // width of the names at its left
)

// Text draws c in plain characters, for a screen without pictures or colour: o is a point, X a point of a
// signal, R one that was rejected as rejected tells of it by its number (nil: none was), and the limits and the centre are lines named at the left. It shows the last points that fit into
// width columns, at least ten of them.
func (c Chart) Text(width int, rejected func(point int) bool) string {
	columns := min(len(c.Points), max(10, width-textLabel-1))
	skipped := len(c.Points) - columns
	shown := c.Points[skipped:]
	rows, rowOf := c.background(shown)
	first := c.First + skipped
	also := ""
	for i, x := range shown {
		mark := byte('o')
		if c.signalled(first + i) {
			mark = 'X'
		}
		if rejected != nil && rejected(first+i) {
			mark, also = 'R', ", R rejected"
		}
		rows[rowOf(x)][textLabel+1+i] = mark
	}
	var out strings.Builder
	fmt.Fprintf(&out, "centre %.6g, limits %.6g to %.6g\n", c.Center, c.Lower, c.Upper)
	for _, row := range rows {
		fmt.Fprintf(&out, "%s\n", bytes.TrimRight(row, " "))
	}
	fmt.Fprintf(&out, "points %d to %d; o point, X point of a signal%s\n", first, first+columns-1, also)
	return out.String()
}

// background returns empty rows that span points and limits, with the limits and the centre drawn, and which row a
// value belongs to.
func (c Chart) background(points []float64) (rows [][]byte, rowOf func(float64) int) {
	top := max(c.Upper, slices.Max(points))
	bottom := min(c.Lower, slices.Min(points))
	rowOf = func(x float64) int {
		if top == bottom {
			return textRows / 2
		}
		return int(math.Round((top - x) / (top - bottom) * (textRows - 1)))
	}
	rows = make([][]byte, textRows)
	fill := func(row int, name, ground string) {
		rows[row] = fmt.Appendf(nil, "%*s|%s", textLabel, name, strings.Repeat(ground, len(points)))
	}
	for i := range rows {
		fill(i, "", " ")
	}
	fill(rowOf(c.Upper), "upper ", "-")
	fill(rowOf(c.Lower), "lower ", "-")
	fill(rowOf(c.Center), "centre ", ".")
	return rows, rowOf
}

func (c Chart) signalled(point int) bool {
	return slices.ContainsFunc(c.Signals, func(s Signal) bool {
		return !s.Spread && slices.Contains(s.Points, point)
	})
}
