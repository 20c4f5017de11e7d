package device

import (
	"embed"
	"math"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"yokemate"
	"yokemate/internal/web/kit"
)

//go:embed pair.html devices.html pair.css devices.css
var files embed.FS

// Cookie is the name of what a paired device shows.
const Cookie = "yokemate-device"

// Pair is the page on which a device gives the code.
type Pair struct {
	Refused bool // a write was refused, and led here
	Paired  *Device
	Until   string
	Back    string // where it goes on
	Trouble kit.Trouble
	Code    string // as typed
	Name    string // as typed
}

// Devices is the page of the machine itself.
type Devices struct {
	Code    string
	Guessed int // wrong codes in a row
	Places  []Square
	Paired  []Row
}

// Row is one paired device.
type Row struct {
	ID                        int
	Name, Addr, Paired, Until string
	Seen                      string
}

// Pages are the pages of the local network.
type Pages struct {
	kit     *kit.Kit
	pairing *Pairing
	places  []string
	Pair    *kit.View[Pair]
	Devices *kit.View[Devices]
}

// New returns the routes. The two pages are for two doors: the machine's own has
// the code, the local network's asks for it.
func New(k *kit.Kit, p *Pairing, places []string) ([]kit.Route, *Pages) {
	x := &Pages{k, p, places, kit.NewView[Pair](k, files, "pair"), kit.NewView[Devices](k, files, "devices")}
	return []kit.Route{
		{Pattern: "GET /pair", Handler: x.ask},
		{Pattern: "POST /pair", Handler: x.take},
		{Pattern: "GET /devices", Handler: x.list},
		{Pattern: "POST /devices/code", Handler: x.renew},
		{Pattern: "POST /devices/{id}/part", Handler: x.part},
	}, x
}

// Known is the paired device that a request comes from.
func (x *Pages) Known(r *http.Request) (Device, bool) {
	c, err := r.Cookie(Cookie)
	if err != nil {
		return Device{}, false
	}
	return x.pairing.Known(c.Value)
}

// Refuse answers a write from a device that is not paired. Nothing of it was
// read.
func (x *Pages) Refuse(w http.ResponseWriter, r *http.Request) error {
	return x.Pair.Show(w, http.StatusForbidden, "Not paired", "", Pair{Refused: true, Back: back(r.Referer(), r.Host)})
}

func (x *Pages) ask(w http.ResponseWriter, r *http.Request) error {
	if w.Header().Get(kit.Access) == kit.AtHome {
		return kit.See(w, r, "/devices")
	}
	p := Pair{Back: back(r.Referer(), r.Host)}
	if d, ok := x.Known(r); ok {
		p.Paired, p.Until = &d, d.Until.Format("15:04")
	}
	return x.Pair.Show(w, http.StatusOK, "Pair this device", "", p)
}

func (x *Pages) take(w http.ResponseWriter, r *http.Request) error {
	p := Pair{Code: r.PostFormValue("code"), Name: r.PostFormValue("name"), Back: back("http://"+r.Host+r.PostFormValue("back"), r.Host)}
	addr, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		addr = r.RemoteAddr
	}
	token, d, err := x.pairing.Pair(p.Code, p.Name, addr)
	if err != nil {
		status := kit.Status(err)
		if wait := x.pairing.Wait(); wait > 0 {
			status = http.StatusTooManyRequests
			w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
		}
		if p.Trouble, err = x.kit.Trouble(err); err != nil {
			return err
		}
		p.Code = ""
		return x.Pair.Show(w, status, "Pair this device", "", p)
	}
	http.SetCookie(w, &http.Cookie{Name: Cookie, Value: token, Path: "/", MaxAge: int(d.Until.Sub(d.Paired) / time.Second), HttpOnly: true, SameSite: http.SameSiteStrictMode})
	w.Header().Set("Cache-Control", "no-store")
	return kit.See(w, r, p.Back)
}

// back is the page of this server that an address names; the shelf for any other.
func back(from, host string) string {
	u, err := url.Parse(from)
	if err != nil || u.Host != host || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.HasPrefix(u.Path, "/\\") || strings.HasPrefix(u.Path, "/pair") {
		return "/"
	}
	return u.RequestURI()
}

func (x *Pages) list(w http.ResponseWriter, r *http.Request) error {
	p := Devices{Code: x.pairing.Code(), Guessed: x.pairing.Wrong()}
	for _, at := range x.places {
		q, err := square(at)
		if err != nil {
			return err
		}
		p.Places = append(p.Places, q)
	}
	for _, d := range x.pairing.Devices() {
		p.Paired = append(p.Paired, Row{d.ID, d.Name, d.Addr, d.Paired.Format("15:04"), d.Until.Format("15:04"), d.Seen.Format("15:04")})
	}
	return x.Devices.Show(w, http.StatusOK, "Devices", "devices", p)
}

func (x *Pages) renew(w http.ResponseWriter, r *http.Request) error {
	if err := x.pairing.Renew(); err != nil {
		return err
	}
	return kit.See(w, r, "/devices")
}

func (x *Pages) part(w http.ResponseWriter, r *http.Request) error {
	id, err := strconv.Atoi(r.PathValue("id"))
	if err != nil || !x.pairing.Part(id) {
		return yokemate.Errorf(yokemate.NotFound, "the device", "it is not paired").Mend("look at the list of devices")
	}
	return kit.See(w, r, "/devices")
}
