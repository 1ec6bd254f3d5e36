package screen

import (
	"wayfall/permits"
	"wayfall/permits/rules"
)

// Explain judges one find or act as Check does, and says beside the verdict
// how each law that applies was weighed, with every alternative inside it.
func Explain(f *Facts, w *World) (permits.Verdict, []rules.Weighed) {
	c := caseOf(f, w, w.Tally)
	v, laws := w.Book.Explain(&c, w.Register)
	sign(f, w, &v)
	return v, laws
}
