package protect

// thermalCelsius are functioning temperatures that thermal links are commonly
// made for. From memory, no source [°C].
var thermalCelsius = []float64{73, 84, 94, 104, 110, 117, 121, 128, 133, 142, 152, 157, 167, 172, 184, 192, 216, 229, 240}

// ThermalLink is the thermal link for a winding whose insulation's class is
// named for a temperature [°C]: the highest usual functioning temperature that
// is not above it. 0 where none is so low. Common practice, no source: the link
// lies against the winding and is some degrees behind its hottest spot in a
// fault, which the class stands for the first hour well above its name.
func ThermalLink(class float64) float64 {
	best := 0.0
	for _, c := range thermalCelsius {
		if c <= class {
			best = c
		}
	}
	return best
}
