package web

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
)

// visit is a page that was found by following links and choosing from lists.
type visit struct {
	at   string
	page string // empty: a file to take away
	kind string
	all  []*element
}

// shape is what pages of one kind have in common: the path without the names in
// it, and which questions are asked of it.
func shape(at string) string {
	path, query, _ := strings.Cut(at, "?")
	parts := strings.Split(path, "/")
	if len(parts) > 2 {
		parts[2] = "*"
	}
	if len(parts) > 4 {
		parts[4] = "*"
	}
	q, _ := url.ParseQuery(query)
	var keys []string
	for k := range q {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return strings.Join(parts, "/") + "?" + strings.Join(keys, "&")
}

// crawl follows every link, and every choice that a form without writing
// offers, from the first page on: breadth first, and at most so many pages of
// one shape, so that links which grow without end, end. It fails on what leads
// nowhere. A choice that makes no sense leads to the page it was made on, which
// says so.
func (b *bench) crawl(most int) []visit {
	b.t.Helper()
	seen, shapes := map[string]bool{}, map[string]int{}
	var found []visit
	queue := []string{"/"}
	from := map[string]string{"/": "the beginning"}
	for len(queue) > 0 {
		at := queue[0]
		queue = queue[1:]
		if seen[at] || shapes[shape(at)] == most {
			continue
		}
		seen[at] = true
		shapes[shape(at)]++
		code, body, h := b.get(at)
		if code == http.StatusSeeOther {
			queue = append(queue, h.Get("Location"))
			continue
		}
		if code == http.StatusUnprocessableEntity && strings.Contains(body, `role="alert"`) && strings.Contains(body, `action="`+strings.Split(at, "?")[0]+`"`) {
			continue
		}
		if code != http.StatusOK {
			b.t.Errorf("%s, from %s: status %d\n%s", at, from[at], code, text(body))
			continue
		}
		v := visit{at: at, kind: h.Get("Content-Type")}
		if strings.HasPrefix(v.kind, "text/html") && h.Get("Content-Disposition") == "" {
			v.page, v.all = body, parse(b.t, at, body)
			for _, to := range leadsTo(v.all) {
				to, _, _ = strings.Cut(to, "#")
				if to != "" && from[to] == "" {
					from[to] = at
					queue = append(queue, to)
				}
			}
		}
		found = append(found, v)
	}
	return found
}

// leadsTo lists the addresses of this server that a page leads to: its links,
// and its forms that only ask, sent as they stand and with each choice of each
// of their lists.
func leadsTo(all []*element) []string {
	var list []string
	var form *element
	var fields [][2]string
	var choices [][2]string
	end := func() {
		if form == nil || form.attr["method"] == "post" {
			return
		}
		send := func(name, value string) {
			q := url.Values{}
			for _, f := range fields {
				if f[0] != name {
					q.Add(f[0], f[1])
				}
			}
			if name != "" {
				q.Set(name, value)
			}
			list = append(list, form.attr["action"]+"?"+q.Encode())
		}
		if len(choices) == 0 {
			send("", "")
		}
		for _, c := range choices {
			send(c[0], c[1])
		}
		form = nil
	}
	name, first := "", false
	for _, e := range all {
		switch e.name {
		case "a":
			if to := e.attr["href"]; strings.HasPrefix(to, "/") {
				list = append(list, to)
			}
		case "img":
			list = append(list, e.attr["src"])
		case "form":
			end()
			form, fields, choices = e, nil, nil
		case "input":
			if e.attr["name"] != "" && e.attr["type"] != "checkbox" && e.attr["type"] != "radio" {
				fields = append(fields, [2]string{e.attr["name"], e.attr["value"]})
			}
		case "button":
			if e.attr["name"] != "" {
				choices = append(choices, [2]string{e.attr["name"], e.attr["value"]})
			}
		case "select":
			name, first = e.attr["name"], true
		case "option":
			value, ok := e.attr["value"]
			if !ok {
				value = strings.TrimSpace(e.text.String())
			}
			if first || e.attr["selected"] != "" {
				if !first {
					fields = fields[:len(fields)-1]
				}
				fields = append(fields, [2]string{name, value})
				first = false
			}
			if value != "" {
				choices = append(choices, [2]string{name, value})
			}
		}
	}
	end()
	return list
}

// Every link and every choice leads to a page that keeps the promises of a
// page, and no list of links grows without end.
func TestEveryPage(t *testing.T) {
	b := newBench(t, true)
	found := b.crawl(25)
	kinds := map[string]int{}
	for _, v := range found {
		kinds[shape(v.at)]++
		if v.page != "" {
			checkPage(t, v.at, v.page)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(kinds)) {
		t.Log(kinds[k], k)
	}
	t.Logf("%d pages of %d shapes", len(found), len(kinds))
	for _, want := range []string{"/?", "/units/*?", "/units/*?side", "/needs?", "/needs/*?", "/hookups?", "/hookups/*?", "/hookups/*?mains", "/hookups/*?mains&slip", "/hookups/*?lead&mains", "/hookups/*?lead&mains&with", "/hookups/*/limits?", "/proofs?", "/proofs/*?", "/proofs/*/record?", "/files?", "/files/*?"} {
		if kinds[want] == 0 {
			t.Errorf("no link leads to %s", want)
		}
	}
	empty := newBench(t, false)
	for _, v := range empty.crawl(25) {
		if v.page != "" {
			checkPage(t, v.at, v.page)
		}
	}
}
