// Package cautions is what is said wherever the program sends a hand near a machine.
package cautions

// Grinding stands wherever the answer sends a person to the grinder.
var Grinding = []string{
	"Never over the speed marked on the wheel. Ring a vitrified wheel before it is mounted; never ring others.",
	"Guard on, rest close to the wheel, the wheel's thrust holding the tooth on its rest.",
	"The abrasive for the tool's material. Extraction running: dust and mist of carbide and cobalt harm the lungs.",
	"Eye protection. The edges are sharp.",
	deference,
}

const deference = "Local codes, the machine's own instructions and qualified practice come first."
