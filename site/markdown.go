package site

import (
	"bytes"
	"html"
	"html/template"
	"net/url"
	"path"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	east "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	grender "github.com/yuin/goldmark/renderer"
	ghtml "github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// converter is made once: it keeps nothing of what it converts.
var converter = goldmark.New(
	goldmark.WithExtensions(extension.GFM),
	goldmark.WithParserOptions(parser.WithASTTransformers(util.Prioritized(mender{}, 500))),
	goldmark.WithRendererOptions(grender.WithNodeRenderers(util.Prioritized(drawer{}, 50))),
)

// reading is what one text is read with.
type reading struct {
	below    int    // rank of the heading the text stands under
	dir      string // folder the text's links start from
	pictures func(file, alt string) (at, shown string)
}

var readingKey = parser.NewContextKey()

// markdown turns a maker's prose into HTML. Raw HTML in it is left out, links
// that would run something are emptied (goldmark's safe default), and pictures
// are led through pictures, which gives the page's address of a picture and
// its description, or "" to leave it out.
func markdown(src []byte, r reading) (template.HTML, error) {
	if len(bytes.TrimSpace(src)) == 0 {
		return "", nil
	}
	ctx := parser.NewContext()
	ctx.Set(readingKey, &r)
	var b bytes.Buffer
	if err := converter.Convert(src, &b, parser.WithContext(ctx)); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil //nolint:gosec // goldmark escapes and drops raw HTML
}

type mender struct{}

// noAlt is the attribute of a picture that has no description of its own.
const noAlt = "data-bare"

// Transform implements parser.ASTTransformer.
func (mender) Transform(doc *ast.Document, reader text.Reader, pc parser.Context) {
	m, _ := pc.Get(readingKey).(*reading)
	if m == nil {
		return
	}
	src := reader.Source()
	var drop []ast.Node
	level := m.below
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			// Below the page's own, and no rank is left out on the way down.
			n.Level = min(6, max(m.below+1, min(n.Level+m.below-1, level+1)))
			level = n.Level
		case *ast.Image:
			dest, err := url.PathUnescape(string(n.Destination))
			if err != nil || m.pictures == nil || strings.Contains(dest, ":") || strings.HasPrefix(dest, "/") {
				drop = append(drop, n)
				break
			}
			alt := strings.TrimSpace(plainText(n, src))
			at, shown := m.pictures(path.Join(m.dir, dest), alt)
			if at == "" {
				drop = append(drop, n)
				break
			}
			n.Destination = []byte((&url.URL{Path: at}).String())
			n.SetAttributeString("alt", []byte(shown))
			if alt == "" {
				n.SetAttributeString(noAlt, []byte("1"))
			}
		}
		return ast.WalkContinue, nil
	})
	for _, n := range drop {
		if p := n.Parent(); p != nil {
			p.ReplaceChild(p, n, ast.NewString([]byte("[picture: "+html.EscapeString(plainText(n, src))+"]")))
		}
	}
}

// plainText is the text in a node, without its marks.
func plainText(n ast.Node, src []byte) string {
	var b strings.Builder
	_ = ast.Walk(n, func(c ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch c := c.(type) {
		case *ast.Text:
			b.Write(c.Segment.Value(src))
			if c.SoftLineBreak() || c.HardLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.String:
			b.Write(c.Value)
		}
		return ast.WalkContinue, nil
	})
	return b.String()
}

// drawer writes boxes of task lists and pictures in ways that a screen reader
// can tell and that stand without style or script.
type drawer struct{}

// RegisterFuncs implements renderer.NodeRenderer.
func (drawer) RegisterFuncs(reg grender.NodeRendererFuncRegisterer) {
	reg.Register(east.KindTaskCheckBox, func(w util.BufWriter, _ []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
		if entering {
			if n.(*east.TaskCheckBox).IsChecked {
				_, _ = w.WriteString(`<span class="tick" role="img" aria-label="done">☑</span> `)
			} else {
				_, _ = w.WriteString(`<span class="tick" role="img" aria-label="to do">☐</span> `)
			}
		}
		return ast.WalkContinue, nil
	})
	reg.Register(ast.KindImage, func(w util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		im := n.(*ast.Image)
		_, _ = w.WriteString(`<img loading="lazy" src="`)
		if !ghtml.IsDangerousURL(im.Destination) {
			_, _ = w.Write(util.EscapeHTML(util.URLEscape(im.Destination, true)))
		}
		alt, given := n.AttributeString("alt")
		_, _ = w.WriteString(`" alt="`)
		if b, ok := alt.([]byte); given && ok {
			_, _ = w.WriteString(html.EscapeString(string(b)))
		} else {
			_, _ = w.WriteString(html.EscapeString(plainText(n, src)))
		}
		_, _ = w.WriteString(`">`)
		if _, bare := n.AttributeString(noAlt); bare {
			_, _ = w.WriteString(`<span class="asked">This picture has no description yet. Write one between the brackets of <code>![ ]</code>, for those who cannot see it.</span>`)
		}
		return ast.WalkSkipChildren, nil
	})
}

// Prose turns a maker's Markdown into HTML for another page of ours, such as
// the bench: as the site does, with pictures led through at.
func Prose(src, dir string, at func(file string) string) (template.HTML, error) {
	return markdown([]byte(src), reading{below: 2, dir: dir, pictures: func(file, alt string) (string, string) { return at(file), alt }})
}
