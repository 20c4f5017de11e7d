package prove

import "yokemate"

// Bare is a step without its right reading and slips, which a simulated bench
// does not look at.
func (p *Plan) Bare(id string) *yokemate.Step { return &p.step(id).Step }
