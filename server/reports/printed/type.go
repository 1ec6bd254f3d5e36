package printed

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// faces are the fonts of the paper under the names by which it calls them.
var faces = []struct {
	family, style string
	data          []byte
}{{"text", "", goregular.TTF}, {"text", "B", gobold.TTF}, {"text", "I", goitalic.TTF}, {"mono", "", gomono.TTF}}

func addFaces(pdf *fpdf.Fpdf) {
	for _, f := range faces {
		pdf.AddUTF8FontFromBytes(f.family, f.style, slices.Clone(f.data))
	}
}

// has reports whether every face has the letter.
var has = func() func(rune) bool {
	open := sync.OnceValue(func() []*sfnt.Font {
		var all []*sfnt.Font
		for _, f := range faces {
			font, err := sfnt.Parse(f.data)
			if err != nil {
				panic("a built-in font cannot be read: " + err.Error())
			}
			all = append(all, font)
		}
		return all
	})
	return func(r rune) bool {
		var buf sfnt.Buffer
		for _, font := range open() {
			if i, err := font.GlyphIndex(&buf, r); err != nil || i == 0 {
				return false
			}
		}
		return true
	}
}()

// printable writes text with the letters that the faces have. Any other letter
// becomes its number in brackets; lost tells whether that happened. White
// space of any kind becomes a space.
func printable(text string) (out string, lost bool) {
	var b strings.Builder
	for _, r := range norm.NFC.String(text) {
		switch {
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		case r > 0xFFFF || unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || !has(r):
			fmt.Fprintf(&b, "[U+%04X]", r)
			lost = true
		default:
			b.WriteRune(r)
		}
	}
	return b.String(), lost
}
