package prove

import (
	"slices"

	"yokemate"
)

// IDs lists the plan's steps in their order.
func (p *Plan) IDs() []string {
	ids := make([]string, len(p.steps))
	for i, s := range p.steps {
		ids[i] = s.ID
	}
	return ids
}

// Slips lists the codes of all slips that are taken to be possible.
func (p *Plan) Slips() []string {
	var codes []string
	for i := range p.worlds {
		w := &p.worlds[i]
		if w.kind != allRight && w.kind != unknown && !slices.Contains(codes, w.code) {
			codes = append(codes, w.code)
		}
	}
	return codes
}

// Notes are the prediction's, of the whole hookup at nominal mains.
func (p *Plan) Notes() []yokemate.Note { return slices.Clone(p.notes) }

// Notes are what the answers so far leave not proven.
func (s *Session) Notes() []yokemate.Note { return slices.Clone(s.j.notes) }
