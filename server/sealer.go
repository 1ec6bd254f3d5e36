package server

import (
	"context"
	"encoding/base64"
	"log/slog"
	"time"

	"wayfall/server/api"
	"wayfall/server/fault"
	"wayfall/server/store"
)

// sealEvery is how long receipts wait at most until a signed head covers them.
const sealEvery = 10 * time.Second

// sealer has the log sealed while the server runs, so that no push waits for it.
type sealer struct {
	store *store.Store
	log   *slog.Logger
}

// run seals until ctx ends, and once more then.
func (s sealer) run(ctx context.Context) {
	at := uint64(0)
	for ctx.Err() == nil {
		if err := s.store.Wait(ctx, at); err != nil {
			return
		}
		at = s.store.Last()
		s.seal(ctx)
		select {
		case <-ctx.Done():
		case <-time.After(sealEvery):
		}
	}
}

func (s sealer) seal(ctx context.Context) {
	_, err := s.store.Seal(ctx)
	if err != nil && ctx.Err() == nil && !fault.Is(err, fault.Busy) {
		s.log.Error("seal the log", "error", err)
	}
}

// Sealed implements api.Seals.
func (s sealer) Sealed(ctx context.Context, since uint64) (api.Sealed, error) {
	if _, err := s.store.Seal(ctx); err != nil {
		return api.Sealed{}, err
	}
	if since == 0 {
		x, err := s.store.Sealed(ctx)
		return api.Sealed{Head: x.Head, Key: x.Key, Size: x.Size, Proof: []string{}}, err
	}
	proof, x, err := s.store.ProveSince(ctx, since)
	out := api.Sealed{Head: x.Head, Key: x.Key, Size: x.Size, Proof: []string{}}
	for _, h := range proof {
		out.Proof = append(out.Proof, base64.StdEncoding.EncodeToString(h[:]))
	}
	return out, err
}
