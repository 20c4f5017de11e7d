package cli

import (
	"log/slog"
	"net"
	"net/netip"
	"os"
	"os/signal"
	"syscall"

	"golang.org/x/term"

	"yokemate"
	"yokemate/internal/web"
)

type serveCmd struct {
	Addr string `default:"127.0.0.1:8137" placeholder:"HOST:PORT" help:"Where to answer: an address of this machine alone. Port 0 takes one that is free."`
	LAN  bool   `name:"lan" help:"Also answer on the local network, without encryption: others there may look, and write once they gave the pairing code."`
}

// Run opens the bench in the browser until it is interrupted.
func (c *serveCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(a.Ctx(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	var d web.Doors
	if d.Home, err = web.Listen(ctx, c.Addr); err != nil {
		return err
	}
	config := web.Config{Store: s, Log: slog.New(slog.NewTextHandler(a.Stderr, nil))}
	a.Print("The bench is at http://%s/ until Ctrl-C.\n", d.Home.Addr())
	if c.LAN {
		addrs, err := a.LocalAddrs()
		if err != nil {
			return err
		}
		port := d.Home.Addr().(*net.TCPAddr).Port
		if d.LAN, err = web.ListenLAN(ctx, addrs, port); err != nil {
			return err
		}
		if err := c.tell(a, d); err != nil {
			return err
		}
		config.LAN = &web.LAN{Now: a.Now, Rand: a.Rand, Told: func(code string) {
			a.Print("Pairing code: %s\n", code)
			a.out.Flush() // a terminal that went away does not stop the bench
		}}
	}
	if err := a.out.Flush(); err != nil {
		return err
	}
	return web.Serve(ctx, d, config)
}

// LocalAddrs are this machine's addresses on local networks.
func LocalAddrs() ([]netip.Addr, error) {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return nil, &yokemate.Error{Code: yokemate.Internal, Message: "the addresses of this machine are not told", Err: err}
	}
	return web.LocalAddrs(all), nil
}

// tell says where the bench is on the local network, and what that means.
func (c *serveCmd) tell(a *App, d web.Doors) error {
	a.Print("On the local network it is at:\n")
	for _, l := range d.LAN {
		a.Print("  http://%s/\n", l.Addr())
	}
	if f, ok := a.Stdout.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		code, err := web.TerminalCode("http://" + d.LAN[0].Addr().String() + "/")
		if err != nil {
			return err
		}
		a.Print("%s", code)
	}
	a.Print("Devices there may look at everything. To write, they give the pairing code.\n")
	a.Print("The network is not encrypted: whoever can listen on it reads what is shown, and\ncould write in a paired device's name. Use it only among people you trust.\n")
	return nil
}
