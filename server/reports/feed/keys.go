package feed

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
)

// Store keeps small papers on named shelves, as package people asks for one.
type Store interface {
	Read(ctx context.Context, shelf, name string) ([]byte, error)
	Change(ctx context.Context, shelf, name string, edit func(old []byte) ([]byte, error)) error
}

// shelf holds the digest of each person's secret. Its name is kept for ever.
const shelf = "calendar feed"

// Keys are the secrets in the addresses of feeds, one for each person.
type Keys struct {
	Store  Store
	Chance io.Reader
}

type kept struct {
	Digest string `json:"digest"` // "" after it was ended
}

func digest(secret string) string {
	// The secret has 256 bits of chance, so that a plain digest cannot be tried out.
	sum := sha256.Sum256([]byte("wayfall calendar feed\x00" + secret))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

// Make draws a new secret for a person and ends the one before. It is not
// readable afterwards.
func (k Keys) Make(ctx context.Context, person string) (string, error) {
	var raw [32]byte
	if _, err := io.ReadFull(k.Chance, raw[:]); err != nil {
		return "", fmt.Errorf("draw a secret: %w", err)
	}
	secret := base64.RawURLEncoding.EncodeToString(raw[:])
	return secret, k.put(ctx, person, kept{digest(secret)})
}

// End takes the secret of a person back. Ending none changes nothing.
func (k Keys) End(ctx context.Context, person string) error { return k.put(ctx, person, kept{}) }

func (k Keys) put(ctx context.Context, person string, v kept) error {
	return k.Store.Change(ctx, shelf, person, func([]byte) ([]byte, error) { return json.Marshal(v) })
}

// Opens reports whether the secret is the person's.
func (k Keys) Opens(ctx context.Context, person, secret string) (bool, error) {
	raw, err := k.Store.Read(ctx, shelf, person)
	if err != nil || raw == nil || secret == "" {
		return false, err
	}
	var v kept
	if err := json.Unmarshal(raw, &v); err != nil {
		return false, fmt.Errorf("read %s: %w", shelf, err)
	}
	return v.Digest != "" && subtle.ConstantTimeCompare([]byte(v.Digest), []byte(digest(secret))) == 1, nil
}
