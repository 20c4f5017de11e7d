package yokemate

import (
	"context"
	"io"
	"slices"
	"strconv"
	"time"
)

// Store keeps the bench: units with their readings, meters, hookups, needs and
// proofs. Readings and a proof's answers are only ever added to.
//
// Every method that changes something does it whole or not at all. What it is
// given is checked against the rules of its format first (code Invalid); what
// contradicts the rest of the store is refused with Conflict, and what is not
// there is NotFound.
type Store interface {
	// Shelf returns meters and units, each unit with all its readings, in the
	// order they came in. Photos stay out.
	Shelf(ctx context.Context) (*Shelf, error)
	// Album is the shelf with the photos of every unit, pictures included.
	Album(ctx context.Context) (*Shelf, error)

	// AddUnit stores a unit under a tag that is free, else Conflict.
	AddUnit(ctx context.Context, u *Unit) error
	// PutUnit stores a unit, in the place of the one with its tag when there
	// is one. Readings already stored stay; those of u that are new are added;
	// one that differs from the stored one of its id is a Conflict. The same
	// holds for photos, whose marks may differ. A change that takes a pin from a
	// stored hookup is a Conflict.
	PutUnit(ctx context.Context, u *Unit) error
	// RemoveUnit takes a unit off the shelf; its readings stay in the log. A
	// unit that a stored hookup names is a Conflict.
	RemoveUnit(ctx context.Context, tag string) error

	// AddReading adds a reading to the unit and returns it with the id and the
	// time it was given where it had none.
	AddReading(ctx context.Context, tag string, r Reading) (Reading, error)
	// Log returns every reading ever taken, oldest first, those of removed
	// units included. An empty tag means all units.
	Log(ctx context.Context, tag string) ([]LogEntry, error)

	// Meters returns the meters; the first is the one plain numbers were read on.
	Meters(ctx context.Context) ([]Meter, error)
	// AddMeter stores a meter under a name that is free, else Conflict.
	AddMeter(ctx context.Context, m *Meter) error

	// Photos lists the photos of a unit, oldest first, without the pictures.
	Photos(ctx context.Context, tag string) ([]Photo, error)
	// Photo returns one of them with its picture.
	Photo(ctx context.Context, tag, id string) (*Photo, error)
	// AddPhoto adds a photo to the unit and returns it with the id and the time
	// it was given where it had none. A picture that the unit has already is
	// not kept twice: the photo it has is returned.
	AddPhoto(ctx context.Context, tag string, p Photo) (*Photo, error)
	// SetPhoto stores the name and the marks of a photo that is there.
	SetPhoto(ctx context.Context, tag string, p *Photo) error
	RemovePhoto(ctx context.Context, tag, id string) error

	// Bench returns what holds at this bench, or nil where nobody has said it.
	Bench(ctx context.Context) (*Bench, error)
	PutBench(ctx context.Context, b *Bench) error
	// Sitting returns the sitting that lasts, or nil.
	Sitting(ctx context.Context) (*Sitting, error)
	// PutSitting begins a sitting now.
	PutSitting(ctx context.Context, s *Sitting) error

	// Hookups and Needs list what is stored, by name.
	Hookups(ctx context.Context) ([]Hookup, error)
	Hookup(ctx context.Context, name string) (*Hookup, error)
	// PutHookup stores a hookup under its name, in the place of one that is
	// there. Its pins must be on the shelf.
	PutHookup(ctx context.Context, h *Hookup) error
	RemoveHookup(ctx context.Context, name string) error
	Needs(ctx context.Context) ([]Need, error)
	Need(ctx context.Context, name string) (*Need, error)
	PutNeed(ctx context.Context, n *Need) error
	RemoveNeed(ctx context.Context, name string) error

	// Import stores all the documents or, on the first trouble, none. Something
	// of the same name and content is left as it is; of the same name and other
	// content it is a Conflict unless replace is set. It is a Conflict too when
	// plain numbers would change the meter they count as read on. An error is
	// a *SourceError that names the document.
	Import(ctx context.Context, docs []Document, replace bool) ([]Change, error)

	// CreateProof opens a proof of the hookup. The units it names are kept with
	// it as they are on s now, so that the proof can be looked at again when
	// the shelf has changed. s may be nil: then the store's own shelf serves.
	CreateProof(ctx context.Context, h *Hookup, s *Shelf) (*ProofRecord, error)
	// AppendAnswer commits one answer, so that it survives whatever comes next,
	// and returns the record with it. A proof that ended well takes no more:
	// Conflict. A stopped one does, since a stop may be mended.
	AppendAnswer(ctx context.Context, id int64, a Answer) (*ProofRecord, error)
	// SetProofState stores what the answers amount to.
	SetProofState(ctx context.Context, id int64, s ProofState) error
	Proof(ctx context.Context, id int64) (*ProofRecord, error)
	// Proofs lists all proofs, newest first.
	Proofs(ctx context.Context) ([]ProofRecord, error)

	// BeginHeat stores a new heat run, with the readings it has, and returns it
	// with its id and the time it began where it had none.
	BeginHeat(ctx context.Context, l *HeatLog) (*HeatLog, error)
	// AppendHeat commits one reading of a heat run and returns the run with it.
	AppendHeat(ctx context.Context, id int64, row HeatRow) (*HeatLog, error)
	HeatLog(ctx context.Context, id int64) (*HeatLog, error)
	// HeatLogs lists all heat runs, newest first.
	HeatLogs(ctx context.Context) ([]HeatLog, error)

	// Backup writes the whole store, as it is at one moment, as one file.
	Backup(ctx context.Context, to io.Writer) error
	// Reinstate puts what a backup holds in the place of everything stored, for
	// every program that has the store open. The file is checked first: one that
	// is damaged, of a newer program or no backup is refused, and nothing is
	// changed. What was stored until now is kept in a file of its own.
	Reinstate(ctx context.Context, from io.Reader) (*Reinstated, error)

	Close() error
}

