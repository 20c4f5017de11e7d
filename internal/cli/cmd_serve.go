package cli

import (
	"log/slog"
	"os"
	"os/signal"
	"syscall"

	"yokemate/internal/web"
)

type serveCmd struct {
	Addr string `default:"127.0.0.1:8137" placeholder:"HOST:PORT" help:"Where to answer: an address of this machine alone. Port 0 takes one that is free."`
}

// Run opens the bench in the browser until it is interrupted.
func (c *serveCmd) Run(a *App) error {
	s, err := a.Store()
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(a.Ctx(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	l, err := web.Listen(ctx, c.Addr)
	if err != nil {
		return err
	}
	a.Print("The bench is at http://%s/ until Ctrl-C.\n", l.Addr())
	if err := a.out.Flush(); err != nil {
		return err
	}
	return web.Serve(ctx, l, web.Config{Store: s, Log: slog.New(slog.NewTextHandler(a.Stderr, nil))})
}
