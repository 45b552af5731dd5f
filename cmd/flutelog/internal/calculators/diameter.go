package calculators

import (
	"fmt"
	"text/tabwriter"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

type diameterFlags struct {
	command.Units
	master, masterReading, heights, vee, lastDiameter string
	length, lastLength                                string
	lengthMaster, lengthMasterReading, endHeights     string
}

func Diameter() command.Command {
	var c diameterFlags
	return command.Command{
		Name:    "diameter",
		Summary: "cutting diameter by comparison with a master pin, and the offsets for the machinist",
		Example: "diameter --unit in --master 0.5 --master-reading 0 --heights -0.002,-0.0023,-0.0021,-0.0022 --last-diameter 0.5",
		Flags:   c.flags,
		Run:     func(e command.Env, _ *command.Flags) error { return c.run(e) },
	}
}

func (c *diameterFlags) flags(f *command.Flags) {
	f.StringVar(&c.master, "master", "", "diameter of the master pin")
	f.StringVar(&c.masterReading, "master-reading", "0", "what the indicator reads on the master")
	f.StringVar(&c.heights, "heights", "", "high point of each flute, read with the same indicator at the same place, with commas between")
	f.StringVar(&c.vee, "vee", "", "included angle in degrees of the vee the teeth are seated in (default: turned about an axis)")
	f.StringVar(&c.lastDiameter, "last-diameter", "", "diameter when the machine's offset was last set")
	f.StringVar(&c.length, "length", "", "length offset of the tool now")
	f.StringVar(&c.lengthMaster, "length-master", "", "in place of --length, the length of a master that the end teeth are compared with")
	f.StringVar(&c.lengthMasterReading, "length-master-reading", "0", "what the indicator reads on that master, plus away from the shank")
	f.StringVar(&c.endHeights, "end-heights", "", "with --length-master, height of each end tooth along the axis, with commas between")
	f.StringVar(&c.lastLength, "last-length", "", "length offset last time: its change is shown")
	c.Units.Flags(f)
}

// offsets are what the machinist enters, with the change of both since last time.
type offsets struct {
	geometry.Diameter
	diameterChange, radiusChange, length, lengthChange *length.Length
}

func (c *diameterFlags) run(e command.Env) error {
	r := c.Reader()
	master := r.Size("master", c.master)
	heights := r.NeededLengths("heights", c.heights)
	reading := r.Needed("master-reading", c.masterReading)
	vee := r.Angle("vee", c.vee)
	lastDiameter := r.OptionalSize("last-diameter", c.lastDiameter)
	long, lastLong := c.lengthNow(r), r.OptionalSize("last-length", c.lastLength)
	if long == nil && lastLong != nil {
		r.Fail("last-length", fmt.Errorf("give --length or --length-master with it"))
	}
	if r.Err != nil {
		return r.Err
	}
	var out offsets
	var err error
	if vee == nil {
		out.Diameter, err = geometry.DiameterOverMaster(master, reading, heights)
	} else {
		out.Diameter, err = geometry.DiameterInVee(master, reading, heights, *vee)
	}
	if err != nil {
		return command.Usage(fmt.Errorf("--heights, --vee: %w", err))
	}
	out.since(lastDiameter, long, lastLong)
	if c.JSON {
		return command.PrintJSON(e, out.json(r.Unit))
	}
	out.print(e, r.Unit)
	return nil
}

// lengthNow reads the length offset, or works it out by comparison with a master; nil is neither.
func (c *diameterFlags) lengthNow(r *command.Reader) *length.Length {
	if c.lengthMaster == "" {
		if c.endHeights != "" {
			r.Fail("end-heights", fmt.Errorf("give --length-master with it"))
		}
		return r.OptionalSize("length", c.length)
	}
	if c.length != "" {
		r.Fail("length", fmt.Errorf("give it or --length-master, not both"))
	}
	master := r.Size("length-master", c.lengthMaster)
	reading := r.Needed("length-master-reading", c.lengthMasterReading)
	heights := r.NeededLengths("end-heights", c.endHeights)
	if r.Err != nil {
		return nil
	}
	long := geometry.LengthOverMaster(master, reading, heights)
	return &long
}

func (o *offsets) since(lastDiameter, long, lastLong *length.Length) {
	o.length = long
	if lastDiameter != nil {
		radius := o.RadiusOffset - *lastDiameter/2
		diameter := 2*o.RadiusOffset - *lastDiameter
		o.radiusChange, o.diameterChange = &radius, &diameter
	}
	if lastLong != nil {
		change := *long - *lastLong
		o.lengthChange = &change
	}
}

func (o offsets) largest() *length.Length {
	if !o.HasMax {
		return nil
	}
	return &o.Max
}

func (o offsets) json(unit length.Unit) any {
	return struct {
		Max          *length.Number `json:"diameter_max"` // null where only a mean exists
		Mean         length.Number  `json:"diameter_mean"`
		RadiusOffset length.Number  `json:"radius_offset"`
		RadiusChange *length.Number `json:"radius_change,omitempty"`
		Change       *length.Number `json:"diameter_change,omitempty"`
		LengthOffset *length.Number `json:"length_offset,omitempty"`
		LengthChange *length.Number `json:"length_change,omitempty"`
		Unit         length.Unit    `json:"unit"`
	}{
		command.Number(o.largest(), unit), o.Mean.Number(unit), o.RadiusOffset.Number(unit),
		command.Number(o.radiusChange, unit), command.Number(o.diameterChange, unit), command.Number(o.length, unit), command.Number(o.lengthChange, unit), unit,
	}
}

func (o offsets) print(e command.Env, unit length.Unit) {
	if o.HasMax {
		fmt.Fprintf(e.Stdout, "cutting diameter %s, over the highest tooth\n\n", o.Max.In(unit))
	} else {
		fmt.Fprintf(e.Stdout, "mean diameter %s\nnote: in this vee the teeth read alike at every position, so that neither the largest diameter nor the TIR shows\n\n", o.Mean.In(unit))
	}
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "mean diameter\t%s\n", o.Mean.In(unit))
	fmt.Fprintf(w, "diameter offset\t%s%s\n", (2 * o.RadiusOffset).In(unit), changed(o.diameterChange, unit))
	fmt.Fprintf(w, "radius offset\t%s%s\n", o.RadiusOffset.In(unit), changed(o.radiusChange, unit))
	if o.length != nil {
		fmt.Fprintf(w, "length offset\t%s%s\n", o.length.In(unit), changed(o.lengthChange, unit))
	}
	w.Flush()
}

