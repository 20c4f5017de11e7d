package sheet

import (
	"bytes"
	"compress/flate"
	"encoding/base32"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"regexp"
	"strconv"
	"strings"

	"yokemate"
)

// Record is what the codes on a sheet restore: the hookup, what was read at
// its steps, and the facts of its units and meters, for a bench that has no
// shelf yet.
type Record struct {
	Hookup  yokemate.Hookup   `json:"hookup"`
	Answers []yokemate.Answer `json:"answers,omitempty"`
	Units   []yokemate.Unit   `json:"units,omitempty"`
	Meters  []yokemate.Meter  `json:"meters,omitempty"` // that the readings were taken with, the usual one first
}

// A record is printed as one or more parts of plain ASCII text, each small
// enough for one QR code in its alphanumeric mode:
//
//	YM1/2/3/9F3A1C22/MFRGG…
//
// that is format, part, parts in all, check, data, with a slash between. The
// data of all parts in order are base32 (RFC 4648, without padding) of a raw
// deflate stream (RFC 1951) whose preset dictionary is [dictionary]. It unpacks
// to the record as compact JSON with the members "hookup", "answers", "units"
// and "meters", each as in the files of those formats. The check is the CRC-32 (IEEE
// 802.3) of that JSON as eight hex digits. Case and white space carry nothing.
const recordMark = "YM1"

// partData is the most data in one part [characters]: with its head it fits a
// version 17 code at level M (734 characters, ISO/IEC 18004), 85 modules wide.
const partData = 700

// maxRecord bounds what a code may unpack to [bytes].
const maxRecord = 1 << 20

// dictionary is part of the format: changing it needs a new mark.
const dictionary = `"insulation":[{"from":"P","to":"core","megohms":,"test_volts":500,"seconds":60,"working_volts":250}],"excitation":{"series":["P"],"volts":230,"hertz":50,"amps":0.0,"watts":` +
	`"power_factor":"henries":"copper_c":"fed":false,"rectifier":"bridge","middle":"farads":0.00"degrees":120,"leakage_mh":"wire_mm":"limb_mm":"stack_mm":"mass_g":"kind":"EI","thermal_class":"B","core":{"turns_per_volt":` +
	`"units":[{"tag":"T1","origin":"","mains":{"volts":120,"hertz":60,"series":["P1","P2"]},"va":{"value":6,"u":0.05,"basis":"label"},"windings":[{"id":"P","pins":["1","2"],"volts":230,"ohms":},{"id":"A","pins":["5","6"],"volts":1,"ohms":,"amps":0.` +
	`"answers":[{"step":"","value":"unsure","feed_volts":"meter":"changed":"reversed:T2/A","reason":"","note":""},{"step":"` +
	`{"hookup":{"format":"yokemate-hookup/1","name":"","feed":{"volts":230,"low":207,"high":253,"hertz":50,"live":"L","neutral":"N","fuse_amps":0.5,"fuse_kind":"T","lamp":{"watts":40,"volts":230},"ohms":0.5},` +
	`"joints":{"L":["T1.1","T2.1"],"N":["T1.2","T2.2"],"A":["T1.5","T2.5"],"B":["T1.6","T2.6"],"E":["T1.core","T2.core"]},"earth":"E","outputs":[{"name":"out","from":"A","to":"B","load":{"ohms":24}}],"meters":[{"name":"gap","from":"B1","to":"B2"}],"fuses":[{"from":"","to":"","amps":1,"kind":"F"}]}`

var code32 = base32.StdEncoding.WithPadding(base32.NoPadding)

