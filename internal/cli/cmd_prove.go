package cli

import (
	"yokemate"
	"yokemate/internal/paper"
	"yokemate/phys/network"
	"yokemate/prove"
)

type proveCmd struct {
	ID      int64  `arg:"" optional:"" help:"With --resume: the proof to go on with; the newest that is not finished if not given."`
	Hookup  string `placeholder:"FILE" help:"A hookup file, or the name of a stored one."`
	Answers string `placeholder:"FILE" help:"Judge the readings of this file and ask nothing."`
	Resume  bool   `help:"Go on with a proof that the store keeps."`
	Record  string `placeholder:"FILE" help:"With --shelf, at a terminal: keep the answers in this file as they are given, and go on from those it holds."`
	Steps   bool   `help:"Print every step with all its slips too."`
	Meter   string `placeholder:"NAME" help:"The meter that takes the readings; the shelf's first if not given."`
}

// Run plans a proof and judges what was read: from a file of answers, or step
// by step at a terminal.
func (c *proveCmd) Run(a *App) error {
	if err := c.check(a); err != nil {
		return err
	}
	var given yokemate.Answers
	if c.Answers != "" {
		x, err := a.Answers(c.Answers)
		if err != nil {
			return err
		}
		given = *x
	}
	b, err := c.begin(a, given.Answers)
	if err != nil {
		return err
	}
	switch {
	case c.Answers != "":
		err = b.takeFile(a, c.Answers, given.Answers)
	case a.Interactive():
		if c.Steps {
			b.printPlan(a)
		}
		return b.talk(a)
	}
	if err != nil {
		return err
	}
	return b.report(a, c.Steps || len(b.taken) == 0)
}

func (c *proveCmd) check(a *App) error {
	wrong := func(what, mend string) error {
		return yokemate.Errorf(yokemate.Invalid, "command line", "%s", what).Mend("%s", mend)
	}
	switch {
	case c.Resume && c.Hookup != "":
		return wrong("--resume and --hookup are both given", "keep one: a proof under way has its hookup")
	case c.Resume && a.ShelfFile != "":
		return wrong("--resume works on the store, not on a shelf file", "leave out --shelf, or go on with --record FILE")
	case !c.Resume && c.ID != 0:
		return wrong("a proof's number goes with --resume", "add --resume, or look at it with \"yokemate proof show\"")
	case !c.Resume && c.Hookup == "":
		return wrong("there is nothing to prove", "add --hookup FILE, or --resume")
	case c.Record != "" && a.ShelfFile == "":
		return wrong("--record goes with --shelf: the store keeps its proofs itself", "leave out --record")
	case c.Record != "" && c.Answers != "":
		return wrong("--record and --answers are both given", "keep one of them")
	}
	return nil
}

// begin plans the proof, and takes what was answered before. The answers at
// hand say which meter reads, where no flag does.
func (c *proveCmd) begin(a *App, given []yokemate.Answer) (*proving, error) {
	meter := lastMeter(c.Meter, given)
	if c.Resume {
		return resume(a, c.ID, meter)
	}
	h, s, err := a.wired(c.Hookup)
	if err != nil {
		return nil, err
	}
	if _, err := paper.Meter(s, meter); err != nil && c.Meter == "" {
		return nil, inFile(c.Answers, yokemate.Errorf(yokemate.NotFound, "meter", "there is no meter %q on the shelf", meter).Mend("add it with its accuracy, or say with --meter which one reads"))
	}
	b, err := newProving(s.Only(h), h, meter)
	if err != nil {
		return nil, inFile(c.Hookup, err)
	}
	switch {
	case c.Record != "":
		return b, b.openRecord(a, c.Record)
	case a.ShelfFile == "":
		b.keeper = &storeKeeper{app: a, shelf: s}
	}
	return b, nil
}

// proving is a proof under way with what keeps it.
type proving struct {
	hookup  *yokemate.Hookup
	plan    *prove.Plan
	session *prove.Session
	meter   string // that takes the readings; empty: the shelf's first
	taken   []taken
	keeper  keeper // nil: nothing is kept
	state   yokemate.ProofState
}

