package server

import (
	"crypto/rand"
	"testing"
	"time"

	"wayfall/server/people"
	"wayfall/server/peopletest"
	"wayfall/server/store"
)

func TestTheDrawersKeepThePromisesOfPeople(t *testing.T) {
	peopletest.Run(t, func(t *testing.T) people.Store {
		s, err := store.Open(t.TempDir()+"/x.db", store.Options{Now: time.Now, Random: rand.Reader})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := s.Close(); err != nil {
				t.Errorf("close: %v", err)
			}
		})
		return shelves{s}
	})
}