// Encode returns the record's parts, in order.
func (r *Record) Encode() ([]string, error) {
	indented, err := yokemate.Encode(r)
	if err != nil {
		return nil, err
	}
	var doc, packed bytes.Buffer
	if err := json.Compact(&doc, indented); err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "a record cannot be packed", Err: err}
	}
	if doc.Len() > maxRecord {
		return nil, yokemate.Errorf(yokemate.Unsupported, "", "the record is too long for codes on paper: %d bytes", doc.Len()).Mend("export it as a file")
	}
	w, err := flate.NewWriterDict(&packed, flate.BestCompression, []byte(dictionary))
	if err == nil {
		if _, err = w.Write(doc.Bytes()); err == nil {
			err = w.Close()
		}
	}
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "a record cannot be packed", Err: err}
	}
	text := code32.EncodeToString(packed.Bytes())
	n := (len(text) + partData - 1) / partData
	var parts []string
	for i := range n {
		parts = append(parts, fmt.Sprintf("%s/%d/%d/%08X/%s", recordMark, i+1, n, crc32.ChecksumIEEE(doc.Bytes()), text[i*len(text)/n:(i+1)*len(text)/n]))
	}
	return parts, nil
}

var partForm = regexp.MustCompile(`^([A-Z0-9]+)/([0-9]{1,4})/([0-9]{1,4})/([0-9A-F]{8})/([A-Z2-7]+)$`)

// DecodeRecord reads a record from its parts, in any order and each on a line
// of its own; a part that stands there twice is read once.
func DecodeRecord(text string) (*Record, error) {
	bad := func(format string, args ...any) error {
		return yokemate.Errorf(yokemate.Invalid, "record code", format, args...).Mend("scan every code of the sheet again, one to a line")
	}
	// A line that starts a part starts with the mark; what follows belongs to it.
	var lines []string
	for _, l := range strings.Split(strings.ToUpper(text), "\n") {
		l = strings.Join(strings.Fields(l), "")
		switch {
		case l == "":
		case strings.Contains(l, "/") || len(lines) == 0:
			lines = append(lines, l)
		default:
			lines[len(lines)-1] += l
		}
	}
	if len(lines) == 0 {
		return nil, bad("it is empty")
	}
	var data []string
	check := ""
	for _, l := range lines {
		m := partForm.FindStringSubmatch(l)
		if m == nil {
			return nil, bad("%q is no part of a record", draft(l))
		}
		if m[1] != recordMark {
			return nil, yokemate.Errorf(yokemate.Unsupported, "record code", "it is of format %s, not %s", draft(m[1]), recordMark).Mend("read it with the program that printed it")
		}
		i, _ := strconv.Atoi(m[2]) // digits, by the form
		n, _ := strconv.Atoi(m[3])
		if data == nil {
			if n < 1 {
				return nil, bad("it has no parts")
			}
			data, check = make([]string, n), m[4]
		}
		switch {
		case n != len(data) || m[4] != check:
			return nil, bad("the parts belong to different records")
		case i < 1 || i > n:
			return nil, bad("part %d of %d", i, n)
		case data[i-1] != "" && data[i-1] != m[5]:
			return nil, bad("two different parts say they are number %d", i)
		}
		data[i-1] = m[5]
	}
	for i, d := range data {
		if d == "" {
			return nil, bad("part %d of %d is missing", i+1, len(data))
		}
	}
	packed, err := code32.DecodeString(strings.Join(data, ""))
	if err != nil {
		return nil, bad("its data are damaged")
	}
	doc, err := io.ReadAll(io.LimitReader(flate.NewReaderDict(bytes.NewReader(packed), []byte(dictionary)), maxRecord+1))
	if err != nil || len(doc) > maxRecord {
		return nil, bad("its data are damaged")
	}
	if fmt.Sprintf("%08X", crc32.ChecksumIEEE(doc)) != check {
		return nil, bad("its check does not agree")
	}
	var r Record
	if err := yokemate.Decode(doc, &r); err != nil {
		return nil, err
	}
	if err := r.Hookup.Validate(); err != nil {
		return nil, err
	}
	for i := range r.Units {
		if err := r.Units[i].Validate(); err != nil {
			return nil, err
		}
	}
	for i := range r.Meters {
		if err := r.Meters[i].Validate("meters " + strconv.Itoa(i+1)); err != nil {
			return nil, err
		}
	}
	return &r, nil
}

// draft shortens what is quoted in a message.
func draft(s string) string {
	if len(s) > 24 {
		return s[:24] + "…"
	}
	return s
}
