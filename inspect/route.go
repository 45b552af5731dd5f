package inspect

import (
	"slices"

	"flutelog/inspect/geometry"
	"flutelog/inspect/length"
)

// Step is one step of the work, in the order in which it is done: what is set, which flutes in which order, how far, and
// what is looked at and read after it. What does not apply is left empty.
type Step struct {
	Do    Do    `json:"do"`
	Where Where `json:"where,omitempty"`
	Away  bool  `json:"away,omitempty"` // this bench does not do it: the tool is sent out for it

	Angle  *length.Angle  `json:"angle,omitempty"`   // of relief; of a chamfer, against the axis
	Normal *length.Angle  `json:"normal,omitempty"`  // the same square to a helical edge, where it is steeper
	Rest   *length.Length `json:"rest,omitempty"`    // of the tooth rest under the tool's centre, at a cup wheel; of a face, the wheel's off the centre
	Tilt   *length.Angle  `json:"tilt,omitempty"`    // of the fixture, for end teeth
	Swivel *length.Angle  `json:"swivel,omitempty"`  // of the fixture for the dish of end teeth; of the table for a taper
	AtEnd  *length.Angle  `json:"at_end,omitempty"`  // of a taper, whose rest is right in the middle of its edges: the relief that it gives at the end
	AtBack *length.Angle  `json:"at_back,omitempty"` // and where the edges end toward the shank
	Wheel  *WheelUse      `json:"wheel,omitempty"`   // that grinds it; nil where nobody says which
	Either []WheelUse     `json:"either,omitempty"`  // of the bench's wheels those that may grind it, where several may and none is named
	Plate  bool           `json:"plate,omitempty"`   // indexed by the plate, not by the tooth on its rest
	Left   bool           `json:"left,omitempty"`    // cuts left-handed: rest, thrust and "backwards" change sides
	Lock   bool           `json:"lock,omitempty"`    // helix against cut: the tool is locked endways

	Touch     int            `json:"touch,omitempty"`      // the flute that the wheel touches first
	Amount    *length.Length `json:"amount,omitempty"`     // infeed from the first touch, or what is cut back or taken off a face
	Divisions *int           `json:"divisions,omitempty"`  // after the last of them the wear should be gone: look there
	Ratio     *float64       `json:"ratio,omitempty"`      // of a secondary: the share that its divisions leave
	Order     []int          `json:"order,omitempty"`      // of the flutes in every round
	Last      []int          `json:"last,omitempty"`       // of the last round, sparking out: it begins half a turn on
	SparkOuts int            `json:"spark_outs,omitempty"` // rounds without feed, the last among them
	Check     []Item         `json:"check,omitempty"`      // what is read after it
	Items     []Item         `json:"items,omitempty"`      // what is to be read, where that is the step
	Sight     Sight          `json:"sight,omitempty"`      // what is to be looked for; of a form that is ground back, what it is ground back past
}

// Wheel is a grinding wheel of the bench.
type Wheel struct {
	Name      string        `json:"name"`
	Diameter  length.Length `json:"diameter"`
	MarkedRPM int           `json:"marked_rpm"` // the speed marked on it, never exceeded
	Abrasive  string        `json:"abrasive,omitempty"`
	Bond      string        `json:"bond,omitempty"`
	Materials []Material    `json:"materials,omitempty"` // that it grinds; none is not told
	Rotation  string        `json:"rotation,omitempty"`  // onto the edge, or off the edge
}

// Grinds says whether the wheel is for a material, as far as it is told.
func (w Wheel) Grinds(m Material) bool { return w.Materials == nil || slices.Contains(w.Materials, m) }

// WheelUse is a wheel on the bench's grinder, its speed held against what is marked on it and what is usual.
type WheelUse struct {
	Wheel
	RPM        int            `json:"rpm,omitempty"`         // of the grinder's spindle; 0 is not known
	Speed      geometry.Speed `json:"speed_m_s,omitempty"`   // of its rim
	OverMarked bool           `json:"over_marked,omitempty"` // it would turn faster than is marked on it
	OverUsual  bool           `json:"over_usual,omitempty"`  // or than wheels of its bond usually may
	NotFor     bool           `json:"not_for,omitempty"`     // it is not for the tool's material
}

