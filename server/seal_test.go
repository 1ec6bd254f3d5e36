package server_test

import (
	"encoding/base64"
	"fmt"
	"net/http"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"wayfall/server/api"
	"wayfall/sync/op"
	"wayfall/sync/seal"
)

func sealedBy(t *testing.T, c *caller, query string) (seal.Head, api.Sealed) {
	t.Helper()
	r := c.get("/v1/sync/head" + query)
	if r.StatusCode != http.StatusOK {
		t.Fatalf("got %d %s", r.StatusCode, r.body)
	}
	var s api.Sealed
	r.into(t, &s)
	h, err := seal.Open(s.Head, s.Key)
	if err != nil || h.Size != s.Size {
		t.Fatalf("got the head %q of %d places (%v)", s.Head, s.Size, err)
	}
	return h, s
}

func TestAHeadThatWasKeptIsProvedToBeTheBeginningOfTheLog(t *testing.T) {
	m := open(t, nil)
	cal := m.phone("cal", 2)
	save := func(n byte) {
		cal.push(cal.save(op.Group{ID: op.ID{7, n}, Kind: "report", Acts: []op.Act{op.Set("locality", op.Text("a mile post"))}}))
	}
	save(1)
	older, _ := sealedBy(t, cal.caller, "")
	for n := range byte(9) {
		save(n + 2)
	}
	newer, said := sealedBy(t, cal.caller, fmt.Sprint("?since=", older.Size))
	if newer.Size < older.Size+9 {
		t.Fatalf("got heads of %d and %d places", older.Size, newer.Size)
	}
	var proof tlog.TreeProof
	for _, text := range said.Proof {
		b, err := base64.StdEncoding.DecodeString(text)
		if err != nil || len(b) != tlog.HashSize {
			t.Fatalf("got the proof %q (%v)", text, err)
		}
		proof = append(proof, tlog.Hash(b))
	}
	if err := seal.Agree(proof, older, newer); err != nil {
		t.Error(err)
	}
	for _, since := range []string{"0", "-1", "x", "99999999"} {
		problemOf(t, "a proof since "+since, cal.get("/v1/sync/head?since="+since), http.StatusUnprocessableEntity)
	}
}
