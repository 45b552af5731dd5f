package tools

import (
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
	"flutelog/inspect/words"
)

// kindFlags are the flags that say what kind of tool it is beside its plain description.
type kindFlags struct {
	cut, form, sharpened, taper, edges, atLeast, atMost, sizeClass string
	centre                                                         bool
}

// usual lists the words for what a tool is in one respect, with the one that it is where nobody says.
func usual(name string) string {
	words := inspect.ToolWords(name)
	return fmt.Sprintf("%s (default %s)", command.OneOf(words...), words[0])
}

func (k *kindFlags) flags(f *command.Flags) {
	f.WordVar(&k.cut, "cut", "", "hand in which it cuts, apart from that of the helix, "+usual("cut"))
	f.WordVar(&k.form, "form", "", "form of the relief: "+usual("form"))
	f.WordVar(&k.sharpened, "sharpened", "", "what is ground to sharpen it: "+usual("sharpened"))
	f.BoolVar(&k.centre, "centre-cutting", false, "its end teeth meet over the centre: it is gashed before the ends are ground")
	f.StringVar(&k.taper, "taper", "", "nominal taper in degrees a side; the diameter grows toward the shank (default 0)")
	f.StringVar(&k.edges, "edge-length", "", "how long its edges are along the axis: the rest of a taper is set for their middle (default twice the diameter)")
	f.StringVar(&k.atLeast, "at-least", "", "the diameter that this tool must hold, where it is not the bench's limit")
	f.StringVar(&k.atMost, "at-most", "", "the most that its diameter may be")
	f.StringVar(&k.sizeClass, "size-class", "", "in place of both, a tolerance class of ISO 286 at the nominal diameter, such as h10")
}

// over puts what the flags say over a tool.
func (k *kindFlags) over(f *command.Flags, r *command.Reader, t *inspect.Tool) {
	for flag, set := range map[string]func(){
		"cut":            func() { t.Cut = inspect.Hand(k.cut) },
		"form":           func() { t.Form = inspect.Form(k.form) },
		"sharpened":      func() { t.Sharpened = inspect.Sharpened(k.sharpened) },
		"centre-cutting": func() { t.CentreCutting = k.centre },
		"taper":          func() { t.Taper = r.NeededAngle("taper", k.taper) },
		"edge-length":    func() { t.Edges = r.OptionalSize("edge-length", k.edges) },
		"at-least":       func() { t.AtLeast = r.OptionalSize("at-least", k.atLeast) },
		"at-most":        func() { t.AtMost = r.OptionalSize("at-most", k.atMost) },
	} {
		if f.Changed(flag) {
			set()
		}
	}
	if k.sizeClass == "" {
		return
	}
	if k.atLeast+k.atMost != "" {
		r.Fail("size-class", fmt.Errorf("give it, or --at-least and --at-most"))
		return
	}
	least, most, err := inspect.SizeClass(k.sizeClass, t.Diameter)
	if err != nil {
		r.Fail("size-class", err)
		return
	}
	t.AtLeast, t.AtMost = &least, &most
}

// warnNominal says which nominal relief of a tool lies outside the band it will be judged by.
func warnNominal(e command.Env, at command.Opened, t inspect.Tool) {
	for _, f := range inspect.NominalOutside(t, at.Bench.Basis(t, inspect.After).Limits) {
		fmt.Fprintf(e.Stderr, "flutelog: warning: nominal %s: outside the band it is held against\n", words.FindingReason(f, at.Unit))
	}
}

// kindRows are the rows of a tool that is not of the plain kind.
func kindRows(t inspect.Tool, unit length.Unit) [][2]string {
	var rows [][2]string
	for _, row := range [][3]string{
		{"cut", string(t.Cut), string(inspect.RightHand)}, {"form of the relief", string(t.Form), string(inspect.FlatRelief)},
		{"sharpened on the", string(t.Sharpened), string(inspect.OnPeriphery)},
	} {
		if row[1] != "" && row[1] != row[2] {
			rows = append(rows, [2]string{row[0], row[1]})
		}
	}
	if t.CentreCutting {
		rows = append(rows, [2]string{"centre cutting", "yes"})
	}
	if t.Taper != 0 {
		rows = append(rows, [2]string{"taper a side", t.Taper.String()})
	}
	switch {
	case t.Edges != nil:
		rows = append(rows, [2]string{"edges along the axis", t.Edges.In(unit)})
	case t.Taper != 0:
		rows = append(rows, [2]string{"edges along the axis", "not told: taken as two diameters, " + t.EdgeLength().In(unit)})
	}
	for _, b := range []struct {
		name  string
		value *length.Length
	}{{"at least", t.AtLeast}, {"at most", t.AtMost}} {
		if b.value != nil {
			rows = append(rows, [2]string{b.name, b.value.In(unit)})
		}
	}
	return rows
}

// lastWidths returns an inspection of a tool with the widths of the primary that were read of it last, for what goes by
// them; without readings where none was.
func lastWidths(at command.Opened, t record.Tool, basis inspect.Basis) inspect.Inspection {
	in := inspect.Inspection{Tool: t.Tool, Stage: inspect.After, Basis: basis, LastDiameter: t.LastDiameter()}
	for i := len(t.Inspections) - 1; i >= 0; i-- {
		last, err := record.Find(at.Ledger, t.Inspections[i].Inspection)
		if err != nil {
			continue
		}
		for _, r := range last.Readings {
			if r.Feature == inspect.PrimaryLand {
				in.Readings = append(in.Readings, r)
			}
		}
		if in.Readings != nil {
			break
		}
	}
	return in
}

// printLook prints over which distance the relief is read, and the drop to look for.
func printLook(e command.Env, in inspect.Inspection, unit length.Unit) {
	look, err := in.DropLook(inspect.Key{Feature: inspect.ReliefDrop, Flute: 1})
	if err != nil {
		fmt.Fprintf(e.Stdout, "relief drop: %v\n", err)
		return
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "checking distance\t%s\n", words.Look(look, unit))
	w.Flush()
}
