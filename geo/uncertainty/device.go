package uncertainty

import (
	"fmt"
	"math"

	"wayfall/geo"
)

// Radii of a fix.
const (
	// unknownFix stands for a fix that came without an accuracy, since
	// Selective Availability ended on 1 May 2000.
	unknownFix = 30 * geo.Metre
	// finest is the least that a fix is given. A figure below it comes from
	// rounding or from a fault, not from a telephone; common practice.
	finest = 1 * geo.Metre
	// coarse is where a fix is more likely from masts or from the network
	// than from satellites; common practice.
	coarse = 1 * geo.Kilometre
	// absurd is where a fix says no more than the country; common practice.
	absurd = 100 * geo.Kilometre
)

// OfDevice is the term for a position fix: the accuracy that the device
// reported, at the level at which it states it, turned into a radius that
// holds the truth in 95 cases of 100. The error is taken as circular normal,
// so that the radius grows with sqrt(-ln(1-level)).
//
// A level that is not known is taken as 50 %: a displayed figure commonly is
// a 50 % radius, the advice is to at least double it, and no lower level is in
// use. A fix without a usable accuracy gets 30 m. No radius is ever zero.
func OfDevice(accuracy geo.Metres, level geo.Confidence) (Term, []geo.Finding) {
	if !(accuracy > 0) || math.IsInf(float64(accuracy), 1) {
		t := Term{Coordinates, unknownFix, "the fix came without a usable accuracy", quickGuide + ", satellite positions since 1 May 2000"}
		return t, []geo.Finding{{
			Code: "accuracy-missing", Because: "the device gave no usable accuracy; 30 m is assumed", Cites: t.Cites,
		}}
	}
	factor, known := ToNinetyFive(level)
	t := Term{Coordinates, geo.Metres(float64(accuracy) * factor), "", own + "; " + bestPractices + ", 3.4.2"}
	t.Because = fmt.Sprintf("the device reported %.3g m at %.3g %%, times %.3f to reach 95 %%", float64(accuracy), 100*float64(level), factor)
	if !known {
		t.Because = fmt.Sprintf("the device reported %.3g m at a level that is not known, taken as 50 %%, times %.3f to reach 95 %%", float64(accuracy), factor)
	}
	if t.Radius < finest {
		t.Radius = finest
		t.Because += "; not less than 1 m"
	}
	return t, oddAccuracy(accuracy)
}

func oddAccuracy(accuracy geo.Metres) []geo.Finding {
	switch {
	case accuracy > absurd:
		return []geo.Finding{{
			Code: "accuracy-absurd", Cites: "common practice",
			Because: fmt.Sprintf("an accuracy of %.0f km is no position; ask for the place in words", float64(accuracy/geo.Kilometre)),
		}}
	case accuracy > coarse:
		return []geo.Finding{{
			Code: "accuracy-coarse", Cites: "common practice",
			Because: fmt.Sprintf("an accuracy of %.1f km is more likely from masts or the network than from satellites; wait for a better fix", float64(accuracy/geo.Kilometre)),
		}}
	case accuracy < finest:
		return []geo.Finding{{
			Code: "accuracy-too-good", Cites: "common practice",
			Because: fmt.Sprintf("an accuracy of %.2g m is finer than a hand-held device can be; at least 1 m is assumed", float64(accuracy)),
		}}
	}
	return nil
}

// ToNinetyFive returns what to multiply a radius by so that it holds the truth
// in 95 cases of 100, and whether the level was known. It never shrinks a
// radius: one stated at 99 % is kept as it is.
func ToNinetyFive(level geo.Confidence) (factor float64, known bool) {
	if !(level > 0 && level < 1) {
		level = geo.Half
	} else {
		known = true
	}
	factor = math.Sqrt(math.Log(1-float64(geo.NinetyFive)) / math.Log(1-float64(level)))
	return math.Max(1, factor), known
}
