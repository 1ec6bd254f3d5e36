package gazetteer

import (
	"strings"
	"unicode"
)

// Fold brings a name to the form in which names are compared: lower case
// without accents, dots, apostrophes, hyphens and spaces, abbreviations that
// begin names of towns written out, and without a remark in brackets at the
// end. Two names with one fold are taken for one name.
func Fold(name string) string {
	if i := strings.IndexByte(name, '('); i > 0 && strings.HasSuffix(name, ")") {
		name = name[:i]
	}
	words := strings.FieldsFunc(plain(name), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for i, w := range words {
		if full, ok := written[w]; ok && i < len(words)-1 {
			words[i] = full
		}
	}
	return strings.Join(words, "")
}

// written are abbreviations in names of towns; common practice. The last word
// of a name is never one: "Main St" is no saint.
var written = map[string]string{"st": "saint", "ste": "sainte", "mt": "mount", "ft": "fort"}

// plain writes lower case letters without accents and drops what may be left
// out inside a word.
func plain(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch r {
		case '.', '\'', '’', '‘', '`', 'ʻ', 'ʼ', '´':
			continue
		case '&':
			b.WriteString(" and ")
			continue
		}
		r = unicode.ToLower(r)
		if i := strings.IndexRune(accented, r); i >= 0 {
			r = bare[len([]rune(accented[:i]))]
		}
		b.WriteRune(r)
	}
	return b.String()
}

// accented and bare are letters in names of places in the United States, in
// pairs.
const accented = "áàâäãåāéèêëēíìîïīóòôöõōúùûüūñçýÿ"

var bare = []rune("aaaaaaaeeeeeiiiiioooooouuuuuncyy")