// Reinstated says what came back from a backup and where the rest is.
type Reinstated struct {
	Units    int    `json:"units"`
	Readings int    `json:"readings"` // of units no longer on the shelf too
	Photos   int    `json:"photos"`
	Hookups  int    `json:"hookups"`
	Needs    int    `json:"needs"`
	Proofs   int    `json:"proofs"`
	HeatRuns int    `json:"heat_runs"`
	Kept     string `json:"kept"`  // the file that holds what was stored until now
	Newer    int    `json:"newer"` // readings and answers in that file that the backup does not have
}

// LogEntry is one reading with the unit it was taken on.
type LogEntry struct {
	Tag     string  `json:"tag"`
	Removed bool    `json:"removed,omitzero"` // the unit is no longer on the shelf
	Reading Reading `json:"reading"`
}

// Document is one file to import: exactly one of its three is set.
type Document struct {
	Source string // the file's name, for messages
	Shelf  *Shelf
	Hookup *Hookup
	Need   *Need
}

// Change says what became of one thing in an import.
type Change struct {
	Source string `json:"source"`
	What   string `json:"what"` // as "unit T1"
	How    string `json:"how"`  // added, replaced or same
}

// SourceError is an error in a file, named.
type SourceError struct {
	Source string
	Err    error
}

// Error prints the file's name and the error on one line.
func (e *SourceError) Error() string { return e.Source + ": " + e.Err.Error() }

// Unwrap returns the error itself.
func (e *SourceError) Unwrap() error { return e.Err }

// ProofRecord is a proof as stored: what it was asked about and what was
// answered. Steps and verdicts are computed from it anew.
type ProofRecord struct {
	ID      int64            `json:"id"`
	Hookup  Hookup           `json:"hookup"`
	Shelf   Shelf            `json:"shelf"` // the units of the hookup, and the meters, as they were
	State   ProofState       `json:"state"`
	Opened  time.Time        `json:"opened"`
	Changed time.Time        `json:"changed"`
	Answers []RecordedAnswer `json:"answers"`
}

// RecordedAnswer is an answer and when it was given.
type RecordedAnswer struct {
	At     time.Time `json:"at"`
	Answer Answer    `json:"answer"`
}

// Given returns the answers as the engine takes them.
func (p *ProofRecord) Given() Answers {
	var a Answers
	for _, x := range p.Answers {
		a.Answers = append(a.Answers, x.Answer)
	}
	return a
}

// Only returns the part of the shelf that the hookup names, with all meters
// and without photos.
func (s *Shelf) Only(h *Hookup) *Shelf {
	part := &Shelf{Format: s.Format, Meters: s.Meters}
	for _, tag := range h.Tags() {
		if u := s.Unit(tag); u != nil {
			x := *u
			x.Photos = nil
			part.Units = append(part.Units, x)
		}
	}
	return part
}

// NextReading checks that r may follow the readings the unit has, and gives it
// the next free id when it has none.
func (u *Unit) NextReading(r Reading) (Reading, error) {
	has := func(id string) bool {
		return slices.ContainsFunc(u.Readings, func(x Reading) bool { return x.ID == id })
	}
	for n := len(u.Readings) + 1; r.ID == ""; n++ {
		if id := "r" + strconv.Itoa(n); !has(id) {
			r.ID = id
		}
	}
	at := u.Tag + " reading " + r.ID
	switch {
	case has(r.ID):
		return r, Errorf(Conflict, at, "there is a reading with this id").Mend("leave the id out, and it gets the next free one")
	case r.Supersedes != "" && !has(r.Supersedes):
		return r, Errorf(NotFound, at, "it supersedes %q, which is no reading of %s", r.Supersedes, u.Tag).Mend("see the ids with \"yokemate reading list %s\"", u.Tag)
	}
	return r, r.Validate(at)
}
