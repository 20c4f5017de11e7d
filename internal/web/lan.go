package web

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"

	"yokemate"
	"yokemate/internal/web/device"
	"yokemate/internal/web/kit"
)

// Local is the door to the local network. It answers to the very addresses that
// it listens on and to no name, since a name can be pointed anywhere. Whoever
// comes in may look; a paired device may write.
func (s *Server) Local() http.Handler {
	var h http.Handler = s.mux
	h = s.paired(h)
	h = speak(s.kit, h)
	h = ownOrigin(h)
	own := func(host string) bool { return slices.Contains(s.places, host) }
	h = guard(own, "this bench answers to the address that the machine shows, and to no other name", h)
	return compress(h)
}

// reads reports whether a request asks for a page and changes nothing.
func reads(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// as tells pages who asks.
func as(who string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set(kit.Access, who)
		next.ServeHTTP(w, r)
	})
}

// paired lets devices that are not paired do nothing but look and give the code,
// and lets none see the code or part another.
func (s *Server) paired(next http.Handler) http.Handler {
	refuse := s.kit.Handle(s.devices.Refuse)
	home := s.kit.Handle(func(http.ResponseWriter, *http.Request) error {
		return yokemate.Errorf(yokemate.NotFound, "", "this page is shown on the machine itself alone").Mend("look there for the code")
	})
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_, known := s.devices.Known(r)
		who := kit.Looking
		if known {
			who = kit.Paired
		}
		w.Header().Set(kit.Access, who)
		switch {
		case r.URL.Path == "/devices" || strings.HasPrefix(r.URL.Path, "/devices/"):
			home.ServeHTTP(w, r)
		case known || reads(r) || r.URL.Path == "/pair":
			next.ServeHTTP(w, r)
		default:
			refuse.ServeHTTP(w, r)
		}
	})
}

// ownOrigin refuses a write that does not say it comes from a page of this very
// address. On an address without encryption browsers send no other sign of where
// a request comes from, so that a missing one is refused too.
func ownOrigin(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !reads(r) && r.Header.Get("Origin") != "http://"+r.Host {
			http.Error(w, "this was sent from another site, or does not say from where; open the bench itself and send it from there", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// LocalAddrs picks, of a machine's addresses, those on a local network. An
// address that the rest of the world can reach is never among them.
func LocalAddrs(all []net.Addr) []netip.Addr {
	var list []netip.Addr
	for _, a := range all {
		n, ok := a.(*net.IPNet)
		if !ok {
			continue
		}
		ip, ok := netip.AddrFromSlice(n.IP)
		if !ok {
			continue
		}
		ip = ip.Unmap()
		// A link-local address of IPv6 cannot be typed into a browser.
		if ip.IsPrivate() || ip.Is4() && ip.IsLinkLocalUnicast() {
			list = append(list, ip)
		}
	}
	slices.SortStableFunc(list, func(a, b netip.Addr) int { return a.BitLen() - b.BitLen() })
	return list
}

// ListenLAN opens a port on each address.
func ListenLAN(ctx context.Context, addrs []netip.Addr, port int) ([]net.Listener, error) {
	if len(addrs) == 0 {
		return nil, yokemate.Errorf(yokemate.Invalid, "--lan", "this machine has no address on a local network").Mend("connect it, or leave --lan away")
	}
	var lc net.ListenConfig
	var list []net.Listener
	for _, a := range addrs {
		at := net.JoinHostPort(a.String(), strconv.Itoa(port))
		l, err := lc.Listen(ctx, "tcp", at)
		if err != nil {
			for _, l := range list {
				l.Close()
			}
			return nil, &yokemate.Error{Code: yokemate.Invalid, Place: "--lan", Message: at + " cannot be opened", Hint: "choose another port with --addr", Err: err}
		}
		list = append(list, l)
	}
	return list, nil
}

// TerminalCode draws an address as a QR code in letters, for a phone to read.
func TerminalCode(text string) (string, error) { return device.Terminal(text) }
