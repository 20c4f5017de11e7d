package draw

import "math"

// A Role says what a colour means. The palette is short on purpose: nothing
// may be told by colour alone, so a role always comes with a shape, a letter
// or a word beside it.
type Role uint8

const (
	None   Role = iota // no paint at all
	Ink                // lines and words
	Soft               // secondary words: still 4.5:1 against Paper
	Grid               // faint lines that carry no meaning
	Paper              // the ground
	Panel              // a box on the ground
	Accent             // what to look at now: probes, a gap, what was moved
	Value              // a predicted reading

	// Conductors after IEC 60445.
	LiveIEC
	NeutralIEC
	EarthIEC
	EarthIEC2 // the second colour of green-yellow

	// Conductors after the NEC (NFPA 70, 200.6 and 250.119).
	LiveNEC
	NeutralNEC // white: drawn inside a line of Ink
	EarthNEC

	// States after IEC 60073.
	StopState
	CautionState
	GoState
	InfoState
	OnState   // words and shapes on stop, go and info
	OnCaution // the same on caution, which is light in every theme

	// Curves of a chart; each has a dash and a label of its own too.
	Curve1
	Curve2
	Curve3
	Band // the interval about a curve

	Black // the squares of a code, on White whatever the theme
	White

	roles
)

// Theme chooses one of a role's values.
type Theme uint8

const (
	Light Theme = iota
	Dark
	Print // for paper, legible in black and white
	themes
	Greys // Print without colour
)

// RGB is a colour of the sRGB space.
type RGB struct{ R, G, B uint8 }

// palette holds each role's name and its values for light, dark and print.
var palette = [roles]struct {
	name string
	rgb  [themes]RGB
}{
	None:         {"none", [themes]RGB{}},
	Ink:          {"ink", [themes]RGB{{0x1a, 0x1d, 0x21}, {0xec, 0xea, 0xe4}, {0, 0, 0}}},
	Soft:         {"soft", [themes]RGB{{0x52, 0x58, 0x60}, {0xb4, 0xb4, 0xae}, {0x40, 0x40, 0x40}}},
	Grid:         {"grid", [themes]RGB{{0xc9, 0xcc, 0xcf}, {0x4a, 0x4e, 0x54}, {0xb8, 0xb8, 0xb8}}},
	Paper:        {"paper", [themes]RGB{{0xff, 0xff, 0xff}, {0x18, 0x1b, 0x1f}, {0xff, 0xff, 0xff}}},
	Panel:        {"panel", [themes]RGB{{0xf3, 0xf2, 0xee}, {0x24, 0x28, 0x2d}, {0xf4, 0xf4, 0xf4}}},
	Accent:       {"accent", [themes]RGB{{0x8a, 0x1f, 0x8f}, {0xf0, 0x9b, 0xf2}, {0, 0, 0}}},
	Value:        {"value", [themes]RGB{{0x0b, 0x55, 0x8c}, {0x86, 0xc8, 0xf7}, {0x20, 0x20, 0x20}}},
	LiveIEC:      {"live-iec", [themes]RGB{{0x7a, 0x42, 0x12}, {0xd1, 0x92, 0x5c}, {0x5a, 0x30, 0x0c}}},
	NeutralIEC:   {"neutral-iec", [themes]RGB{{0x1c, 0x5f, 0xb8}, {0x6f, 0xae, 0xf5}, {0x1c, 0x5f, 0xb8}}},
	EarthIEC:     {"earth-iec", [themes]RGB{{0x1d, 0x7a, 0x35}, {0x4f, 0xbd, 0x6a}, {0x1d, 0x7a, 0x35}}},
	EarthIEC2:    {"earth-iec-2", [themes]RGB{{0xf2, 0xd0, 0x2c}, {0xf2, 0xd0, 0x2c}, {0xf2, 0xd0, 0x2c}}},
	LiveNEC:      {"live-nec", [themes]RGB{{0x1a, 0x1d, 0x21}, {0x9a, 0x9c, 0x9e}, {0, 0, 0}}},
	NeutralNEC:   {"neutral-nec", [themes]RGB{{0xff, 0xff, 0xff}, {0xff, 0xff, 0xff}, {0xff, 0xff, 0xff}}},
	EarthNEC:     {"earth-nec", [themes]RGB{{0x1d, 0x7a, 0x35}, {0x4f, 0xbd, 0x6a}, {0x1d, 0x7a, 0x35}}},
	StopState:    {"stop", [themes]RGB{{0xb4, 0x12, 0x1b}, {0xff, 0x8a, 0x84}, {0x90, 0x0c, 0x14}}},
	CautionState: {"caution", [themes]RGB{{0xf2, 0xc0, 0x1e}, {0xf4, 0xca, 0x45}, {0xf2, 0xc0, 0x1e}}},
	GoState:      {"go", [themes]RGB{{0x14, 0x6c, 0x36}, {0x6f, 0xd6, 0x93}, {0x14, 0x6c, 0x36}}},
	InfoState:    {"info", [themes]RGB{{0x1b, 0x57, 0xa6}, {0x8f, 0xc1, 0xff}, {0x1b, 0x57, 0xa6}}},
	OnState:      {"on-state", [themes]RGB{{0xff, 0xff, 0xff}, {0x12, 0x14, 0x17}, {0xff, 0xff, 0xff}}},
	OnCaution:    {"on-caution", [themes]RGB{{0x1a, 0x1d, 0x21}, {0x12, 0x14, 0x17}, {0, 0, 0}}},
	Curve1:       {"curve-1", [themes]RGB{{0x0b, 0x55, 0x8c}, {0x86, 0xc8, 0xf7}, {0, 0, 0}}},
	Curve2:       {"curve-2", [themes]RGB{{0x9a, 0x3d, 0x0a}, {0xf5, 0xa9, 0x74}, {0x30, 0x30, 0x30}}},
	Curve3:       {"curve-3", [themes]RGB{{0x3c, 0x6a, 0x2a}, {0x9f, 0xd3, 0x8b}, {0x50, 0x50, 0x50}}},
	Black:        {"black", [themes]RGB{}},
	White:        {"white", [themes]RGB{{0xff, 0xff, 0xff}, {0xff, 0xff, 0xff}, {0xff, 0xff, 0xff}}},
	Band:         {"band", [themes]RGB{{0xdc, 0xe8, 0xf1}, {0x25, 0x3a, 0x4a}, {0xe4, 0xe4, 0xe4}}},
}

// String is the role's name, as the writers use it for a class.
func (r Role) String() string { return palette[r].name }

// RGB is the role's colour in a theme.
func (r Role) RGB(t Theme) RGB {
	if t == Greys {
		// As light as the colour looks: the luma of ITU-R BT.601.
		c := palette[r].rgb[Print]
		y := uint8(math.Round(0.299*float64(c.R) + 0.587*float64(c.G) + 0.114*float64(c.B)))
		return RGB{y, y, y}
	}
	return palette[r].rgb[t]
}

// Roles lists all roles that paint.
func Roles() []Role {
	var all []Role
	for r := None + 1; r < roles; r++ {
		all = append(all, r)
	}
	return all
}
