package lang

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"
)

// shownFrom are the packages whose words reach a page or a sheet.
var shownFrom = []string{
	".", "si", "phys/core", "phys/heat", "phys/network", "phys/protect", "phys/thermal", "phys/waveform", "phys/wire",
	"predict", "match", "find", "prove", "identify", "supply", "switching",
	"internal/figure", "internal/paper", "internal/say", "internal/sheet", "internal/sqlite", "internal/teach", "internal/web", "internal/web/*",
}

// source is a pattern with the place it stands at.
type source struct {
	pattern, at string
	said        bool // it is handed to the language as it is, its verbs in it
}

// sources collects what the program may show: from each shown package the
// literals that have words in them, and from the pages' templates their texts.
func sources(t *testing.T) []source {
	t.Helper()
	var all []source
	var dirs []string
	for _, dir := range shownFrom {
		found, err := filepath.Glob(filepath.Join("../..", dir))
		if err != nil || len(found) == 0 {
			t.Fatalf("there is no package %s: %v", dir, err)
		}
		dirs = append(dirs, found...)
	}
	for _, base := range dirs {
		if info, err := os.Stat(base); err != nil || !info.IsDir() {
			continue
		}
		dir, err := filepath.Rel("../..", base)
		if err != nil {
			t.Fatal(err)
		}
		entries, err := os.ReadDir(base)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			name := e.Name()
			at := filepath.Join(dir, name)
			switch {
			case strings.HasSuffix(name, "_test.go"):
			case strings.HasSuffix(name, ".go"):
				all = append(all, literals(t, filepath.Join(base, name), at)...)
			case strings.HasSuffix(name, ".html"):
				b, err := os.ReadFile(filepath.Join(base, name))
				if err != nil {
					t.Fatal(err)
				}
				all = append(all, texts(t, string(b), at)...)
			}
		}
	}
	return all
}

// literals collects the patterns of a Go file: a literal, a literal of
// fmt.Sprintf or its like, or several of them joined by +.
func literals(t *testing.T, file, at string) []source {
	t.Helper()
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var all []source
	add := func(n ast.Node, pattern string) {
		if strings.Contains(pattern, "{{") { // a template in a literal
			all = append(all, texts(t, pattern, at)...)
			return
		}
		if p := trimmed(pattern); p != "" {
			all = append(all, source{pattern: p, at: at + ":" + strconv.Itoa(set.Position(n.Pos()).Line)})
		}
	}
	// say adds what a call hands to the language.
	say := func(c *ast.CallExpr) {
		for _, a := range c.Args {
			if l, ok := a.(*ast.BasicLit); ok && l.Kind == token.STRING {
				s := strings.TrimPrefix(unquoted(l), ">") // a head over numbers
				if formatted.MatchString(s) {
					s = verbs(s)
				} else {
					s = strings.ReplaceAll(s, "%", "%%")
				}
				if trimmed(s) != "" {
					all = append(all, source{strings.Join(strings.Fields(s), " "), at + ":" + strconv.Itoa(set.Position(l.Pos()).Line), true})
				}
			}
		}
	}
	var walk func(n ast.Node) bool
	walk = func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field:
			ast.Inspect(n.Type, walk)
			return false // not its tag
		case *ast.CaseClause:
			for _, s := range n.Body {
				ast.Inspect(s, walk)
			}
			return false
		case *ast.IndexExpr:
			ast.Inspect(n.X, walk)
			return false
		case *ast.CallExpr:
			if unshown(n) {
				return false
			}
			if f, ok := n.Fun.(*ast.SelectorExpr); ok && slices.Contains([]string{"say", "Say", "Phrase", "table"}, f.Sel.Name) {
				say(n)
			}
			if refused, ok := refusal(n); ok {
				add(n, refused)
				ast.Inspect(n.Args[2], walk)
				return false
			}
			if format, i := formatOf(n); i >= 0 {
				add(n, verbs(format))
				ast.Inspect(n.Fun, walk)
				for j, a := range n.Args {
					if j != i {
						ast.Inspect(a, walk)
					}
				}
				return false
			}
		case *ast.BinaryExpr:
			if n.Op == token.EQL || n.Op == token.NEQ {
				return false
			}
			if pattern, rest, ok := joined(n); ok && n.Op == token.ADD {
				add(n, pattern)
				for _, r := range rest {
					ast.Inspect(r, walk)
				}
				return false
			}
		case *ast.BasicLit:
			if n.Kind == token.STRING {
				s := unquoted(n)
				if formatted.MatchString(s) { // it is said later, with values
					s = verbs(s)
				} else {
					s = strings.ReplaceAll(s, "%", "%%")
				}
				add(n, s)
			}
		}
		return true
	}
	ast.Inspect(f, walk)
	return all
}

// formatted matches a text that is a format.
var formatted = regexp.MustCompile(`%[-+# 0-9.\[\]]*[sdqgfvx]($|[^a-z])`)

