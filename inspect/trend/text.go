package trend

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
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
	return c.text(width, rejected, true)
}

// LifeText is Text of what only shrinks, and has no limits that it returns to.
func (c Chart) LifeText(width int, rejected func(point int) bool) string {
	return c.text(width, rejected, false)
}

func (c Chart) text(width int, rejected func(point int) bool, limits bool) string {
	columns := min(len(c.Points), max(10, width-textLabel-1))
	skipped := len(c.Points) - columns
	shown := c.Points[skipped:]
	rows, rowOf := c.background(shown, limits)
	first := c.First + skipped
	also := ""
	for i, x := range shown {
		mark := byte('o')
		if limits && c.Signalled(first+i) {
			mark = 'X'
		}
		if rejected != nil && rejected(first+i) {
			mark, also = 'R', ", R rejected"
		}
		rows[rowOf(x)][textLabel+1+i] = mark
	}
	var out strings.Builder
	if limits {
		fmt.Fprintf(&out, "centre %s, limits %s to %s\n", plain(c.Center), plain(c.Lower), plain(c.Upper))
	} else {
		fmt.Fprintf(&out, "from %s to %s\n", plain(shown[0]), plain(shown[len(shown)-1]))
	}
	for _, row := range rows {
		fmt.Fprintf(&out, "%s\n", bytes.TrimRight(row, " "))
	}
	marks := "o point"
	if limits {
		marks += ", X point of a signal"
	}
	fmt.Fprintf(&out, "points %d to %d; %s%s\n", first, first+columns-1, marks, also)
	return out.String()
}

// plain prints a number in six digits and without an exponent, which nobody at a bench reads.
func plain(x float64) string {
	decimals := 0
	if x != 0 {
		decimals = max(0, 5-int(math.Floor(math.Log10(math.Abs(x)))))
	}
	text := strconv.FormatFloat(x, 'f', decimals, 64)
	if decimals > 0 {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// background returns empty rows that span the points and, where there are limits, those, with the centre drawn, and which row a
// value belongs to.
func (c Chart) background(points []float64, limits bool) (rows [][]byte, rowOf func(float64) int) {
	top, bottom := slices.Max(points), slices.Min(points)
	if limits {
		top, bottom = max(c.Upper, top), min(c.Lower, bottom)
	}
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
	if limits {
		fill(rowOf(c.Upper), "upper ", "-")
		fill(rowOf(c.Lower), "lower ", "-")
		fill(rowOf(c.Center), "centre ", ".")
	}
	return rows, rowOf
}

// Signalled says whether a point ends, or is part of, what signals.
func (c Chart) Signalled(point int) bool {
	return slices.ContainsFunc(c.Signals, func(s Signal) bool {
		return !s.Spread && slices.Contains(s.Points, point)
	})
}
