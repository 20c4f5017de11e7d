package yokemate

import (
	"math"
	"strconv"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// A Basis says where a fact comes from.
type Basis string

const (
	AsRead    Basis = ""          // a plain number: as read on the shelf's meter
	Measured  Basis = "measured"  // measured, with its uncertainty stated
	Label     Basis = "label"     // printed on the part
	Estimated Basis = "estimated" // computed from something else that is known
	Assumed   Basis = "assumed"   // a default in the absence of anything better
)

// Value is a number that knows how well it is known. The zero Value is "not
// known"; see [Value.Known].
//
// In a file it is written as a plain number, taken as read on the shelf's
// meter, or as {"value": 12.34, "u": 0.05, "basis": "measured"}.
type Value struct {
	V      float64 // the number [SI unit of the field]
	U      float64 // standard uncertainty [same unit]; 0 for a plain number
	Basis  Basis
	Digits string // the numeral as written, trailing zeros kept; empty when not known
}

// Num returns v as a plain number, written with the fewest digits that give it back.
func Num(v float64) Value {
	return Value{V: v, Digits: strconv.FormatFloat(v, 'g', -1, 64)}
}

// Read returns a plain number from the numeral a meter showed.
func Read(digits string) (Value, error) {
	d := strings.Replace(strings.TrimSpace(digits), ",", ".", 1)
	v, err := strconv.ParseFloat(d, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return Value{}, Errorf(Invalid, "", "%q is not a number", digits).Mend("write digits as shown, such as 14.70")
	}
	return Value{V: v, Digits: d}, nil
}

// Known reports whether a number is there at all.
func (v Value) Known() bool { return v.Digits != "" }

// IsZero is for the JSON encoder's omitzero.
func (v Value) IsZero() bool { return !v.Known() }

// PlusMinus returns v with standard uncertainty u and the given basis.
func PlusMinus(v, u float64, b Basis) Value {
	x := Num(v)
	x.U, x.Basis = u, b
	return x
}

type valueObject struct {
	Value jsontext.Value `json:"value"`
	U     *float64       `json:"u,omitzero"`
	Basis Basis          `json:"basis,omitempty"`
}

// UnmarshalJSONFrom reads a plain number or a value object.
func (v *Value) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	switch dec.PeekKind() {
	case '0':
		raw, err := dec.ReadValue()
		if err != nil {
			return err
		}
		return v.fromNumeral(string(raw))
	case '{':
		var o struct {
			Value jsontext.Value `json:"value"`
			U     *float64       `json:"u"`
			Basis *Basis         `json:"basis"`
		}
		if err := json.UnmarshalDecode(dec, &o); err != nil {
			return err
		}
		if o.Value.Kind() != '0' {
			return Errorf(Invalid, "", "a value object has no number under \"value\"").Mend("write {\"value\": 12.3, \"u\": 0.1, \"basis\": \"measured\"}")
		}
		if err := v.fromNumeral(string(o.Value)); err != nil {
			return err
		}
		if o.Basis != nil {
			switch *o.Basis {
			case Measured, Label, Estimated, Assumed:
			default:
				return Errorf(Invalid, "", "unknown basis %q", *o.Basis).Mend("use measured, label, estimated or assumed")
			}
			v.Basis = *o.Basis
		}
		if o.U != nil {
			if *o.U < 0 || math.IsInf(*o.U, 0) || math.IsNaN(*o.U) {
				return Errorf(Invalid, "", "an uncertainty cannot be negative").Mend("give \"u\" as a standard uncertainty of 0 or more")
			}
			v.U = *o.U
			if v.Basis == AsRead {
				v.Basis = Measured
			}
		}
		return nil
	default:
		if err := dec.SkipValue(); err != nil {
			return err
		}
		return Errorf(Invalid, "", "a number is wanted here").Mend("write a number such as 12.34, or {\"value\": 12.34, \"u\": 0.05, \"basis\": \"measured\"}")
	}
}

func (v *Value) fromNumeral(s string) error {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) {
		return Errorf(Invalid, "", "%s is out of range", s).Mend("write it in SI units, without a prefix")
	}
	*v = Value{V: x, Digits: s}
	return nil
}

// MarshalJSONTo writes a plain number, or the object where there is more to say.
func (v Value) MarshalJSONTo(enc *jsontext.Encoder) error {
	num := jsontext.Value(v.numeral())
	if v.Basis == AsRead {
		return enc.WriteValue(num)
	}
	o := valueObject{Value: num, Basis: v.Basis}
	if v.U != 0 {
		o.U = &v.U
	}
	return json.MarshalEncode(enc, o)
}

// numeral returns the digits as written when they still say V and are a JSON
// number, else the shortest numeral for V.
func (v Value) numeral() string {
	if x, err := strconv.ParseFloat(v.Digits, 64); err == nil && x == v.V && jsontext.Value(v.Digits).IsValid() && v.Digits[0] != '"' {
		return v.Digits
	}
	return strconv.FormatFloat(v.V, 'g', -1, 64)
}