// changed prints the change of an offset since last time with its sign.
func changed(l *length.Length, unit length.Unit) string {
	if l == nil {
		return ""
	}
	sign := ""
	if *l > 0 {
		sign = "+"
	}
	return ", change since last time " + sign + l.In(unit)
}

// entered is what a machinist enters for a tool of the ledger, for a program; null is not known.
type entered struct {
	Diameter       *length.Number `json:"diameter"`
	DiameterChange *length.Number `json:"diameter_change"` // since the machinist last had the tool, as the others
	Radius         *length.Number `json:"radius"`
	RadiusChange   *length.Number `json:"radius_change"`
	Length         *length.Number `json:"length"`
	LengthChange   *length.Number `json:"length_change"`
}

func NewEntered(o record.Offsets, unit length.Unit) entered {
	return entered{
		command.Number(o.Diameter.Now, unit), command.Number(o.Diameter.Change(), unit), command.Number(half(o.Diameter.Now), unit), command.Number(half(o.Diameter.Change()), unit),
		command.Number(o.Length.Now, unit), command.Number(o.Length.Change(), unit),
	}
}

func half(l *length.Length) *length.Length {
	if l == nil {
		return nil
	}
	h := *l / 2
	return &h
}

// PrintEntered prints what a machinist enters for a tool, as far as it was read.
func PrintEntered(e command.Env, o record.Offsets, usable bool, unit length.Unit) {
	if o.Diameter.Now == nil && o.Length.Now == nil {
		return
	}
	fmt.Fprintln(e.Stdout, "for the machinist")
	w := tabwriter.NewWriter(e.Stdout, 0, 0, 2, ' ', 0)
	for _, row := range []struct {
		name        string
		now, change *length.Length
	}{{"cutting diameter", o.Diameter.Now, o.Diameter.Change()}, {"radius", half(o.Diameter.Now), half(o.Diameter.Change())}, {"length", o.Length.Now, o.Length.Change()}} {
		if row.now != nil {
			fmt.Fprintf(w, "  %s\t%s%s\n", row.name, row.now.In(unit), changed(row.change, unit))
		}
	}
	w.Flush()
	if !usable {
		fmt.Fprintln(e.Stdout, "  not to be entered before the tool is released")
	}
}
