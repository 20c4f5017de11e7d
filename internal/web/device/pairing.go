// Package device lets other devices of the local network in: a pairing code
// that is shown on the machine itself, the devices that gave it, and the pages
// for both.
//
// It does not listen, and it does not judge a request's door: package web does.
// It encrypts nothing, and says so. What it keeps is in memory only, so that a
// copy of the store lets nobody in and a new start of the program begins with
// no device paired.
package device

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"io"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"

	"yokemate"
)

const (
	// Lasts is how long a device stays paired: a day at the bench.
	Lasts = 12 * time.Hour
	// tries is how many wrong codes make a new one.
	tries = 5
	// longest is the longest pause after a wrong code. With it, somebody who
	// tries day and night has one chance in 70 000 a day.
	longest = time.Minute
	// most is how many devices may be paired at a time.
	most = 16
	// digits of a code.
	digits = 8
)

// Device is one that gave the code.
type Device struct {
	ID     int
	Name   string // as it calls itself
	Addr   string // where it was when it was paired
	Paired time.Time
	Until  time.Time
	Seen   time.Time // of its last request
}

// Pairing knows the code and the devices. It is safe for use by several
// goroutines at once.
type Pairing struct {
	now  func() time.Time
	rand io.Reader
	told func(code string)

	mu      sync.Mutex
	code    string
	wrong   int // times in a row, over all codes
	since   int // times with this code
	opens   time.Time
	devices map[[sha256.Size]byte]*Device // by the hash of the token, so that looking one up tells nothing of it
	last    int
}

// Options are what a pairing needs from outside.
type Options struct {
	Now  func() time.Time
	Rand io.Reader
	Told func(code string) // is called with each new code; nil: nobody is
}

// NewPairing makes the first code.
func NewPairing(o Options) (*Pairing, error) {
	p := &Pairing{now: o.Now, rand: o.Rand, told: o.Told, devices: map[[sha256.Size]byte]*Device{}}
	if p.told == nil {
		p.told = func(string) {}
	}
	return p, p.renew()
}

// Code is the code as it is shown: two groups of four digits.
func (p *Pairing) Code() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return shown(p.code)
}

func shown(code string) string { return code[:digits/2] + " " + code[digits/2:] }

// Renew makes a new code; the old one opens nothing any more.
func (p *Pairing) Renew() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.renew()
}

func (p *Pairing) renew() error {
	var b [8]byte
	code := make([]byte, 0, digits)
	for len(code) < digits {
		if _, err := io.ReadFull(p.rand, b[:]); err != nil {
			return &yokemate.Error{Code: yokemate.Internal, Message: "there is no pairing code", Err: err}
		}
		// Each octet below 250 is a digit without leaning to any.
		for _, x := range b {
			if x < 250 && len(code) < digits {
				code = append(code, '0'+x%10)
			}
		}
	}
	p.code, p.since = string(code), 0
	p.told(shown(p.code))
	return nil
}

// Wait is how long no code is taken from now.
func (p *Pairing) Wait() time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	return max(0, p.opens.Sub(p.now()))
}

// Pair takes a code and returns the token that the device shows from then on.
// A code serves once. After each wrong one nothing is taken for a while, from
// anybody: twice as long each time, so that many addresses help nobody.
func (p *Pairing) Pair(code, name, addr string) (token string, d Device, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	if wait := p.opens.Sub(now); wait > 0 {
		return "", d, yokemate.Errorf(yokemate.Conflict, "the code", "a wrong code was given a moment ago, and none is taken for a while").Mend("wait %d s, then give the code that the machine shows now", int((wait+time.Second-1)/time.Second))
	}
	given := strings.Map(func(c rune) rune {
		if unicode.IsSpace(c) || c == '-' {
			return -1
		}
		return c
	}, code)
	if given == "" {
		return "", d, yokemate.Errorf(yokemate.Invalid, "the code", "it is missing").Mend("type the eight digits that the machine shows")
	}
	if subtle.ConstantTimeCompare([]byte(given), []byte(p.code)) != 1 {
		p.wrong++
		p.since++
		p.opens = now.Add(min(time.Second<<min(p.wrong-1, 30), longest))
		if p.since >= tries {
			if err := p.renew(); err != nil {
				return "", d, err
			}
			return "", d, yokemate.Errorf(yokemate.Invalid, "the code", "it is wrong, and it was the last try with that code").Mend("look at the machine again: it shows a new code now")
		}
		return "", d, yokemate.Errorf(yokemate.Invalid, "the code", "it is wrong").Mend("look at the machine again, and type all eight digits")
	}
	p.drop(now)
	if len(p.devices) >= most {
		return "", d, yokemate.Errorf(yokemate.Conflict, "this device", "%d devices are paired already", most).Mend("un-pair one on the machine itself")
	}
	var secret [32]byte
	if _, err := io.ReadFull(p.rand, secret[:]); err != nil {
		return "", d, &yokemate.Error{Code: yokemate.Internal, Message: "the device cannot be paired", Err: err}
	}
	if err := p.renew(); err != nil {
		return "", d, err
	}
	p.wrong, p.opens = 0, time.Time{}
	p.last++
	x := &Device{ID: p.last, Name: called(name, addr), Addr: addr, Paired: now, Until: now.Add(Lasts), Seen: now}
	token = base64.RawURLEncoding.EncodeToString(secret[:])
	p.devices[sha256.Sum256([]byte(token))] = x
	return token, *x, nil
}

// called is a device's name: its own, in few letters, or its address.
func called(name, addr string) string {
	name = strings.Join(strings.FieldsFunc(name, func(c rune) bool { return unicode.IsSpace(c) || !unicode.IsPrint(c) }), " ")
	if r := []rune(name); len(r) > 40 {
		name = string(r[:40])
	}
	if name == "" {
		return addr
	}
	return name
}

// Known returns the device that a token was given to, while it is paired.
func (p *Pairing) Known(token string) (Device, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	d := p.devices[sha256.Sum256([]byte(token))]
	now := p.now()
	if d == nil || !now.Before(d.Until) {
		return Device{}, false
	}
	d.Seen = now
	return *d, true
}

// Devices lists the paired ones, the latest first.
func (p *Pairing) Devices() []Device {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.drop(p.now())
	list := []Device{}
	for _, d := range p.devices {
		list = append(list, *d)
	}
	slices.SortFunc(list, func(a, b Device) int { return b.ID - a.ID })
	return list
}

// Part un-pairs a device, and reports whether it was paired.
func (p *Pairing) Part(id int) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	for k, d := range p.devices {
		if d.ID == id {
			delete(p.devices, k)
			return true
		}
	}
	return false
}

// drop forgets the devices whose time is over.
func (p *Pairing) drop(now time.Time) {
	for k, d := range p.devices {
		if !now.Before(d.Until) {
			delete(p.devices, k)
		}
	}
}

// Wrong is how many wrong codes came in a row.
func (p *Pairing) Wrong() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.wrong
}
