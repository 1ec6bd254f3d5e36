package app

import (
	"testing"

	"github.com/chromedp/chromedp"
)

type reports struct {
	Reports []struct {
		ID      string
		Differs bool
	}
	All int
}

// sheet is one find as the museum has it.
type sheet struct {
	Fields []struct {
		Field   string
		Differs bool
		Said    []struct{ Value any }
	}
}

const band = "1234-56789"

func (p *page) allSent() {
	p.t.Helper()
	p.wait("all sent", at("status")+`.innerText === "all sent"`)
}

// A phone that is put back from an older copy tells another story under the
// same numbers. Both are kept, it is told why nothing more is sent, and goes on
// under a new number without losing anything.
func TestAPhonePutBackFromAnOlderCopyGoesOnAndLosesNothing(t *testing.T) {
	m := openMuseum(t)
	p := m.phone()
	p.open("#code=" + m.code("ana"))
	p.find()
	p.allSent()
	first := p.store(`return (await all("finds"))[0].id`)
	p.store(`globalThis.copy = { device: await get("one", "device") }`)
	p.find()
	p.allSent()
	p.store(`await put("one", copy.device, "device"); await drop("ops", 2); await drop("finds", (await all("finds")).find((f) => f.id !== ` + first + `).id)`)
	m.down.Store(true)
	p.open("#/find/" + first[1:len(first)-1])
	p.touch("correct")
	p.write("band", band) // its own "none" was sent before
	p.touch("save-correct")
	p.open("#/start")
	p.find()
	m.down.Store(false)
	p.touch("status", "send-now")
	p.wait("why sending stopped", at("stray")+`?.dataset.why === "frozen"`)
	p.says("2 saves wait here and are safe")

	number := p.store(`return (await get("one", "device")).id`)
	p.write("anew-code", "WRONGCODE1")
	p.touch("anew")
	p.says("Everything is kept as it was.")
	if got := p.store(`return (await get("one", "device")).id`); got != number {
		t.Errorf("a wrong code changed the phone's number from %s to %s", number, got)
	}
	p.write("anew-code", m.code("ana"))
	p.touch("anew")
	p.wait("the start", at("new-find"))
	p.allSent()
	if got := p.store(`return (await get("one", "device")).id`); got == number {
		t.Errorf("the phone still has the number %s", got)
	}
	if got, want := p.store(`return (await all("past")).map((k) => [k.seq, k.again])`), `[[1,0],[2,1],[3,2]]`; got != want {
		t.Errorf("saves of the old number, and their new ones: got %s, want %s", got, want)
	}
	holdAll(t, m, first[1:len(first)-1])
}

// holdAll looks for the three finds at the museum, and for the band that was
// read last, alone.
func holdAll(t *testing.T, m *museum, first string) {
	t.Helper()
	var all reports
	m.get("/v1/reports?limit=10", &all)
	if all.All != 3 {
		t.Errorf("got %d finds at the museum, want 3: one before the copy, one after it, one saved again", all.All)
	}
	for _, r := range all.Reports {
		if r.Differs {
			t.Errorf("find %s: hands differ, though one phone wrote it alone", r.ID)
		}
	}
	var one sheet
	m.get("/v1/reports/"+first, &one)
	for _, f := range one.Fields {
		if f.Field == "band" && (len(f.Said) != 1 || f.Said[0].Value != band) {
			t.Errorf("band: got %v, want %s alone", f.Said, band)
		}
	}
}

func TestASaveWhoseReceiptWasLostIsOfferedAgain(t *testing.T) {
	m := openMuseum(t)
	p := m.phone()
	p.open("#code=" + m.code("ana"))
	p.find()
	p.allSent()
	p.store(`const k = await get("ops", 1); delete k.receipt; await put("ops", { ...k, sent: 0 })`)
	p.open("#/sending")
	p.touch("send-now")
	p.allSent()
	if got := p.store(`const k = await get("ops", 1); return [k.sent, k.receipt.lsn > 0]`); got != "[1,true]" {
		t.Errorf("got %s, want the receipt that was given before", got)
	}
	var all reports
	m.get("/v1/reports?limit=10", &all)
	if all.All != 1 {
		t.Errorf("got %d finds at the museum, want 1", all.All)
	}
}

func TestAPartlyClearedStoreGoesOnWithWhatIsLeft(t *testing.T) {
	m := openMuseum(t)
	p := m.phone()
	p.open("#code=" + m.code("ana"))
	p.find()
	p.allSent()
	m.down.Store(true)
	p.find()
	p.store(`await drop("ops", 1)`)
	m.down.Store(false)
	p.touch("status", "send-now")
	p.wait("why sending stopped", at("stray")+`?.dataset.why === "holes"`)
	p.says("1 save waits here and is safe")
	p.write("anew-code", m.code("ana"))
	p.touch("anew")
	p.wait("the start", at("new-find"))
	p.allSent()
	var all reports
	m.get("/v1/reports?limit=10", &all)
	if all.All != 2 {
		t.Errorf("got %d finds at the museum, want both", all.All)
	}
}

func TestAnEmptiedStoreIsExplained(t *testing.T) {
	m := openMuseum(t)
	p := m.phone()
	p.open("")
	p.wait("the sign-in", at("code"))
	if must(p, chromedp.Evaluate[bool]("Boolean("+at("emptied")+")")) {
		t.Error("a new phone is told that its records were cleared")
	}
	p.open("#code=" + m.code("ana"))
	p.wait("the start", at("new-find"))
	p.allSent()
	p.wait("the mark outside the store", `localStorage.getItem("wayfall-phone")`)
	must(p, chromedp.Navigate("about:blank"))
	must(p, chromedp.Navigate(m.site.URL+"/v1/health")) // the page is closed, so its store can go
	must(p, chromedp.Evaluate[bool](`indexedDB.deleteDatabase("wayfall").onsuccess = () => { globalThis.gone = true; }, true`))
	p.wait("the store gone", "globalThis.gone")
	p.open("")
	p.wait("why it is empty", at("emptied"))
	p.write("code", m.code("ana"))
	p.touch("sign-in")
	p.wait("the start", at("new-find"))
	p.allSent()
	p.open("#/start")
	p.wait("the start", at("new-find"))
	if must(p, chromedp.Evaluate[bool]("Boolean("+at("emptied")+")")) {
		t.Error("after signing in again the page still says that it was emptied")
	}
}