// Runs holds a wheel against a spindle's speed and a tool's material; "" and 0 are not known, nor is a mark of 0.
func (w Wheel) Runs(rpm int, m Material) WheelUse {
	u := WheelUse{Wheel: w, RPM: rpm, NotFor: m != "" && !w.Grinds(m), OverMarked: w.MarkedRPM > 0 && rpm > w.MarkedRPM}
	if speed, err := geometry.SurfaceSpeed(w.Diameter, float64(rpm)); err == nil {
		u.Speed, u.OverUsual = speed, speed > geometry.UsualSpeed(w.Bond)
	}
	return u
}

// Wrong says whether the wheel must not grind the tool at that speed.
func (u WheelUse) Wrong() bool { return u.OverMarked || u.OverUsual || u.NotFor }

// WrongWheel says whether a step would be ground with a wheel that must not: too fast, or not for the material.
func (j Judgement) WrongWheel() bool {
	return slices.ContainsFunc(j.Steps, func(s Step) bool { return s.Wheel != nil && s.Wheel.Wrong() })
}

// Do is what a step does.
type Do string

const (
	DoLockAway  Do = "lock away"
	DoScrap     Do = "scrap"
	DoRename    Do = "rename" // a tool that is kept as a smaller one
	DoStone     Do = "stone"
	DoSeat      Do = "seat" // wipe, seat, read the run-out again
	DoReadShank Do = "read the shank"
	DoCutBack   Do = "cut back"
	DoGash      Do = "gash" // between the end teeth, to the old depth
	DoFace      Do = "face"
	DoPrimary   Do = "primary"
	DoLook      Do = "look" // for wear, and for Sight where it is set
	DoBetween   Do = "between"
	DoSecondary Do = "secondary"
	DoCorner    Do = "corner" // the chamfers
	DoForm      Do = "form"   // the ball, or the radius of the corners
	DoDeburr    Do = "deburr"
	DoRead      Do = "read"        // Items
	DoFiner     Do = "finer gauge" // for Items, which the one that was used cannot settle
	DoInspect   Do = "inspect after"
	DoSign      Do = "sign"
	DoPutAway   Do = "put away"
)

// CanBeAway lists the steps that a bench may send out. The forms of balls and corner radii it does unless it says so.
var CanBeAway = []Do{DoCutBack, DoGash, DoFace, DoCorner, DoForm}

// DefaultSendsOut is what is sent out where the bench file does not say: what wants a fixture of its own (our choice).
var DefaultSendsOut = []Do{DoForm}

// Face is one grind of one part: the primary of the flutes.
type Face struct {
	Do    Do    `json:"do"` // DoPrimary, DoSecondary or DoFace
	Where Where `json:"where"`
}

// Name returns the face as a person reads it.
func (f Face) Name() string { return string(f.Do) + " of the " + string(f.Where) }

const ofThe = "-of-the-"

// item is the face as one thing that is open while it is not told as ground.
func (f Face) item() Item { return Item(string(f.Do) + ofThe + string(f.Where)) }

// Face returns the face that a step grinds.
func (s Step) Face() Face { return Face{s.Do, s.Where} }

// Faces returns the faces that steps grind.
func Faces(steps []Step) []Face {
	var faces []Face
	for _, s := range steps {
		faces = append(faces, s.Face())
	}
	return faces
}

// Grinds returns the steps by which this bench grinds a face, in order.
func (j Judgement) Grinds() []Step {
	return slices.DeleteFunc(slices.Clone(j.Steps), func(s Step) bool {
		return s.Away || s.Do != DoPrimary && s.Do != DoSecondary && s.Do != DoFace
	})
}

