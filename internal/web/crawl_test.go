package web

import (
	"bytes"
	"io"
	"maps"
	"mime/multipart"
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

// form is one that writes, as it stands on a page.
type form struct {
	on, to string
	many   bool // takes files
	fields []*field
}

// field is one of its fields with what it sends untouched.
type field struct {
	name, value string
	kind        string // hidden, text, select, checkbox, file, button
}

// forms lists the forms of a page that write.
func forms(at string, all []*element) []*form {
	var list []*form
	var open *form
	var list1 *field // the list whose entries are being read
	for _, e := range all {
		name := e.attr["name"]
		switch e.name {
		case "form":
			open = nil
			if e.attr["method"] == "post" {
				open = &form{on: at, to: e.attr["action"], many: e.attr["enctype"] == "multipart/form-data"}
				list = append(list, open)
			}
			continue
		case "option":
			if v, ok := e.attr["value"]; open != nil && list1 != nil && (list1.value == "" || e.attr["selected"] != "") {
				if !ok {
					v = strings.TrimSpace(e.text.String())
				}
				list1.value = v
			}
			continue
		}
		if open == nil || name == "" {
			continue
		}
		f := &field{name: name, value: e.attr["value"], kind: "text"}
		switch e.name {
		case "input":
			switch e.attr["type"] {
			case "hidden", "checkbox", "file", "radio":
				f.kind = e.attr["type"]
			}
		case "textarea":
			f.value = e.text.String()
		case "select":
			f.kind, f.value, list1 = "select", "", f
		case "button":
			f.kind = "button"
		default:
			continue
		}
		open.fields = append(open.fields, f)
	}
	return list
}

// send posts a form, with every text of it as said.
func (b *bench) send(f *form, text func(*field) string) (int, string, string) {
	b.t.Helper()
	v := url.Values{}
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	put := func(name, value string) {
		v.Add(name, value)
		if err := m.WriteField(name, value); err != nil {
			b.t.Fatal(err)
		}
	}
	for _, x := range f.fields {
		switch x.kind {
		case "text":
			put(x.name, text(x))
		case "hidden", "select":
			put(x.name, x.value)
		case "file":
			w, err := m.CreateFormFile(x.name, "nonsense.json")
			if err != nil {
				b.t.Fatal(err)
			}
			io.WriteString(w, text(x))
		}
	}
	if err := m.Close(); err != nil {
		b.t.Fatal(err)
	}
	kind, sent := "application/x-www-form-urlencoded", v.Encode()
	if f.many {
		kind, sent = m.FormDataContentType(), body.String()
	}
	r, err := http.NewRequestWithContext(b.t.Context(), "POST", b.server.URL+f.to, strings.NewReader(sent))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	code, page, h := b.do(r)
	return code, h.Get("Location"), page
}

// Nonsense in any form is answered by a page that says what is wrong, with what
// was typed still there; never by a fault of the program.
func TestNonsense(t *testing.T) {
	b := newBench(t, true)
	at, _ := b.startProof("rope lights")
	b.startProof("odd pair")
	found := b.crawl(4)
	_, page, _ := b.get(at + "?step=" + url.QueryEscape(b.at(3).session.Next()))
	found = append(found, visit{at: at, page: page, all: parse(t, at, page)})
	seen := map[string]bool{}
	for _, v := range found {
		for _, f := range forms(v.at, v.all) {
			kind := shape(f.to)
			var names []string
			for _, x := range f.fields {
				if x.kind == "text" || x.kind == "file" {
					names = append(names, x.name)
				}
			}
			kind += " " + strings.Join(names, " ")
			if seen[kind] || len(names) == 0 {
				continue
			}
			seen[kind] = true
			for _, nonsense := range []string{"", "   ", `<b>"zz' & ‽`, "-1e999", "1,2,3", "../../etc/passwd", strings.Repeat("9", 4000), "\x00\x01", "１２"} {
				code, to, page := b.send(f, func(x *field) string { return nonsense })
				if code == http.StatusSeeOther {
					if code, body, _ := b.get(to); code != http.StatusOK {
						t.Errorf("%s, on %s, with %.20q leads to %s: status %d\n%s", f.to, f.on, nonsense, to, code, text(body))
					}
					break // it made sense after all, and the form is another now
				}
				if code == http.StatusOK && f.many {
					continue
				}
				if code != http.StatusUnprocessableEntity && code != http.StatusConflict {
					t.Errorf("%s, on %s, with %.20q: status %d\n%.600s", f.to, f.on, nonsense, code, text(page))
					continue
				}
				all := checkPage(t, f.to, page)
				if !strings.Contains(page, `role="alert"`) {
					t.Errorf("%s, on %s, with %.20q: the form is gone\n%.600s", f.to, f.on, nonsense, text(page))
					continue
				}
				if strings.ContainsAny(nonsense, "\x00") || strings.TrimSpace(nonsense) == "" {
					continue // nobody types the one, and no page can show it; the other is nothing
				}
				for _, x := range f.fields {
					if x.kind != "text" {
						continue
					}
					kept := slices.ContainsFunc(all, func(e *element) bool {
						return e.attr["name"] == x.name && (strings.TrimSpace(e.attr["value"]) == strings.TrimSpace(nonsense) || e.name == "textarea" && strings.TrimSpace(e.text.String()) == strings.TrimSpace(nonsense))
					})
					if !kept {
						t.Errorf("%s, on %s: %q typed into %s is gone", f.to, f.on, nonsense[:min(len(nonsense), 20)], x.name)
					}
				}
			}
		}
	}
	t.Logf("%d kinds of form", len(seen))
	if len(seen) < 6 {
		t.Errorf("only %d kinds of form were tried", len(seen))
	}
}
