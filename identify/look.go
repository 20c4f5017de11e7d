package identify

// Look is something to look for before anything is measured.
type Look struct {
	Look string `json:"look"`
	Why  string `json:"why"`
	Then string `json:"then"` // "quarantine" or "note"
}

// Looks is the list to go through before the first reading: what to look for,
// and what it means. Common practice, no source.
func Looks() []Look {
	return []Look{
		{"charred paint, a burnt smell, swollen tape or a cracked bobbin", "the insulation has been hot and cannot be trusted; quarantine it", "quarantine"},
		{"a core welded along its seams, with loose steel shunts between two coils side by side", "a microwave-oven unit: thousands of volts and one end on the core. Do not measure it live; quarantine it", "quarantine"},
		{"a winding's end that is soldered or screwed to the iron", "it joins the core: there is no insulation to rely on; quarantine it", "quarantine"},
		{"400 Hz on the label, or an aircraft part number", "at 50 or 60 Hz its iron saturates at once and it smokes unloaded; quarantine it", "quarantine"},
		{"a label in ohms and watts (4, 8, 16 Ω) or in dB, from an amplifier's output or a microphone", "an audio unit: it is not made for mains; quarantine it", "quarantine"},
		{"a ferrite core, a handful of turns, or a box marked electronic transformer", "a converter at tens of kilohertz: not a mains unit; quarantine it", "quarantine"},
		{"a lead cut too short to insulate, or wire broken off at a pin with no copper left", "it cannot be joined safely; quarantine it", "quarantine"},
		{"a lump under the tape of the mains side", "a thermal link: keep it in the mains lead. An open mains winding is often only that link", "note"},
		{"the label: volts, hertz, VA, class letters, and the country it came from", "what it claims is tested later, but it is a start", "note"},
		{"the iron: width of the middle limb, thickness of the stack, and the weight", "they bound what the unit can give", "note"},
	}
}