// Owed returns the steps that were called for before the grind and are not told as ground, with the inspection or before it.
func (in Inspection) Owed() []Step {
	if in.Regrind == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(in.Regrind.Owed), func(s Step) bool { return slices.Contains(in.GroundFaces, s.Face()) })
}

// Dull returns those of Owed that leave the edges as worn as they were: a secondary does not, and its share is read.
func (in Inspection) Dull() []Step {
	return slices.DeleteFunc(in.Owed(), func(s Step) bool { return s.Do == DoSecondary })
}

// Between says whether the tool is read between two grinds of its route, still held.
func (j Judgement) Between() bool {
	return slices.ContainsFunc(j.Steps, func(s Step) bool { return s.Do == DoBetween })
}

// Planned returns the steps by which the tool is ground before it is read the next time; none where it is not ground.
func (j Judgement) Planned() []Step {
	ahead := j
	if between := slices.IndexFunc(j.Steps, func(s Step) bool { return s.Do == DoBetween }); between >= 0 {
		ahead.Steps = j.Steps[:between]
	}
	return ahead.Grinds()
}

// GroundBy tells steps as they are planned. Flutes and ends have each their divisions, those of the primary where both facets are
// ground; what else is told is of the flutes where they are.
func GroundBy(steps []Step) Ground {
	g := Ground{Faces: Faces(steps)}
	var of Step
	for _, s := range steps {
		if s.Do == DoSecondary && slices.Contains(g.Faces, Face{DoPrimary, s.Where}) {
			continue
		}
		fed := &g.Divisions
		if s.Where == OnEnds {
			fed = &g.EndsFed
		}
		if s.Divisions != nil {
			*fed = *s.Divisions
		}
		if s.Where == OnFlutes || of.Where != OnFlutes {
			of = s
		}
	}
	g.Order, g.Last = of.Order, of.Last
	if of.Do != DoFace { // the offset of a face is of the wheel, not of the tooth rest
		g.Offset = of.Rest
	}
	if of.Wheel != nil {
		g.Wheel = of.Wheel.Name
	}
	return g
}

const (
	usualDish    = 2 * length.Degree // 1 to 3 degrees (common practice, no source)
	usualChamfer = 45 * length.Degree
	steelSparks  = 1 // rounds without feed; the last begins half a turn on
	carbideSpark = 3 // common practice, no source
)

