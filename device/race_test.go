//go:build race

package device

const raceDetector = true