// taken is an answer with what it meant; verdict is nil where it only told of a
// moved lead.
type taken struct {
	answer  yokemate.Answer
	verdict *yokemate.Verdict
}

// A keeper stores answers so that they outlive the program.
type keeper interface {
	// keep stores one answer before anything is said of it.
	keep(b *proving, x yokemate.Answer) error
	// settle stores what the answers amount to.
	settle(b *proving, s yokemate.ProofState) error
	// name says where they are kept.
	name() string
	// again says how to go on after leaving.
	again() string
}

func newProving(s *yokemate.Shelf, h *yokemate.Hookup, meter string) (*proving, error) {
	m, err := paper.Meter(s, meter)
	if err != nil {
		return nil, err
	}
	plan, err := prove.New(network.Compile(s), h, prove.Options{Meter: m})
	if err != nil {
		return nil, err
	}
	return &proving{hookup: h, plan: plan, session: plan.Session(), meter: meter, state: yokemate.ProofOpen}, nil
}

// resume takes up a stored proof; id 0 is the newest that has not ended well.
func resume(a *App, id int64, meter string) (*proving, error) {
	s, err := a.Store()
	if err != nil {
		return nil, err
	}
	if id == 0 {
		all, err := s.Proofs(a.Ctx())
		if err != nil {
			return nil, err
		}
		for _, p := range all {
			if p.State != yokemate.ProofGood && id == 0 {
				id = p.ID
			}
		}
		if id == 0 {
			return nil, yokemate.Errorf(yokemate.NotFound, "--resume", "no proof in the store is unfinished").Mend("start one with --hookup")
		}
	}
	p, err := s.Proof(a.Ctx(), id)
	if err != nil {
		return nil, err
	}
	return fromStore(a, p, meter)
}

// lastMeter is the meter of that name, or where there is no name the one of the
// last answer that says.
func lastMeter(name string, given []yokemate.Answer) string {
	for i := len(given) - 1; i >= 0 && name == ""; i-- {
		name = given[i].Meter
	}
	return name
}

// fromStore rebuilds a proof from its record.
func fromStore(a *App, p *yokemate.ProofRecord, meter string) (*proving, error) {
	given := p.Given().Answers
	b, err := newProving(&p.Shelf, &p.Hookup, lastMeter(meter, given))
	if err != nil {
		return nil, err
	}
	for _, x := range given {
		if _, err := b.judge(x); err != nil {
			return nil, &yokemate.Error{Code: yokemate.Internal, Message: "a stored answer is refused", Err: err}
		}
	}
	b.keeper = &storeKeeper{app: a, shelf: &p.Shelf, id: p.ID, n: len(given)}
	b.state = p.State
	return b, b.settle()
}

// judge takes one answer and keeps nothing.
func (b *proving) judge(x yokemate.Answer) (*yokemate.Verdict, error) {
	v, err := b.session.Take(x)
	if err != nil {
		return nil, err
	}
	t := taken{answer: x}
	if v != nil {
		c := *v // the session's list of verdicts moves when it grows
		t.verdict = &c
	}
	b.taken = append(b.taken, t)
	return t.verdict, nil
}

// take judges one answer and keeps it, in that order only so that an answer
// that is refused is not stored; nothing is told before it is kept.
func (b *proving) take(x yokemate.Answer) (*yokemate.Verdict, error) {
	if x.Meter == "" && x.Changed == "" {
		x.Meter = b.meter
	}
	v, err := b.judge(x)
	if err != nil {
		return nil, err
	}
	if b.keeper != nil {
		if err := b.keeper.keep(b, x); err != nil {
			return nil, err
		}
	}
	return v, b.settle()
}

// settle keeps the proof's state where it has changed.
func (b *proving) settle() error {
	s := b.session.State()
	if s == b.state {
		return nil
	}
	b.state = s
	if b.keeper == nil {
		return nil
	}
	return b.keeper.settle(b, s)
}

