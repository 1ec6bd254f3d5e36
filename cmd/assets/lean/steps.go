package lean

// A table by place in the program is a list of pairs: how much the value
// changes, zigzag, and for how many instructions it then holds. A change of
// nothing, but for the first, ends it.

// each calls f with every value of the table that begins at off, and returns
// where it ends.
func (t *tables) each(off uint32, f func(value int)) int {
	at, value := t.steps.from+int(off), -1
	for first := true; ; first = false {
		change, next := t.varint(at)
		if t.odd || change == 0 && !first {
			return next
		}
		if change&1 != 0 {
			value += -int(change>>1) - 1
		} else {
			value += int(change >> 1)
		}
		f(value)
		_, at = t.varint(next)
	}
}

func (t *tables) varint(at int) (n uint64, next int) {
	for shift := 0; shift < 35; shift += 7 {
		if at < t.steps.from || at >= t.steps.to {
			break
		}
		b := t.memory[at]
		at++
		n |= uint64(b&0x7f) << shift
		if b < 0x80 {
			return n, at
		}
	}
	t.odd = true
	return 0, at
}

// walk notes which bytes the table at off uses. 0 stands for no table.
func (t *tables) walk(off uint32, used []bool) {
	if off == 0 {
		return
	}
	end := t.each(off, func(int) {})
	for i := int(off); !t.odd && i < end-t.steps.from; i++ {
		used[i] = true
	}
}

// inlined returns where the lists of inlined calls lie, and where every other
// table by function begins.
func (t *tables) inlined() (trees []span, others []int) {
	for i := range t.functions {
		f := t.function(i)
		if t.odd {
			return nil, nil
		}
		for j := range f.datas {
			off := t.number(f.firstD + 4*j)
			switch {
			case off == noData:
			case j != inlineData:
				others = append(others, t.gofunc+int(off))
			case f.steps > inlineTree && t.number(f.first+4*inlineTree) != 0:
				trees = append(trees, t.tree(t.gofunc+int(off), t.number(f.first+4*inlineTree)))
			}
		}
	}
	return trees, others
}

// tree returns where a list of inlined calls ends: it has as many as its
// highest number says. Each is looked at, so that nothing else is taken for one.
func (t *tables) tree(at int, steps uint32) span {
	calls := 0
	t.each(steps, func(v int) { calls = max(calls, v+1) })
	s := span{at, at + callSize*calls}
	if at < 0 || s.to > len(t.memory) {
		t.odd = true
		return span{}
	}
	for c := s.from; c < s.to; c += callSize {
		padded := t.memory[c+1] == 0 && t.memory[c+2] == 0 && t.memory[c+3] == 0
		if !padded || int(t.number(c+4)) >= t.names.to-t.names.from {
			t.odd = true
		}
	}
	return s
}
