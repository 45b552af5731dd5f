package export

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// ErrClockNotSet says that the standard wants a time and the record has none that can be believed.
var ErrClockNotSet = errors.New("the clock was not set when this was recorded, and the standard wants a time; set the clock, and have the newest step (an inspection or a ruling) recorded anew")

// ErrNothingToSay says that an inspection was given up, or is of practice, and no asset can be made of it.
var ErrNothingToSay = errors.New("it was given up: there is nothing to hand on")

// Asset is what an asset says of a tool beside its newest inspection.
type Asset struct {
	Inspection
	Regrinds           int  // released after a grind, as far as the record goes
	RegrindsLeft       *int // forecast before this regrind; nil where there is none
	ConcessionIsUsable bool // the shop takes a tool released by concession for available
	Older              []OlderSize
}

// OlderSize is a size that the newest inspection did not read, from the newest that did.
type OlderSize struct {
	Figure
	Inspection string
	Ground     bool // since it was read: it is not handed on, only that it was read is said
}

// MTConnect writes a tool as a cutting-tool asset of ANSI/MTC1.4, MTConnect version 1.8, the least demanding of readers; in
// a document of its own, from which an agent takes the CuttingTool element. Lengths are in millimetres.
//
// AVAILABLE stands only where a person released the tool and nothing stopped it since. The standard has no run-out: that
// and the heights of the flutes stand in its descriptions, in a namespace of ours. It is an error where the clock was not
// set, because the standard wants a time.
func MTConnect(a Asset) ([]byte, error) {
	if a.GivenUp {
		return nil, ErrNothingToSay
	}
	if !a.NewestSet || !a.ClockSet {
		return nil, ErrClockNotSet
	}
	statuses := node("CutterStatus")
	for _, s := range cutterStatus(a) {
		statuses.add(text("Status", s))
	}
	regrinds := text("ReconditionCount", strconv.Itoa(a.Regrinds))
	if a.RegrindsLeft != nil && a.Standing == record.StandsReleased {
		regrinds.attr("maximumCount", strconv.Itoa(a.Regrinds+*a.RegrindsLeft))
	}
	var sizes []*element
	figures := slices.Clone(a.Figures)
	for _, o := range a.Older {
		if !o.Ground {
			figures = append(figures, o.Figure)
		}
	}
	for _, f := range figures {
		if f.Value == nil {
			continue
		}
		size := func(name, code string) *element {
			e := text(name, number(*f.Value)).attr("code", code).attr("units", "MILLIMETER")
			if f.Most != nil {
				e.attr("maximum", number(*f.Most))
			}
			if f.Least != nil {
				e.attr("minimum", number(*f.Least))
			}
			return e
		}
		switch f.Feature {
		case inspect.Diameter:
			sizes = append(sizes, size("CuttingDiameterMax", "DC").attr("nominal", exact(a.Tool.Diameter)))
		case inspect.Length:
			sizes = append(sizes, size("FunctionalLength", "LF"))
		}
	}
	items := node("CuttingItems").attr("count", strconv.Itoa(a.Tool.Flutes))
	for i := range a.Tool.Flutes {
		flute := node("f:flute").attr("xmlns:f", ours).attr("radialHeight", height(a.Radial, i)).attr("axialHeight", height(a.Axial, i))
		item := node("CuttingItem").attr("indices", strconv.Itoa(i+1))
		if len(flute.Attributes) > 1 {
			item.add(node("Description", flute))
		}
		items.add(item)
	}
	tool := node("CuttingTool", node("Description", a.description()),
		node("CuttingToolLifeCycle", statuses, regrinds, nodeIf("Measurements", sizes...), items)).
		attr("assetId", a.Tool.ID).attr("serialNumber", a.Tool.ID).attr("toolId", class(a.Tool)).
		attr("timestamp", a.NewestAt).attr("deviceUuid", id("bench", a.Bench))
	return document(node("MTConnectAssets",
		node("Header").attr("version", "1.8.0.0").attr("creationTime", a.NewestAt).attr("sender", "flutelog").attr("instanceId", "1").
			attr("deviceModelChangeTime", a.NewestAt).attr("assetBufferSize", "1").attr("assetCount", "1"),
		node("Assets", tool)).attr("xmlns", "urn:mtconnect.org:MTConnectAssets:1.8"))
}

