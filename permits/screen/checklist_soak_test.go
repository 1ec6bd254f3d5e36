//go:build soak

package screen_test

import (
	"bufio"
	"bytes"
	"os/exec"
	"strings"
	"testing"
)

// ncbi is where Debian's r-bioc-genomeinfodbdata keeps the names of the NCBI
// taxonomy, edition 1.2.9 of 2022: 2,670,456 rows, public domain.
const ncbi = "/usr/lib/R/site-library/GenomeInfoDbData/data/specData.rda"

// under introduces, in a note, the older name under which a name is known
// there.
const under = "the NCBI names of 2022 have it under "

// TestEveryNameIsSpeltAsOthersSpellIt finds every binomial among the NCBI
// names, or the older name that the row's note gives. It installs nothing.
func TestEveryNameIsSpeltAsOthersSpellIt(t *testing.T) {
	out, err := exec.Command("Rscript", "-e", `load("`+ncbi+`"); writeLines(paste(specData$genus, specData$species))`).Output()
	if err != nil {
		t.Fatalf("%v; the names come from Debian's r-bioc-genomeinfodbdata", err)
	}
	known := map[string]bool{}
	lines := bufio.NewScanner(bytes.NewReader(out))
	for lines.Scan() {
		known[lines.Text()] = true
	}
	if len(known) < 1_000_000 || known["Turdus migratorus"] {
		t.Fatalf("got %d names, and a misspelt robin: %v", len(known), known["Turdus migratorus"])
	}
	hits, explained := 0, 0
	for _, r := range checkRows(t) {
		words := strings.Fields(r.Name)
		_, older, noted := strings.Cut(r.Note, under)
		switch {
		case known[words[0]+" "+words[1]]:
			hits++
		case noted && known[older]:
			explained++
		default:
			t.Errorf("%s: not among %d NCBI names, and the note %q gives no older name that is", r.Name, len(known), r.Note)
		}
	}
	t.Logf("SHOW %d names found, %d under an older name that the row states", hits, explained)
}
