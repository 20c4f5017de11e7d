package heat

// Constants of copper.
const (
	K             = 234.5           // R is proportional to K + T [°C]
	KAluminium    = 225.0           // the same for EC aluminium [°C]
	Resistivity20 = 1.7241e-8       // annealed copper, 20 °C [Ω·m]
	VolumeHeat    = 3.45e6          // density × specific heat [J/(m³K)]
	coldC         = 20.0            // reference temperature of R₂₀ [°C]
	Alpha20       = 1 / (K + coldC) // temperature coefficient at 20 °C [1/K]
)

// Factor is R/R₂₀ of copper at a temperature [°C]. Equation (H1).
func Factor(celsius float64) float64 { return (K + celsius) / (K + coldC) }

// Ohms is the resistance at a temperature [°C] of a winding whose resistance at 20 °C is ohms20 [Ω], in [Ω].
func Ohms(ohms20, celsius float64) float64 { return ohms20 * Factor(celsius) }

// Ohms20 takes a resistance [Ω] measured at a temperature [°C] back to 20 °C [Ω].
func Ohms20(ohms, celsius float64) float64 { return ohms / Factor(celsius) }

// ByResistance is the mean temperature of a winding of hot resistance [Ω] that had the
// cold resistance [Ω] at a temperature coldC [°C], in [°C]. Equation (H2); k is K or KAluminium [°C].
func ByResistance(hot, cold, coldC, k float64) float64 { return hot/cold*(k+coldC) - k }

// Rise is the rise over the air at the end of a run, ambient [°C], by resistance
// [K]; the other parameters as in ByResistance. Equation (H3).
func Rise(hot, cold, coldC, ambient, k float64) float64 {
	return ByResistance(hot, cold, coldC, k) - ambient
}