func unquoted(l *ast.BasicLit) string {
	s, err := strconv.Unquote(l.Value)
	if err != nil {
		panic(err) // it was parsed
	}
	return s
}

// refusal is the pattern of a value that package si refuses: p.fail puts what
// was written before the words.
func refusal(c *ast.CallExpr) (string, bool) {
	f, ok := c.Fun.(*ast.SelectorExpr)
	if !ok || f.Sel.Name != "fail" || len(c.Args) != 3 {
		return "", false
	}
	pattern, _, ok := joined(c.Args[1])
	return "%q " + pattern, ok
}

// unshown reports whether no literal of a call is shown: it panics, writes to
// the log, compares, or sets a header.
func unshown(c *ast.CallExpr) bool {
	switch f := c.Fun.(type) {
	case *ast.Ident:
		return f.Name == "panic"
	case *ast.SelectorExpr:
		if x, ok := f.X.(*ast.Ident); ok {
			switch x.Name {
			case "strings":
				return !slices.Contains([]string{"Join", "TrimSpace", "TrimSuffix", "ToUpper", "Replace"}, f.Sel.Name)
			case "slices", "errors", "mime", "url", "regexp":
				return true
			}
		}
		if in, ok := f.X.(*ast.SelectorExpr); ok && in.Sel.Name == "Log" {
			return true
		}
		return slices.Contains([]string{"Set", "Get", "FormValue", "PathValue", "Del"}, f.Sel.Name)
	}
	return false
}

// formatOf is the format of a call that has one, and which argument it is.
func formatOf(c *ast.CallExpr) (string, int) {
	name := ""
	switch f := c.Fun.(type) {
	case *ast.Ident:
		name = f.Name
	case *ast.SelectorExpr:
		name = f.Sel.Name
	}
	first, most := 0, 1
	switch name {
	case "Sprintf", "Mend", "say", "Say":
	case "Fprintf":
		first, most = 1, 2
	case "Errorf":
		first, most = 0, 3
	case "add", "note", "warn", "stop", "fail", "bad", "caution", "info", "step":
		most = len(c.Args)
	default:
		return "", -1
	}
	for i := first; i < min(most, len(c.Args)); i++ {
		if l, ok := c.Args[i].(*ast.BasicLit); ok && l.Kind == token.STRING && (name != "Errorf" || i != 1) && strings.Contains(unquoted(l), " ") {
			if (name == "say" || name == "Say") && len(c.Args) == 1 && !formatted.MatchString(unquoted(l)) {
				return strings.ReplaceAll(unquoted(l), "%", "%%"), i // said as it is
			}
			return unquoted(l), i
		}
	}
	return "", -1
}

// joined is the pattern of a chain of +, with what else is to be walked.
func joined(e ast.Expr) (string, []ast.Expr, bool) {
	switch e := e.(type) {
	case *ast.ParenExpr:
		return joined(e.X)
	case *ast.BasicLit:
		if e.Kind == token.STRING {
			return strings.ReplaceAll(unquoted(e), "%", "%%"), nil, true
		}
	case *ast.BinaryExpr:
		if e.Op != token.ADD {
			break
		}
		l, lr, lok := joined(e.X)
		r, rr, rok := joined(e.Y)
		if !lok && !rok {
			break
		}
		if !lok {
			l, lr = "%s", []ast.Expr{e.X}
		}
		if !rok {
			r, rr = "%s", []ast.Expr{e.Y}
		}
		return l + r, append(lr, rr...), true
	case *ast.CallExpr:
		if format, i := formatOf(e); i >= 0 {
			return verbs(format), slices.Delete(slices.Clone(e.Args), i, i+1), true
		}
		if f, ok := e.Fun.(*ast.SelectorExpr); ok && f.Sel.Name == "Itoa" {
			return "%d", nil, true
		}
	}
	return "", nil, false
}

// verbs makes the verbs of package fmt those of a catalogue.
func verbs(format string) string {
	var b strings.Builder
	for i := 0; i < len(format); i++ {
		b.WriteByte(format[i])
		if format[i] != '%' {
			continue
		}
		for i++; i < len(format) && strings.IndexByte("0123456789.+-# []", format[i]) >= 0; i++ {
		}
		if i == len(format) {
			break
		}
		switch format[i] {
		case 's', 'v', 'w', 'c', 'q', '%':
			b.WriteByte(map[byte]byte{'s': 's', 'v': 's', 'w': 's', 'c': 's', 'q': 'q', '%': '%'}[format[i]])
		default:
			b.WriteByte('d')
		}
	}
	return b.String()
}

// beside matches values side by side.
var beside = regexp.MustCompile(`%[sd](%[sd])+`)

