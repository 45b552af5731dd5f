package report

import (
	"fmt"

	"flutelog/inspect"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// StageFigures is what one stage of a regrind left: the shares of the lands and the TIR, as far as read.
type StageFigures struct {
	Stage  inspect.Stage
	Ratios []geometry.Ratio // flute 1 first; none when the lands were not read
	TIR    *length.Length
}

// BeforeAfter is the stages of one regrind beside each other.
type BeforeAfter struct {
	Title  string
	Stages []StageFigures // in the order in which they were inspected
	Limit  *length.Length // of the TIR
	Unit   length.Unit
}

// Sizes of the comparison. The bars of the lands stand where those of LandBars do.
const (
	tirLeft, tirRight = 64, 262
	tirRow            = 15
)

// A stageBar is one bar of a stage, of a share or of a TIR.
type stageBar struct {
	Stage               inspect.Stage
	Class               string // how the stage is filled
	Flute               int    // 0 for a TIR
	X, Y, Width, Height px
	Name, Value         label // of a TIR
}

type compareDrawing struct {
	Title, Desc  string
	Legend       []stageBar
	Shares       []stageBar
	Flutes       []label
	Left, Right  px
	Half, Bottom px
	HalfName     label
	TIRs         []stageBar
	Limit        px // of the TIR, a place across; 0 for none
	LimitTop     px
	LimitBottom  px
	Captions     []label
	Height       px
}

// stageFill tells the stages apart in black and white.
var stageFill = map[inspect.Stage]string{inspect.Before: "hollow", inspect.Between: "light", inspect.After: "solid"}

// figure draws the comparison: the share of each flute's land, and under it the TIR.
func (b BeforeAfter) figure() figure {
	d := compareDrawing{Title: b.Title, Left: barsLeft, Right: width - 4}
	top := px(24)
	for i, s := range b.Stages {
		d.Legend = append(d.Legend, stageBar{Stage: s.Stage, Class: stageFill[s.Stage], X: px(152 + 68*i), Y: 3, Width: 10, Height: 10,
			Name: label{point{px(166 + 68*i), 12}, string(s.Stage), "start"}})
	}
	if n := b.flutes(); n > 0 {
		b.drawShares(&d, n, top)
		top = d.Bottom + 24
	}
	b.drawTIRs(&d, top)
	words := "share of the land"
	if len(d.TIRs) > 0 {
		words += " and TIR"
	}
	if d.Limit > 0 {
		words += "; limit " + b.Limit.In(b.Unit) + " dashed"
	}
	d.Captions, d.Height = captions(top+px(tirRow*len(d.TIRs))+12, words)
	d.Desc = b.description()
	return draw("compare", d.Height, d)
}

// shows says whether there are two stages of which the same was read.
func (b BeforeAfter) shows() bool {
	lands, runouts := 0, 0
	for _, s := range b.Stages {
		if len(s.Ratios) > 0 {
			lands++
		}
		if s.TIR != nil {
			runouts++
		}
	}
	return max(lands, runouts) > 1
}

// flutes returns how many flutes have a share at any stage.
func (b BeforeAfter) flutes() int {
	n := 0
	for _, s := range b.Stages {
		n = max(n, len(s.Ratios))
	}
	return n
}

func (b BeforeAfter) drawShares(d *compareDrawing, flutes int, top px) {
	d.Bottom = top + barsHeight
	d.Half = d.Bottom - px(barsHeight*inspect.Half.Value())
	d.HalfName = label{point{barsLeft - 4, d.Half + 4}, "half", "end"}
	pitch := px(barsWidth) / px(flutes)
	thick := min(0.8*pitch/px(len(b.Stages)), 16)
	for k := range flutes {
		middle := barsLeft + pitch*(px(k)+0.5)
		d.Flutes = append(d.Flutes, label{point{middle, d.Bottom + 14}, fmt.Sprint(k + 1), "middle"})
		for i, s := range b.Stages {
			if k >= len(s.Ratios) {
				continue
			}
			high := px(barsHeight * s.Ratios[k].Value())
			d.Shares = append(d.Shares, stageBar{Stage: s.Stage, Class: stageFill[s.Stage], Flute: k + 1,
				X: middle + thick*(px(i)-px(len(b.Stages))/2), Y: d.Bottom - high, Width: thick - 1, Height: high})
		}
	}
}

// drawTIRs draws the TIR of each stage from the left, all to one scale with the limit.
func (b BeforeAfter) drawTIRs(d *compareDrawing, top px) {
	var most length.Length
	if b.Limit != nil {
		most = *b.Limit
	}
	for _, s := range b.Stages {
		if s.TIR != nil {
			most = max(most, *s.TIR)
		}
	}
	across := func(l length.Length) px { return px((tirRight - tirLeft) * float64(l) / float64(max(most, 1))) }
	for _, s := range b.Stages {
		if s.TIR == nil {
			continue
		}
		y := top + px(tirRow*len(d.TIRs))
		end := tirLeft + across(*s.TIR)
		d.TIRs = append(d.TIRs, stageBar{Stage: s.Stage, Class: stageFill[s.Stage], X: tirLeft, Y: y, Width: end - tirLeft, Height: 11,
			Name:  label{point{tirLeft - 6, y + 10}, string(s.Stage), "end"},
			Value: label{point{tirRight + 8, y + 10}, number(*s.TIR, b.Unit), "start"}})
	}
	if b.Limit != nil && len(d.TIRs) > 0 {
		d.Limit, d.LimitTop, d.LimitBottom = tirLeft+across(*b.Limit), top-4, top+px(tirRow*len(d.TIRs))
	}
}

func (b BeforeAfter) description() string {
	desc := ""
	for _, s := range b.Stages {
		desc += string(s.Stage) + ":"
		for i, r := range s.Ratios {
			desc += fmt.Sprintf(" flute %d primary %.3f of the land,", i+1, r.Value())
		}
		if s.TIR != nil {
			desc += " TIR " + s.TIR.In(b.Unit) + ","
		}
		desc = desc[:len(desc)-1] + ". "
	}
	return desc
}