// takeFile judges all answers of a file. They are kept when all of them could
// be taken, else none is.
func (b *proving) takeFile(a *App, name string, given []yokemate.Answer) error {
	for i, one := range given {
		if _, err := b.judge(one); err != nil {
			return inFile(name, placed(err, i))
		}
	}
	if b.keeper == nil || len(given) == 0 {
		return nil
	}
	for _, one := range given {
		if err := b.keeper.keep(b, one); err != nil {
			return err
		}
	}
	if err := b.settle(); err != nil {
		return err
	}
	a.Say("It is kept as %s.", b.keeper.name())
	return nil
}

// placed names the answer that an error is about where nothing else does.
func placed(err error, i int) error {
	if e, ok := err.(*yokemate.Error); ok && e.Place == "" {
		c := *e
		c.Place = "answer " + itoa(i+1)
		return &c
	}
	return err
}

// storeKeeper keeps a proof in the store. It is opened with the first answer,
// so that looking at a plan leaves nothing behind.
type storeKeeper struct {
	app   *App
	shelf *yokemate.Shelf
	id    int64
	n     int // answers that are there
}

func (k *storeKeeper) keep(b *proving, x yokemate.Answer) error {
	s, err := k.app.Store()
	if err != nil {
		return err
	}
	if k.id == 0 {
		p, err := s.CreateProof(k.app.Ctx(), b.hookup, k.shelf)
		if err != nil {
			return err
		}
		k.id = p.ID
	}
	p, err := s.AppendAnswer(k.app.Ctx(), k.id, x)
	if err != nil {
		return err
	}
	// A verdict that leaves out what another program stored could be a wrong go.
	if k.n++; len(p.Answers) != k.n {
		return yokemate.Errorf(yokemate.Conflict, k.name(), "another program answers this proof too").Mend("close one of them, then go on with: %s", k.again())
	}
	return nil
}

func (k *storeKeeper) settle(b *proving, state yokemate.ProofState) error {
	s, err := k.app.Store()
	if err != nil {
		return err
	}
	return s.SetProofState(k.app.Ctx(), k.id, state)
}

func (k *storeKeeper) name() string { return "proof " + itoa(int(k.id)) }

func (k *storeKeeper) again() string {
	return "yokemate prove --resume " + itoa(int(k.id)) + k.app.where()
}

// fileKeeper keeps the answers in an answers file, rewritten whole each time.
type fileKeeper struct {
	app   *App
	file  string
	given yokemate.Answers
}

func (k *fileKeeper) keep(b *proving, x yokemate.Answer) error {
	done, err := alone(k.file)
	if err != nil {
		return err
	}
	defer done()
	// A verdict that leaves out what another program stored could be a wrong go.
	now, err := k.app.Answers(k.file)
	switch {
	case err == nil && len(now.Answers) != len(k.given.Answers) || yokemate.ErrorCode(err) == yokemate.NotFound && len(k.given.Answers) > 0:
		return inFile(k.file, yokemate.Errorf(yokemate.Conflict, "", "another program has changed it meanwhile").Mend("close one of them, then go on with %s", k.again()))
	case err != nil && yokemate.ErrorCode(err) != yokemate.NotFound:
		return err
	}
	k.given.Answers = append(k.given.Answers, x)
	data, err := yokemate.Encode(&k.given)
	if err != nil {
		return err
	}
	return replaceFile(k.file, data)
}

func (k *fileKeeper) settle(*proving, yokemate.ProofState) error { return nil }

func (k *fileKeeper) name() string { return k.file }

func (k *fileKeeper) again() string { return "the same command" }

// openRecord goes on from the answers that the file holds, if it is there.
func (b *proving) openRecord(a *App, name string) error {
	k := &fileKeeper{app: a, file: name}
	x, err := a.Answers(name)
	switch {
	case err == nil:
		for i, one := range x.Answers {
			if _, err := b.judge(one); err != nil {
				return inFile(name, placed(err, i))
			}
		}
		k.given = *x
	case yokemate.ErrorCode(err) != yokemate.NotFound:
		return err
	}
	b.keeper = k
	return nil
}