// steps are the work in the order in which it is done over the whole tool: what ends it; the shank; cut back and gash; the
// ends; the flutes, or their faces; the corners; then the burr, and what is read. Ends before flutes is our choice.
func (w *judging) steps() {
	add := func(s ...Step) { w.out.Steps = append(w.out.Steps, s...) }
	for _, work := range w.out.Work {
		switch {
		case work.What == Withdraw && work.Because == Locked:
			add(Step{Do: DoLockAway})
		case work.What == Withdraw:
			add(Step{Do: DoScrap})
		case work.What == Downgrade:
			add(Step{Do: DoRename})
		case work.What == StoneShank:
			add(Step{Do: DoStone, Where: OnShank}, Step{Do: DoSeat})
		case work.What == Reseat && (work.Because == ReseatedTwice || work.Because == ShankOut):
			add(Step{Do: DoReadShank, Where: OnShank}, Step{Do: DoSeat})
		case work.What == Reseat:
			add(Step{Do: DoSeat})
		case work.What == ReadOn:
			var items, coarse []Item
			for _, item := range w.out.Unread {
				if item.ungrounded() {
					item = Item(WearLand) // tells whether it was ground
				}
				if !slices.Contains(items, item) {
					items = append(items, item)
				}
			}
			for _, i := range work.Findings {
				into := &items
				if w.out.Findings[i].tooCoarse() {
					into = &coarse
				}
				if item := Item(w.out.Findings[i].Feature); !slices.Contains(*into, item) {
					*into = append(*into, item)
				}
			}
			if items != nil || coarse == nil {
				add(Step{Do: DoRead, Items: items})
			}
			if coarse != nil {
				add(Step{Do: DoFiner, Items: coarse})
			}
		case work.What == NoWork:
			add(Step{Do: DoPutAway})
		case work.What == Release:
			add(Step{Do: DoSign})
		}
	}
	cutBack := false
	for _, work := range w.out.Work {
		if work.What == CutBack {
			cutBack = true
			if !w.in.Tool.HasEndTeeth() {
				continue // its form is ground back, after the flutes
			}
			amount := work.Amount
			if p := w.out.EndPlan; amount != nil && p != nil && p.Infeed > 0 {
				both := *amount + p.Infeed // the chip, and the wear of the corner
				amount = &both
			}
			add(w.step(Step{Do: DoCutBack, Where: OnEnds, Amount: amount}), w.step(Step{Do: DoGash, Where: OnEnds, Plate: true}))
		}
	}
	ends := w.in.Tool.HasEndTeeth() && w.endSteps(cutBack)
	flutes := w.fluteSteps()
	ground := cutBack || ends || flutes
	if ground {
		switch w.in.Tool.Ends {
		case ChamferedEnd:
			chamfer := usualChamfer
			add(w.step(Step{Do: DoCorner, Where: OnEnds, Angle: &chamfer, Order: w.order()}))
		case RadiusEnd, BallEnd:
			form := w.step(Step{Do: DoForm, Where: OnEnds})
			if cutBack {
				form.Sight = ChippedCorner
				for _, work := range w.out.Work {
					if work.What == CutBack {
						form.Amount = work.Amount
					}
				}
			}
			add(form)
			if cutBack {
				add(Step{Do: DoLook, Where: OnEnds, Sight: ChippedCorner})
			}
			if form.Away && flutes {
				w.note(Note{What: BlendBroken})
			}
		}
		add(Step{Do: DoDeburr})
	}
	if ground || w.out.Calls(GoOn) {
		if burn, yes := w.seen(Burn); yes {
			add(Step{Do: DoLook, Sight: burn.Sight})
		}
		add(Step{Do: DoInspect})
	}
}

// step adds to a step that grinds what is true of every one on this tool, whether this bench does it, and the wheel that does.
func (w *judging) step(s Step) Step {
	t := w.in.Tool
	s.Left, s.Lock = t.LeftCut(), w.helix() < 0
	if s.Away = slices.Contains(w.in.Basis.SendsOut, s.Do); !s.Away && s.Do != DoGash { // that wants a thin wheel of its own
		s.Wheel, s.Either = w.wheel()
	}
	return s
}

// order is the order in which the flutes are ground, round by round.
func (w *judging) order() []int {
	if w.in.Basis.GrindOrder != nil {
		return w.in.Basis.GrindOrder
	}
	var order []int
	for flute := range w.in.Tool.Flutes {
		order = append(order, flute+1)
	}
	return order
}

// facet returns the step of a facet, set up and fed.
func (w *judging) facet(do Do, where Where, check ...Item) Step {
	s := w.step(Step{Do: do, Where: where, Order: w.order(), Check: check, SparkOuts: steelSparks})
	s.Last = geometry.LastRound(w.in.Basis.GrindOrder, w.in.Tool.Flutes)
	if w.in.Basis.FromFirst {
		s.Last = w.order()
	}
	if w.in.Tool.Material == Carbide {
		s.SparkOuts = carbideSpark
	}
	if w.in.Tool.Angles != nil {
		s.Plate = true
	}
	return s
}

// wheel is the wheel that grinds the tool: the one that was told, else of the bench's for its material the only one, or the only
// one that may turn at the grinder's speed. Where several may, which one is to be said, and where all are wrong the first shows why.
func (w *judging) wheel() (*WheelUse, []WheelUse) {
	var fit, may []WheelUse
	for _, wheel := range w.in.Basis.Wheels {
		u := wheel.Runs(w.in.Basis.SpindleRPM, w.in.Tool.Material)
		switch {
		case wheel.Name == w.in.Wheel:
			return &u, nil
		case w.in.Wheel == "" && !u.NotFor:
			fit = append(fit, u)
			if !u.Wrong() {
				may = append(may, u)
			}
		}
	}
	switch {
	case len(may) > 1:
		return nil, may
	case len(may) == 1:
		return &may[0], nil
	case len(fit) > 0:
		return &fit[0], nil
	}
	return nil, nil
}

