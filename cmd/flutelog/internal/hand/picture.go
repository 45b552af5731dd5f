package hand

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
	"flutelog/inspect/words"
)

// pictured is how many columns a picture is wide at the most, and where in them a limit stands.
const (
	pictured = 52
	limited  = 40
)

// Picture draws in letters what an inspection was read and judged by, to scale: the heights of the flutes over the lowest against
// the limit, and each land from its edge with what is worn, the primary and what lies behind it.
func Picture(in inspect.Inspection, j inspect.Judgement, unit length.Unit) string {
	var out strings.Builder
	for _, r := range j.Runouts {
		title := strings.ToUpper(r.Feature.Name())
		if r.FromEnd != nil {
			title += " " + desk.Figure(*r.FromEnd, unit, 3) + " from the end"
		}
		drawHeights(&out, title, r, in.Basis.Limits.Of(r.Feature).MostLength(), unit)
	}
	drawLands(&out, in, inspect.WearLand, inspect.PrimaryLand, inspect.Land, unit)
	drawLands(&out, in, "", inspect.EndPrimaryLand, inspect.EndLand, unit)
	if out.Len() == 0 {
		return "Nothing was read that could be drawn.\n"
	}
	return strings.TrimLeft(out.String(), "\n")
}

func drawHeights(out *strings.Builder, title string, r inspect.RunoutFigures, most *length.Length, unit length.Unit) {
	lowest := slices.Min(r.Heights)
	full := max(r.TIR, 1)
	if most != nil {
		full = max(*most*pictured/limited, r.TIR)
		title += ", each over the lowest; | is the most, " + desk.Figure(*most, unit, 4)
	}
	fmt.Fprintf(out, "\n%s\n", title)
	for i, h := range r.Heights {
		bar := []byte(strings.Repeat("#", columns(h-lowest, full)) + strings.Repeat(" ", pictured))[:pictured]
		if most != nil {
			bar[min(columns(*most, full), pictured-1)] = '|'
		}
		fmt.Fprintf(out, "flute %-2d  %s %s\n", i+1, bar, desk.Figure(h-lowest, unit, 5))
	}
}

// drawLands draws the lands of the flutes, or of the end teeth, as far as both widths of one were read.
func drawLands(out *strings.Builder, in inspect.Inspection, wear, primary, land inspect.Feature, unit length.Unit) {
	read := func(f inspect.Feature, flute int) length.Length {
		for _, r := range in.Readings {
			if r.Feature == f && r.Flute == flute {
				return r.Value
			}
		}
		return 0
	}
	var widest length.Length
	for flute := range in.Tool.Flutes {
		widest = max(widest, read(land, flute+1))
	}
	if widest == 0 {
		return
	}
	limit := in.Basis.Limits.MostShare().Value()
	fmt.Fprintf(out, "\n%s from the edge: x worn, = primary, . behind; | is %.3f of it\n", strings.ToUpper(words.Short(land)), limit)
	for flute := 1; flute <= in.Tool.Flutes; flute++ {
		whole, edge := read(land, flute), read(primary, flute)
		if whole == 0 || edge == 0 {
			fmt.Fprintf(out, "flute %-2d  not read\n", flute)
			continue
		}
		bar := []byte(strings.Repeat(".", columns(whole, widest)))
		for i := range min(columns(edge, widest), len(bar)) {
			bar[i] = '='
		}
		for i := range min(columns(read(wear, flute), widest), len(bar)) {
			bar[i] = 'x'
		}
		if len(bar) > 0 {
			bar[min(int(limit*float64(len(bar))), len(bar)-1)] = '|'
		}
		fmt.Fprintf(out, "flute %-2d  %-*s %.2f\n", flute, pictured, bar, float64(edge)/float64(whole))
	}
}

// columns is how many columns a length takes where full takes all of them.
func columns(l, full length.Length) int {
	return int((l*pictured + full/2) / full)
}