// trimmed takes off a pattern what only joins it to another. It is empty when
// no words are left.
func trimmed(s string) string {
	s = beside.ReplaceAllString(strings.Join(strings.Fields(s), " "), "%s") // two values side by side are one
	for {
		t := strings.TrimSpace(s)
		for _, c := range []string{";", ",", ":", ". ", ")", "·", ">", "="} {
			t = strings.TrimPrefix(t, c)
		}
		for _, c := range []string{";", ",", ":", "(", "·"} {
			t = strings.TrimSuffix(t, c)
		}
		if strings.Count(t, "(") > strings.Count(t, ")") {
			t = strings.TrimPrefix(t, "(")
		} else if strings.Count(t, "(") < strings.Count(t, ")") {
			t = strings.TrimSuffix(t, ")")
		}
		if t == s {
			break
		}
		s = t
	}
	if prose(strings.NewReplacer("%s", " ", "%d", " ", "%q", " ", "%%", " ").Replace(s)) == 0 {
		return ""
	}
	return s
}

// texts collects the texts of a template. Its actions are values; each of its
// branches is taken once with the first branch of all others, and once with the
// last.
func texts(t *testing.T, text, at string) []source {
	t.Helper()
	trees := map[string]*parse.Tree{}
	tree := parse.New(at)
	tree.Mode = parse.SkipFuncCheck
	if _, err := tree.Parse(text, "", "", trees); err != nil {
		t.Fatal(err)
	}
	var all []source
	for _, tr := range trees {
		branches := len(branchesOf(tr.Root))
		for v := range 2 + 2*branches {
			way := map[parse.Node]bool{}
			for i, n := range branchesOf(tr.Root) {
				if v < 2 {
					way[n] = v == 0
				} else {
					way[n] = (i == v/2-1) != (v%2 == 0)
				}
			}
			err := Texts(strings.NewReader(flat(tr.Root, way)), func(s string) {
				s = strings.ReplaceAll(strings.ReplaceAll(s, "%", "%%"), "\x01", "%s")
				if x := (source{pattern: trimmed(s), at: at}); x.pattern != "" && !slices.Contains(all, x) {
					all = append(all, x)
				}
			})
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	return all
}

// branchesOf lists the nodes of a template that choose.
func branchesOf(n parse.Node) []parse.Node {
	var all []parse.Node
	in := func(b *parse.BranchNode) []parse.Node {
		x := branchesOf(b.List)
		if b.ElseList != nil {
			x = append(x, branchesOf(b.ElseList)...)
		}
		return x
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, m := range n.Nodes {
			all = append(all, branchesOf(m)...)
		}
	case *parse.IfNode:
		all = append([]parse.Node{n}, in(&n.BranchNode)...)
	case *parse.WithNode:
		all = append([]parse.Node{n}, in(&n.BranchNode)...)
	case *parse.RangeNode:
		all = append([]parse.Node{n}, in(&n.BranchNode)...)
	}
	return all
}

// flat writes a template as one page, with a mark for each value.
func flat(n parse.Node, way map[parse.Node]bool) string {
	branch := func(b *parse.BranchNode) string {
		if way[n] {
			return flat(b.List, way)
		}
		if b.ElseList != nil {
			return flat(b.ElseList, way)
		}
		return ""
	}
	switch n := n.(type) {
	case *parse.ListNode:
		var b strings.Builder
		for _, m := range n.Nodes {
			b.WriteString(flat(m, way))
		}
		return b.String()
	case *parse.TextNode:
		return string(n.Text)
	case *parse.ActionNode:
		if len(n.Pipe.Decl) == 0 {
			return "\x01"
		}
	case *parse.TemplateNode:
		return "<b></b>" // a text ends there
	case *parse.IfNode:
		return branch(&n.BranchNode)
	case *parse.WithNode:
		return branch(&n.BranchNode)
	case *parse.RangeNode:
		return branch(&n.BranchNode)
	}
	return ""
}

// sample is a sentence that a pattern could make.
func sample(pattern string) string {
	parts, err := split(pattern)
	if err != nil {
		panic(err)
	}
	values := []string{"T1", "T2.5", "12.5 V", "T3/A", "0.7 A", "4.40 Ω", "T4", "J5", "F6", "T7/B"}
	numbers := []string{"7", "1.5", "0.25", "50", "12.6", "3", "230", "4.7"}
	var b strings.Builder
	for _, p := range parts {
		switch {
		case p.verb == 0:
			b.WriteString(p.text)
		case p.verb == 'd':
			b.WriteString(numbers[p.arg%len(numbers)])
		case p.verb == 'q':
			b.WriteString(`"X` + strconv.Itoa(p.arg) + `"`)
		default:
			b.WriteString(values[p.arg%len(values)])
		}
	}
	return b.String()
}

// wordy reports whether a source is shown by its kind: what is said; the text of
// a page; a sentence or a phrase, and not a route or a statement for the store.
func (s source) wordy() bool {
	if s.said || strings.HasSuffix(s.at, ".html") {
		return true
	}
	first, _, more := strings.Cut(s.pattern, " ")
	return more && !slices.Contains([]string{"GET", "POST", "SELECT", "INSERT", "UPDATE", "DELETE", "ATTACH", "DETACH", "VACUUM", "PRAGMA", "BEGIN", "CREATE"}, first)
}