// endSteps are those of the end teeth; false where they are not ground. What was cut back is ground as new.
func (w *judging) endSteps(cutBack bool) bool {
	what := w.grindOf(OnEnds)
	if what == "" && !cutBack {
		return false
	}
	if w.in.Tool.CentreCutting && !cutBack {
		w.out.Steps = append(w.out.Steps, w.step(Step{Do: DoGash, Where: OnEnds, Plate: true}))
	}
	if what == "" || cutBack {
		what = GrindBoth
	}
	w.grindSteps(OnEnds, what, cutBack)
	return true
}

// fluteSteps are those of the flutes; false where they are not ground.
func (w *judging) fluteSteps() bool {
	what := w.grindOf(OnFlutes)
	switch what {
	case "":
		return false
	case GrindFace:
		w.faceStep()
		return true
	}
	w.grindSteps(OnFlutes, what, false)
	return true
}

// grindOf returns the grind that is called for on a part, "" for none.
func (w *judging) grindOf(where Where) Task {
	var what Task
	for _, work := range w.out.Work {
		if work.Where != where {
			continue
		}
		switch work.What {
		case GrindFace, GrindBoth, GrindSecondary, GrindPrimary, GrindAgain:
			if work.Because == LooksAlike {
				w.out.Steps = append(w.out.Steps, Step{Do: DoReadShank, Where: OnShank})
			}
			if what == "" {
				what = work.What
			} else if what == GrindSecondary || work.What == GrindSecondary {
				what = GrindBoth
			}
		}
	}
	return what
}

// faceStep grinds the faces: the wheel's face stands (D/2) sin g off the tool's centre for a rake of g.
func (w *judging) faceStep() {
	s := w.facet(DoFace, OnFlutes)
	s.Plate = true
	for _, work := range w.out.Work {
		if work.What == GrindFace {
			s.Amount = work.Amount
		}
	}
	rake := w.rake()
	if rake > 0 {
		diameter, _ := w.cutting()
		if rest, err := geometry.ClearanceOffset(diameter, rake); err == nil {
			s.Rest = &rest
		}
	}
	w.out.Steps = append(w.out.Steps, s, Step{Do: DoLook, Where: OnFlutes})
}

// grindSteps are those of the primary and the secondary of one part.
func (w *judging) grindSteps(where Where, what Task, asNew bool) {
	primary, secondary := w.settings(where, what == GrindSecondary)
	if asNew {
		primary.Touch, primary.Amount, primary.Divisions = 0, nil, nil
		secondary.Touch, secondary.Amount, secondary.Divisions, secondary.Ratio = 0, nil, nil, nil
	}
	for _, s := range w.in.Owed() { // as they were planned from what was read before the grind
		switch {
		case s.Where != where || w.in.Stage != Between || !w.dull(where):
		case s.Do == DoPrimary:
			primary = s
		case s.Do == DoSecondary:
			secondary = s
		}
	}
	look := Step{Do: DoLook, Where: where, Divisions: primary.Divisions, Sight: w.chipOn(where)}
	switch what {
	case GrindSecondary:
		w.out.Steps = append(w.out.Steps, secondary)
	case GrindBoth:
		w.out.Steps = append(w.out.Steps, primary, look, Step{Do: DoBetween, Where: where}, secondary)
	default:
		w.out.Steps = append(w.out.Steps, primary, look)
	}
}

// chipOn returns the chip that the work on a part is to reach, "" for none.
func (w *judging) chipOn(where Where) Sight {
	for _, work := range w.out.Work {
		for _, seen := range work.Sights {
			if work.Where == where && seen.Sight.Chip() {
				return seen.Sight
			}
		}
	}
	return ""
}

