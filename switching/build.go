package switching

import (
	"math"
	"strconv"

	"yokemate"
	"yokemate/phys/network"
	"yokemate/phys/waveform"
)

// into puts a hookup into time at one level of the mains.
func into(f *network.Facts, h *yokemate.Hookup, level yokemate.MainsLevel, opt network.Options) (*waveform.Hookup, error) {
	volts := make(network.FeedVolts, len(h.Feed))
	for i := range volts {
		volts[i] = h.Feed[i].At(level)
	}
	return waveform.FromHookup(f, h, waveform.HookupOptions{Network: opt, Volts: volts})
}

// feedName names a plug among those of a hookup.
func feedName(h *yokemate.Hookup, i int) string {
	if len(h.Feed) == 1 {
		return "feed"
	}
	return "feed " + strconv.Itoa(i+1)
}

// fuseName names a fuse between joints.
func fuseName(u yokemate.Fuse) string { return u.From + "–" + u.To }

// fuseKind is a fuse's kind, T where none is said.
func fuseKind(kind string) string {
	if kind == "" {
		return "T"
	}
	return kind
}

// finite is a time that may be never as a file has it.
func finite(v float64) *float64 {
	if math.IsInf(v, 1) {
		return nil
	}
	return &v
}

// scaled is a slice times a factor.
func scaled(values []float64, factor float64) []float64 {
	out := make([]float64, len(values))
	for i, v := range values {
		out[i] = v * factor
	}
	return out
}