// ours is the namespace of what the standard has no place for.
const ours = "urn:flutelog:export:1"

func (a Asset) description() *element {
	e := node("f:inspection").attr("xmlns:f", ours).attr("id", a.ID).attr("stage", string(a.Stage)).attr("verdict", string(a.Verdict)).
		attr("standing", string(a.Standing)).attr("trueIn", string(a.TrueIn))
	if a.NotReground {
		e.attr("notReground", "true")
	}
	if r := a.Ruling; r != nil {
		e.attr("ruling", r.Word).attr("ruledBy", r.By).attr("condition", r.Why)
	}
	e.attr("inspector", a.Inspector)
	worst := map[inspect.Feature]length.Length{}
	for _, f := range a.Figures {
		if f.Value != nil && f.runout() {
			worst[f.Feature] = max(worst[f.Feature], f.Value.Length())
		}
	}
	for _, r := range []struct {
		name    string
		feature inspect.Feature
	}{{"radialRunout", inspect.RadialRunout}, {"axialRunout", inspect.AxialRunout}, {"shankRunout", inspect.ShankRunout}} {
		if tir, read := worst[r.feature]; read {
			e.attr(r.name, exact(tir))
		}
	}
	for _, o := range a.Older {
		name := string(o.Feature) + "ReadIn"
		if o.Ground {
			name = string(o.Feature) + "ReadBeforeTheGrindIn"
		}
		e.attr(name, o.Inspection)
	}
	return e.attr("ledgerHead", a.Head)
}

func height(all []length.Length, i int) string {
	if i >= len(all) {
		return ""
	}
	return exact(all[i])
}

// class names what is known of a tool's make-up, as a token without spaces: the standard wants one, and we know no
// catalogue.
func class(t inspect.Tool) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '.' || r == '_' || r == '-' {
			return r
		}
		return '_'
	}, fmt.Sprintf("endmill_%smm_%d_%s_%s_%s", exact(t.Diameter), t.Flutes, t.Material, t.Ends, t.Hand))
}

// cutterStatus returns the words that together say how the tool stands. The tool's standing decides before the ruling, the
// ruling before the judgement.
func cutterStatus(a Asset) []string {
	measured := "MEASURED"
	reconditioned := a.Stage == inspect.After || a.NotReground && a.Regrinds > 0
	switch a.Standing {
	case record.StandsWithdrawn, record.StandsRetired:
		return []string{measured, "EXPIRED", "UNAVAILABLE"}
	case record.StandsLocked, record.StandsRecalled:
		return []string{measured, "TAGGED_OUT", "UNAVAILABLE"}
	case record.StandsReleased, record.StandsConceded:
		if a.Standing == record.StandsConceded && !a.ConcessionIsUsable {
			return []string{measured, "UNAVAILABLE"}
		}
		if reconditioned {
			return []string{"RECONDITIONED", measured, "AVAILABLE"}
		}
		return []string{"USED", measured, "AVAILABLE"}
	case record.StandsReceived, record.StandsToGrind, record.StandsToFinish:
		return []string{"USED", measured, "TAGGED_OUT", "UNAVAILABLE"}
	case record.StandsToSign:
		switch {
		case a.Calls == CallsPerson:
			return []string{"USED", measured, "TAGGED_OUT", "UNAVAILABLE"}
		case a.Calls == CallsNothing && reconditioned:
			return []string{"RECONDITIONED", measured, "UNAVAILABLE"}
		}
	}
	return []string{measured, "UNAVAILABLE"}
}