// settings returns how the primary and the secondary of a part are set up and fed; alone says that the secondary is
// ground and no primary before it.
func (w *judging) settings(where Where, alone bool) (primary, secondary Step) {
	part, third := partOf(where), ReliefDrop
	if where == OnEnds {
		third = Dish
	}
	primary = w.facet(DoPrimary, where, Item(part.stand), Item(part.primary), Item(third))
	secondary = w.facet(DoSecondary, where, Item(part.primary), Item(part.land))
	g, laid := w.lay(where)
	if !laid { // the angles are known all the same
		g = &Grinding{}
		w.layAngles(where, g)
	}
	primary.Angle, secondary.Angle = w.aim(where, g)
	for _, s := range []*Step{&primary, &secondary} {
		if where == OnEnds {
			dish := usualDish
			s.Tilt, s.Swivel = s.Angle, &dish
			continue
		}
		if rest, err := geometry.ClearanceOffset(g.Teeth.Diameter, *s.Angle); err == nil {
			s.Rest = &rest
		}
		if normal, err := geometry.NormalRelief(*s.Angle, w.in.Tool.Helix); err == nil && normal-*s.Angle > length.Degree/4 {
			s.Normal = &normal
		}
		w.tapered(s, g.Teeth.Diameter)
	}
	if laid {
		w.fedSteps(g, where, alone, &primary, &secondary)
	}
	return primary, secondary
}

// tapered sets a step for a taper, diameter being that at the end: the table is swivelled, and the rest set for the middle of the
// edges, so that it gives more relief at the small end and less toward the shank.
func (w *judging) tapered(s *Step, diameter length.Length) {
	t := w.in.Tool
	if t.Taper == 0 {
		return
	}
	s.Swivel = &t.Taper
	rest, err := geometry.RestOfTaper(diameter, t.EdgeLength(), t.Taper, *s.Angle)
	if err != nil {
		return
	}
	s.Rest, s.AtEnd, s.AtBack = &rest.Rest, &rest.End, &rest.Shank
}

// aim returns the reliefs that the wheel is set for: those that the teeth have, but that one outside its band is brought
// back to the middle of it.
func (w *judging) aim(where Where, g *Grinding) (primary, secondary *length.Angle) {
	part, nominal1, nominal2 := partOf(where), w.in.Tool.PrimaryRelief, w.in.Tool.SecondaryRelief
	if where == OnEnds {
		nominal1, nominal2 = nil, nil
	}
	to := func(has length.Angle, nominal *length.Angle, f Feature) *length.Angle {
		limit := w.in.Basis.Limits[f]
		least, most := limit.Angles()
		if nominal == nil && (least != nil && has < *least || most != nil && has > *most) {
			has, _ = angleOr(nil, limit)
		}
		return &has
	}
	return to(g.Teeth.PrimaryRelief, nominal1, part.relief), to(g.Teeth.SecondaryRelief, nominal2, part.secondary)
}

// fedSteps puts into the steps how far they are fed, from the plan where there is one, else from the teeth as they are.
func (w *judging) fedSteps(g *Grinding, where Where, alone bool, primary, secondary *Step) {
	s, err := g.Section()
	if err != nil {
		return
	}
	p := w.out.PlanOf(where)
	if p == nil { // between and after, and where the wear was not read
		p = &Grind{Touch: g.touch(s)}
		if infeed, err := s.Infeed(); err == nil {
			p.Infeed = infeed
		}
	}
	primary.Touch, primary.Divisions = p.Touch, p.Divisions
	if p.Infeed > 0 {
		primary.Amount = &p.Infeed
	}
	behind := p
	if alone || p.SecondaryInfeed == nil {
		behind = &Grind{}
		if g.Behind(behind, s) != nil {
			return
		}
	}
	secondary.Amount, secondary.Divisions, secondary.Touch, secondary.Ratio = behind.SecondaryInfeed, behind.SecondaryDivisions, behind.SecondaryTouch, behind.SecondaryRatio
}
