package paper

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"yokemate"
	"yokemate/internal/paper"
	"yokemate/internal/web/kit"
)

// Restore is the page that reads the text of a sheet's codes.
type Restore struct {
	Text    string
	Found   *Found
	Trouble kit.Trouble
}

// Found is what the text holds.
type Found struct {
	Name                   string
	Units, Meters, Answers int
}

func (p *pages) restoreForm(w http.ResponseWriter, r *http.Request) error {
	return p.Restore.Show(w, http.StatusOK, "From paper", "files", Restore{})
}

// restore reads the text, and does with it what is asked: show it, send one of
// its files, or take it into the store.
func (p *pages) restore(w http.ResponseWriter, r *http.Request) error {
	x := Restore{Text: r.PostFormValue("text")}
	again := func(why error) error {
		var err error
		if x.Trouble, err = p.kit.Trouble(why); err != nil {
			return err
		}
		return p.Restore.Show(w, kit.Status(why), "From paper", "files", x)
	}
	f, err := paper.Restore(x.Text)
	if err != nil {
		return again(err)
	}
	x.Found = &Found{f.Hookup.Name, len(f.Shelf.Units), len(f.Shelf.Meters), len(f.Answers.Answers)}
	switch want := r.PostFormValue("get"); want {
	case "":
		return p.Restore.Show(w, http.StatusOK, "From paper", "files", x)
	case "store":
		to, err := p.take(r.Context(), f)
		if err != nil {
			return again(err)
		}
		return kit.See(w, r, to)
	default:
		list, err := f.Files()
		if err != nil {
			return err
		}
		i := slices.IndexFunc(list, func(f paper.File) bool { return f.Kind == want })
		if i < 0 {
			return again(yokemate.Errorf(yokemate.Invalid, "the form", "a record has no %q", want).Mend("choose one of the buttons"))
		}
		w.Header().Set("Content-Type", "application/json")
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Disposition", `attachment; filename="restored-`+want+`.json"`)
		_, err = w.Write(list[i].Data)
		return err
	}
}

// take puts a record into the store: its meters, units and hookup, whole or not
// at all, and a proof with its answers. It returns where that is to be seen. A
// record that is there already is not taken twice.
func (p *pages) take(ctx context.Context, f *paper.Restored) (string, error) {
	p.kit.Writing.Lock()
	defer p.kit.Writing.Unlock()
	at := "/hookups/" + url.PathEscape(f.Hookup.Name)
	var state yokemate.ProofState
	if given := f.Answers.Answers; len(given) > 0 {
		// Judged first: answers that cannot be taken must leave nothing behind.
		x, err := paper.Gather(paper.Job{Hookup: f.Hookup, Shelf: f.Shelf, Answers: given, Air: paper.Ambient, Read: "the record"})
		if err != nil {
			return "", err
		}
		state = x.Proof.Proof
	}
	docs := []yokemate.Document{{Source: "the record", Shelf: f.Shelf}, {Source: "the record", Hookup: f.Hookup}}
	if _, err := p.kit.Store.Import(ctx, docs, false); err != nil {
		return "", err
	}
	if len(f.Answers.Answers) == 0 {
		return at, nil
	}
	want, err := yokemate.Encode(f.Answers)
	if err != nil {
		return "", err
	}
	all, err := p.kit.Store.Proofs(ctx)
	if err != nil {
		return "", err
	}
	for i := range all {
		given := all[i].Given()
		have, err := yokemate.Encode(&given)
		if err != nil {
			return "", err
		}
		if all[i].Hookup.Name == f.Hookup.Name && string(have) == string(want) {
			return record(all[i].ID), nil
		}
	}
	q, err := p.kit.Store.CreateProof(ctx, f.Hookup, f.Shelf)
	if err != nil {
		return "", err
	}
	for _, a := range f.Answers.Answers {
		if _, err := p.kit.Store.AppendAnswer(ctx, q.ID, a); err != nil {
			return "", err
		}
	}
	return record(q.ID), p.kit.Store.SetProofState(ctx, q.ID, state)
}

func record(id int64) string { return "/proofs/" + strconv.FormatInt(id, 10) + "/record" }
