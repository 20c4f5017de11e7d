package find

import (
	"os"
	"testing"
	"time"
	"yokemate"
	"yokemate/phys/network"
)

func TestDbg(t *testing.T) {
	b, _ := os.ReadFile("/tmp/shelf200.json")
	s, err := yokemate.DecodeShelf(b)
	if err != nil {
		t.Fatal(err)
	}
	f := network.Compile(s)
	n := &yokemate.Need{Format: yokemate.NeedFormat, Kind: "ac", Volts: 12, Amps: 2, MaxUnits: 3,
		Feed: yokemate.Feed{Volts: yokemate.Num(230), Low: 207, High: 253, Hertz: 50}}
	n.Validate()
	x := &search{facts: f, need: n, memo: map[*drive]map[string]bool{}}
	st := time.Now()
	x.prepare()
	t.Log("prepare", time.Since(st), len(x.elems))
	_, err = x.find(x.generators(), 20)
	t.Log(time.Since(st), x.checked, err)
}
